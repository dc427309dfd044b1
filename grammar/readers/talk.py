"""Reads talk about the talk: corrections, undo, say again, help, and what only makes sense after what was just said."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.amend import amendments
from grammar.commands import (
    Command,
    Correction,
    FlowAtPressure,
    Help,
    Hydrant,
    OxygenTime,
    PumpPressure,
    Question,
    Repeat,
    SaidLay,
    SaidLine,
    Talk,
    TankTime,
    Undo,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.layout import read_lays
from grammar.stretch import left_over, stretch
from grammar.vocabulary import vocabulary

replace = msgspec.structs.replace


@reads("undo")
def read_undo(span: Span) -> Iterable[Candidate]:
    """ "undo the last two", "cancel that"."""
    i = span.first("undo")
    if i > span.lo and any(k < i for k in span.content()):
        return
    take = Take(span, *span.where("undo", "last_one"))
    steps = take.number(None, low=1, high=10, whole=True)
    if steps is None and any(span.items[k].text == "both" for k in range(span.lo, span.hi)):
        steps = 2.0
        take.terms("both")
    take.terms("undo", "last_one", "not", "order", "swap", "line")
    last = span.context.last[-1] if span.context.last else None
    rest = [k for k in take.open() if not span.items[k].free and span.items[k].kind != "sep"]
    if rest and last is not None:
        said = {str(v).replace("_", " ") for v in msgspec.structs.astuple(last) if isinstance(v, str)}
        if span.stance(i) == "said" and any(
            concept.replace("_", " ") in said for k in rest for concept in span.items[k].concepts
        ):
            take.mark(*rest)
            take.cost += 0.15
    yield take.reading(Undo(int(steps or 1)), cost=0.02)


@reads("not", "order")
def read_cancel_named(span: Span) -> Iterable[Candidate]:
    """ "cancel water on the fire" after it was logged."""
    first = span.items[span.lo]
    last = span.context.last[-1] if span.context.last else None
    if first.text not in ("cancel", "scratch", "disregard", "delete", "remove") or last is None or span.has("undo"):
        return
    said = {v for v in msgspec.structs.astuple(last) if isinstance(v, str)}
    named = [k for k in range(span.lo + 1, span.hi) if span.items[k].concepts & said or span.items[k].value in said]
    if named:
        yield Take(span, span.lo, *named).reading(Undo(), cost=0.0)


@reads("repeat")
def read_repeat(span: Span) -> Iterable[Candidate]:
    """ "say again"."""
    take = Take(span, *span.where("repeat"))
    take.unit()
    yield take.reading(Repeat(), cost=0.0)


@reads("help")
def read_help(span: Span) -> Iterable[Candidate]:
    """ "help", "help hydrant"."""
    i = span.first("help")
    take = Take(span, *span.where("help"))
    words = [w for k in range(i + 1, span.hi) if span.items[k].kind != "sep" for w in span.items[k].text.split()]
    topic = find_topic(" ".join(words)) if span.items[i].text.startswith(("help", "how do")) else None
    if topic is not None:
        take.mark(*range(i, span.hi))
        yield take.reading(Help(topic), cost=0.02 if span.items[i].text != "how do i" else 0.1)
    elif span.items[i].text == "help" and [
        k for k in take.open() if not span.items[k].free and span.items[k].kind != "sep"
    ]:
        yield take.reading(Help(), cost=0.1)
    elif span.items[i].text not in ("how do i", "options", "commands", "help with", "help on", "help about"):
        yield take.reading(Help())


def find_topic(words: str) -> str | None:
    """The help topic that the words name."""
    said = words.split()
    for topic in vocabulary().topics:
        for name in (topic.name, *topic.also):
            if name in said or (" " in name and name in words):
                return topic.name
    return None


@reads("talk_on", "talk_off")
def read_talk(span: Span) -> Iterable[Candidate]:
    """ "talk to me", "stop talking"."""
    i = span.first("talk_on", "talk_off")
    take = Take(span, i, *span.where("not"))
    if not span.has("reminders") and (span.lo == 0 or len(span.items[i].text.split()) > 1):
        yield take.reading(Talk(on="talk_on" in span.items[i].concepts and span.stance(i) != "denied"))


# ----------------------------------------------------------------------------------------------------------------- corrections

_OPENERS = ("correction", "no", "undo")
_LATE = frozenset(("sorry", "correction", "my mistake", "rather"))


@reads("correction", "no", "undo", "not")
def read_correction(span: Span) -> Iterable[Candidate]:
    """ "correction, two fifty", "make that 250 feet", "no, I said fifteen", "residual's 60, sorry"."""
    last = span.context.last
    lo, opener = _after_opener(span)
    late = opener < 0 and span.items[span.hi - 1].text in _LATE
    if opener < 0 and not late:
        return
    hi = span.hi - 1 if late else span.hi
    while hi > lo and span.items[hi - 1].kind == "sep":
        hi -= 1
    explained = Take(span, *range(span.lo, lo), *range(hi, span.hi))
    firm = _firm(span, lo) or late
    if not any(not span.items[k].free and span.items[k].kind != "sep" for k in range(lo, hi)):
        if firm and "correction" in span.items[span.lo].text:
            yield explained.asking(_what_is_right(last), Correction.intent, 0.1)
        return
    if not last:
        if firm:
            yield explained.asking(
                Question("What should be corrected? Nothing of yours was logged just before.", ()),
                Correction.intent,
                0.3,
            )
        return
    inner = Span(span.items, lo, hi, span.context, span.said)
    yield from _amended(span, inner, explained, firm)


def _after_opener(span: Span) -> tuple[int, int]:
    """Past the words that open a correction: (where what is right begins, the opener's place or -1)."""
    k = span.lo
    opener = -1
    while k < span.hi:
        item = span.items[k]
        opens = bool(item.concepts & {"correction"}) or (
            item.text in ("no", "nope", "wrong", "sorry", "scratch that", "not that", "belay that") and opener < 0
        )
        if opens:
            opener = k
        elif not (
            item.kind == "sep"
            or (
                opener >= 0
                and item.text in ("i", "said", "it", "was", "is", "that", "to", "at", "should be", "be", "actually")
                and item.free
            )
            or (opener < 0 and item.free and k < span.lo + 2)
        ):
            break
        k += 1
    return k, opener


def _firm(span: Span, lo: int) -> bool:
    """It can only be a correction: not merely a "no"."""
    texts = [span.items[k].text for k in range(span.lo, lo)]
    return any(t not in ("no", "nope", ",", "not that", "it", "is") for t in texts) or ("no" in texts and "," in texts)


def _amended(span: Span, inner: Span, explained: Take, firm: bool) -> Iterator[Candidate]:
    last = span.context.last
    base = 0.0 if firm else 0.2
    items = span.items
    denied = _denied_tail(inner)
    found = False
    for index in range(len(last) - 1, -1, -1):
        for command, cost, used in amendments(inner, last[index]):
            full = used | denied
            amended = (*last[:index], command, *last[index + 1 :])
            rest = left_over(items, inner.lo, inner.hi, full)
            if rest < 0.8:
                found = True
                yield explained.reading(Correction(amended), cost=base + cost + rest + 0.04)._replace(used=_all(span))
        if found:
            break
    for candidate in stretch(span.said, items, inner.lo, inner.hi, span.context):
        if len(candidate.commands) == 1 and not isinstance(candidate.commands[0], Correction | Undo):
            kind = type(candidate.commands[0]) is type(last[-1])
            if isinstance(candidate.commands[0], PumpPressure) and not isinstance(last[-1], PumpPressure):
                continue
            cost = base + candidate.cost + (0.06 if kind else 0.3)
            if (
                isinstance(candidate.commands[0], PumpPressure)
                and isinstance(last[-1], PumpPressure)
                and len(candidate.commands[0].lays) < len(last[-1].lays)
            ):
                continue  # one of several lines: which, and what of the rest?
            command = _merged(last[-1], candidate.commands[0]) if kind else candidate.commands[0]
            yield explained.reading(Correction((*last[:-1], command)), cost=cost)._replace(used=_all(span))
    if firm and not found and inner.kinds("num"):
        yield explained.asking(_what_is_right(last), Correction.intent, 0.5)._replace(used=_all(span))


def _merged(old: Command, new: Command) -> Command:
    """What was said anew, over what was said before."""
    if isinstance(new, PumpPressure):
        return new
    said = {f: getattr(new, f) for f in new.__struct_fields__ if getattr(new, f) not in (None, False, ())}
    return replace(old, **said)


@reads("is:time")
def read_time_put_right(span: Span) -> Iterable[Candidate]:
    """ "that was at fourteen ten" after a report."""
    last = span.context.last[-1] if span.context.last else None
    if (
        last is None
        or "time" not in last.__struct_fields__
        or span.items[span.lo].text not in ("that", "it", "was", "that was")
    ):
        return
    take = Take(span)
    time = take.time()
    if not [i for i in take.open() if not span.items[i].free and span.items[i].kind != "sep"]:
        yield take.reading(Correction((*span.context.last[:-1], replace(last, time=time))), cost=0.1)


def _denied_tail(span: Span) -> int:
    """ "third floor not second": what it isn't explains itself."""
    mask = 0
    for i in range(span.lo, span.hi):
        if span.items[i].text == "not" or "not" in span.items[i].polarity:
            mask |= 1 << i
    return mask


def _all(span: Span) -> int:
    mask = 0
    for i in range(span.lo, span.hi):
        mask |= 1 << i
    return mask


def _what_is_right(last: tuple[Command, ...]) -> Question:
    from grammar.describe import several

    what = f" (last: {several(last)})" if last else ""
    return Question(f"What should it be? Say it with its unit{what}.", (), last[-1] if last else None, "correction")


# ------------------------------------------------------------------------------------------------------------------ follow-ups

_CORRECTS = frozenset(("no", "nope", "sorry", "wrong", "correction", "i said", "i meant"))
_FOLLOWABLE = (PumpPressure, FlowAtPressure, TankTime, Hydrant, OxygenTime)
_LEAD = ("what_about", "instead", "same", "swap", "another", "and", "cond", "correction", "for_noise", "hope", "repeat")


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
)
def read_follow_up(span: Span) -> Iterable[Candidate]:
    """ "second floor", "same but two fifty", "and one more the same", "the other crosslay", "what about three floors up"."""
    last = span.context.last[-1] if span.context.last else None
    if (
        not isinstance(last, _FOLLOWABLE)
        or span.items[span.lo].text in _CORRECTS
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
    lead = Take(span, *span.where(*_LEAD))
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
    for command, cost, used in amendments(span, last):
        take = Take(span)
        take.used = used
        take.terms(*_LEAD, "line", "flowing")
        take.mark(*(i for i in range(span.lo, span.hi) if lead.taken(i)))
        extra = 0.0 if begins else 0.1
        if _needs_label(span, last) and not begins:
            extra += 0.3
        if last.__class__ is not PumpPressure:
            extra += 0.05
        yield take.reading(command, cost=cost + extra)


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
    if line.name is not None:
        return
    take = Take(span, *span.where("another", "same", "and", "line", "last_one", *_LEAD), *span.kinds("num"))
    lay = replace(last.lays[0], lines=(replace(line, count=line.count + more),))
    yield take.reading(replace(last, lays=(lay,)), cost=0.05 if span.has("same") else 0.25)


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


# ---------------------------------------------------------------------------------------------------------- the tank, with that


@reads("tank_time", "how_long")
def read_tank_with_that(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last with that"."""
    last = span.context.last[-1] if span.context.last else None
    words = span.text().split()
    if isinstance(last, PumpPressure) and words[-1:] in (["that"], ["those"], ["them"]) and "with" in words:
        take = Take(span, *span.content())
        yield take.reading(TankTime(lays=last.lays), cost=0.02)
