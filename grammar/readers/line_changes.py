"""Reads changes to a working line: extended, burst, gated, moved, another nozzle, more or less pressure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Literal

from grammar.commands import LineChange, LineRef, Request, SaidNozzle
from grammar.costs import DOUBTFUL, FAIR, HARDLY, LIKELY, UNSURE
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, in_unit, place_of, reads
from grammar.readers.lay_questions import ask
from grammar.readers.lines import (
    called,
    exactly,
    lines_meant,
    lines_on,
    named_lines,
    not_now,
    only_line,
    ordered_by_crew,
    replace,
    said_words,
)
from grammar.readers.signs import met
from grammar.saying import Sayer

_PRESSURE = ("more_pressure", "less_pressure")


@reads("add_hose", "burst", "gate", *_PRESSURE, "move_to", "set_to", "replaced", "into")
def read_line_change(span: Span) -> Iterable[Candidate]:
    """ "add a hundred feet to crosslay one", "burst length", "gate it down to 100", "crosslay one moved to the third
    floor".
    """
    if not met("supposes_a_change", span):
        for kind, builders in _BUILT.items():
            if span.has(kind):
                for built in builders:
                    yield from built(span, Take(span, span.first(kind)), span.first(kind))


def _changed(span: Span, take: Take, change: LineChange, at: int, cost: float = 0.0) -> Iterator[Candidate]:
    """The change, of the line that is meant: made, asked of the pump, or nothing yet."""
    stance = span.stance(at)
    pressure = change.nozzle_psi_change is not None
    asked_of_pump = (pressure or change.gate) and ordered_by_crew(span, take)
    if stance == "asked" and asked_of_pump:
        take.terms("can_report", "hope", "order")
        ref, _ = next(lines_meant(span, take), (LineRef(), 0.0))
        yield take.reading(Request(said_words(span), (replace(change, ref=ref),)), cost=cost)
    elif stance == "denied" or (stance == "hoped" and not pressure):
        yield not_now(span, take, stance, "not_changed", LineChange.intent)
    elif stance != "asked":
        wanted = pressure and span.context.role == "officer" and (stance == "hoped" or met("wanted_by_crew", span, at))
        yield from _of_a_line(span, take, change, cost, asked_of_pump or wanted or span.has("caller"))


def _of_a_line(span: Span, take: Take, change: LineChange, cost: float, asks: bool) -> Iterator[Candidate]:
    """The change of the line that is meant; told to the driver where it is asked of the pump."""
    take.terms("order", "hope", "for_noise", "line", "slightly", *(("can_add", "crew_word") if asks else ()))
    ref, extra = next(lines_meant(span, take), (LineRef(), LIKELY))
    whose = only_line(span) if ref == LineRef() else ref
    if whose is not None:
        whole = replace(change, ref=whose)
        yield take.reading(Request(said_words(span), (whole,)) if asks else whole, cost=cost + extra)
    elif asks:
        yield take.reading(Request(said_words(span), (change,) if span.context.lines else ()), cost=cost)
    elif span.context.lines:
        ways = [(called(span, line), replace(change, ref=exactly(line))) for line in lines_on(span)]
        yield take.asking(ask(sentence("which_of_them"), ways, change, "line"), LineChange.intent, cost + FAIR)


def _added(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    """ "Add a hundred feet to crosslay one", "added two lengths"."""
    feet = take.number("ft", "m")
    if feet is not None and feet <= 0:
        yield take.declining(sentence("only_added"), LineChange.intent, LIKELY)
    elif feet is not None:
        if not met("hose_laid_apart", span):
            take.terms("into", "remind_to", "replaced")
            yield from _changed(span, take, LineChange(LineRef(), add_ft=feet), at)
    elif lengths := _lengths(span, take):
        yield from _changed(span, take, LineChange(LineRef(), add_lengths=lengths), at)
    elif met("points_at_a_line", span) and lines_on(span) and (bare := take.number("ft", None, low=25, high=1000)):
        ref, _ = next(lines_meant(span, take), (LineRef(), 0.0))
        text = sentence("add_so_much", feet=Sayer(span.context.wording).feet(bare))
        question = ask(text, [(sentence("yes"), LineChange(ref, add_ft=bare))], none=sentence("no"))
        yield take.asking(question, LineChange.intent, FAIR)


def _lengths(span: Span, take: Take) -> int:
    """ "A length", "two sections": how many lengths are added; 0 when that isn't said."""
    at = span.first("length_word")
    if at < 0:
        return 0
    count = take.number(None, low=1, high=10, whole=True)
    take.mark(at)
    return 0 if count is None and met("plural_word", span, at) else int(count or 1)


