"""Reads what only makes sense after what was just asked: another floor, one more the same, the other line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.amend import amendments
from grammar.commands import (
    Command,
    Correction,
    FlowAtPressure,
    Hydrant,
    LineOn,
    NeededFlow,
    OxygenTime,
    PumpPressure,
    SaidLay,
    SaidLine,
    Shuttle,
    SupplyPressure,
    TankTime,
    WhatIf,
)
from grammar.costs import FAIR, HARDLY, LIKELY, SURE, UNSURE
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.flows import plain
from grammar.readers.layout import lays_without, read_lays
from grammar.vocabulary import word_list

replace = msgspec.structs.replace

_FOLLOWABLE = (
    *(PumpPressure, FlowAtPressure, TankTime, Hydrant, OxygenTime),
    *(SupplyPressure, Shuttle, NeededFlow, WhatIf),
)
_BY_LABEL = (SupplyPressure, Shuttle, NeededFlow)
"""What was asked of these is told in parts: "fill takes 4 minutes, dump takes 3"."""
_LARGE = 500
_STREAMS = ("aerial", "monitor", "deck_gun")
_MEANT = -UNSURE
"""It is what was meant before any lay that the same words could be by themselves."""


_WAKES = (
    *("is:num", "is:floor", "is:line", "is:family", "is:place", "same", "another", "other", "what_about", "of_those"),
    *("tip", "fog", "smooth_bore", "upstairs", "basement", "feed"),
)


@reads(*_WAKES)
def read_follow_up(span: Span) -> Iterable[Candidate]:
    """ "second floor", "same but two fifty", "the other crosslay", "what about three floors up"."""
    last = span.context.last[-1] if span.context.last else None
    first = span.items[span.lo]
    if (
        not isinstance(last, _FOLLOWABLE)
        or first.text in word_list("follow_corrects")
        or "correction" in first.concepts
    ):
        return
    if isinstance(last, PumpPressure):
        yield from _one_more(span, last)
        yield from _other_line(span, last)
        more = list(_plus(span, last))
        yield from more
        if more:
            return
    stream = _same_stream(span, last)
    begins = stream or span.has("what_about", "same", "swap") or first.text in word_list("follow_begins")
    if not begins and (span.has(*_STREAMS) or _whole_other(span, last)):
        return  # a lay by itself, no change of the one that was asked
    if span.kinds("line") and span.items[span.hi - 1].text in word_list("follow_on"):
        return  # "crosslay 2 on" charges it, or asks; it is no other line in what was asked
    bare = all(span.items[i].kind == "num" and span.items[i].unit is None for i in span.content())
    extra = _MEANT if stream else SURE if begins else UNSURE + FAIR if bare else FAIR
    for command, cost, used in amendments(span, last):
        around = ("line", "flowing") if isinstance(last, PumpPressure) else word_list("follow_around")
        take = Take(span, *span.where(*word_list("follow_lead"), *around))
        take.used |= used
        if isinstance(command, SupplyPressure) and span.has("longest", "apart"):
            hose = tuple(replace(run, length_ft=None) for run in command.hose)
            command = replace(command, max_length=True, hose=hose)
            take.terms("longest", "apart")
        labelled = cost <= HARDLY and isinstance(last, _BY_LABEL)
        unsaid = UNSURE if isinstance(last, PumpPressure) and _large_and_bare(span) else SURE
        said = _MEANT if labelled else extra
        yield take.reading(command, cost=cost + said + unsaid + (SURE if isinstance(last, PumpPressure) else LIKELY))
    if stream and isinstance(last, PumpPressure):
        yield from _fed_by(span, last)


def _large_and_bare(span: Span) -> bool:
    """ "What if they go to 1200", of a lay: feet, or a flow?"""
    large = any(span.items[i].unit is None and span.items[i].number >= _LARGE for i in span.kinds("num"))
    return large and not span.has("flowing")


def _only_line(command: Command) -> SaidLine | None:
    lays = command.lays if isinstance(command, PumpPressure) else ()
    return lays[0].lines[0] if len(lays) == 1 and len(lays[0].lines) == 1 else None


def _with(last: PumpPressure, line: SaidLine) -> PumpPressure:
    return replace(last, lays=(replace(last.lays[0], lines=(line,)),))


def _whole_other(span: Span, last: Command) -> bool:
    """ "500 feet of 2.5 flowing 250", after another size or with its own nozzle: told whole, and nothing links it."""
    if not isinstance(last, PumpPressure) or span.has(*word_list("follow_links")):
        return False
    before = {hose.hose_in for lay in last.lays for line in lay.lines for hose in line.hose}
    lays = read_lays(span)
    lines = [line for lay in lays[0].lays for line in lay.lines] if lays else []
    hoses = [hose for line in lines for hose in line.hose]
    whole = (
        bool(lines) and all(line.hose for line in lines) and all(h.hose_in and h.length_ft is not None for h in hoses)
    )
    own = any(line.nozzle.flow_gpm is not None or line.nozzle.tip_in is not None for line in lines)
    return whole and (own or {hose.hose_in for hose in hoses}.isdisjoint(before))


def _same_stream(span: Span, last: Command) -> bool:
    """ "Ladder pipe flowing at 800", "fed by 200 feet of 5 inch", once it was asked for: it stands where it stood."""
    line = _only_line(last)
    if line is None or line.device not in _STREAMS or span.has("what_about", "tip", "is:unit", "is:line"):
        return False
    placed = line.rise_ft or line.floor or line.hose
    return bool(placed and span.has(line.device)) or (not line.hose and span.has("feed"))


def _fed_by(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    line, fed = _only_line(last), span.first("feed")
    for lay in lays_without(span, fed)[:1] if fed >= 0 and line is not None and not line.hose else ():
        new = _only_line(PumpPressure(lay.lays))
        if line is not None and new is not None and new.hose and all(h.hose_in and h.length_ft for h in new.hose):
            take = Take(span, fed)
            take.used |= lay.used
            take.terms("for_noise")
            yield take.reading(_with(last, replace(line, hose=new.hose)), cost=_MEANT)


def _one_more(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "and one more the same", "two of those", "two more like that"."""
    line, numbers = _only_line(last), [span.items[i] for i in span.kinds("num")]
    these = span.has("of_those")
    if line is None or last.lays[0].split or span.has("is:line", "is:family", "is:floor"):
        return
    if not these and not (span.has("another") and (span.has("same") or len(span.content()) <= 2)):
        return
    if any(n.unit or n.form != "int" or n.number > 4 for n in numbers) or (these and len(numbers) != 1):
        return
    many = int(numbers[0].number) if numbers else _how_many_more(span)
    take = Take(span, *span.where("line", "last_one", "of_those", *word_list("follow_lead")), *span.kinds("num"))
    cost = LIKELY if these or span.has("same") else UNSURE
    if line.name is None:
        yield take.reading(_with(last, replace(line, count=many if these else line.count + many)), cost=cost)
        return
    others = _others_of(span, line.name)  # the rig's own twin of it, beside it
    if len(others) == 1 and many == (2 if these else 1):
        twin = SaidLay(lines=(replace(line, name=others[0]),))
        yield take.reading(replace(last, lays=(*last.lays, twin)), cost=cost)


