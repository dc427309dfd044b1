"""The fixtures of fixtures.py for this folder."""

from tests.telegram.fixtures import bot, telegram

__all__ = ["bot", "telegram"]
