"""Reads a charged line's nozzle: shut, so that the line is charged and no more, or open again; water asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import LineChange, LineOn, LineRef, PumpPressure, Request, SaidLine, Status
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.layout import LayReading, read_lays
from grammar.readers.lines import (
    charged_already,
    held_is_meant,
    line_on,
    lines_meant,
    ordered_by_crew,
    replace,
    said_words,
)

_BESIDE = ("nozzle", "for_noise", "line", "gate", "charged_state")


@reads("nozzle_shut", "nobody_flows", "hold_water", "stands_by")
def read_held(span: Span) -> Iterable[Candidate]:
    """ "Crosslay one's nozzle is shut", "nobody's flowing", "hold the water", "crosslay two standing by"."""
    at = span.first("nozzle_shut", "nobody_flows", "hold_water", "stands_by")
    if span.has("charge", "charged_state") and not charged_already(span):
        return  # put on that way: readers/lines.py
    if not _about_lines(span, at):
        return
    take = Take(span, at)
    if not span.kinds("line") and any("charge" in item.concepts for item in span.items[: span.lo]):
        take.cost += 0.4  # "charge crosslay 2, nozzle's shut": of that line, readers/lines.py
    take.terms("charge", "charged_state", "nobody_flows", "nozzle_shut", "hold_water", "stands_by")
    yield from _change(span, take, at, LineChange(LineRef(), flowing=False))


def _about_lines(span: Span, at: int) -> bool:
    """ "Standby" and "static" are said of much else: alone, or of a line, while a line is on."""
    if not span.has("stands_by") and span.items[at].text != "static":
        return True
    if not any(line.on for line in span.context.lines):
        return False
    if at + 1 < len(span.items) and span.items[at + 1].kind == "num":
        return False  # "holding forty on the intake"
    if span.context.group and not span.context.addressed and span.context.role != "driver" and not span.kinds("line"):
        return False
    others = [i for i in span.content() if i != at and span.items[i].kind != "line"]
    return not any(not span.items[i].concepts & {"line", "last_one", "all_lines", "charged_state"} for i in others)


@reads("flow_again", "all_flow", "full_open", "flow_on", "open")
def read_flows_again(span: Span) -> Iterable[Candidate]:
    """ "Flowing again", "they opened up", "crosslay two full open"; "crosslay one flowing" of a line that was held."""
    full = span.first("full_open")
    at = full if full >= 0 else span.first("flow_again", "all_flow", "flow_on", "open")
    if at < 0 or span.kinds("floor") or (span.kinds("num", "family") and not _several(span)):
        return
    weak = not span.has("full_open", "flow_again", "all_flow")
    if at + 1 < len(span.items) and span.items[at + 1].kind == "num" and not span.kinds("line"):
        return  # "they're flowing one hundred fifty foot of …": what it is said of comes after it
    gated = weak and span.has("open") and _gated_is_meant(span)
    if weak and not gated and not held_is_meant(span):
        return
    if not weak and not span.context.lines:
        return
    if span.kinds("line") and span.items[at].text.endswith(("back on", "on again")) and not held_is_meant(span):
        return  # put on again: readers/lines.py
    take = Take(span, at)
    take.terms("flow_again", "all_flow", "full_open", "flow_on", "open")
    take.free("back", "back up", "up", "again", "all", "all the way", "the", "way")
    change = LineChange(LineRef(), full_open=True) if full >= 0 or gated else LineChange(LineRef(), flowing=True)
    yield from _change(span, take, at, change)


def _gated_is_meant(span: Span) -> bool:
    """ "Open crosslay one back up", while that line is gated: nothing else can be opened on it."""
    named = {str(span.items[i].value) for i in span.kinds("line")}
    return any(line.on and line.gated and line.name in named for line in span.context.lines)


def _change(span: Span, take: Take, at: int, change: LineChange) -> Iterator[Candidate]:
    stance = span.stance(at)
    if stance == "asked":
        take.mark(*span.kinds("line"))
        take.terms("line", "last_one", "hope")
        yield take.reading(Status(about="lines"), cost=0.05)
        return
    if stance in ("denied", "hoped"):
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark), *span.kinds("line"))
        what = "that says it isn't so." if stance == "denied" else "that is still to come."
        yield take.declining(f"Nothing was changed: {what}", LineChange.intent, 0.08)
        return
    names = span.kinds("line")
    if len(names) > 1 and not span.kinds("num"):
        take.mark(*names)
        take.terms("and", *_BESIDE)
        refs = [LineRef(name=str(span.items[k].value)) for k in names]
    elif several := _several(span):
        take.used |= several[0].used
        refs = [LineRef(name=line.name) for lay in several[0].lays for line in lay.lines]
    elif span.has("nobody_flows", "all_flow"):
        refs = [LineRef(all=True)]
    else:
        found = next(iter(lines_meant(span, take)), None)
        refs = [found[0] if found is not None else _last_charged(span, at)]
    take.terms(*_BESIDE)
    commands = tuple(replace(change, ref=ref) for ref in refs)
    if ordered_by_crew(span, take):
        yield take.reading(Request(text=said_words(span), wants=commands))
    else:
        yield take.reading(*commands)


def _several(span: Span) -> list[LayReading]:
    """ "Crosslay one and two": lines by their names and nothing else said of them."""
    if not span.kinds("line", "family") or not span.kinds("num"):
        return []
    found = (lay for lay in read_lays(span) if not lay.unknown_name and not lay.family and lay.missing is None)
    return [
        lay
        for lay in found
        if all(not one.feed and all(x == SaidLine(name=x.name) and x.name for x in one.lines) for one in lay.lays)
    ][:1]


def _last_charged(span: Span, at: int) -> LineRef:
    """ "Hold the water", right after a line was charged: that line's."""
    last = next((c for c in reversed(span.context.last) if isinstance(c, LineOn)), None)
    if "hold_water" not in span.items[at].concepts or last is None:
        return LineRef()
    on = [line for line in span.context.lines if line.on]
    if last.ref is not None and last.ref.name is not None:
        held = any(line.name == last.ref.name and line.held for line in on)  # then another's water is meant
        return LineRef() if held else LineRef(name=last.ref.name)
    newest = max(on, key=lambda line: line.seq, default=None)
    return LineRef(name=newest.name, seq=None if newest.name else newest.seq) if newest is not None else LineRef()


@reads("ready_for_water")
def read_ready(span: Span) -> Iterable[Candidate]:
    """ "Ready for water on crosslay one": asked for, whoever says it; nothing starts (convention 20)."""
    at = span.first("ready_for_water")
    if span.stance(at) in ("asked", "denied"):
        return
    take = Take(span, at)
    take.terms("ready_for_water", "hope", "order")
    wants: tuple[LineOn, ...] = ()
    names = span.kinds("line")
    if names and not span.kinds("num", "floor", "place"):
        take.mark(*names)
        take.terms("line", "and", "for_noise")
        wants = tuple(LineOn(ref=LineRef(name=str(span.items[k].value))) for k in names)
    elif span.kinds("num", "family", "line"):
        lay = next((one for one in read_lays(span) if one.missing is None and not one.unknown_name), None)
        if lay is not None and not lay.family:
            take.used |= lay.used
            wants = tuple(line_on(one) for one in lay.lays)
    else:
        take.terms("line", "last_one", "for_noise")
        asked = next((c for c in reversed(span.context.last) if isinstance(c, PumpPressure)), None)
        wants = tuple(line_on(one) for one in asked.lays) if asked is not None else ()
    take.mark(*(i for i in span.kinds("place", "floor") if not wants))
    yield take.reading(Request(text=said_words(span), wants=wants))
