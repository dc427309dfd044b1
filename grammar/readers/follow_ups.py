"""Reads what only makes sense after what was just asked: another floor, one more the same, the other line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.amend import amendments
from grammar.commands import (
    Command,
    FlowAtPressure,
    Hydrant,
    OxygenTime,
    PumpPressure,
    SaidLay,
    SaidLine,
    SaidNozzle,
    TankTime,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.layout import lays_without, read_lays
from grammar.vocabulary import word_list

replace = msgspec.structs.replace


_FOLLOWABLE = (PumpPressure, FlowAtPressure, TankTime, Hydrant, OxygenTime)


@reads(
    "is:num",
    "is:floor",
    "is:line",
    "is:family",
    "same",
    "another",
    "other",
    "what_about",
    "tip",
    "fog",
    "smooth_bore",
    "upstairs",
    "is:place",
    "basement",
    "feed",
)
def read_follow_up(span: Span) -> Iterable[Candidate]:
    """ "second floor", "same but two fifty", "and one more the same", "the other crosslay", "what about three floors
    up".
    """
    last = span.context.last[-1] if span.context.last else None
    if (
        not isinstance(last, _FOLLOWABLE)
        or span.items[span.lo].text in word_list("follow_corrects")
        or span.items[span.lo].concepts & {"correction"}
    ):
        return
    if isinstance(last, PumpPressure):
        yield from _one_more(span, last)
        more = list(_plus(span, last))
        yield from more
        yield from _other_line(span, last)
        if more:
            return
        yield from _same_stream(span, last)
        yield from _fed_by(span, last)
    lead = Take(span, *span.where(*word_list("follow_lead")))
    begins = span.has("what_about", "same", "swap") or span.items[span.lo].text in (
        "and",
        "with",
        "at",
        "just",
        "on",
        "but",
        "flowing",
        "to",
    )
    if not begins and (span.has(*_STREAMS) or _whole_other(span, last)):
        return  # a lay by itself, no change of the one that was asked
    if span.kinds("line") and span.items[span.hi - 1].text == "on":
        return  # "crosslay 2 on" charges it, or asks; it is no other line in what was asked
    for command, cost, used in amendments(span, last):
        take = Take(span)
        take.used = used
        take.terms(*word_list("follow_lead"), "line", "flowing")
        take.mark(*(i for i in range(span.lo, span.hi) if lead.taken(i)))
        extra = 0.0 if begins else 0.1
        if _needs_label(span, last) and not begins:
            extra += 0.3
        if last.__class__ is not PumpPressure:
            extra += 0.05
        yield take.reading(command, cost=cost + extra)


_LINKS = ("what_about", "instead", "same", "swap", "another", "correction", "repeat")


def _whole_other(span: Span, last: Command) -> bool:
    """ "500 feet of 2.5 flowing 250", after another size or with its own nozzle: told whole, and nothing links it."""
    if not isinstance(last, PumpPressure) or span.has(*_LINKS):
        return False
    before = {hose.hose_in for lay in last.lays for line in lay.lines for hose in line.hose}
    lays = read_lays(span)
    lines = [line for lay in lays[0].lays for line in lay.lines] if lays else []
    whole = bool(lines) and all(
        line.hose and all(h.hose_in is not None and h.length_ft is not None for h in line.hose) for line in lines
    )
    sizes = {hose.hose_in for line in lines for hose in line.hose}
    own = any(line.nozzle.flow_gpm is not None or line.nozzle.tip_in is not None for line in lines)
    return whole and (own or sizes.isdisjoint(before))


_STREAMS = ("aerial", "monitor", "deck_gun")


def _same_stream(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "Ladder pipe flowing at 800", once it was asked for 70 feet up: the master stream stands where it stood."""
    line = last.lays[0].lines[0] if len(last.lays) == 1 and len(last.lays[0].lines) == 1 else None
    if line is None or line.device not in _STREAMS or not (line.rise_ft or line.floor or line.hose):
        return
    if not span.has(line.device) or span.has("what_about", "tip"):
        return
    take = Take(span, *span.where(line.device, "flowing", "for_noise"))
    flow = take.number("gpm", "lpm", None, low=100, high=5000, whole=True)
    if flow is None or any(not span.items[i].free for i in take.open()):
        return
    same = replace(line, nozzle=SaidNozzle(flow_gpm=flow))  # a tip or a pressure of before was another flow's
    yield take.reading(replace(last, lays=(replace(last.lays[0], lines=(same,)),)), cost=-0.25)


