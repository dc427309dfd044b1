"""Reads PARs: asked for, answered, short."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from grammar.commands import Choice, Emergency, Par, Question, Status
from grammar.readers.base import Candidate, Span, Stance, Take, reads
from grammar.readers.incident import marks


@reads("par", "par_request", "no_par", "accounted")
def read_par(span: Span) -> Iterable[Candidate]:
    """ "par check", "engine 9 par of 4", "no par"."""
    if span.has("reminders", "snooze", "interval") and not span.has("no_par"):
        return
    i = span.first("no_par", "par_request", "par", "accounted")
    if _only_called(span, i):
        return
    take = Take(span, *span.where("par", "par_request", "no_par", "accounted"))
    unit = take.unit() or _division(take, i)
    stance = span.stance(i)
    if stance == "asked" and _ASKED_BACK.match(span.said):
        take.mark(*marks(span))
        take.free(
            "had", "we", "you", "they", "anyone", "anybody", "ask", "asked", "for", "do", "done", "a", "the", "yet"
        )
        yield take.reading(Status("par", unit), cost=0.0)
        return
    if _asks_who(span, i):
        take.mark(*marks(span))
        take.mark(*(k for k in take.open() if span.items[k].text in _ASKED_WITH))
        take.terms(
            "for_noise", "supply_established", "establishing", "all_lines", "people_word", "crew_word", "building"
        )
        yield take.reading(Status("par", None if unit in EVERYONE else unit), cost=0.0)
        return
    yield from _told_par(take, i, unit, stance)


def _told_par(take: Take, i: int, unit: str | None, stance: Stance) -> Iterator[Candidate]:
    """Reported, denied or called for."""
    span = take.span
    missing = _missing(span, take)
    if span.has("no_par") or (stance == "denied" and not span.has("par_request")):
        take.mark(*marks(span))
        count = _count(take)
        take.terms("people_word", "with_crew", "for_noise", "in_place")
        if unit is not None and count is None and missing is None and _not_yet(span, i):
            take.free("still", "yet")
            yield take.asking(_answered_question(unit), Par.intent, 0.02)
            return
        yield take.reading(Par(unit, count, missing=missing, no_par=True), cost=0.0)
        return
    count, short = _of_how_many(take)
    missing = missing if missing is not None else short
    take.terms(
        "people_word",
        "with_crew",
        "for_noise",
        "supply_established",
        "establishing",
        "all_lines",
        "building",
        "crew_word",
        "complete",
        "in_place",
        "of_hose",
    )
    if count is not None:
        if count > 14:
            take.cost += 0.4
        if stance in ("hoped", "asked"):
            take.mark(*marks(span))
            take.cost += 0.45
        yield take.reading(Par(unit, count, missing=missing))
        return
    yield from _uncounted(take, i, unit, stance, missing)


def _uncounted(take: Take, i: int, unit: str | None, stance: Stance, missing: int | None) -> Iterator[Candidate]:
    """Without a number: called for, or one that the number is asked of."""
    span = take.span
    asked_unit = span.items[span.hi - 1].value == "?" or span.said.rstrip().endswith("?")
    everyone = unit is not None and unit in EVERYONE
    if any(span.items[k].text in ("almost", "nearly", "not quite", "close to") for k in range(span.lo, i)):
        take.mark(*marks(span))
        yield take.declining("No PAR was logged: that says it isn't one yet.", Par.intent, 0.05)
        return
    told = any("have" in span.items[k].text.split() for k in span.where("par_request"))  # "all companies have PAR"
    if not told and (span.has("par_request") or stance in ("ordered", "hoped", "asked") or asked_unit):
        take.mark(*marks(span), *(k for k in take.open() if span.items[k].text in ("you have", "do you have", "your")))
        if span.stance(i) == "asked" and span.has("when_was", "ask_par"):
            return
        yield take.reading(
            Par(None if everyone else unit, request=True), cost=0.0 if span.has("par_request") or unit else 0.05
        )
        return
    if told or span.has("accounted") or _has_par(span, i) or _good(span, i):
        if told or everyone or (unit is None and span.has("crew:everyone")):
            yield take.declining("Log a PAR by unit and number, like “engine 9 PAR of 4”.", Par.intent, 0.05)
        else:
            yield take.reading(Par(unit, missing=missing), cost=0.1)
        return
    if unit is None or everyone:
        yield take.reading(Par(request=True), cost=0.05)
    elif i < (span.kinds("unit") or [0])[0]:
        yield take.reading(Par(unit, request=True), cost=0.1)
    else:
        yield take.asking(Question(f"PAR of how many for {unit}?", (), Par(unit), "count"), Par.intent, 0.15)


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
    around = {item.text for item in (*span.items[max(i - 1, 0) : i], *span.items[i + 1 : i + 2])}
    return span.items[i].text == "accountability" and not around.isdisjoint(("from", "to"))


_ASKED_BACK = re.compile(
    r"\W*(?:(?:did|have|has|had) (?:we|you|they|i|it|he|she|any ?one|any ?body|command|dispatch)|was|were)\b",
    re.IGNORECASE,
)
"""Whether there was one: no order for one. "Have engine 9 do a PAR" is."""


EVERYONE = frozenset(
    (
        "every company",
        "every crew",
        "every unit",
        "every division",
        "all divisions",
        "all units",
        "all companies",
        "all crews",
        "everybody",
        "everyone",
        "all personnel",
        "all hands",
        "all members",
    )
)


def _not_yet(span: Span, i: int) -> bool:
    """ "Still no PAR from engine 9": not answered, or somebody missing?"""
    return any(span.items[k].text in ("still", "yet", "no par yet", "still no par") for k in range(span.lo, span.hi))


def _answered_question(unit: str) -> Question:
    choices = (Choice("not answered yet"), Choice("someone is missing", (Par(unit, no_par=True),)))
    return Question(f"{unit.capitalize()}: not answered yet, or is someone missing?", choices)


def _good(span: Span, i: int) -> bool:
    """ "PAR is good"."""
    after = {word for k in range(i + 1, min(i + 3, span.hi)) for word in span.items[k].text.split()}
    return not after.isdisjoint(("good", "complete", "ok", "okay", "done", "confirmed", "received"))


_ASKED_WITH = frozenset(
    (
        "have",
        "has",
        "got",
        "a",
        "the",
        "do",
        "does",
        "we",
        "everybody",
        "everyone",
        "on",
        "you",
        "yet",
        "given",
        "we got",
    )
)


def _asks_who(span: Span, i: int) -> bool:
    """ "Do we have PAR", "does engine 9 have PAR": whether there is one. "Engine 9, do you have PAR" calls for it."""
    asked = "ask" in span.items[i].polarity
    called = any(item.kind == "unit" for item in span.items[:i]) and not {"you", "your"}.isdisjoint(
        w for item in span.items[:i] for w in item.text.split()
    )
    return asked and not called and not span.has("par_request")


def _has_par(span: Span, i: int) -> bool:
    """ "Engine 12 has PAR", "engine 12 is PAR"."""
    return not _HAVING.isdisjoint(span.items[k].text for k in range(max(0, i - 2), i))


_HAVING = frozenset(
    ("have", "has", "we have", "i have", "we have got", "i have got", "we got", "i got", "they have", "got", "has got")
) | {"with", "is", "are", "at", "we are", "i am"}


def _missing(span: Span, take: Take) -> int | None:
    at = span.first("missing")
    if at < 0:
        return None
    take.mark(at)
    near = take.number_near(at, None, low=1, high=30, reach=2)
    return int(near) if near is not None else None


def _count(take: Take) -> int | None:
    return _of_how_many(take)[0]


def _of_how_many(take: Take) -> tuple[int | None, int | None]:
    """ "3 of 4": who is there, and how many are missing of those that should be."""
    span = take.span
    value = _count_near(take)
    if value is None:
        return None, None
    missing: int | None = None
    for i in list(take.open()):
        if (
            span.items[i].kind == "num"
            and span.items[i].unit is None
            and i >= 2
            and span.items[i - 1].text in ("of", "out of")
            and span.items[i].number >= value
        ):
            take.mark(i)
            missing = int(span.items[i].number - value) or None
            break
    return int(value), missing


def _count_near(take: Take) -> float | None:
    """The number that the PAR is of: nothing that says something else stands between."""
    span = take.span
    for i in take.open():
        item = span.items[i]
        if (
            "pair" in item.concepts
            or item.kind != "num"
            or item.unit is not None
            or item.form == "ordinal"
            or not 0 <= item.number <= 60
            or item.number % 1
        ):
            continue
        for way in (range(i - 1, span.lo - 1, -1), range(i + 1, span.hi)):
            for k in way:
                near = span.items[k]
                before_it = (
                    k > i and k - i > 1 and not any(span.items[m].text in ("for", "of", "on") for m in range(i + 1, k))
                )
                if before_it and near.kind != "unit":
                    break
                if near.kind == "unit" or near.concepts & {"par", "no_par", "par_request", "missing", "accounted"}:
                    take.mark(i)
                    return item.number
                if (
                    not (near.free and near.text not in ("on", "the back", "back"))
                    and near.kind not in ("sep", "num")
                    and not near.concepts & {"people_word", "with_crew"}
                ):
                    break
    return None


_CREW = 12
"""Most that a crew is taken to be."""


@reads("is:unit")
def read_some_of(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 has 3 of 4"."""
    if span.has("par", "missing", "no_par", "accounted", "par_request"):
        return
    for i in span.kinds("num"):
        of = i + 2 < span.hi and span.items[i + 1].text in ("of", "out of") and span.items[i + 2].kind == "num"
        if not of or span.items[i].unit or span.items[i + 2].unit:
            continue
        there, whole = span.items[i].number, span.items[i + 2].number
        if not 0 <= there <= whole <= _CREW or there % 1 or whole % 1:
            continue
        take = Take(span, i, i + 1, i + 2)
        unit = take.unit()
        take.terms("people_word", "with_crew", "for_noise", "supply_established", "establishing", "crew_word")
        if span.stance(i) == "said":
            yield take.reading(Par(unit, int(there), missing=int(whole - there) or None), cost=0.1)
        return


