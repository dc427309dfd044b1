"""Reads PARs: asked for, answered, short."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from grammar.commands import Choice, Emergency, Par, Question, Status
from grammar.costs import DOUBTFUL, FAIR, HARDLY, LIKELY, WEAK
from grammar.items import Item
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Stance, Take, reads
from grammar.readers.said import answering, beside, holds, marks, text_at, words
from grammar.vocabulary import word_list

_TERMS = ("no_par", "par_request", "par", "accounted")
_MANY, _MOST = 14, 60
"""More in one PAR are doubted, and never taken."""
_CREW = 12
"""Most that a crew is taken to be."""


@reads(*_TERMS)
def read_par(span: Span) -> Iterable[Candidate]:
    """ "par check", "engine 9 par of 4", "no par"."""
    i = span.first(*_TERMS)
    if (span.has("reminders", "snooze", "interval") and not span.has("no_par")) or _only_called(span, i):
        return
    take = Take(span, *span.where(*_TERMS))
    unit = take.unit() or _division(take, i)
    if _asks_who(span, i):
        take.free(*word_list("par_asked_with"))
        beside(take, "par_beside")
        yield answering(take, Status("par", None if is_everyone(unit) else unit))
        return
    stance = span.stance(i)
    missing = _missing(span, take)
    if span.has("no_par") or (stance == "denied" and not span.has("par_request")):
        yield _none(take, unit, missing)
        return
    count, short = _of_how_many(take)
    missing = missing if missing is not None else short
    beside(take, "par_beside")
    if count is None:
        yield from _uncounted(take, i, unit, stance, missing)
        return
    take.cost += DOUBTFUL if count > _MANY or stance in ("hoped", "asked") else 0
    take.mark(*(marks(span) if stance in ("hoped", "asked") else ()))
    yield take.reading(Par(unit, count, missing=missing))


def is_everyone(unit: str | None) -> bool:
    """All companies, not one."""
    return unit in word_list("par_everyone")


def _none(take: Take, unit: str | None, missing: int | None) -> Candidate:
    """No PAR: somebody is missing, or not answered yet?"""
    span = take.span
    take.mark(*marks(span))
    count = _of_how_many(take)[0]
    beside(take, "par_beside")
    if unit is None or count is not None or missing is not None or not holds(span, "par_not_yet"):
        return take.reading(Par(unit, count, missing=missing, no_par=True))
    take.free(*word_list("par_not_yet"))
    choices = (Choice("not answered yet"), Choice("someone is missing", (Par(unit, no_par=True),)))
    asked = f"{unit.capitalize()}: not answered yet, or is someone missing?"
    return take.asking(Question(asked, choices), Par.intent, HARDLY)


def _uncounted(take: Take, i: int, unit: str | None, stance: Stance, missing: int | None) -> Iterator[Candidate]:
    """Without a number: called for, or one that the number is asked of."""
    span = take.span
    if any(text_at(span, k) in word_list("par_almost") for k in range(span.lo, i)):
        take.mark(*marks(span))
        yield take.declining(reason("no_par_yet"), Par.intent, LIKELY)
        return
    everyone = is_everyone(unit) or (unit is None and span.has("crew:everyone"))
    told = any(holds(span, "par_have", k, k + 1) for k in span.where("par_request"))  # "all companies have PAR"
    wanted = span.has("par_request") or stance in ("ordered", "hoped", "asked") or span.said.rstrip().endswith("?")
    has_one = _has_one(span, i)
    if wanted and not told:
        take.mark(*marks(span))
        take.free(*word_list("par_you_have"))
        yield take.reading(Par(None if everyone else unit, request=True))
    elif told or (has_one and everyone):
        yield take.declining(reason("par_by_unit"), Par.intent, LIKELY)
    elif has_one:
        yield take.reading(Par(unit, missing=missing), cost=FAIR)
    elif unit is None or everyone:
        yield take.reading(Par(request=True), cost=LIKELY)
    elif i < (span.kinds("unit") or [0])[0]:
        yield take.reading(Par(unit, request=True), cost=FAIR)
    else:
        yield take.asking(Question(f"PAR of how many for {unit}?", (), Par(unit), "count"), Par.intent, WEAK)


@reads("par")
def read_pars(span: Span) -> Iterable[Candidate]:
    """ "PAR, engine 12 three and tanker 3 two": each company with the number that stands next behind it."""
    items = span.items
    units = span.kinds("unit")
    ends = [*units[1:], span.hi]
    pairs = [(u, k) for u, end in zip(units, ends, strict=False) if (k := _counted_next(span, u, end)) >= 0]
    if len(pairs) < 2 or len(pairs) != len(units) or len(span.kinds("num")) != len(pairs) or span.has("missing"):
        return
    take = Take(span, *units, *(k for _, k in pairs), *span.where("par", "and"))
    beside(take, "par_beside")
    take.free(*word_list("par_listed"))
    if span.stance(span.first("par"), *units) == "said":
        yield take.reading(*(Par(str(items[u].value), int(items[k].number)) for u, k in pairs))


def _counted_next(span: Span, unit: int, end: int) -> int:
    """The number of people behind a company, before the next one; -1."""
    found = [k for k in range(unit + 1, end) if _is_count(span.items[k])]
    return found[0] if len(found) == 1 and span.items[found[0]].number <= _CREW else -1


def _has_one(span: Span, i: int) -> bool:
    """ "Engine 12 has PAR", "PAR is good"."""
    having = any(item.text in word_list("par_having") for item in span.items[max(i - 2, 0) : i])
    return having or span.has("accounted") or holds(span, "par_good", i + 1, i + 3)


def _division(take: Take, i: int) -> str | None:
    """ "Division Charlie, PAR 6": a division answers for all who work in it."""
    for k in take.open():
        item = take.span.items[k]
        if item.kind == "place" and k < i and str(item.value).startswith(("division", "sector")):
            take.mark(k)
            return str(item.value)
    return None


def _only_called(span: Span, i: int) -> bool:
    """ "Accountability from engine 9, …", "truck 4 to accountability, …": who keeps the tags is called."""
    called = {text_at(span, i - 1), text_at(span, i + 1)} & word_list("par_called")
    return span.items[i].text in word_list("par_tags") and bool(called)


_ASKED_BACK = re.compile(
    r"\W*(?:(?:did|have|has|had) (?:we|you|they|i|it|he|she|any ?one|any ?body|command|dispatch)|was|were)\b",
    re.IGNORECASE,
)
"""Whether there was one: no order for one. "Have engine 9 do a PAR" is."""


def _asks_who(span: Span, i: int) -> bool:
    """ "Do we have PAR", "does engine 9 have PAR": whether there is one. "Engine 9, do you have PAR" calls for it."""
    if "ask" not in span.items[i].polarity:
        return False
    called = any(item.kind == "unit" for item in span.items[:i]) and holds(span, "par_you", 0, i)
    return bool(_ASKED_BACK.match(span.said)) or not (called or span.has("par_request"))


def _missing(span: Span, take: Take) -> int | None:
    at = span.first("missing")
    if at < 0:
        return None
    take.mark(at)
    near = take.number_near(at, None, low=1, high=_MOST, reach=2)
    return int(near) if near is not None else None


def _of_how_many(take: Take) -> tuple[int | None, int | None]:
    """ "3 of 4": who is there, and how many are missing of those that should be."""
    span = take.span
    i = next((i for i in take.open() if _is_count(span.items[i]) and _beside_par(span, i)), None)
    if i is None:
        return None, None
    take.mark(i)
    there = int(span.items[i].number)
    for k in take.open():
        of = _is_count(span.items[k]) and text_at(span, k - 1) in word_list("par_of")
        if of and span.items[k].number >= there:
            take.mark(k)
            return there, int(span.items[k].number) - there or None
    return there, None


def _is_count(item: Item) -> bool:
    plain = item.kind == "num" and item.unit is None and item.form != "ordinal" and "pair" not in item.concepts
    return plain and 0 <= item.number <= _MOST and not item.number % 1


def _beside_par(span: Span, i: int) -> bool:
    """The number that the PAR is of: nothing that says something else stands between."""
    items = span.items
    left = next((items[k] for k in range(i - 1, span.lo - 1, -1) if not _says_nothing(items[k])), None)
    k = next((k for k in range(i + 1, span.hi) if not _says_nothing(items[k])), i)
    linked = k == i + 1 or not word_list("par_linked").isdisjoint(words(span, i + 1, k))
    right = items[k].kind == "unit" or (linked and _names_par(items[k]))
    return (left is not None and (left.kind == "unit" or _names_par(left))) or (k > i and right)


def _names_par(item: Item) -> bool:
    return bool(item.concepts & {*_TERMS, "missing"})


def _says_nothing(item: Item) -> bool:
    if item.kind == "unit" or _names_par(item):
        return False
    filler = item.free and item.text not in word_list("par_on")
    return filler or item.kind in ("sep", "num") or bool(item.concepts & {"people_word", "with_crew"})


@reads("is:unit")
def read_some_of(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 has 3 of 4"."""
    if span.has(*_TERMS, "missing"):
        return
    for i in span.kinds("num"):
        of = text_at(span, i + 1) in word_list("par_of") and text_at(span, i + 2) and _is_count(span.items[i + 2])
        if of and _is_count(span.items[i]) and span.items[i].number <= span.items[i + 2].number <= _CREW:
            there, whole = int(span.items[i].number), int(span.items[i + 2].number)
            take = Take(span, i, i + 1, i + 2)
            unit = take.unit()
            beside(take, "par_beside")
            if span.stance(i) == "said":
                yield take.reading(Par(unit, there, missing=whole - there or None), cost=FAIR)
            return