def _fed_by(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "Fed by 200 feet of five inch", after a master stream that was asked for without its hose."""
    line = last.lays[0].lines[0] if len(last.lays) == 1 and len(last.lays[0].lines) == 1 else None
    fed = span.first("feed")
    if line is None or line.device not in _STREAMS or line.hose or fed < 0 or span.kinds("unit", "line"):
        return
    for lay in lays_without(span, fed):
        hose = lay.lays[0].lines[0].hose if len(lay.lays) == 1 and len(lay.lays[0].lines) == 1 else ()
        if not hose or any(run.hose_in is None or run.length_ft is None for run in hose):
            continue
        take = Take(span, fed)
        take.used |= lay.used
        take.terms("for_noise")
        same = replace(line, hose=hose)
        yield take.reading(replace(last, lays=(replace(last.lays[0], lines=(same,)),)), cost=-0.25)
        return


def _needs_label(span: Span, last: Command) -> bool:
    """A message of bare numbers only."""
    return all(span.items[i].kind == "num" and span.items[i].unit is None for i in span.content()) and bool(
        span.content()
    )


def _one_more(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "and one more the same"."""
    if not (span.has("another") and (span.has("same") or len(span.content()) <= 2)) or span.kinds(
        "line", "family", "floor"
    ):
        return
    if any(span.items[i].unit or span.items[i].form not in ("int",) for i in span.kinds("num")):
        return
    if len(last.lays) != 1 or len(last.lays[0].lines) != 1 or last.lays[0].split:
        return
    text = " ".join(span.items[i].text for i in range(span.lo, span.hi))
    more = 2 if "two more" in text else 3 if "three more" in text else 1
    line = last.lays[0].lines[0]
    if line.name is not None:  # the rig's own twin of it, beside it
        others = _others_of(span, line.name)
        if more == 1 and len(others) == 1:
            take = Take(span, *span.where("line", "last_one", *word_list("follow_lead")), *span.kinds("num"))
            twin = SaidLay(lines=(replace(line, name=others[0]),))
            yield take.reading(replace(last, lays=(*last.lays, twin)), cost=0.05 if span.has("same") else 0.25)
        return
    take = Take(span, *span.where("line", "last_one", *word_list("follow_lead")), *span.kinds("num"))
    lay = replace(last.lays[0], lines=(replace(line, count=line.count + more),))
    yield take.reading(replace(last, lays=(lay,)), cost=0.05 if span.has("same") else 0.25)


def _others_of(span: Span, name: str) -> list[str]:
    """The rig's other lines of a line's family: crosslay 2 for crosslay 1."""
    family = name.rpartition("_")[0]
    keys = [line.key for line in span.context.rig_lines]
    return [key for key in keys if family and key != name and key.rpartition("_")[0] == family]


def _plus(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "plus the bumper line", "and a 2.5 line 250 feet": another lay beside the last."""
    first = span.items[span.lo]
    if not ("and" in first.concepts or first.text in ("plus", "and", "add", "also")):
        return
    for lay in read_lays(span):
        if (
            lay.missing is None
            and not lay.unknown_name
            and not lay.family
            and lay.wrong is None
            and lay.odd_size is None
            and lay.pump_psi is None
        ):
            if any(not (line.name or line.device or line.hose) for one in lay.lays for line in one.lines):
                continue
            take = Take(span)
            take.used = lay.used
            take.terms("and", "add_hose", "line", "for_noise")
            yield take.reading(replace(last, lays=(*last.lays, *lay.lays)), cost=max(lay.cost - 0.1, 0.0))


def _other_line(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "the other crosslay"."""
    if not span.has("other"):
        return
    family = next((span.items[i].value for i in span.kinds("family")), None)
    line = last.lays[-1].lines[-1] if last.lays and last.lays[-1].lines else None
    if line is None or line.name is None:
        return
    keys = (
        family
        if isinstance(family, tuple)
        else tuple(r.key for r in span.context.rig_lines if r.key.rpartition("_")[0] == line.name.rpartition("_")[0])
    )
    others = [k for k in keys if k != line.name]
    if len(others) != 1 or line.name not in keys:
        return
    take = Take(span, *span.where("other", "what_about", "last_one", "line", "for_noise"), *span.kinds("family"))
    floors = span.kinds("floor")
    if floors:
        return
    yield take.reading(replace(last, lays=(SaidLay(lines=(SaidLine(name=str(others[0])),)),)), cost=0.03)


@reads("tank_time", "how_long")
def read_tank_with_that(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last with that"."""
    last = span.context.last[-1] if span.context.last else None
    words = span.text().split()
    if isinstance(last, PumpPressure) and words[-1:] in (["that"], ["those"], ["them"]) and "with" in words:
        take = Take(span, *span.content())
        yield take.reading(TankTime(lays=last.lays), cost=0.02)
