"""The real program as a process of its own, run against the test server as a department would run it."""

import asyncio
import os
import sys
from asyncio.subprocess import PIPE, Process
from pathlib import Path
from typing import Self

from tests.telegram.objects import Chat
from tests.telegram.server import BotApiServer

ROOT = Path(__file__).parents[3]
_PATIENCE_S = 60


class Program:
    """`crosslay telegram` with a home folder of its own; start it as often as needed."""

    def __init__(self, telegram: BotApiServer, home: Path, *served: Chat, crew_room: Chat | None = None) -> None:
        self._telegram = telegram
        self._home = home
        self.environment = {
            "PATH": os.environ["PATH"],
            "PYTHONPATH": str(ROOT),
            "HOME": str(home),
            "CROSSLAY_TELEGRAM_API": telegram.api,
            "CROSSLAY_TELEGRAM_TOKEN": telegram.token,
            "CROSSLAY_ROOMS": ",".join(str(chat.id) for chat in served),
            "CROSSLAY_CREW_ROOM": str(crew_room.id) if crew_room else "",
            "CROSSLAY_TIMEZONE": "UTC",
        }
        self._process: Process | None = None

    async def start(self, *, polls: bool = True) -> Self:
        """Starts it and waits until it polls (or doesn't wait)."""
        before = self._telegram.polls
        self._process = await self._run("telegram")
        if not polls:
            return self
        await self._telegram.until(
            lambda: self._telegram.polls > before, timeout_s=_PATIENCE_S, what=lambda: "the program's first poll"
        )
        return self

    async def kill(self) -> None:
        """kill -9."""
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.communicate()

    @property
    def pid(self) -> int:
        """Of the running process."""
        assert self._process is not None
        return self._process.pid

    def signal(self, number: int) -> None:
        """Sends it a signal (SIGSTOP, SIGCONT)."""
        assert self._process is not None
        self._process.send_signal(number)

    async def end(self) -> tuple[int, str, str]:
        """SIGTERM; returns exit status, output and errors."""
        assert self._process is not None
        self._process.terminate()
        return await self._finished(self._process)

    async def command(self, *arguments: str) -> tuple[int, str, str]:
        """Runs one command to its end; returns exit status, output and errors."""
        return await self._finished(await self._run(*arguments))

    async def _run(self, *arguments: str) -> Process:
        return await asyncio.create_subprocess_exec(
            sys.executable, "-m", "bot", *arguments, cwd=self._home, env=self.environment, stdout=PIPE, stderr=PIPE
        )

    async def _finished(self, process: Process) -> tuple[int, str, str]:
        async with asyncio.timeout(_PATIENCE_S):
            out, err = await process.communicate()
        assert process.returncode is not None
        return process.returncode, out.decode(), err.decode()

    def everything_written(self) -> str:
        """All text files that it left in its home folder, logs among them."""
        files = [path for path in self._home.rglob("*") if path.is_file()]
        return "\n".join(path.read_bytes().decode("utf-8", "replace") for path in files)
