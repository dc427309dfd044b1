"""The local room on a real (pseudo) terminal: reminders appear while somebody types, the panel shows the incident."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from tests.integration.test_restart import quick_rig

PATIENCE_S = 20.0
_CONTROLS = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[=>]|\r")


class Terminal:
    """A terminal of 120 × 40 with the program in it."""

    def __init__(self, folder: Path) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
        environment = {
            **os.environ,
            "TERM": "xterm-256color",
            "CROSSLAY_DATABASE": str(folder / "record.sqlite"),
            "CROSSLAY_RIG": str(quick_rig(folder)),
            "XDG_STATE_HOME": str(folder),
        }
        self._program = subprocess.Popen(
            [sys.executable, "-m", "bot"], stdin=theirs, stdout=theirs, stderr=theirs, env=environment
        )
        os.close(theirs)
        self._shown = ""

    def type(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def wait_for(self, words: str) -> None:
        """Until these words were shown, after what was waited for before."""
        end = time.monotonic() + PATIENCE_S
        while words not in self._shown:
            if not select.select([self._ours], [], [], end - time.monotonic())[0]:
                pytest.fail(f"{words!r} was never shown; the end of what was: {self._shown[-800:]}")
            shown = os.read(self._ours, 65536).decode("utf-8", "replace")
            self._shown += _CONTROLS.sub("", shown)
            if "\x1b[6n" in shown:  # it asks where the cursor is
                self.type("\x1b[1;1R")
        self._shown = self._shown.split(words, 1)[1]

    def close(self) -> int:
        """The exit status, after Ctrl-D."""
        self.type("\x04")
        status = self._program.wait(PATIENCE_S)
        os.close(self._ours)
        return status

    def kill(self) -> None:
        self._program.kill()
        self._program.wait()


def test_a_reminder_appears_while_somebody_types(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path)
    try:
        terminal.wait_for("An aid to trained people")
        terminal.wait_for("No incident is open.")
        terminal.type("officer: engine 12 on scene\r")
        terminal.wait_for("Engine 12 on scene")
        terminal.type("cross")
        terminal.wait_for("Elapsed:")
        terminal.type("lay 1\r")
        terminal.wait_for("170 psi, 150 gpm")
        terminal.wait_for("Clocks")
        assert terminal.close() == 0
    finally:
        terminal.kill()