@reads("missing")
def read_missing(span: Span) -> Iterable[Candidate]:
    """ "truck 4 is missing two", "engine 9, 3 of 4, one missing"."""
    if span.has("par", "missing_member") or not span.kinds("num"):
        return
    if span.items[span.first("missing")].text == "lost":
        return  # worse than a PAR that is short: `emergencies` asks whether it is a Mayday
    if not span.kinds("unit"):
        yield from _missing_someone(span)
        return
    take = Take(span)
    unit = take.unit()
    missing = _missing(span, take)
    count = _count(take)
    if missing is not None and span.stance(span.first("missing")) in ("said", "denied"):
        yield take.reading(Par(unit, count, missing=missing, no_par=count is None), cost=0.15)


def _missing_someone(span: Span) -> Iterator[Candidate]:
    """ "Missing one", whose isn't said: asked at once."""
    take = Take(span)
    missing = _missing(span, take)
    if missing is None or span.items[span.first("missing")].text not in ("missing", "unaccounted", "unaccounted for"):
        return
    if [
        i for i in take.open() if not span.items[i].free and span.items[i].kind != "sep"
    ] or not span.context.incident_open:
        return
    own = span.context.speaker_unit
    short = Choice(f"PAR short by {missing}", (Par(own, missing=missing, no_par=True),))
    emergency = Choice("member missing: emergency", (Emergency("missing_member", own, span.text()),))
    yield take.asking(Question("Whose? Is a member missing?", (emergency, short, Choice("no"))), Emergency.intent, 0.05)
