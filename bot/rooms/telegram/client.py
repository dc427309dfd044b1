"""The Bot API client of python-telegram-bot: its addresses and time-outs, and the token kept out of every log."""

from __future__ import annotations

import contextlib
import logging
import os
import traceback
from email.utils import parsedate_to_datetime
from typing import Any

os.environ.setdefault("PTB_TIMEDELTA", "true")  # RetryAfter in timedelta: the library's future way, without its warning

import httpx
from telegram import Bot
from telegram.request import HTTPXRequest

from bot.clock import ServiceClock

PUBLIC_API = "https://api.telegram.org"
LINES = 8
"""Messages on their way side by side: more than the service takes (about 30 a second, commonly quoted) even at 200 ms
each, and few, since the connection pool looks at all of its connections for every request."""
LONG_POLL_S = 50
"""The longest the service lets a poll wait for news."""


def open_bot(token: str, api: str = "", clock: ServiceClock | None = None) -> Bot:
    """A client that isn't connected yet (use as `async with`).

    Args:
        token: as the service gave it; from here on no log record of this process shows it.
        api: base address of a self-hosted Bot API server; "" = the public one. The file address follows from it.
        clock: learns the service's time from its answers.
    """
    hide_in_logs(token)
    base = (api or PUBLIC_API).rstrip("/")
    hooks = _time_keeping(clock)
    return Bot(
        token,
        base_url=f"{base}/bot",
        base_file_url=f"{base}/file/bot",
        request=HTTPXRequest(connection_pool_size=LINES + 4, read_timeout=10, pool_timeout=10, httpx_kwargs=hooks),
        get_updates_request=HTTPXRequest(connection_pool_size=1, read_timeout=10, httpx_kwargs=hooks),
    )


def _time_keeping(clock: ServiceClock | None) -> dict[str, Any]:
    """What httpx is given so that the clock learns the time of each answer (its Date header, once a second at most)."""
    if clock is None:
        return {}
    last = ""

    async def asked(request: httpx.Request) -> None:
        request.extensions["asked_at"] = clock.machine_now

    async def answered(response: httpx.Response) -> None:
        nonlocal last
        date = response.headers.get("date", "")
        ours = response.headers.get("content-type", "").startswith("application/json")  # no sign-in page's
        if ours and date and date != last:
            last = date
            with contextlib.suppress(ValueError, TypeError):  # no time at all: nothing is learnt
                clock.answered(parsedate_to_datetime(date), response.request.extensions["asked_at"])

    return {"event_hooks": {"request": [asked], "response": [answered]}}


def hide_in_logs(secret: str) -> None:
    """Takes a secret out of every log record from now on, traceback included; leaves out httpx's request lines."""
    for chatty in ("httpx", "httpcore"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
    made_before = logging.getLogRecordFactory()

    def make(*args: Any, **kwargs: Any) -> logging.LogRecord:
        record = made_before(*args, **kwargs)
        try:
            words = record.getMessage()
        except (TypeError, ValueError):
            words = str(record.msg)
        if secret in words:
            record.msg, record.args = words.replace(secret, "<token>"), ()
        if record.exc_info and record.exc_info[0]:
            trace = "".join(traceback.format_exception(*record.exc_info)).rstrip()
            if secret in trace:
                record.exc_text = trace.replace(secret, "<token>")
        return record

    logging.setLogRecordFactory(make)
