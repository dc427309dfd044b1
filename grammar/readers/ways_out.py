"""Reads who is on the way out, who is told to come out, and numbers beside "out". Only "out" is out (convention 16)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import AirReading, Benchmark, Choice, ComingOut, Exit, Question, Status, SupplyExpected
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.incident import marks
from grammar.readers.said import sentence

_OWN = frozenset(("we", "us", "i", "they", "he", "she", "my", "our", "crew"))
_OTHERWISE = (
    "victim_found", "victim_removed", "evacuate_over", "par", "crew:everyone", "bystanders",
    "hydrant_word", "tank", "line",
)  # fmt: skip
_TOLD = frozenset(("have", "tell", "get", "bring", "pull", "let", "need", "want", "order", "call"))


_ASKING = frozenset(("did", "do", "does", "should", "shall", "can", "could", "would", "will", "was", "were"))


@reads("coming_out", "come_out")
def read_coming_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9's coming out", "engine 9, back out", "have engine 9 come out": still inside."""
    i = span.first("coming_out")
    ordered = i < 0
    i = span.first("come_out") if ordered else i
    if span.has(*_OTHERWISE):
        return
    if (
        ordered
        and i > span.lo
        and span.items[i - 1].text.split()[-1] == "to"
        and not _tells(span, i)
        and span.stance(i) != "asked"
    ):
        yield Take(span, *range(span.lo, i + 1)).declining(sentence("hoped"), ComingOut.intent, 0.05)
        return
    take = Take(span, i, *span.where("coming_out", "come_out"))
    unit = take.unit()
    if (
        ordered
        and unit is None
        and span.context.inside
        and span.content() == [i]
        and span.stance(i) in ("said", "ordered")
    ):
        inside = span.context.inside
        choices = tuple(Choice(one, (ComingOut(one, True),)) for one in inside)
        if len(inside) == 1:
            yield take.reading(ComingOut(inside[0], True))
        else:
            yield take.asking(Question("Who is to come out?", choices), ComingOut.intent, 0.0)
        return
    if not _spoken_of(span, i, unit, ordered):
        return
    stance = span.stance(i)
    told = ordered and _tells(span, i)
    take.terms(
        "exit", "building", "with_crew", "crew_word", "people_word", "for_noise", "move_to", "into", "place:interior"
    )
    take.mark(*marks(span))
    if stance == "asked" and not told:
        yield take.reading(Status("crews", unit), cost=0.06)
        return
    if stance == "denied" or (stance in ("hoped", "asked") and not told):
        take.mark(*span.kinds("num"))
        yield take.declining(sentence(stance), ComingOut.intent, 0.05)
        return
    others = together(span, i)
    if len(others) > 1 and not span.kinds("num"):
        take.mark(*others)
        take.terms("and")
        units = [str(span.items[k].value) for k in others]
        yield take.reading(*(ComingOut(one, ordered) for one in units), cost=0.0)
        return
    take.cost -= 0.1 if told else 0.0  # "have engine 9 come out" isn't asked
    yield from _on_the_way(take, unit, ordered)


@reads("heading_out")
def read_heading_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 heading out", of a crew that is inside."""
    take = Take(span, span.first("heading_out"))
    unit = take.unit()
    words = {span.items[k].text for k in range(span.lo, span.first("heading_out"))}
    unit = unit or (span.context.speaker_unit if words & {"we", "we are", "i", "i am"} else None)
    if unit in span.context.inside and span.stance(span.first("heading_out")) == "said":
        take.cost -= 0.2
        yield from _on_the_way(take, unit, False)


def _on_the_way(take: Take, unit: str | None, ordered: bool) -> Iterator[Candidate]:
    """The state, with the low air or the gauge that was said of the same crew."""
    span = take.span
    low = take.terms("low_air", "no_air")
    psi = take.number("psi", "bar", low=100, high=6000)
    psi = take.number(None, low=400, high=6000, whole=True) if psi is None else psi
    take.terms("air_word", "air_firm", "lowest_word")
    place = take.place()
    take.terms("place:stairs")
    take.free(
        "you",
        "your",
        "need",
        "want",
        "have",
        "tell",
        "get",
        "bring",
        "pull",
        "let",
        "for",
        "a",
        "now",
        "start",
        "on",
        "with",
        "at",
        "bottle",
        "turning",
        "around",
        "turned",
    )
    take.terms("scba", "cylinder", "cut_and", "and")
    state = ComingOut(unit, ordered, psi, take.time())
    cost = 0.1 if place is not None else 0.0
    if low:
        yield take.reading(state, AirReading(None, unit, low_air_alarm=True), cost=cost)
    elif any(k for k in take.open() if span.items[k].kind == "num"):
        return
    else:
        yield take.reading(state, cost=cost)


def _spoken_of(span: Span, i: int, unit: str | None, ordered: bool) -> bool:
    """Somebody is named; or it is the speaker's own crew that is inside; or there is one to be meant."""
    if unit is not None:
        return True
    context = span.context
    words = {w for k in range(span.lo, i) for w in span.items[k].text.split()}
    if words & _OWN or span.has("crew_word"):
        return not ordered
    own = context.speaker_unit in context.inside or context.own_unit in context.inside
    bare = not span.content() or span.content() == [i]
    crew = context.role in ("crew", "unit") and context.incident_open
    return not ordered and (own or crew or bool(context.inside)) and bare


