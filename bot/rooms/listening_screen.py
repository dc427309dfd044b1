"""What is to be seen while it listens: everything told and heard, and under it a level meter."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from datetime import datetime, tzinfo
from types import TracebackType

from rich.console import Console
from rich.live import Live
from rich.text import Text

from bot.message import Outgoing
from bot.rooms.terminal import with_choices
from bot.speech.listen import EndPointer

QUIETEST_DB = -60.0
"""The meter's left end; its right end is full scale."""
WIDTH = 30
STYLES = {"reply": "", "notice": "cyan", "reminder": "yellow", "alert": "bold white on red"}


class ListeningScreen:
    """A terminal with a meter, or plain lines where the output is no terminal. A context manager."""

    def __init__(self, end_pointer: EndPointer, tz: tzinfo, console: Console | None = None) -> None:
        self._end_pointer = end_pointer
        self._tz = tz
        self._console = console or Console(file=sys.stdout, highlight=False, soft_wrap=True)
        self._stack = ExitStack()

    def __enter__(self) -> ListeningScreen:
        if self._console.is_terminal:
            meter = Live(get_renderable=self.meter, console=self._console, refresh_per_second=8, transient=True)
            self._stack.enter_context(meter)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.close()

    def meter(self) -> Text:
        """The level as a bar, and whether somebody is speaking."""
        full = round(WIDTH * min(1.0, max(0.0, 1 - self._end_pointer.level_db / QUIETEST_DB)))
        speaking = self._end_pointer.speaking
        bar = "█" * full + "·" * (WIDTH - full)
        return Text(f"{bar} {'hearing you' if speaking else 'listening'}", style="green" if speaking else "dim")

    def show(self, out: Outgoing) -> None:
        """Something told at the panel; alerts not to be missed."""
        if out.kind == "reply":
            lead, _, rest = with_choices(out).partition("\n")
            self._console.print(Text.assemble((lead, "bold"), f"\n{rest}" if rest else ""))
            return
        mark = f"{datetime.now(self._tz):%H:%M:%S} {out.kind.upper()} "
        self._console.print(Text(mark + with_choices(out), style=STYLES[out.kind]))

    def say(self, sentence: str) -> None:
        """A sentence of the program's own."""
        self._console.print(Text(sentence, style="dim"))

    def left_alone(self, words: str) -> None:
        """Speech without the call name: shown, so that a missed call name is seen; nothing is kept of it."""
        if words:
            self.say(f"(without the call name: {words})")

    def called(self) -> None:
        """The call name alone."""
        self.say("Go ahead.")
