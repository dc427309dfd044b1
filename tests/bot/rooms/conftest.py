"""The Bot API test server and its client, for the tests of the Telegram room."""

from tests.telegram.fixtures import bot, telegram

__all__ = ["bot", "telegram"]