def _tells(span: Span, i: int) -> bool:
    """ "Have engine 9 come out", "engine 9 you need to come out"."""
    words = [w for k in range(span.lo, i) for w in span.items[k].text.split()]
    if words and words[0] in _ASKING and words[1:2] != ["you"]:
        return False
    if words[:1] == ["did"]:
        return False
    return bool(_TOLD.intersection(words)) and not span.said.rstrip().endswith("?")


@reads("exit")
def read_brought_out(span: Span) -> Iterable[Candidate]:
    """ "Bring engine 9 out", "get engine 9 out of there"."""
    i = span.first("exit")
    if span.has(*_OTHERWISE, "coming_out", "come_out", "rehab") or not span.items[i].text.startswith("out"):
        return
    verb = brought(span, i)
    if verb < 0:
        return
    take = Take(span, i, verb)
    unit = take.unit()
    take.terms("building", "for_noise", "crew_word", "order")
    take.free("there", "of")
    if unit is not None and span.stance(i) in ("said", "ordered"):
        yield take.reading(ComingOut(unit, ordered=True), cost=0.02)


def together(span: Span, i: int) -> list[int]:
    """The companies named right before i, joined by "and" or a pause: "engine 9 and truck 4 are out"."""
    found: list[int] = []
    for k in range(i - 1, span.lo - 1, -1):
        item = span.items[k]
        if item.kind == "unit" and "crew:everyone" not in item.concepts:
            found.append(k)
        elif not (item.free or item.kind == "sep" or "and" in item.concepts):
            break
    return (
        found[::-1]
        if len(found) > 1 and any("and" in span.items[k].concepts for k in range(found[-1], found[0]))
        else []
    )


def brought(span: Span, i: int) -> int:
    """Where "bring", "get" or "pull" stands before a unit and "out" at i; -1."""
    for k in range(span.lo, i):
        verb = span.items[k].text.split()[0] in ("bring", "get", "pull", "order", "call")
        if verb and any(k < u < i for u in span.kinds("unit")):
            return k
    return -1


_FEW = 30
"""Most minutes or people that a number beside "out" may stand for."""


@reads("exit", "two_out")
def read_number_out(span: Span) -> Iterable[Candidate]:
    """ "Engine 9 two out": minutes, people, or the two-out team? Asked, but for the own company's two out."""
    team = span.first("two_out")
    if team >= 0 and span.content() == [team] and _only_number(span.items[team].text) and span.stance(team) == "said":
        yield from _bare_two_out(span, team)
        return
    outs = [k for k in span.where("exit") if span.items[k].text in ("out", "is out", "are out", "out now")]
    numbers = [
        k
        for k in span.kinds("num")
        if span.items[k].unit is None and span.items[k].form != "ordinal" and 1 <= span.items[k].number <= _FEW
    ]
    if span.has(
        "with_crew", "people_word", "crew_word", "in_place", "par", "coming_out", "rehab", "supply_established"
    ) or not span.kinds("unit"):
        return
    if team >= 0 and not _only_number(span.items[team].text):
        yield from _team(span, team)
        return
    at = team if team >= 0 else next((k for k in outs if any(_beside(span, n, k) for n in numbers)), -1)
    if at < 0:
        return
    take = Take(span, at)
    unit = take.unit()
    number = 2 if team >= 0 else next(n for n in numbers if _beside(span, n, at))
    count = 2 if team >= 0 else int(span.items[number].number)
    if team < 0:
        take.mark(number)
    take.terms("exit", "for_noise")
    take.free("about", "is", "are", "maybe", "around")
    if span.stance(at) in ("asked", "denied", "hoped"):
        return
    if count == 2 and unit == span.context.own_unit and unit is not None:
        yield take.reading(Benchmark("two_out_in_place", unit=unit), cost=0.0)
        return
    choices = [Choice(f"{count} minutes away", (SupplyExpected(unit, float(count)),))]
    if count == 2:
        choices.append(Choice("its two-out team is in place", (Benchmark("two_out_in_place", unit=unit),)))
    choices.append(Choice(f"{count} of its crew came out", (Exit(unit, count),)))
    question = Question(f"{unit}: {count} out, is that minutes or people?", tuple(choices))
    yield take.asking(question, Exit.intent, -0.1)


def _bare_two_out(span: Span, team: int) -> Iterator[Candidate]:
    """ "Two out", nobody named: asked."""
    own = span.context.speaker_unit or span.context.own_unit
    choices = (
        Choice("the two-out team is in place", (Benchmark("two_out_in_place"),)),
        Choice("two came out", (Exit(own, 2),)),
    )
    yield Take(span, team).asking(
        Question("Two out: the team outside, or two who came out?", choices), Benchmark.intent
    )


def _team(span: Span, at: int) -> Iterator[Candidate]:
    """ "Engine 9 is the two-out team", "two out is ladder 2"."""
    take = Take(span, at)
    unit = take.unit()
    take.terms("task_rit", "assign", "for_noise")
    if unit is not None and span.stance(at) == "said":
        yield take.reading(Benchmark("two_out_in_place", unit=unit), cost=0.02)


def _only_number(text: str) -> bool:
    return text in ("two out", "2 out", "two outs")


def _beside(span: Span, n: int, out: int) -> bool:
    """The number stands right before "out", or before the unit after it."""
    return 0 < out - n <= 2 and all(
        span.items[k].free or span.items[k].text in ("is", "are") for k in range(n + 1, out)
    )
