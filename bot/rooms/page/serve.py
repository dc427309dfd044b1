"""The page at work: `crosslay page` with a station of its own, or beside the local room's."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import socket
import ssl
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import uvicorn

from bot.clock import Clock, LocalClock
from bot.errors import SettingsError
from bot.message.context import build
from bot.message.read import read
from bot.message.recording import Listener
from bot.program.station import Station
from bot.rigs import Rigs
from bot.rooms import Room
from bot.rooms.page import address as addresses
from bot.rooms.page import protocol
from bot.rooms.page.address import SETTING, Address
from bot.rooms.page.app import Answers
from bot.rooms.page.boards import Boards
from bot.rooms.page.certificate import Certificate, certificate
from bot.rooms.page.door import Door
from bot.rooms.page.handsfree import Listening, ScreenRoom
from bot.rooms.page.hub import Hub
from bot.rooms.page.passes import Pass, Passes
from bot.rooms.page.room import PageRoom
from bot.rooms.page.session import Desk
from bot.rooms.panel.dialogue import PanelEars
from bot.rooms.throttle import Throttle
from bot.settings import DIRS, Settings
from bot.speech.apart import Apart
from bot.store.chats import Code
from grammar.commands import Context
from handlers.errors import CrosslayError
from handlers.scene import Scene
from handlers.times import clock, unit_name

PING_S = 10.0
PATIENCE_S = 2
EAR_AFTER_S = 20.0
"""Its loading takes a core for some seconds: phones that come back after a restart go first."""
MOST_CONNECTIONS = 500
BY = "the console"

Say = Callable[[str], None]

_LOG = logging.getLogger(__name__)


class Page:
    """The page before it has a station: make one, give its `room` and `ears` to the station, then `open` it there."""

    def __init__(
        self,
        at: Address,
        settings: Settings,
        say: Say,
        clock: Clock,
        drills: Sequence[Path] = (),
        others: Sequence[Room] = (),
    ) -> None:
        """`say`: a line (or a QR code) for the console; `others`: rooms beside it, whose recordings are heard too.

        Raises FileProblem where its keys can't be kept.
        """
        self.address = at
        self.clock = clock
        self._say = say
        self._settings = settings
        self._drills = drills
        folder = DIRS.user_data_path / "page"
        self.certificate: Certificate = certificate(folder, at.host)
        self._passes = Passes.of_file(folder / "passes.key")
        self.hub = Hub()
        self.room = PageRoom(self.hub, clock)
        self.apart = Apart()
        self.listener = Listener([self.room, *others], settings.vosk_model, self.apart)
        self.ears = PanelEars(self.listener)
        self._code: Code | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._server: _Server | None = None
        self.door: Door | None = None

    async def open(self, station: Station) -> None:
        """Serve beside a station, from now until `close`. Raises SettingsError where the address can't be had."""
        self._station = station
        self.door = door = Door(station)
        boards = Boards(station, self.hub, self.room)
        desk = Desk(station, self.hub, self.room, door, boards, Throttle(), self.address, self._listen)
        answers = Answers(desk, self._passes, self.certificate.authority, self._joined, self._drills)
        self._server = server = _Server(self._config(answers))
        bound = self._bound()
        self._tasks.append(asyncio.create_task(boards.run()))
        self._tasks.append(asyncio.create_task(server.serve(sockets=[bound])))
        while not server.started and not self._tasks[-1].done():  # noqa: ASYNC110 - it has no event of its own
            await asyncio.sleep(0.01)

    def _bound(self) -> socket.socket:
        """Bound to the one address."""
        family = socket.AF_INET6 if ":" in self.address.host else socket.AF_INET
        bound = socket.socket(family, socket.SOCK_STREAM)
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((self.address.host, self.address.port))
        except OSError as error:
            bound.close()
            why = f"{self.address.host}:{self.address.port} can't be served at ({error.strerror}): name another"
            raise SettingsError(SETTING, f"{why}, or “off”.") from None
        return bound

    def _config(self, answers: Answers) -> uvicorn.Config:
        return uvicorn.Config(
            answers.app(),
            ssl_certfile=self.certificate.chain,
            ssl_keyfile=self.certificate.key,
            ssl_version=ssl.PROTOCOL_TLS_SERVER,
            ws="websockets-sansio",
            ws_max_size=protocol.LARGEST_FRAME,
            ws_ping_interval=PING_S,
            ws_ping_timeout=PING_S,
            ws_per_message_deflate=False,  # each screen's would be pressed by itself, and its network is its own
            timeout_keep_alive=30,
            timeout_graceful_shutdown=PATIENCE_S,
            limit_concurrency=MOST_CONNECTIONS,
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
        )

    async def close(self) -> None:
        """End it."""
        if self._server is not None:
            self._server.should_exit = True
            for room in self.hub.rooms:
                for screen in self.hub.of(room):
                    screen.let_go()
            await asyncio.wait({self._tasks[-1]}, timeout=PATIENCE_S + 1)
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self.apart.close()

    async def invitation(self) -> str:
        """The address with a new code for one phone, its QR code, and how the certificate is trusted."""
        assert self.door is not None
        self._code = code = await self.door.house_code(BY)
        url = addresses.join_url(self.address, code.code)
        here = "\nOnly this machine reaches it: CROSSLAY_PAGE_LISTEN names an address of its network."
        return (
            f"{addresses.qr_text(url)}"
            f"The page: {self.address.url}  code {code.code} (one phone, until"
            f" {clock(code.expires_at, self._settings.tz)}){here if self.address.is_here else ''}\n"
            f"To trust it: on the phone open {self.address.url}certificate and install it, if its SHA-256 is\n"
            f"{self.certificate.fingerprint}"
        )

    async def renew(self) -> None:
        """A new code on the console whenever the last one is over, for ever."""
        while True:
            await asyncio.sleep(5)
            with contextlib.suppress(Exception):
                if self.door is not None and self._code is not None and await self.door.used(self._code.code):
                    await self._next_code()

    async def _next_code(self) -> None:
        assert self.door is not None
        self._code = code = await self.door.house_code(BY)
        until = clock(code.expires_at, self._settings.tz)
        self._say(f"For the next phone: {self.address.url} code {code.code} (until {until})")

    async def _joined(self, one: Pass, code: str) -> None:
        self._say(f"{one.name} ({unit_name(one.unit)}) is on the page.")
        if self._code is not None and code == self._code.code:
            await self._next_code()

    def _listen(self, room: ScreenRoom, notice: Callable[[protocol.Ear], None]) -> Listening:
        company = room.message().room.partition(":")[2].removeprefix("guest/")
        rig = self._station.rigs.of(company)
        return Listening(self._station, self.listener, self.ears, self.apart, room, notice, rig)

    async def warm_up(self, rigs: Rigs) -> None:
        """The first message isn't slower than the rest; the ear comes after the screens, unless it is asked before."""
        context: Context = build(rigs.own, rigs.own_unit, Scene())
        await asyncio.to_thread(read, "two lines, 200 feet, 1.75, second floor", context)
        await asyncio.sleep(EAR_AFTER_S)
        try:
            await self.listener.warm_up(rigs.own, context)
        except CrosslayError as error:
            _LOG.warning("Recordings can't be heard: %s", error.message)


