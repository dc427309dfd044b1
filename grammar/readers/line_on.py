"""Reads lines that are charged or flowing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import (
    Choice,
    Command,
    FlowAtPressure,
    LineOff,
    LineOn,
    LineRef,
    PumpPressure,
    Question,
    Request,
    Status,
    Undo,
)
from grammar.costs import FAIR, HARDLY, LIKELY, UNSURE
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.lay_questions import ask, doubtful_lay, line_names, missing_question
from grammar.readers.layout import LayReading, read_lays
from grammar.readers.lines import (
    HOLDS,
    charged_already,
    held_is_meant,
    lay_asked_last,
    line_on,
    lines_meant,
    lines_on,
    named_lines,
    not_now,
    now,
    ordered_by_crew,
    said_words,
)
from grammar.readers.signs import doubts, met

_ON = ("charge", "charged_state", "open", "flow_on")
_AROUND = ("for_noise", "through", "line", "of_hose", "each", "show")


@reads(*_ON)
def read_line_on(span: Span) -> Iterable[Candidate]:
    """ "charge crosslay one", "crosslay two is flowing", "charge 200 feet of inch and three quarter", "charge it"."""
    i = _verb(span)
    if i < 0 or _of_two_things(span, i) or _on_already(span, i):
        return
    stance = span.stance(i)
    if met("kept_as_it_is", span, i):
        yield Take(span, *span.content()).declining(sentence("kept_as_it_is"), LineOn.intent, HARDLY)
    elif stance == "asked":
        yield from _asked_on(span, i)
    elif stance in ("said", "ordered") or met("requested", span, i):
        may = [k for k in range(span.lo, i) if met("you_can", span, k)]
        extra = doubts("line_on", span)
        for candidate in _on(span, i):
            yield candidate._replace(cost=candidate.cost + extra, used=candidate.used | sum(1 << k for k in may))
    else:
        yield from _not_on(span, i)


def _on_already(span: Span, i: int) -> bool:
    """Of a line that is on: its nozzle, or its gate; readers/nozzle_state.py."""
    if charged_already(span) or (not span.has("charge", "charged_state") and held_is_meant(span)):
        return True
    named = named_lines(span)
    return "open" in span.items[i].concepts and any(line.gated and line.name in named for line in lines_on(span))


def _verb(span: Span) -> int:
    """What says that a line is on; -1 when nothing does."""
    return next((i for name in ("charges", "sets_flowing") for i in span.where(*_ON) if met(name, span, i)), -1)


def _of_two_things(span: Span, i: int) -> bool:
    """ "Two lines second floor, and charge crosslay one", "crosslay one flowing and 200 feet of …": two things."""
    verb = span.items[i]
    if any(span.items[k].polarity - verb.polarity - verb.concepts for k in span.kinds("line")):
        return True  # "charge the deck gun, and hold off on crosslay two"
    if met("of_told_before", span, i) and not met("hose_ahead", span, i):
        return False  # "they pulled the rear line to Charlie and it's flowing"
    pulled = span.first("pull")
    if pulled >= 0 and any(met("pauses", span, k) for k in range(min(pulled, i) + 1, max(pulled, i))):
        return True  # "pulling crosslay two and the deck gun is flowing"
    paused = any(met("pauses", span, k) for k in (i - 1, i + 1) if span.lo <= k < span.hi)
    return paused and met("hose_behind", span, i) and met("hose_ahead", span, i)


def _on(span: Span, i: int) -> Iterator[Candidate]:
    """The line that is put on: a lay told of, or a line that is known."""
    lays = bool(span.kinds("num", "family")) or span.has("crosslay")
    if lays or (span.kinds("line") and span.kinds("floor", "place")):
        for lay in read_lays(span):
            yield from _on_lay(span, i, lay)
    if (not lays and not (span.kinds("line") and span.kinds("floor", "place"))) or span.has("last_one", "other"):
        yield from _on_known(span, i)


def _on_known(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.terms("order", *_ON, *HOLDS)
    names = span.kinds("line")
    if len(names) > 1:
        take.mark(*names)
        take.terms("and", "into", *_AROUND)
        yield from now(span, take, tuple(LineOn(ref=LineRef(name=str(span.items[k].value))) for k in names), 0.0)
        return
    ref, cost = next(lines_meant(span, take), (None, LIKELY))
    take.terms(*_AROUND)
    if ref is not None and ref != LineRef() and (ref.name is not None or span.context.lines):
        yield from now(span, take, (LineOn(ref=ref),), cost)
    elif ref is not None or not [k for k in span.content() if not take.taken(k)]:
        yield from _charge_last(span, take, cost)


def _charge_last(span: Span, take: Take, cost: float) -> Iterator[Candidate]:
    """ "charge it": the lay that was last asked for."""
    asked = lay_asked_last(span)
    if asked is not None:
        yield from now(span, take, tuple(line_on(lay) for lay in asked.lays), cost)
    elif ordered_by_crew(span, take):
        yield take.reading(Request(text=said_words(span)), cost=cost)
    else:
        yield take.asking(_which_on(span), LineOn.intent, cost + LIKELY)


def _on_lay(span: Span, i: int, lay: LayReading) -> Iterator[Candidate]:
    if lay.pump_psi is not None:
        return
    take, command = Take(span, i, cost=doubts("line_on_lay", span)), PumpPressure(lay.lays)
    take.used |= lay.used
    take.terms("order", *_ON, *_AROUND)
    if lay.wrong is not None:
        yield take.declining(lay.wrong, LineOn.intent, lay.cost)
    elif lay.unknown_name or lay.family:
        yield take.asking(_which_on(span, lay.family), LineOn.intent, lay.cost + LIKELY)
    elif lay.missing is not None:
        yield take.asking(_charged(missing_question(span, command, lay.missing), lay), LineOn.intent, lay.cost + UNSURE)
    elif (doubt := doubtful_lay(span, command, lay)) is not None:
        yield take.asking(_charged(doubt, lay), LineOn.intent, lay.cost)
    else:
        yield from now(span, take, tuple(line_on(one) for one in lay.lays), lay.cost)


def _charged(question: Question, lay: LayReading) -> Question:
    """What is asked of a pressure, asked of a line that is charged."""
    choices = tuple(Choice(c.label, tuple(_all_on(c.commands))) for c in question.choices)
    return Question(question.text, choices, LineOn(lay=lay.lays[0]) if question.fills else None, question.slot)


def _all_on(commands: Iterable[Command]) -> Iterator[LineOn]:
    return (line_on(lay) for c in commands if isinstance(c, PumpPressure | FlowAtPressure) for lay in c.lays)


def _asked_on(span: Span, i: int) -> Iterator[Candidate]:
    """ "Should I charge …", "is crosslay one charged?"."""
    if met("asks_how", span, i):
        for lay in read_lays(span):
            if lay.missing is None and not lay.unknown_name and not lay.family:
                take = Take(span, i)
                take.used |= lay.used
                take.terms("hope", "order", *_AROUND, "ask_pressure", "charge")
                yield take.reading(PumpPressure(lay.lays), cost=lay.cost + FAIR)
        return
    take = Take(span, i, *span.kinds("line", "family"))
    take.terms("line", "last_one", "hope", "order", "for_noise", "flow_on", "pumping_what")
    yield take.reading(Status(about="lines"), cost=LIKELY)


def _not_on(span: Span, i: int) -> Iterator[Candidate]:
    take, stance = Take(span, i), span.stance(i)
    name = next((str(span.items[k].value) for k in span.kinds("line")), None)
    take.terms(*_ON)
    # "Crosslay one is not charged" of a line that counts as flowing; "don't charge crosslay one" is an order.
    flowing = stance == "denied" and any(line.name == name for line in lines_on(span)) and span.kinds("line")[0] < i
    if name is None or not flowing:
        yield not_now(span, take, stance, "not_charged", LineOn.intent)
        return
    take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark), *span.kinds("line"))
    take.terms("line", "last_one", *_ON)
    said = name.replace("_", " ")
    last = span.context.last[-1] if span.context.last else None
    undone = isinstance(last, LineOn) and last.ref is not None and last.ref.name == name
    choices = (
        Choice(sentence("is_off_now", line=said), (LineOff(LineRef(name=name)),)),
        *((Choice(sentence("never_on"), (Undo(),)),) if undone else ()),
        Choice(sentence("stays_on")),
    )
    yield take.asking(Question(sentence("logged_as_on", line=said.capitalize()), choices), LineOff.intent, HARDLY)


def _which_on(span: Span, keys: Iterable[str] = ()) -> Question:
    """Which line to put on."""
    ways = [(name, LineOn(ref=LineRef(name=key))) for name, key in line_names(span, keys)]
    return ask(sentence("which_charged"), ways, LineOn(), "line")