@reads("missing")
def read_missing(span: Span) -> Iterable[Candidate]:
    """ "truck 4 is missing two", "engine 9, 3 of 4, one missing"; "missing one", whose isn't said: asked at once.

    "Lost" is worse than a PAR that is short: `emergencies` asks whether it is a Mayday.
    """
    said = text_at(span, span.first("missing"))
    if span.has("par", "missing_member") or not span.has("is:num") or said in word_list("par_lost"):
        return
    take = Take(span)
    unit, missing = take.unit(), _missing(span, take)
    if missing is None:
        return
    if unit is not None:
        count = _of_how_many(take)[0]
        if span.stance(span.first("missing")) in ("said", "denied"):
            yield take.reading(Par(unit, count, missing=missing, no_par=count is None), cost=WEAK)
        return
    alone = all(take.taken(i) for i in span.content()) and said in word_list("par_missing")
    if alone and span.context.incident_open:
        own = span.context.speaker_unit
        short = Choice(f"PAR short by {missing}", (Par(own, missing=missing, no_par=True),))
        lost = Choice("member missing: emergency", (Emergency("missing_member", own, span.text()),))
        asked = Question("Whose? Is a member missing?", (lost, short, Choice("no")))
        yield take.asking(asked, Emergency.intent, LIKELY)