def _how_many_more(span: Span) -> int:
    """How many more: "two more"."""
    said = span.text()
    return next((count for count in (2, 3) if any(w in said for w in word_list(f"follow_{count}_more"))), 1)


def _others_of(span: Span, name: str) -> list[str]:
    """The rig's other lines of a line's family: crosslay 2 for crosslay 1."""
    family = name.rpartition("_")[0]
    keys = [line.key for line in span.context.rig_lines]
    return [key for key in keys if family and key != name and key.rpartition("_")[0] == family]


def _plus(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "plus the bumper line", "and a 2.5 line 250 feet": another lay beside the last."""
    first = span.items[span.lo]
    if not ("and" in first.concepts or first.text in word_list("follow_plus")):
        return
    for lay in read_lays(span):
        lines = [line for one in lay.lays for line in one.lines]
        if not plain(lay) or lay.odd_size is not None or lay.pump_psi is not None:
            continue
        if all(line.name or line.device or line.hose for line in lines):
            take = Take(span)
            take.used = lay.used
            take.terms("and", "add_hose", "line", "for_noise")
            yield take.reading(replace(last, lays=(*last.lays, *lay.lays)), cost=max(lay.cost - FAIR, SURE))


def _other_line(span: Span, last: PumpPressure) -> Iterator[Candidate]:
    """ "the other crosslay", "the other one"."""
    name = last.lays[-1].lines[-1].name if last.lays and last.lays[-1].lines else None
    if name is None or not span.has("other") or span.has("is:floor"):
        return
    family = next((span.items[i].value for i in span.kinds("family")), None)
    others = [key for key in family if key != name] if isinstance(family, tuple) else _others_of(span, name)
    if len(others) == 1 and (not isinstance(family, tuple) or name in family):
        take = Take(span, *span.where("other", "what_about", "last_one", "line", "for_noise"), *span.kinds("family"))
        yield take.reading(replace(last, lays=(SaidLay(lines=(SaidLine(name=str(others[0])),)),)), cost=LIKELY)


@reads("not")
def read_not_that(span: Span) -> Iterable[Candidate]:
    """ "It's 250 feet, not 200": puts right what was said last, where what is denied is what it was."""
    last = span.context.last[-1] if span.context.last else None
    at = span.first("not")
    denied = [i for i in span.kinds("num", "floor", "line") if i > at]
    known = isinstance(last, (*_FOLLOWABLE, LineOn)) and span.items[at].text in word_list("answer_not")
    if last is None or not known or len(denied) != 1:
        return
    said = span.items[denied[0]].value
    inner = Span(span.items, span.lo, at, span.context, span.said)
    for command, cost, used in amendments(inner, last):
        if said in _values(last) and said not in _values(command):
            take = Take(span, at, *denied)
            take.used |= used
            yield take.reading(Correction((command,)), cost=cost)


def _values(command: Command) -> set[object]:
    """Every number and name in a command."""
    found: set[object] = set()
    parts = [msgspec.to_builtins(command)]
    while parts:
        part = parts.pop()
        parts += list(part.values()) if isinstance(part, dict) else part if isinstance(part, list | tuple) else []
        found |= {part} if isinstance(part, str | float | int) else set()
    return found


@reads("tank_time", "how_long")
def read_tank_with_that(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last with that"."""
    last = span.context.last[-1] if span.context.last else None
    words = span.text().split()
    said = words[-1:] and words[-1] in word_list("follow_that") and not word_list("follow_with").isdisjoint(words)
    if isinstance(last, PumpPressure) and said:
        yield Take(span, *span.content()).reading(TankTime(lays=last.lays), cost=LIKELY)
