"""What is named as taken back isn't said anew: "undo under control" takes that back, "undo the evacuation" lifts it.

Only where nothing stands between: after a pause ("undo that, under control") the rest is a report of its own.
"""

from __future__ import annotations

import re

from msgspec.structs import replace

from grammar.commands import Benchmark, Choice, Command, Context, Evacuate, Question, Reading, Undo
from grammar.describe import several

_NAMED = re.compile(
    r"^\W*(?:(?:ok|okay|no|please|wait|sorry)\W+)*(?:undo|take back|remove|delete|cancel|scratch|belay)\s+"
    r"(?!that\b|it\b|this\b|(?:the |my )?last\b|both\b)[^.,;:!?\n–—-]+[.!?]?\s*$",
    re.IGNORECASE,
)


def named_as_undone(reading: Reading, text: str, context: Context) -> Reading:
    """The reading, without a report that was only named as what is to be taken back."""
    if len(reading.commands) < 2 or reading.commands[0] != Undo() or _NAMED.match(text) is None:
        return reading
    rest = reading.commands[1:]
    undone = _without(rest[0]) if len(rest) == 1 else None
    if undone is not None:
        return replace(reading, commands=(undone,), intent=undone.intent)
    question = Question(
        "Take back your last report, or is that said anew?",
        (Choice("take the last one back", (Undo(),)), Choice(several(rest, context.wording), rest), Choice("neither")),
    )
    return replace(reading, commands=(), question=question, intent=Undo.intent, confidence=0.5)


def _without(command: Command) -> Command | None:
    """The command that takes one of this kind back by its name."""
    match command:
        case Benchmark(benchmark=name):
            return Undo(benchmark=name)
        case Evacuate(over=False, place=place):
            return Evacuate(place=place, over=True)
    return None
