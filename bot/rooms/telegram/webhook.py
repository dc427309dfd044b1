"""Webhook mode: the service posts updates to us. An update is answered only when it is written down.

A reverse proxy with the department's certificate stands before it and hands plain HTTP on. The service is asked for
one connection, so that updates come in their order; each must carry the secret that it was given with the address.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import logging
from collections.abc import Callable
from http import HTTPStatus
from urllib.parse import urlsplit

from aiohttp import web
from telegram import Bot
from telegram.error import TelegramError

from bot.errors import SettingsError
from bot.rooms.telegram.incoming import ALLOWED_UPDATES
from bot.rooms.telegram.polling import HINDRANCES, Take, read_update
from bot.store.database import unbroken

PROOF_HEADER = "X-Telegram-Bot-Api-Secret-Token"
"""Where the service shows its secret."""
LARGEST_BYTES = 1_000_000
LOOK_AGAIN_S = 600.0
"""How often the service is asked whether it still posts to us."""
TRY_AGAIN_S = 5.0

_LOG = logging.getLogger(__name__)


class Webhook:
    """Takes what the service posts, one update after the other."""

    def __init__(self, bot: Bot, take: Take, address: str, listen: str, secret: str) -> None:
        """`address`: where the service finds us; `listen`: host and port that we answer at."""
        self._bot = bot
        self._take = take
        self._address = address
        self._path = urlsplit(address).path or "/"
        self._listen = listen
        self._secret = secret
        self._turn = asyncio.Lock()

    async def run(self, say: Callable[[str], None]) -> None:
        """Serve for ever. Raises SettingsError where nothing can be listened to."""
        app = web.Application(client_max_size=LARGEST_BYTES)
        app.router.add_post(self._path, self._post)
        runner = web.AppRunner(app, access_log=None, shutdown_timeout=2.0)
        await runner.setup()
        try:
            await self._open(runner)
            await self._keep_asked(say)
        finally:
            await runner.cleanup()

    async def _open(self, runner: web.AppRunner) -> None:
        host, _, port = self._listen.rpartition(":")
        try:
            await web.TCPSite(runner, host.strip("[]") or "127.0.0.1", int(port)).start()
        except (ValueError, OverflowError):
            raise SettingsError("CROSSLAY_TELEGRAM_LISTEN", "write host and port, as 127.0.0.1:8443.") from None
        except OSError as error:
            raise SettingsError(
                "CROSSLAY_TELEGRAM_LISTEN", f"{self._listen} can't be used ({error.strerror})."
            ) from None

    async def _keep_asked(self, say: Callable[[str], None]) -> None:
        """Ask the service to post to us, and again whenever it has been told otherwise."""
        said, hindered = False, ""
        while True:
            wait_s = LOOK_AGAIN_S
            try:
                info = await self._bot.get_webhook_info()
                if info.url != self._address or not said:
                    await self._bot.set_webhook(
                        self._address,
                        secret_token=self._secret,
                        allowed_updates=list(ALLOWED_UPDATES),
                        max_connections=1,
                    )
                    say(f"The service posts to {self._address}." if not said else "The service posts to us again.")
                    said = True
                hindered = ""
            except TelegramError as error:
                _LOG.warning("The webhook couldn't be set (%s); trying again", error)
                wait_s = TRY_AGAIN_S
                hindrance = HINDRANCES.get(type(error), "")
                if hindrance and hindrance != hindered:
                    say(hindrance)
                hindered = hindrance
            await asyncio.sleep(wait_s)

    async def _post(self, request: web.Request) -> web.Response:
        given = request.headers.get(PROOF_HEADER, "")
        if not hmac.compare_digest(given.encode("utf-8", "replace"), self._secret.encode()):
            _LOG.warning("Something without the secret was posted to the webhook")
            return web.Response(status=HTTPStatus.FORBIDDEN)
        try:
            raw = json.loads(await request.read())
        except (ValueError, RecursionError):
            return web.Response(status=HTTPStatus.BAD_REQUEST)
        update = read_update(raw, self._bot)
        if update is None:
            return web.Response()  # it would only come again
        async with self._turn:
            try:
                await unbroken(self._take([update]))
            except Exception:
                _LOG.exception("Update %s couldn't be written down: the service sends it again", update.update_id)
                return web.Response(status=HTTPStatus.SERVICE_UNAVAILABLE)
        return web.Response()
