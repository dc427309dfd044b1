"""Reads who is on the way out, who is told to come out, and numbers beside "out". Only "out" is out (convention 16)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import AirReading, Benchmark, Choice, ComingOut, Exit, Question, Status, SupplyExpected
from grammar.costs import FAIR, HARDLY, LIKELY
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.said import answering, beside, holds, marks, sentence, text_at, unreported, words
from grammar.vocabulary import word_list


@reads("coming_out", "come_out")
def read_coming_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9's coming out", "engine 9, back out", "have engine 9 come out": still inside."""
    ordered = not span.has("coming_out")
    i = span.first("come_out" if ordered else "coming_out")
    if span.has(*word_list("ways_otherwise")):
        return
    stance = span.stance(i)
    told = ordered and _tells(span, i)
    if ordered and words(span, i - 1, i)[-1:] == ["to"] and not told and stance != "asked":
        yield Take(span, *range(span.lo, i + 1)).declining(sentence("hoped"), ComingOut.intent, LIKELY)
        return
    take = Take(span, i, *span.where("coming_out", "come_out"))
    unit = take.unit()
    if ordered and unit is None and span.content() == [i] and stance in ("said", "ordered"):
        yield from _whoever_is_in(take)
        return
    if not _spoken_of(span, i, unit, ordered):
        return
    beside(take, "ways_beside")
    if stance == "asked" and not told:
        yield answering(take, Status("crews", unit), LIKELY)
        return
    if stance == "denied" or (stance == "hoped" and not told):
        yield unreported(take, stance, ComingOut.intent)
        return
    take.mark(*marks(span))
    take.cost -= FAIR if told else 0  # "have engine 9 come out" isn't asked
    yield from _together_out(take, i, ordered) or _on_the_way(take, unit, ordered)


def _together_out(take: Take, i: int, ordered: bool) -> list[Candidate]:
    """ "Engine 9 and truck 4 are coming out"."""
    others = together(take.span, i)
    if not others or take.span.has("is:num"):
        return []
    take.mark(*others)
    take.terms("and")
    return [take.reading(*(ComingOut(str(take.span.items[k].value), ordered) for k in others))]


def _whoever_is_in(take: Take) -> Iterator[Candidate]:
    """ "Come out": the crew that is inside; of several it is asked."""
    inside = take.span.context.inside
    if len(inside) == 1:
        yield take.reading(ComingOut(inside[0], True))
    elif inside:
        choices = tuple(Choice(one, (ComingOut(one, True),)) for one in inside)
        yield take.asking(Question("Who is to come out?", choices), ComingOut.intent)


@reads("heading_out")
def read_heading_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 heading out", of a crew that is inside."""
    i = span.first("heading_out")
    take = Take(span, i, cost=-2 * FAIR)
    unit = take.unit() or (span.context.speaker_unit if holds(span, "ways_we", span.lo, i) else None)
    if unit in span.context.inside and span.stance(i) == "said":
        yield from _on_the_way(take, unit, False)


def _on_the_way(take: Take, unit: str | None, ordered: bool) -> Iterator[Candidate]:
    """The state, with the low air or the gauge that was said of the same crew."""
    span = take.span
    low = take.terms("low_air", "no_air")
    psi = take.number("psi", "bar", low=100, high=6000)
    psi = take.number(None, low=400, high=6000, whole=True) if psi is None else psi
    place = take.place()
    beside(take, "ways_air_beside")
    take.free(*word_list("ways_idle"))
    state = ComingOut(unit, ordered, psi, take.time())
    cost = FAIR if place is not None else 0
    if low:
        yield take.reading(state, AirReading(None, unit, low_air_alarm=True), cost=cost)
    elif not any(span.items[k].kind == "num" for k in take.open()):
        yield take.reading(state, cost=cost)


def _spoken_of(span: Span, i: int, unit: str | None, ordered: bool) -> bool:
    """Somebody is named; or it is the speaker's own crew that is inside; or there is one to be meant."""
    if unit is not None or ordered:
        return unit is not None
    if holds(span, "ways_own", span.lo, i) or span.has("crew_word"):
        return True
    context = span.context
    crew = context.role in ("crew", "unit") and context.incident_open
    return span.content() in ([], [i]) and (crew or bool(context.inside))


def _tells(span: Span, i: int) -> bool:
    """ "Have engine 9 come out", "engine 9 you need to come out"."""
    said = words(span, span.lo, i)
    asks = bool(said) and said[0] in word_list("ways_asking") and (said[0] == "did" or said[1:2] != ["you"])
    return not asks and not word_list("ways_told").isdisjoint(said) and not span.said.rstrip().endswith("?")


