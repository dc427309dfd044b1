"""Reads a charged line's nozzle: shut, so that the line is charged and no more, or open again; water asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import LineChange, LineOn, LineRef, Request, SaidLine, Status
from grammar.costs import LIKELY
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.layout import LayReading, read_lays
from grammar.readers.lines import (
    HOLDS,
    charged_already,
    exactly,
    held_is_meant,
    lay_asked_last,
    line_on,
    lines_meant,
    lines_on,
    named_lines,
    not_now,
    numbered,
    ordered_by_crew,
    replace,
    said_words,
)
from grammar.readers.signs import doubts, met, word_list

_BESIDE = ("nozzle", "for_noise", "line", "gate", "charged_state")
_FLOWS = ("flow_again", "all_flow", "full_open", "flow_on", "open")


@reads(*HOLDS)
def read_held(span: Span) -> Iterable[Candidate]:
    """ "Crosslay one's nozzle is shut", "nobody's flowing", "hold the water", "crosslay two standing by"."""
    at = span.first(*HOLDS)
    if span.has("charge", "charged_state") and not charged_already(span):
        return  # put on that way: readers/line_on.py
    if not met("says_held", span, at):
        return
    take = Take(span, at, cost=doubts("held", span))
    take.terms("charge", "charged_state", *HOLDS)
    yield from _change(span, take, at, LineChange(LineRef(), flowing=False))


@reads(*_FLOWS)
def read_flows_again(span: Span) -> Iterable[Candidate]:
    """ "Flowing again", "they opened up", "crosslay two full open"; "crosslay one flowing" of a line that was held."""
    full = span.first("full_open")
    at = full if full >= 0 else span.first(*_FLOWS)
    by_number = numbered(span, Take(span)) is not None
    if at < 0 or span.kinds("floor") or (span.kinds("num", "family") and not by_number and not _several(span)):
        return
    held = held_is_meant(span)
    gated = met("may_ungate", span) and _gated_is_meant(span)
    again = span.has("full_open", "flow_again", "all_flow")
    if met("said_of_what_follows", span, at) or not (bool(span.context.lines) if again else gated or held):
        return
    if met("put_on_again", span, at) and not held:
        return  # readers/line_on.py
    take = Take(span, at)
    take.terms(*_FLOWS)
    take.free(*word_list("lines_again"))
    change = LineChange(LineRef(), full_open=True) if full >= 0 or gated else LineChange(LineRef(), flowing=True)
    yield from _change(span, take, at, change)


def _gated_is_meant(span: Span) -> bool:
    """ "Open crosslay one back up", while that line is gated: nothing else can be opened on it."""
    return any(line.gated and line.name in named_lines(span) for line in lines_on(span))


def _change(span: Span, take: Take, at: int, change: LineChange) -> Iterator[Candidate]:
    stance = span.stance(at)
    if stance == "asked":
        take.mark(*span.kinds("line"))
        take.terms("line", "last_one", "hope")
        yield take.reading(Status(about="lines"), cost=LIKELY)
        return
    if stance in ("denied", "hoped"):
        yield not_now(span, take, stance, "not_flowing", LineChange.intent)
        return
    commands = tuple(replace(change, ref=ref) for ref in _whose(span, take, at))
    take.terms(*_BESIDE)
    asked = ordered_by_crew(span, take)
    yield take.reading(Request(text=said_words(span), wants=commands)) if asked else take.reading(*commands)


def _whose(span: Span, take: Take, at: int) -> list[LineRef]:
    """The lines whose nozzle it is."""
    names = span.kinds("line")
    if len(names) > 1 and not span.kinds("num"):
        take.mark(*names)
        take.terms("and", *_BESIDE)
        return [LineRef(name=str(span.items[k].value)) for k in names]
    if several := _several(span):
        take.used |= several[0].used
        return [LineRef(name=line.name) for lay in several[0].lays for line in lay.lines]
    if span.has("nobody_flows", "all_flow"):
        return [LineRef(all=True)]
    return [next(lines_meant(span, take), (_last_charged(span, at), 0.0))[0]]


def _several(span: Span) -> list[LayReading]:
    """ "Crosslay one and two": lines by their names and nothing else said of them."""
    if not span.kinds("line", "family") or not span.kinds("num"):
        return []
    found = (lay for lay in read_lays(span) if not lay.unknown_name and not lay.family and lay.missing is None)
    return [lay for lay in found if not any(one.feed for one in lay.lays) and all(map(_bare, _lines(lay)))][:1]


def _lines(lay: LayReading) -> list[SaidLine]:
    return [line for one in lay.lays for line in one.lines]


def _bare(line: SaidLine) -> bool:
    return line.name is not None and line == SaidLine(name=line.name)


def _last_charged(span: Span, at: int) -> LineRef:
    """ "Hold the water", right after a line was charged: that line's."""
    last = next((c for c in reversed(span.context.last) if isinstance(c, LineOn)), None)
    on = lines_on(span)
    if "hold_water" not in span.items[at].concepts or last is None or not on:
        return LineRef()
    if last.ref is None or last.ref.name is None:
        return exactly(max(on, key=lambda line: line.seq))
    held = any(line.name == last.ref.name and line.held for line in on)  # then another's water is meant
    return LineRef() if held else LineRef(name=last.ref.name)


@reads("ready_for_water")
def read_ready(span: Span) -> Iterable[Candidate]:
    """ "Ready for water on crosslay one": asked for, whoever says it; nothing starts (convention 20)."""
    at = span.first("ready_for_water")
    if span.stance(at) in ("asked", "denied"):
        return
    take = Take(span, at)
    take.terms("ready_for_water", "hope", "order")
    wants = tuple(_water_for(span, take))
    take.mark(*(i for i in span.kinds("place", "floor") if not wants))
    yield take.reading(Request(text=said_words(span), wants=wants))


def _water_for(span: Span, take: Take) -> Iterator[LineOn]:
    """The lines that water is asked for: by name, by their hose, else those asked about last."""
    names = span.kinds("line")
    if names and not span.kinds("num", "floor", "place"):
        take.mark(*names)
        take.terms("line", "and", "for_noise")
        yield from (LineOn(ref=LineRef(name=str(span.items[k].value))) for k in names)
    elif span.kinds("num", "family", "line"):
        lay = next((one for one in read_lays(span) if one.missing is None and not one.unknown_name), None)
        if lay is not None and not lay.family:
            take.used |= lay.used
            yield from map(line_on, lay.lays)
    else:
        take.terms("line", "last_one", "for_noise")
        asked = lay_asked_last(span)
        yield from map(line_on, asked.lays if asked is not None else ())
