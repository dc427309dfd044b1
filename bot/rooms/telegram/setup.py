"""What stands in the way on Telegram's side: the token, privacy mode, chats that can't be reached, the right to pin."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable

from telegram import Bot, User
from telegram.error import InvalidToken, TelegramError

from bot.clock import ServiceClock
from bot.program.housekeeping import off_by
from bot.rooms.telegram.client import open_bot
from bot.settings import Settings

PRIVACY = (
    "privacy mode is on, so that in groups only commands, replies and mentions are heard: turn it off with @BotFather"
    " (/setprivacy) and add the bot to the group again, or make it an administrator there"
)
_PATIENCE_S = 10.0


async def look(settings: Settings) -> tuple[bool, str]:
    """Whether the bot can serve its rooms, and what is to be said about it."""
    clock = ServiceClock()
    bot = open_bot(settings.telegram_token, settings.telegram_api, clock)
    try:
        async with asyncio.timeout(_PATIENCE_S):
            await bot.initialize()
            rooms = dict.fromkeys((*settings.rooms, *([settings.crew_room] if settings.crew_room else [])))
            remarks = await asyncio.gather(*(_remark(bot, room) for room in rooms))
    except InvalidToken:
        return False, "the token isn't accepted: copy it again from @BotFather"
    except (TelegramError, TimeoutError) as error:
        return False, f"the service can't be reached ({str(error) or 'no answer'})"
    finally:
        await bot.shutdown()
    off = f"this machine's clock is {off_by(clock.offset)} by the service's: set it" if clock.offset else ""
    return not any((*remarks, off)), "; ".join(
        [f"@{bot.username} serves {len(rooms)} room(s)", *_worth_saying(bot.bot, (*remarks, off))]
    )


def _worth_saying(me: User, remarks: Iterable[str]) -> list[str]:
    privacy = [] if me.can_read_all_group_messages else [PRIVACY]
    return [*(remark for remark in remarks if remark), *privacy]


async def _remark(bot: Bot, room: str) -> str:
    """What is wrong with a room; "" when nothing is."""
    try:
        chat = await bot.get_chat(int(room))
        if chat.type == chat.PRIVATE:
            return ""
        me = await bot.get_chat_member(chat.id, bot.id)
    except ValueError:
        return f"{room} is no chat's number"
    except TelegramError as error:
        return f"{room} can't be reached ({error}): write to the bot there first, or add it to the group"
    return (
        "" if me.status == me.ADMINISTRATOR else f"{room}: make the bot an administrator, so that it can pin the board"
    )
