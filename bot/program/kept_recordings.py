"""Keeps recordings for later training: only where the settings name a folder, only of people who agreed, only such as
their speaker put right. Off unless CROSSLAY_KEEP_RECORDINGS is set.

A recording waits for its correction in memory and nowhere else; it is dropped after ten minutes or the next one.
"""

from __future__ import annotations

import json
import logging
import re
from datetime import datetime, timedelta
from pathlib import Path

import msgspec

from bot.message import Message
from bot.message.recording import Listened
from bot.message.reply import Handled
from bot.store import private
from grammar.commands import Correction, KeepRecordings

PUT_RIGHT_WITHIN = timedelta(minutes=10)
_I_SAID = re.compile(r"^\W*(?:no\W+)?(?:i said|correction|i meant)\W*", re.IGNORECASE)
_LOG = logging.getLogger(__name__)


class _Waiting(msgspec.Struct, frozen=True):
    at: datetime
    recording: bytes
    heard: str


class Recordings:
    """The folder of kept recordings, and who agreed (agreed.json in it)."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._waiting: dict[tuple[str, str], _Waiting] = {}

    def took(self, message: Message, listened: Listened | None, handled: Handled) -> None:
        """A message was handled: note consent, keep what it puts right, or let its recording wait for that."""
        try:
            self._took(message, listened, handled)
        except OSError as error:
            _LOG.warning("A recording can't be kept in %s (%s)", self._folder, error.strerror)

    def _took(self, message: Message, listened: Listened | None, handled: Handled) -> None:
        for command in handled.reading.commands:
            if isinstance(command, KeepRecordings):
                self._note(message.who, agreed=command.agree)
        key = message.room, message.who
        before = self._waiting.pop(key, None)
        if message.who not in self._agreed():
            return
        corrected = [command for command in handled.reading.commands if isinstance(command, Correction)]
        if corrected and before is not None and message.at - before.at <= PUT_RIGHT_WITHIN:
            self._keep(before, listened.heard if listened else message.text)
        elif listened is not None and listened.recording:
            self._waiting[key] = _Waiting(message.at, listened.recording, listened.heard)

    def _keep(self, before: _Waiting, correction: str) -> None:
        """The sound, and beside it what was heard and what its speaker said it was."""
        private.folder(self._folder)
        name = f"{before.at:%Y%m%dT%H%M%S%f}"
        ending = (
            "ogg" if before.recording.startswith(b"OggS") else "wav" if before.recording[:4] == b"RIFF" else "audio"
        )
        self._write(f"{name}.{ending}", before.recording)
        text = {"heard": before.heard, "corrected": _I_SAID.sub("", correction).strip(), "correction": correction}
        self._write(f"{name}.json", (json.dumps(text, ensure_ascii=False) + "\n").encode())

    def _agreed(self) -> set[str]:
        try:
            return set(json.loads((self._folder / "agreed.json").read_text("utf-8")))
        except (FileNotFoundError, ValueError):
            return set()

    def _note(self, who: str, *, agreed: bool) -> None:
        people = self._agreed() | {who} if agreed else self._agreed() - {who}
        private.folder(self._folder)
        self._write("agreed.json", (json.dumps(sorted(people)) + "\n").encode())

    def _write(self, name: str, content: bytes) -> None:
        (self._folder / name).write_bytes(content)
        private.close(self._folder / name)