def _burst(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    if not span.has("supply_word", "feed", "water_supply", "hydrant_word"):
        take.cost += 0.0 if met("burst_hose", span, at) else UNSURE
        take.terms("burst", "replaced")
        yield from _changed(span, take, LineChange(LineRef(), burst=True), at)


def _gated(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    take.terms("gate", "into", "dropped_to", "shut", "down")
    psi, gpm = take.number("psi", "bar", "kpa", low=0), take.number("gpm", "lpm", "gal", low=0)
    if psi is None and gpm is None and met("bare_aim", span):
        yield from _gate_to(span, at)
        return
    yield from _changed(span, take, LineChange(LineRef(), gate=True, gate_to_psi=psi, gate_to_gpm=gpm), at)


@reads("shut", "less_pressure", "dropped_to")
def read_dropped_to(span: Span) -> Iterable[Candidate]:
    """ "Drop crosslay one to 120": gated down, to gpm or psi."""
    if met("drops_a_line", span, span.lo) and met("bare_aim", span):
        yield from _gate_to(span, span.lo)


def _gate_to(span: Span, at: int) -> Iterator[Candidate]:
    """ "Gate down crosslay two to 120": gpm or psi? And where several lines are on and none is named: which?"""
    aim = span.items[span.hi - 1]
    take = Take(span, at, span.hi - 1)
    take.terms("gate", "into", "dropped_to", "shut", "down", "less_pressure", "order", "set_to")
    gpm, psi = in_unit(aim, "gpm", None), in_unit(aim, "psi", None)
    ref = next((found for found, _ in lines_meant(span, take) if found != LineRef()), None) or only_line(span)
    if gpm is None or psi is None:
        return
    say = Sayer(span.context.wording)
    refs = [(say.ref(ref), ref)] if ref is not None else [(called(span, x), exactly(x)) for x in lines_on(span)[:3]]
    aims = [(say.gpm(gpm), gpm, None), (say.psi(psi), None, psi)]
    ways = [
        (sentence("to_so_much", line=name, aim=told), LineChange(one, gate=True, gate_to_gpm=g, gate_to_psi=p))
        for name, one in refs
        for told, g, p in aims
    ]
    if ways:
        yield take.asking(ask(sentence("gate_to_which"), ways, none=sentence("neither")), LineChange.intent)


def _pressure(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    way: Literal["more", "less"] = "more" if "more_pressure" in span.items[at].concepts else "less"
    take.terms(f"{way}_pressure", "nozzle_psi", "nozzle", "tip", "ask_pressure", "pump_word", "hope", "order", "not")
    psi = take.number("psi", "bar", "kpa") or take.number("psi", None, low=1, high=100)
    if psi is not None and not span.has("caller"):
        take.cost += DOUBTFUL  # by how much isn't kept; a request is told in its own words
    yield from _changed(span, take, LineChange(LineRef(), nozzle_psi_change=way), at)


def _nozzle(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    """ "put a 15/16 tip on crosslay one", "crosslay one switched to smooth bore fifteen sixteenths"."""
    if not span.kinds("line") and not span.has("last_one", "line", "other"):
        return
    take.terms("set_to", "replaced", "into", "dropped_to", "order")
    i = next((k for k in span.kinds("num") if met("names_tip", span, k)), -1)
    take.mark(i)
    tip = span.items[i].number if i >= 0 else None
    smooth = take.term("smooth_bore") >= 0 or tip is not None
    kind: Literal["fog", "smooth_bore"] | None = "smooth_bore" if smooth else "fog" if take.term("fog") >= 0 else None
    flow = take.number("gpm", "lpm")
    if kind is not None or flow is not None:
        take.terms("tip", "nozzle", "smooth_bore", "fog")
        yield from _changed(span, take, LineChange(LineRef(), nozzle=SaidNozzle(kind, tip, flow)), at, HARDLY)


def _moved(span: Span, take: Take, at: int) -> Iterator[Candidate]:
    """A flowing line goes to another floor or side."""
    where, names = span.kinds("floor") or span.kinds("place"), named_lines(span)
    if not where or not any(line.name in names for line in lines_on(span)):
        return
    take.terms("move_to", "into", "up", "dropped_to", "moved", "set_to")
    take.mark(where[0])
    item = span.items[where[0]]
    floor = item.value if item.kind == "floor" and isinstance(item.value, int) else None
    change = LineChange(LineRef(), floor=floor, place=None if item.kind == "floor" else place_of(item))
    yield from _changed(span, take, change, at, FAIR if not span.has("move_to", "moved", "set_to") else 0.0)


_BUILT: Mapping[str, tuple[Callable[[Span, Take, int], Iterator[Candidate]], ...]] = {
    "add_hose": (_added,), "burst": (_burst,), "gate": (_gated,), "more_pressure": (_pressure,),
    "less_pressure": (_pressure,), "set_to": (_nozzle, _moved), "replaced": (_nozzle,), "move_to": (_moved,),
    "into": (_moved,),
}  # fmt: skip
