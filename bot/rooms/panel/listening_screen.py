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
from bot.speech.hands_free import HandsFree

QUIETEST_DB = -60.0
"""The meter's left end; its right end is full scale."""
WIDTH = 30
STYLES = {"reply": "", "notice": "cyan", "reminder": "yellow", "alert": "bold white on red"}


class ListeningScreen:
    """A terminal with a meter, or plain lines where the output is no terminal. A context manager."""

    def __init__(self, hands_free: HandsFree, tz: tzinfo, console: Console | None = None) -> None:
        self._hands_free = hands_free
        self._tz = tz
        self._console = console or Console(file=sys.stdout, highlight=False, soft_wrap=True)
        self._stack = ExitStack()
        self.deaf_for_good = False
        """The microphone has gone."""

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
        """The level as a bar, and whether it hears anybody, or nobody because it speaks itself."""
        if self.deaf_for_good:
            return Text("·" * WIDTH + " no microphone: nothing is heard", style="bold red")
        if self._hands_free.is_deaf:
            return Text("·" * WIDTH + " speaking: wait to be heard", style="yellow")
        pointer = self._hands_free.end_pointer
        full = round(WIDTH * min(1.0, max(0.0, 1 - pointer.level_db / QUIETEST_DB)))
        bar = "█" * full + "·" * (WIDTH - full)
        state, style = ("hearing you", "green") if pointer.speaking else ("listening", "dim")
        return Text(f"{bar} {state}", style=style)

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

    def cut_short(self, words: str) -> None:
        """Speech of which a part was lost while it spoke itself: what is left may mean the opposite."""
        if words:
            self.say(f"(said while it spoke, not taken: {words}. Say it again.)")

    def called(self) -> None:
        """The call name alone."""
        self.say("Go ahead.")
