"""The Bot API over HTTP: checks every call against the published schema, plays it, and faults where a test asks.

`python -m tests.telegram.server` runs it for hand trials (see trial.py).
"""

from __future__ import annotations

import asyncio
import contextlib
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from aiohttp import ClientError, ClientSession, ClientTimeout, web

from tests.telegram.faults import FILE_DOWNLOAD, DroppedConnectionError, Fault
from tests.telegram.methods import Methods
from tests.telegram.objects import Chat
from tests.telegram.schema import ApiError, Json, Schema, bad_request, published
from tests.telegram.world import World

_LARGEST_REQUEST_BYTES = 60_000_000
_MOST_UPDATES = 100  # of one getUpdates, published
_LONGEST_POLL_S = 50
_POST_AGAIN_S = 0.05


@dataclass(frozen=True)
class Call:
    """One call as it came in: `status` of the answer, `faulted` when a test asked for that, `at` on a steady clock."""

    method: str
    given: Json
    status: int
    description: str
    faulted: bool
    at: float


class BotApiServer(World):
    """A world with the Bot API in front. Use as `async with BotApiServer() as telegram:`.

    `api` is the address that a bot is given (http://…, without "/bot"), `token` the one token it knows. A test that
    ends well asserts `telegram.refused == []`: nothing was asked of the service that it refuses.
    """

    token = "7000001:AAF4ke-t0ken-of-the-test-server-0000000"

    def __init__(
        self,
        *,
        host: str = "127.0.0.1",
        port: int = 0,
        privacy: bool = False,
        clock: Callable[[], float] = time.time,
        schema: Schema | None = None,
    ) -> None:
        super().__init__(privacy=privacy, clock=clock)
        self.api = ""
        self.calls: list[Call] = []
        self.faults: list[Fault] = []
        self.polls = 0  # how many getUpdates have begun; the newest one is the only one that is answered
        self._host, self._port = host, port
        self._schema = schema or published()
        self._methods = Methods(self)
        self._again: list[Json] = []
        self._reverse_at = 0
        self._parked_until: dict[int, float] = {}
        self._runner: web.AppRunner | None = None
        self._posting: asyncio.Task[None] | None = None
        self.posted: list[int] = []  # what the bot's webhook answered: HTTP statuses, 0 where there was no answer

    # What a test asks for

    def fault(
        self,
        method: str,
        *,
        chat: Chat | None = None,
        times: int = 1,
        status: int = 0,
        retry_after: int = 0,
        delay_s: float = 0,
        hold: bool = False,
        drop: bool = False,
        lose_answer: bool = False,
        garbled: str = "",
    ) -> Fault:
        """Faults the next `times` calls of `method` (or "file": downloads); see Fault for the kinds."""
        if method not in self._schema.methods and method != FILE_DOWNLOAD:
            raise ValueError(f"{method} is no method of {self._schema.version}")
        fault = Fault(
            method,
            chat.id if chat else None,
            times,
            status=status,
            retry_after=retry_after,
            delay_s=delay_s,
            hold=hold,
            drop=drop,
            lose_answer=lose_answer,
            garbled=garbled,
        )
        self.faults.append(fault)
        return fault

    def redelivers(self, count: int = 1) -> None:
        """Delivers the last `count` updates once more, although they were confirmed."""
        self._again = self.delivered[-count:]
        assert len(self._again) == count, f"only {len(self.delivered)} updates were delivered"
        self.changed()

    def reverses_next(self, count: int) -> None:
        """Keeps updates back until `count` of them wait, then delivers those in reverse order."""
        self._reverse_at = count

    @property
    def refused(self) -> list[str]:
        """The calls that were refused although no test asked for it, as text."""
        return [
            f"{c.method} {c.given}: {c.status} {c.description}" for c in self.calls if c.status >= 400 and not c.faulted
        ]

    def called(self, method: str) -> list[Call]:
        """The calls of one method so far."""
        return [call for call in self.calls if call.method == method]

    @property
    def confirmed(self) -> bool:
        """Whether the bot has confirmed every update by its offset."""
        return not self.updates and not self._again

    # Life

    async def __aenter__(self) -> Self:
        await self.comes_back()
        return self

    async def comes_back(self) -> None:
        """Listens (again, at the same address)."""
        app = web.Application(client_max_size=_LARGEST_REQUEST_BYTES)
        app.router.add_route("*", "/bot{token}/{method}", self._answer)
        app.router.add_get("/file/bot{token}/{path:.+}", self._download)
        self._runner = web.AppRunner(app, handler_cancellation=True, access_log=None, shutdown_timeout=0.1)
        await self._runner.setup()
        site = web.TCPSite(self._runner, self._host, self._port)
        await site.start()
        host, port = self._runner.addresses[0][:2]
        self._port = port
        self.api = f"http://{host}:{port}"
        self._posting = asyncio.create_task(self._post_updates())

    async def goes_away(self) -> None:
        """The network is gone: what is open is closed, and nothing is listened to until it comes back."""
        self.polls += 1  # ends a waiting poll
        self.changed()
        if self._posting:
            self._posting.cancel()
            await asyncio.gather(self._posting, return_exceptions=True)
        if self._runner:
            await self._runner.cleanup()

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for fault in self.faults:
            fault.release()
        await self.goes_away()

    # Calls

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        method = request.match_info["method"]
        given: Json = {}
        fault: Fault | None = None
        status, body = 200, Json()
        try:
            self._check_token(request)
            sent, uploads = await _read(request)
            given = self._schema.read_call(method, sent, uploads)
            fault = self._next_fault(method, given.get("chat_id"))
            if fault:
                await fault.before()
            body = {"ok": True, "result": await self._play(method, given, uploads)}
        except DroppedConnectionError:
            status, body = 499, {"description": "dropped"}
        except ApiError as refusal:
            self._park(given, refusal)
            status, body = refusal.status, _refusal_json(refusal)
        faulted = fault is not None and fault.refuses
        self._note(Call(method, given, status, body.get("description", ""), faulted, time.monotonic()))
        if status == 499 or (fault and fault.lose_answer):
            return _cut(request)
        if fault and fault.garbled:
            return web.Response(text=fault.garbled, content_type="application/json")
        return web.json_response(body, status=status)

    async def _play(self, method: str, given: Json, uploads: dict[str, bytes]) -> object:
        if method == "getUpdates":
            return await self._get_updates(given)
        self._check_patience(given)
        result = self._methods.call(method, given, uploads)
        self._schema.check_answer(method, result)
        return result

    def _check_token(self, request: web.Request) -> None:
        token = request.match_info["token"]
        if token != self.token:
            raise ApiError(401, "Unauthorized") if ":" in token else ApiError(404, "Not Found")

    def _next_fault(self, method: str, chat_id: object) -> Fault | None:
        fault = next((fault for fault in self.faults if fault.fits(method, chat_id)), None)
        if fault:
            fault.hits += 1
            self.changed()
        return fault

    def _park(self, given: Json, refusal: ApiError) -> None:
        """A chat that was flooded stays refused until its time is over, so that a hasty bot shows."""
        if refusal.status == 429 and "chat_id" in given:
            until = time.monotonic() + refusal.parameters["retry_after"]
            self._parked_until[given["chat_id"]] = max(until, self._parked_until.get(given["chat_id"], 0))

    def _check_patience(self, given: Json) -> None:
        left_s = self._parked_until.get(given.get("chat_id", 0), 0) - time.monotonic()
        if left_s > 0:
            wait_s = math.ceil(left_s)
            raise ApiError(429, f"Too Many Requests: retry after {wait_s}", retry_after=wait_s)

    def _note(self, call: Call) -> None:
        self.calls.append(call)
        self.changed()

    # Updates

    async def _get_updates(self, given: Json) -> list[Json]:
        """Long polling as published: confirms below the offset, waits for news, ends an older poll with 409."""
        if self._methods.webhook_url:
            raise ApiError(409, "Conflict: can't use getUpdates method while webhook is active; delete it first")
        self.polls += 1
        this_poll = self.polls
        self.allowed_updates = given.get("allowed_updates", self.allowed_updates)
        self._confirm(given.get("offset", 0))
        self.changed()
        limit = min(max(given.get("limit", _MOST_UPDATES), 1), _MOST_UPDATES)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(min(given.get("timeout", 0), _LONGEST_POLL_S)):
                while this_poll == self.polls and not self._has_news():
                    await self.next_change()
        if this_poll != self.polls:
            raise ApiError(409, "Conflict: terminated by other getUpdates request; only one bot may be running")
        return self._batch(limit)

    def _confirm(self, offset: int) -> None:
        if offset < 0:
            self.updates = self.updates[offset:]
        self.updates = [update for update in self.updates if update["update_id"] >= offset]

    def _has_news(self) -> bool:
        return bool(self._again) or len(self.updates) >= max(self._reverse_at, 1)

    def _batch(self, limit: int) -> list[Json]:
        if self._again:
            batch, self._again = self._again + self.updates[: limit - len(self._again)], []
        elif self._reverse_at and self._has_news():
            batch, self._reverse_at = self.updates[: self._reverse_at][::-1], 0
        else:
            batch = [] if self._reverse_at else self.updates[:limit]
        self.delivered += [update for update in batch if update not in self.delivered[-_MOST_UPDATES:]]
        return batch

    @property
    def webhook(self) -> str:
        """Where the bot has asked for its updates; "" while it polls."""
        return self._methods.webhook_url

    async def _post_updates(self) -> None:
        """Posts updates to the bot's webhook one by one, each until it is answered with 200."""
        async with ClientSession(timeout=ClientTimeout(total=10)) as http:
            while True:
                while not (self._methods.webhook_url and self._has_news()):
                    await self.next_change()
                for update in self._batch(max(1, self._reverse_at, len(self._again))):
                    while not await self._posts(http, update):  # noqa: ASYNC110 - the service tries again after a while
                        await asyncio.sleep(_POST_AGAIN_S)
                    self.updates = [one for one in self.updates if one["update_id"] != update["update_id"]]
                    self.changed()

    async def _posts(self, http: ClientSession, update: Json) -> bool:
        secret = {"X-Telegram-Bot-Api-Secret-Token": self._methods.webhook_secret}
        try:
            async with http.post(self._methods.webhook_url, json=update, headers=secret) as answer:
                self.posted.append(answer.status)
        except (ClientError, TimeoutError, ValueError):
            self.posted.append(0)
        self.changed()
        return self.posted[-1] == 200

    # Files

    async def _download(self, request: web.Request) -> web.StreamResponse:
        if request.match_info["token"] != self.token:
            return web.json_response(_refusal_json(ApiError(401, "Unauthorized")), status=401)
        path = request.match_info["path"]
        stored = next((file for file in self.files.values() if file.path == path), None)
        if stored is None:
            return web.json_response(_refusal_json(ApiError(404, "Not Found")), status=404)
        fault = self._next_fault(FILE_DOWNLOAD, None)
        try:
            if fault:
                await fault.before()
        except DroppedConnectionError:
            return _cut(request)
        except ApiError as refusal:
            return web.json_response(_refusal_json(refusal), status=refusal.status)
        if fault and fault.lose_answer:
            return await _half(request, stored.content)
        return web.Response(body=stored.content, content_type="application/octet-stream")


