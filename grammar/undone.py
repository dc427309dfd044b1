"""What is named as taken back isn't said anew: "undo under control" takes that back, "undo the evacuation" lifts it.

Only where nothing stands between: after a pause ("undo that, under control") the rest is a report of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from msgspec.structs import replace

from grammar.commands import Benchmark, Choice, Command, Context, Evacuate, Question, Reading, Undo
from grammar.confidence import ASKED, FIRM
from grammar.describe import several

_NAMED = re.compile(
    r"^\W*(?:(?:ok|okay|no|please|wait|sorry)\W+)*(?:(?P<undo>undo|take back)|remove|delete|cancel|scratch|belay)\s+"
    r"(?P<named>(?!that\b|it\b|this\b|(?:the |my )?last\b|both\b)[^.,;:!?\n–—-]+)[.!?]?\s*$",
    re.IGNORECASE,
)


def named_as_undone(reading: Reading, text: str, context: Context, read: Callable[[str], Reading]) -> Reading | None:
    """What takes back a report that is named; None where the message, read so far as `reading`, doesn't.

    `read`: the reader, for a part of the message by itself.
    """
    named = _NAMED.match(text)
    choices = reading.question.choices if reading.question is not None else ()
    ways = (reading.commands, *(choice.commands for choice in choices))
    if named is None or not (named["undo"] or any(Undo() in way for way in ways)):
        return None
    rest = read(named["named"]).commands
    if not rest:
        return None
    undone = _without(rest[0]) if len(rest) == 1 else None
    if undone is not None:
        return replace(reading, commands=(undone,), question=None, confidence=FIRM, intent=undone.intent)
    question = Question(
        "Take back your last report, or is that said anew?",
        (Choice("take the last one back", (Undo(),)), Choice(several(rest, context.wording), rest), Choice("neither")),
    )
    return replace(reading, commands=(), question=question, intent=Undo.intent, confidence=ASKED)


def _without(command: Command) -> Command | None:
    """The command that takes one of this kind back by its name."""
    match command:
        case Benchmark(benchmark=name):
            return Undo(benchmark=name)
        case Evacuate(over=False, place=place):
            return Evacuate(place=place, over=True)
    return None
