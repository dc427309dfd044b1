"""The polling loop: the service is told that updates arrived only after they are written down."""

from __future__ import annotations

import asyncio
import logging
import warnings
from collections.abc import Callable, Coroutine, Sequence
from typing import Any

from telegram import Bot, Update
from telegram.error import Conflict, InvalidToken, TelegramError
from telegram.error import RetryAfter as Flooded

from bot.rooms.telegram.client import LONG_POLL_S
from bot.rooms.telegram.incoming import ALLOWED_UPDATES
from bot.rooms.telegram.sending import seconds
from bot.store.database import unbroken

_LOG = logging.getLogger(__name__)
FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 30.0
CONFLICT_PAUSE_S = 5.0

HINDRANCES: dict[type[Exception], str] = {
    Conflict: "Another program takes this bot's messages (409): only one can. End it; nothing is heard here meanwhile.",
    InvalidToken: "The service doesn't accept this token any more (401): put CROSSLAY_TELEGRAM_TOKEN right and start"
    " anew; nothing is heard or told here meanwhile.",
}
HEARD_AGAIN = "Telegram is heard again."

Take = Callable[[Sequence[Update]], Coroutine[Any, Any, None]]
"""Writes a batch down for good; the same update may come again and must then do nothing."""


async def poll(bot: Bot, take: Take, say: Callable[[str], None] = lambda sentence: None) -> None:
    """Fetches updates for ever, in the order in which they came; a dead network is waited out.

    The offset rises with the next request, after `take` has come back: a crash before that, or a `take` that fails,
    brings the batch again. What only people can put right (another program, a token that isn't accepted any more) is
    told to `say`, once while it lasts.
    """
    offset, pause_s, said = 0, FIRST_PAUSE_S, ""
    while True:
        try:
            offset = await _fetch(bot, take, offset)
        except Exception as error:
            hindrance = HINDRANCES.get(type(error), "")
            wait_s = _wait_s(error, pause_s)
            if isinstance(error, TelegramError):
                _LOG.warning("No updates from Telegram (%s); trying again in %.1f s", error, wait_s)
            else:
                _LOG.exception("Updates couldn't be written down; trying again in %.1f s", wait_s)
            if hindrance and hindrance != said:
                said = hindrance
                say(hindrance)
            await asyncio.sleep(wait_s)
            pause_s = min(pause_s * 2, LONGEST_PAUSE_S)
        else:
            pause_s = FIRST_PAUSE_S
            if said:
                said = ""
                say(HEARD_AGAIN)


async def _fetch(bot: Bot, take: Take, offset: int) -> int:
    """Waits for news and takes it; returns the next offset."""
    batch: Sequence[Update]
    try:
        batch = await bot.get_updates(offset=offset, timeout=LONG_POLL_S, allowed_updates=ALLOWED_UPDATES)
    except TelegramError:
        raise
    except Exception:
        _LOG.exception("An update of a kind that can't be read")
        batch, offset = await _readable(bot, offset)
    if batch:
        await unbroken(take(batch))
        offset = max(offset, *(update.update_id + 1 for update in batch))
    return offset


async def _readable(bot: Bot, offset: int) -> tuple[Sequence[Update], int]:
    """What can be read of the waiting updates, and the offset after those that can't be: one must not hold up all."""
    asked = {"offset": offset, "allowed_updates": list(ALLOWED_UPDATES)}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library would rather parse them itself, which has just failed
        waiting: list[dict[str, Any]] = await bot.do_api_request("getUpdates", api_kwargs=asked)
    readable = [update for raw in waiting if (update := read_update(raw, bot)) is not None]
    numbers = (raw.get("update_id") for raw in waiting if isinstance(raw, dict))
    return readable, max((number + 1 for number in numbers if isinstance(number, int)), default=offset)


def read_update(raw: object, bot: Bot) -> Update | None:
    """An update; None, and logged, when it can't be read."""
    try:
        return Update.de_json(raw, bot)  # type: ignore[arg-type]
    except Exception as error:
        number = raw.get("update_id") if isinstance(raw, dict) else None
        _LOG.warning("Update %s can't be read and is left out (%s)", number, type(error).__name__)
        return None


def _wait_s(error: Exception, pause_s: float) -> float:
    if isinstance(error, Flooded):
        return seconds(error)
    if isinstance(error, Conflict | InvalidToken):
        return CONFLICT_PAUSE_S
    return pause_s