async def _read(request: web.Request) -> tuple[Json, dict[str, bytes]]:
    """A call's parameters and uploaded files, however they were sent (query, form, multipart or JSON)."""
    if request.content_type == "application/json":
        body = await request.json()
        if not isinstance(body, dict):
            raise bad_request("the JSON body must be an object")
        return body, {}
    sent: Json = dict(request.query)
    uploads: dict[str, bytes] = {}
    for name, value in (await request.post()).items():
        if isinstance(value, web.FileField):
            uploads[name] = value.file.read()
        else:
            sent[name] = value
    return sent, uploads


def _refusal_json(refusal: ApiError) -> Json:
    body: Json = {"ok": False, "error_code": refusal.status, "description": refusal.description}
    return body | ({"parameters": refusal.parameters} if refusal.parameters else {})


def _cut(request: web.Request) -> web.StreamResponse:
    """Closes the connection; what is returned never reaches the client."""
    if request.transport:
        request.transport.abort()
    return web.Response(status=500)


async def _half(request: web.Request, content: bytes) -> web.StreamResponse:
    response = web.StreamResponse()
    response.content_length = len(content)
    await response.prepare(request)
    await response.write(content[: len(content) // 2])
    return _cut(request)


if __name__ == "__main__":
    from tests.telegram.trial import main

    main()