class _Server(uvicorn.Server):
    """Ends when it is told to; signals are the program's."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


async def serve(settings: Settings, rigs: Rigs, say: Say, drills: Sequence[Path] = ()) -> None:
    """Run the page until SIGINT or SIGTERM; what is left goes on at the next start.

    Raises:
        SettingsError, FileProblem: its address or its keys can't be had.
        StoreError: the record can't be opened.
    """
    at = addresses.chosen(settings.page_listen)
    if at is None:
        raise SettingsError(SETTING, "it says “off”: name an address of this machine, like 192.168.4.1:8443.")
    local = LocalClock()
    page = Page(at, settings, say, local, drills)
    station = await Station.open(settings, rigs, [page.room], clock=local, ears=page.ears)
    warming = asyncio.create_task(page.warm_up(rigs))
    renewing = asyncio.create_task(page.renew())
    try:
        await station.start()
        await page.open(station)
        say(await page.invitation())
        if sys.stdin.isatty():
            say("Enter shows a new code; Ctrl-C ends it.")
        await _until_told(page, say)
    finally:
        for task in (warming, renewing):
            task.cancel()
        await page.close()
        await station.stop()


async def _until_told(page: Page, say: Say) -> None:
    """Wait for a signal; Enter on a terminal shows a new code."""
    loop, told = asyncio.get_running_loop(), asyncio.Event()
    for ending in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(ending, told.set)
    showing: set[asyncio.Task[None]] = set()

    async def show() -> None:
        say(await page.invitation())

    def entered() -> None:
        if not sys.stdin.readline():
            loop.remove_reader(sys.stdin)
            return
        task = asyncio.create_task(show())
        showing.add(task)
        task.add_done_callback(showing.discard)

    if sys.stdin.isatty():
        loop.add_reader(sys.stdin, entered)
    try:
        await told.wait()
    finally:
        if sys.stdin.isatty():
            loop.remove_reader(sys.stdin)
        for ending in (signal.SIGINT, signal.SIGTERM):
            loop.remove_signal_handler(ending)
