"""What is answered over HTTP: the page's files to anybody, everything else to who has a pass, nothing to other hosts.

One address is answered for, requests that change something must come from the page itself, and what may be run, shown
and connected to is named (Content-Security-Policy): nothing from elsewhere, no script in the page's text.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import HTTPConnection, Request
from starlette.responses import Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket

from bot.message import Attachment
from bot.rooms.page import replay, talk
from bot.rooms.page.address import Address
from bot.rooms.page.door import NO_NAME, ROLE_WORDS, message_of
from bot.rooms.page.passes import COOKIE, Pass, Passes
from bot.rooms.page.protocol import Shown
from bot.rooms.page.session import Desk, Session
from bot.rooms.panel.dialogue import as_wav
from grammar.commands import Role
from handlers.errors import CrosslayError
from handlers.times import unit_name
from handlers.words import said_aloud

FILES = {
    "": ("index.html", "text/html; charset=utf-8"),
    "page.css": ("page.css", "text/css; charset=utf-8"),
    "icon.svg": ("icon.svg", "image/svg+xml"),
} | {
    name: (name, "text/javascript; charset=utf-8")
    for name in ("page.js", "boards.js", "draw.js", "link.js", "listen.js", "microphone.js", "replay.js", "sound.js")
}
"""What anybody gets who knocks."""
LARGEST_BODY = 4_096
COOKIE_S = 180 * 24 * 3600
KNOCKS, KNOCKS_WITHIN_S = 20, 60.0
"""So many codes are looked at from one network address within so long; what is wrong counts in the record besides."""
ASKS, ASKS_WITHIN_S = 300, 10.0
"""Requests of one network address."""
REMEMBERED = 1_000
TOO_MANY = "Too many requests: wait a minute."


class Join(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a phone sends to be let in."""

    code: Annotated[str, Meta(max_length=32)]
    name: Annotated[str, Meta(max_length=80)] = ""
    unit: Annotated[str, Meta(max_length=40)] = ""
    role: Role | None = None


class Counter:
    """Counts what comes from each network address."""

    def __init__(self, most: int, within_s: float) -> None:
        self._most = most
        self._within_s = within_s
        self._since: OrderedDict[str, tuple[float, int]] = OrderedDict()

    def too_many(self, address: str) -> bool:
        """Whether this one is one too many."""
        now = time.monotonic()
        since, count = self._since.get(address, (now, 0))
        if now - since > self._within_s:
            since, count = now, 0
        self._since[address] = since, count + 1
        self._since.move_to_end(address)
        if len(self._since) > REMEMBERED:
            self._since.popitem(last=False)
        return count + 1 > self._most


class Guard:
    """Before everything: the host that is meant, where a request comes from, how many; and what browsers may do."""

    def __init__(self, app: ASGIApp, address: Address) -> None:
        self._app = app
        self._hosts = address.hosts
        self._origins = frozenset(f"https://{host}" for host in address.hosts)
        self._asks = Counter(ASKS, ASKS_WITHIN_S)
        sockets = " ".join(f"wss://{host}" for host in sorted(address.hosts))
        self._headers = [(name.encode(), value.encode()) for name, value in _headers(sockets)]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        asked = HTTPConnection(scope)
        why = self._why_not(asked)
        if why:
            await _refuse(scope, receive, send, *why)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *self._headers]
            await send(message)

        await self._app(scope, receive, with_headers)

    def _why_not(self, asked: HTTPConnection) -> tuple[int, str] | None:
        if asked.headers.get("host", "") not in self._hosts:
            return 421, "This isn't the page's address."
        changes = asked.scope["type"] == "websocket" or asked.scope.get("method") not in ("GET", "HEAD")
        if changes and asked.headers.get("origin") not in self._origins:
            return 403, "This comes from another page."
        if asked.headers.get("sec-fetch-site", "none") == "cross-site" and asked.url.path != "/":
            return 403, "This comes from another page."
        if self._asks.too_many(_from(asked)):
            return 429, TOO_MANY
        return None


