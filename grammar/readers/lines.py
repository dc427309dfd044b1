"""Working lines that are spoken of: which is meant, what it is called, and what is done with it now."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from grammar.commands import (
    Choice,
    LineOff,
    LineOn,
    LineRef,
    LineSeen,
    PumpPressure,
    Question,
    Request,
    SaidLay,
    SaidLine,
)
from grammar.costs import HARDLY, LIKELY
from grammar.describe import several
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Stance, Take, place_of
from grammar.readers.lay_questions import line_names
from grammar.readers.signs import met, word_list
from grammar.saying import Sayer

replace = msgspec.structs.replace


def lines_meant(span: Span, take: Take) -> Iterator[tuple[LineRef, float]]:
    """Which working line is meant, likeliest first; what says so is taken."""
    items = span.items
    for i in span.kinds("line"):
        if not take.taken(i):
            take.mark(i)
            yield LineRef(name=str(items[i].value)), 0.0
            return
    if streams := streams_seen(span):
        take.terms(str(streams[0].device), "line")
        yield exactly(streams[0]), 0.0
    elif take.term("all_lines") >= 0:
        take.terms("line", "last_one")
        yield LineRef(all=True), 0.0
    elif (order := numbered(span, take)) is not None:
        yield LineRef(order=order), 0.0
    elif (i := _open(span, take, "names_hose")) >= 0:
        take.mark(i)
        take.terms("line")
        yield LineRef(hose_in=items[i].number), 0.0
    elif (i := _open(span, take, "place_of_a_line")) >= 0:
        take.mark(i)
        take.terms("line")
        yield LineRef(place=place_of(items[i])), HARDLY
    elif take.term("other") >= 0:
        take.terms("line", "last_one", "crosslay")
        take.mark(*span.kinds("family"))
        yield LineRef(other=True), HARDLY
    elif take.terms("last_one", "line"):
        yield LineRef(), HARDLY


def _open(span: Span, take: Take, name: str) -> int:
    """The first item not yet explained that meets a declared test; -1 when there is none."""
    return next((i for i in take.open() if met(name, span, i)), -1)


def numbered(span: Span, take: Take) -> int | None:
    """ "The second line", "line 2"."""
    for i in span.kinds("num"):
        beside = i + 1 if met("nth_line", span, i) else i - 1 if met("line_number", span, i) else None
        if beside is not None:
            take.mark(i, beside)
            return int(span.items[i].number)
    return None


def streams_seen(span: Span) -> list[LineSeen]:
    """The one master stream of this incident that is spoken of: "ladder pipe shut down", "the monitor's flowing"."""
    for device in ("aerial", "monitor"):
        same = [line for line in span.context.lines if line.device == device]
        if span.has(device) and len(same) == 1:
            return same
    return []


def lines_on(span: Span) -> list[LineSeen]:
    """The lines that are charged or flowing."""
    return [line for line in span.context.lines if line.on]


def only_line(span: Span) -> LineRef | None:
    """The one line that is on."""
    on = lines_on(span)
    return exactly(on[0]) if len(on) == 1 else None


def named_lines(span: Span) -> set[str]:
    """The names of lines that the stretch holds."""
    return {str(span.items[i].value) for i in span.kinds("line")}


def called(span: Span, line: LineSeen) -> str:
    """What a line is called in a choice: by its name, else by its hose, length and place."""
    if line.name is not None:
        ((name, _),) = line_names(span, (line.name,))
        return name.replace("_", " ")
    say = Sayer(span.context.wording)
    size = f"{say.size(line.hose_in)} line" if line.hose_in else (line.device or f"line {line.seq}")
    return ", ".join(part for part in (size, say.feet(line.length_ft) if line.length_ft else "", line.place) if part)


def exactly(line: LineSeen) -> LineRef:
    """A reference that means this line and no other."""
    return LineRef(name=line.name) if line.name else LineRef(seq=line.seq)


def line_on(lay: SaidLay) -> LineOn:
    """A lay put on: by its name when only that was said."""
    line = lay.lines[0] if len(lay.lines) == 1 and not lay.feed else None
    named = line is not None and line.name is not None and line == SaidLine(name=line.name)
    return LineOn(ref=LineRef(name=line.name)) if line is not None and named else LineOn(lay=lay)


def lay_asked_last(span: Span) -> PumpPressure | None:
    """The lay whose pressure was asked for last."""
    return next((c for c in reversed(span.context.last) if isinstance(c, PumpPressure)), None)


def charged_already(span: Span) -> bool:
    """ "Charged, nozzle's shut", no line named: of a line that is on."""
    return met("charged_before", span) and bool(span.context.lines)


def held_is_meant(span: Span) -> bool:
    """ "Crosslay one flowing", or just "flowing", while that line is charged with its nozzle shut."""
    named = named_lines(span)
    order = None if named else numbered(span, Take(span))
    if order is not None:
        on = sorted(lines_on(span), key=lambda line: line.seq)
        return any(line.held for line in on[order - 1 : order])
    if not named and len(span.content()) > 1:
        return False
    held = [line.name for line in lines_on(span) if line.held]
    return bool(named.intersection(name for name in held if name) if named else held)


HOLDS = ("nozzle_shut", "nobody_flows", "hold_water", "stands_by")
"""What says of a line that is charged that nothing flows from it."""


def now(span: Span, take: Take, commands: tuple[LineOn | LineOff, ...], cost: float) -> Iterator[Candidate]:
    """The lines on or off now; a stated time is asked about, as a line's clock starts when it is said.

    What the crew orders of the pump is a request; with its nozzle shut a line is charged and no more.
    """
    if span.has(*HOLDS):
        take.terms(*HOLDS, "nozzle", "and")
        commands = tuple(replace(one, held=True) if isinstance(one, LineOn) else one for one in commands)
    if ordered_by_crew(span, take):
        take.terms("hope", "order")
        yield take.reading(Request(text=said_words(span), wants=commands), cost=cost)
        return
    if not span.kinds("time"):
        yield take.reading(*commands, cost=cost)
        return
    take.mark(*span.kinds("time"))
    text = sentence("no_time_afterwards", what=several(commands, span.context.wording))
    question = Question(text, (Choice(sentence("yes"), commands), Choice(sentence("no"))))
    yield take.asking(question, commands[0].intent, cost)


def not_now(span: Span, take: Take, stance: Stance, what: str, intent: str) -> Candidate:
    """Declined: it is denied, or still to come."""
    take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark))
    take.mark(*span.kinds("line", "family", "num", "floor"))
    take.terms("line", "last_one")
    return take.declining(sentence(f"{what}_{'denied' if stance == 'denied' else 'hoped'}"), intent, LIKELY)


def said_words(span: Span) -> str:
    """The stretch in the words that were said."""
    return span.text()


def ordered_by_crew(span: Span, take: Take) -> bool:
    """Whether the crew asks it of the pump ("charge crosslay one", "more pressure"), not reports it as done."""
    if span.context.role != "crew":
        return False
    for i in range(span.lo, span.hi):
        item = span.items[i]
        if met("reports_a_line", span, i):
            return False
        verb = take.taken(i) and item.kind == "term" and item.concepts.isdisjoint(word_list("lines_beside_verb"))
        if verb or not item.concepts.isdisjoint(("more_pressure", "less_pressure")):
            return item.text.split()[0] in word_list("lines_orders") or "order" in item.polarity
    return False