@reads("exit")
def read_brought_out(span: Span) -> Iterable[Candidate]:
    """ "Bring engine 9 out", "get engine 9 out of there"."""
    i = span.first("exit")
    verb = brought(span, i)
    if (
        verb < 0
        or not text_at(span, i).startswith("out")
        or span.has(*word_list("ways_otherwise"), "come_out", "rehab")
    ):
        return
    take = Take(span, i, verb)
    unit = take.unit()
    take.terms("building", "for_noise", "crew_word", "order")
    take.free(*word_list("ways_of"))
    if unit is not None and span.stance(i) in ("said", "ordered"):
        yield take.reading(ComingOut(unit, ordered=True), cost=HARDLY)


def together(span: Span, i: int) -> list[int]:
    """The companies named right before i, joined by "and" or a pause: "engine 9 and truck 4 are out"."""
    found: list[int] = []
    joined = False
    for k in range(i - 1, span.lo - 1, -1):
        item = span.items[k]
        if item.kind == "unit" and "crew:everyone" not in item.concepts:
            found.insert(0, k)
        elif "and" in item.concepts:
            joined = joined or bool(found)
        elif not item.free and item.kind != "sep":
            break
    return found if len(found) > 1 and joined else []


def brought(span: Span, i: int) -> int:
    """Where "bring", "get" or "pull" stands before a unit and "out" at i; -1."""
    verbs = (k for k in range(span.lo, i) if text_at(span, k).split()[0] in word_list("ways_bring"))
    return next((k for k in verbs if any(k < u < i for u in span.kinds("unit"))), -1)


_FEW = 30
"""Most minutes or people that a number beside "out" may stand for."""


@reads("exit", "two_out")
def read_number_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 two out": minutes, people, or the two-out team? Asked, but for the own company's two out."""
    team = span.first("two_out")
    bare = text_at(span, team) in word_list("ways_two_out")
    if bare and span.content() == [team] and span.stance(team) == "said":
        yield _bare_two_out(span, team)
    elif span.has("is:unit") and not span.has(*word_list("ways_counted")):
        yield from _number_out(span, team) if team < 0 or bare else _team(span, team)


def _number_out(span: Span, team: int) -> Iterator[Candidate]:
    pairs = ((n, k) for k in span.where("exit") for n in range(k - 2, k) if _counts_out(span, n, k))
    number, at = (team, team) if team >= 0 else next(pairs, (-1, -1))
    if at < 0 or span.stance(at) in ("asked", "denied", "hoped"):
        return
    take = Take(span, number, at)
    unit = take.unit()
    count = 2 if team >= 0 else int(span.items[number].number)
    take.terms("exit", "for_noise")
    take.free(*word_list("ways_about"))
    in_place = Benchmark("two_out_in_place", unit=unit)
    if count == 2 and unit == span.context.own_unit and unit is not None:
        yield take.reading(in_place)
        return
    minutes = Choice(f"{count} minutes away", (SupplyExpected(unit, float(count)),))
    two_out = (Choice("its two-out team is in place", (in_place,)),) if count == 2 else ()
    people = Choice(f"{count} of its crew came out", (Exit(unit, count),))
    question = Question(f"{unit}: {count} out, is that minutes or people?", (minutes, *two_out, people))
    yield take.asking(question, Exit.intent, -FAIR)


def _counts_out(span: Span, n: int, out: int) -> bool:
    """The number stands right before "out", or before the unit after it."""
    if n < span.lo or text_at(span, out) not in word_list("ways_out"):
        return False
    item, between = span.items[n], span.items[n + 1 : out]
    plain = item.kind == "num" and item.unit is None and item.form != "ordinal" and 1 <= item.number <= _FEW
    return plain and all(one.free or one.text in word_list("ways_about") for one in between)


def _bare_two_out(span: Span, team: int) -> Candidate:
    """ "Two out", nobody named: asked."""
    own = span.context.speaker_unit or span.context.own_unit
    out = Choice("two came out", (Exit(own, 2),))
    choices = (Choice("the two-out team is in place", (Benchmark("two_out_in_place"),)), out)
    asked = Question("Two out: the team outside, or two who came out?", choices)
    return Take(span, team).asking(asked, Benchmark.intent)


def _team(span: Span, at: int) -> Iterator[Candidate]:
    """ "Engine 9 is the two-out team", "two out is ladder 2"."""
    take = Take(span, at)
    unit = take.unit()
    take.terms("task_rit", "assign", "for_noise")
    if unit is not None and span.stance(at) == "said":
        yield take.reading(Benchmark("two_out_in_place", unit=unit), cost=HARDLY)