def _headers(sockets: str) -> Sequence[tuple[str, str]]:
    policy = (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
        f"connect-src 'self' {sockets}; worker-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )
    return (
        ("content-security-policy", policy),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("permissions-policy", "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()"),
        ("cache-control", "no-store"),
    )


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 4403, "reason": why})
        return
    await Response(why, status, media_type="text/plain; charset=utf-8")(scope, receive, send)


class Answers:
    """The page's answers."""

    def __init__(
        self,
        desk: Desk,
        passes: Passes,
        authority: bytes,
        joined: Callable[[Pass, str], Awaitable[None]],
        drills: Sequence[Path] = (),
    ) -> None:
        """`joined`: is told who came in, and by which code."""
        self._desk = desk
        self._passes = passes
        self._authority = authority
        self._joined = joined
        self._drills = tuple(drills)
        self._knocks = Counter(KNOCKS, KNOCKS_WITHIN_S)
        static = files(__package__).joinpath("static")
        self._files = {path: (static.joinpath(name).read_bytes(), kind) for path, (name, kind) in FILES.items()}

    def app(self) -> Starlette:
        """The whole application."""
        return Starlette(
            routes=[
                *(Route(f"/{path}", self._file(path)) for path in self._files),
                Route("/certificate", self._certificate),
                Route("/look", self._look, methods=["POST"]),
                Route("/join", self._join, methods=["POST"]),
                Route("/leave", self._leave, methods=["POST"]),
                Route("/me", self._me),
                Route("/spoken/{number:int}", self._spoken),
                Route("/file/{number:int}", self._attached),
                Route("/replays", self._replays),
                Route("/replay/{what}", self._replay),
                WebSocketRoute("/socket", self._socket),
            ],
            middleware=[
                Middleware(Guard, address=self._desk.address),
                Middleware(GZipMiddleware, minimum_size=1_000),
            ],
        )

    # --- to anybody

    def _file(self, path: str) -> Callable[[Request], Awaitable[Response]]:
        async def answer(_request: Request) -> Response:
            data, kind = self._files[path]
            return Response(data, media_type=kind)

        return answer

    async def _certificate(self, _request: Request) -> Response:
        kept = {"content-disposition": 'attachment; filename="crosslay.crt"'}
        return Response(self._authority, media_type="application/x-x509-ca-cert", headers=kept)

    async def _look(self, request: Request) -> Response:
        """Which companies a code is for."""
        wanted = await self._wanted(request)
        if isinstance(wanted, Response):
            return wanted
        found = await self._desk.door.looked_at(wanted.code, _from(request))
        if isinstance(found, str):
            return _json({"why": found}, 403)
        units = [found.unit] if found.unit else list(self._desk.station.rigs.units)
        return _json({"units": [{"unit": unit, "name": unit_name(unit)} for unit in units], "guest": bool(found.unit)})

    async def _join(self, request: Request) -> Response:
        wanted = await self._wanted(request)
        if isinstance(wanted, Response):
            return wanted
        if not wanted.name.strip():
            return _json({"why": NO_NAME}, 400)
        one = await self._desk.door.enter(wanted.code, wanted.name, wanted.unit, _from(request))
        if isinstance(one, str):
            return _json({"why": one}, 403)
        await self._desk.door.furnish(one)
        if wanted.role in ROLE_WORDS:
            now = self._desk.station.clock.now()
            message = msgspec.structs.replace(message_of(one, "role", now), text=ROLE_WORDS[wanted.role])
            for ticket in await self._desk.station.pipeline.receive([message]):
                entry = talk.said(ticket.received.id, message)
                self._desk.hub.show(one.room, Shown(now, entry))
                await ticket.handled
        await self._joined(one, wanted.code)
        answer = _json({})
        answer.set_cookie(
            COOKIE, self._passes.write(one), max_age=COOKIE_S, secure=True, httponly=True, samesite="strict"
        )
        return answer

    async def _wanted(self, request: Request) -> Join | Response:
        if self._knocks.too_many(_from(request)):
            return _json({"why": TOO_MANY}, 429)
        body = b""
        async for part in request.stream():
            body += part
            if len(body) > LARGEST_BODY:
                return _json({"why": "That is too long."}, 413)
        try:
            return msgspec.json.decode(body, type=Join)
        except msgspec.DecodeError:
            return _json({"why": "That can't be read."}, 400)

    # --- to who has a pass

    async def _pass(self, asked: HTTPConnection) -> Pass | None:
        one = self._passes.read(asked.cookies.get(COOKIE, ""))
        return one if one is not None and await self._desk.door.admits(one) else None

    async def _me(self, request: Request) -> Response:
        """Whether this phone is in."""
        return _json({"in": await self._pass(request) is not None})

    async def _leave(self, request: Request) -> Response:
        one = await self._pass(request)
        if one is not None and await self._desk.door.put_out(one.person):
            self._desk.hub.put_out(one.person)
        answer = _json({})
        answer.delete_cookie(COOKIE, secure=True, httponly=True, samesite="strict")
        return answer

    async def _socket(self, socket: WebSocket) -> None:
        one = await self._pass(socket)
        if one is None:
            await socket.close(4403)
            return
        await socket.accept()
        await Session(self._desk, socket, one).run()

    async def _spoken(self, request: Request) -> Response:
        """What a message says aloud."""
        one = await self._pass(request)
        if one is None:
            return _stranger()
        station = self._desk.station
        async with station.store.begin() as tx:
            found = await talk.spoken(tx, request.path_params["number"], one.room)
        if found is None:
            return _not_there()
        words, unit = found
        try:
            sound = await _aloud(
                said_aloud(words, station.rigs.of(unit or one.unit)), station.settings.voice == "piper"
            )
        except CrosslayError as error:
            return Response(error.message, 503, media_type="text/plain; charset=utf-8")
        return Response(sound, media_type="audio/wav")

    async def _attached(self, request: Request) -> Response:
        """The picture or file of a message."""
        one = await self._pass(request)
        if one is None:
            return _stranger()
        attached = await self._desk.station.outbox.attachment(request.path_params["number"], one.room)
        return _not_there() if attached is None else _as_file(attached)

    async def _replays(self, request: Request) -> Response:
        one = await self._pass(request)
        if one is None or one.guest_of is not None:
            return _stranger()
        async with self._desk.station.store.begin() as tx:
            found = await replay.choices(tx, one.unit, self._drills)
        return _json(found)

    async def _replay(self, request: Request) -> Response:
        one = await self._pass(request)
        if one is None or one.guest_of is not None:
            return _stranger()
        station, what = self._desk.station, str(request.path_params["what"])
        kind, _, number = what.partition(":")
        if kind == "drill":
            if not number.isdecimal() or int(number) >= len(self._drills):
                return _not_there()
            found = await replay.of_drill(self._drills[int(number)], station.rigs, station.house.tz)
        else:
            async with station.store.begin() as tx:
                found = await replay.of_incident(tx, what, one.unit, station.rigs, station.house.tz)
        return _not_there() if found is None else _json(found)


def _as_file(attached: Attachment) -> Response:
    kinds = {"png": "image/png", "pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "json": "application/json"}
    ending = attached.name.rpartition(".")[2]
    place = "inline" if attached.kind == "image" else "attachment"
    name = attached.name.replace('"', "").replace("\\", "")
    headers = {"content-disposition": f'{place}; filename="{name}"'}
    return Response(attached.data, media_type=kinds.get(ending, "application/octet-stream"), headers=headers)


async def _aloud(words: str, piper: bool) -> bytes:
    import asyncio

    import numpy as np

    from bot.speech.voice import open_voice

    def speak() -> bytes:
        speech = open_voice(piper).speak(words)
        return as_wav(speech.pcm.astype(np.float32) / np.float32(32768), speech.rate)

    return await asyncio.to_thread(speak)


def _from(asked: HTTPConnection) -> str:
    return asked.client.host if asked.client is not None else ""


def _json(what: object, status: int = 200) -> Response:
    return Response(msgspec.json.encode(what), status, media_type="application/json")


def _stranger() -> Response:
    return _json({"why": "Join first."}, 401)


def _not_there() -> Response:
    return _json({"why": "There is no such thing."}, 404)
