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

from bot.errors import SettingsError
from bot.rooms.telegram.client import LONG_POLL_S
from bot.rooms.telegram.incoming import ALLOWED_UPDATES
from bot.rooms.telegram.sending import seconds
from bot.store.database import unbroken

_LOG = logging.getLogger(__name__)
FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 30.0

Take = Callable[[Sequence[Update]], Coroutine[Any, Any, None]]
"""Writes a batch down for good; the same update may come again and must then do nothing."""


async def poll(bot: Bot, take: Take) -> None:
    """Fetches updates for ever, in the order in which they came; a dead network is waited out.

    The offset rises with the next request, after `take` has come back: a crash before that, or a `take` that fails,
    brings the batch again.

    Raises:
        SettingsError: the token isn't accepted.
    """
    offset, pause_s = 0, FIRST_PAUSE_S
    while True:
        try:
            offset = await _fetch(bot, take, offset)
        except InvalidToken:
            raise SettingsError("CROSSLAY_TELEGRAM_TOKEN", "the service doesn't accept this token.") from None
        except Exception as error:
            wait_s = _wait_s(error, pause_s)
            if isinstance(error, TelegramError):
                _LOG.warning("No updates from Telegram (%s); trying again in %.1f s", error, wait_s)
            else:
                _LOG.exception("Updates couldn't be written down; trying again in %.1f s", wait_s)
            await asyncio.sleep(wait_s)
            pause_s = min(pause_s * 2, LONGEST_PAUSE_S)
        else:
            pause_s = FIRST_PAUSE_S


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
    readable = []
    for raw in waiting:
        try:
            readable.append(Update.de_json(raw, bot))
        except Exception:
            _LOG.warning("Update %s is left out", raw["update_id"])
    return readable, max((raw["update_id"] + 1 for raw in waiting), default=offset)


def _wait_s(error: Exception, pause_s: float) -> float:
    if isinstance(error, Flooded):
        return seconds(error)
    if isinstance(error, Conflict):
        _LOG.warning("Another program polls with the same token; only one can")
        return LONGEST_PAUSE_S / 6
    return pause_s
