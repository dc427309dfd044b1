"""Reads tactical benchmarks.

Taken only when reported: negated, hoped, future or asked ones stamp nothing (convention 2).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from grammar.commands import Benchmark, BenchmarkName, Choice, Command, Question, SaidTime, Status, Undo
from grammar.items import floor_name
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Stance, Take, reads
from grammar.vocabulary import word_list


class Rule(NamedTuple):
    """A benchmark: a subject and a state that must both be said; no states: the subject alone is the report."""

    benchmark: BenchmarkName
    subject: tuple[str, ...]
    states: tuple[str, ...] = ()
    alone: bool = False
    """The subject alone is the report too."""


RULES = (
    Rule("dispatched", ("dispatched",)),
    Rule("en_route", ("en_route",)),
    Rule("on_scene", ("on_scene",)),
    Rule("size_up", ("size_up",), ("complete",)),
    Rule("size_up", ("size_up_done",)),
    Rule("command_established", ("command_established",)),
    Rule("command_established", ("command_word",), ("establishing",)),
    Rule("two_out_in_place", ("two_out",), ("in_place", "supply_established")),
    Rule("rit_in_place", ("rit",), ("in_place",)),
    Rule("water_supply", ("water_supply_done",)),
    Rule("water_supply", ("water_supply",), ("supply_established", "in_place", "secured", "complete")),
    Rule("water_on_fire", ("water_on_fire",)),
    Rule("primary_search_complete", ("primary",), ("complete", "all_clear", "clear_word")),
    Rule("primary_search_complete", ("primary_negative",)),
    Rule("secondary_search_complete", ("secondary_negative",)),
    Rule("primary_search_started", ("primary",), ("started",)),
    Rule("secondary_search_complete", ("secondary",), ("complete", "all_clear", "clear_word")),
    Rule("ventilation", ("vent_done",)),
    Rule("ventilation", ("ventilation",), ("complete", "started", "in_place")),
    Rule("knocked_down", ("knocked_down",)),
    Rule("under_control", ("under_control",)),
    Rule("utilities_secured", ("utilities",), ("secured", "complete", "under_control")),
    Rule("utilities_secured", ("gas",), ("secured",)),
    Rule("extrication_complete", ("extrication",), ("complete",)),
    Rule("extrication_complete", ("extricated",)),
    Rule("overhaul", ("overhaul",), ("started", "complete"), alone=True),
    Rule("suppression_complete", ("suppression_complete",)),
    Rule("suppression_complete", ("suppression",), ("complete",)),
    Rule("loss_stopped", ("loss_stopped",)),
    Rule("command_terminated", ("command_terminated",)),
    Rule("command_terminated", ("command_word",), ("command_ended",)),
    Rule("patient_contact", ("patient_contact",)),
    Rule("care_transferred", ("care_transferred",)),
    Rule("available", ("available",)),
    Rule("returning", ("returning",)),
    Rule("in_quarters", ("in_quarters",)),
)
_CREWED = ("on_scene", "en_route", "available", "returning")
_EXTRA = (
    "note",
    "found_nobody",
    "fire_word",
    "last_one",
    "all_lines",
    "establishing",
    "of_hose",
    "in_place",
    "supply_established",
    "with_crew",
    "crew_word",
    "people_word",
    "patient",
    "picked_up",
    "role_officer",
    "from_hydrant",
)
"""Words that go with a report and say nothing more."""

EXCEPTED = (
    "Not logged: that leaves something out. Report what is done part by part, like “primary complete on the second "
    "floor”."
)
_WE_HAVE = ("we have got", "weve got", "we got", "we have", "i have", "i got")
TOLD = (
    "Not logged: that tells of an exercise, another day or what somebody said. Report it when it has happened here, "
    "with who reports it."
)


@reads(*{s for rule in RULES for s in rule.subject})
def read_benchmark(span: Span) -> Iterable[Candidate]:
    """ "water on the fire", "primary complete on the second floor at 14:12", "engine 9 on scene with four"."""
    for rule in RULES:
        if rule.subject == ("primary",):
            yield from _both_searches(span)
        for i in span.where(*rule.subject):
            if rule.benchmark == "available" and _of_a_line(span, i):
                continue
            if rule.benchmark == "under_control" and _of_utilities(span, i):
                continue
            yield from _by_rule(span, rule, i)


def _by_rule(span: Span, rule: Rule, i: int) -> Iterator[Candidate]:
    cost = 0.0
    if not rule.states:
        yield from report(span, rule.benchmark, (i,))
        return
    if not span.items[i].concepts.isdisjoint(rule.states) and rule.benchmark in ("extrication_complete",):
        yield from report(span, rule.benchmark, (i,))
        return
    states = [j for j in span.where(*rule.states) if j != i and not _apart(span, i, j)]
    if states:
        if rule.subject in (("primary",), ("secondary",)):
            states += [
                j
                for j in span.where("all_clear")
                if j not in states and not span.has("secondary" if rule.subject == ("primary",) else "primary")
            ]
        # one of the utilities is not all of them: a part
        part = span.items[i].text.split()[-1] if rule.subject == ("gas",) else None
        nearest = min(states, key=lambda j: (abs(j - i), j < i))
        if part is not None and nearest < i and _begins(span, nearest):
            yield Take(span, *range(nearest, span.hi)).declining(
                reason("an_order"), Benchmark.intent, 0.05
            )  # "shut off the gas"
            return
        at = (i, *states) if rule.subject == ("command_word",) else (i, nearest)  # "command will be established"
        yield from report(span, rule.benchmark, at, cost, also=tuple(states), part=part)
    elif rule.alone:
        told = (
            i == span.lo and i + 1 < span.hi and span.items[i + 1].text == "the"
        )  # "overhaul the kitchen" is an order
        yield from report(span, rule.benchmark, (i,), cost=0.5 if told else 0.02)
    else:
        near = [
            j for j in span.where("complete", "started", "in_place", "secured", "all_clear") if not _apart(span, i, j)
        ]
        stance = span.stance(i, *near)
        if stance == "asked" and rule.benchmark == "primary_search_started":
            return  # "did engine 9 finish the primary": whether it is complete
        other = any(span.has(*r.states) for r in RULES if r.subject == rule.subject and r is not rule and r.states)
        if stance != "said" and not other:
            yield from report(span, rule.benchmark, (i, *near), cost=0.12)


def _names(span: Span, k: int) -> bool:
    """A name: one of the incident's, a word that means nothing, or one that is written as a name."""
    item = span.items[k]
    if item.free or item.kind not in ("word", "street", "person", "place", "term"):
        return False
    if item.kind != "term" and (item.kind != "word" or item.form != "plain"):
        return True
    return item.text.title() in span.said and not span.said.istitle()


_NAME = 3
"""Most words of a command's name."""


def _command_name(span: Span, i: int) -> range:
    """The words before "command" that are its name: "Kiln Street command"."""
    first = i
    while first > span.lo and i - first < _NAME and (_names(span, first - 1) or _road(span, first - 1)):
        first -= 1
    return range(first, i) if any(_names(span, k) for k in range(first, i)) else range(i, i)


def _road(span: Span, k: int) -> bool:
    return span.items[k].text in word_list("benchmarks_roads")


@reads("command_word")
def read_named_command(span: Span) -> Iterable[Candidate]:
    """ "I'll have Juniper command", "engine 12's Harbor command", "Juniper command established"."""
    for i in span.where("command_word"):
        name = _command_name(span, i)
        if not name:
            continue
        opener, after = name[0] - 1, i + 1
        takes = opener >= span.lo and _takes_command(span, opener)
        gets = after < span.hi and "establishing" in span.items[after].concepts
        if (not takes and not gets) or span.items[opener if takes else i].polarity & {"not", "hope", "cond", "tale"}:
            continue
        take = Take(span, *name, i, *([opener] if takes and span.items[opener].kind != "unit" else []))
        take.mark(*([after] if gets and not takes else []))
        said = " ".join(span.items[k].text for k in (*name, i))
        take.free("i", "we", "from")
        take.terms("establishing", "for_noise")
        asked = "ask" in span.items[i].polarity
        unit, time = _commander(take, i), take.time()
        if asked:
            yield take.reading(Status(about="command_established", unit=unit), cost=0.03)
            continue
        place = take.place()
        take.terms("whereabouts")
        yield take.reading(Benchmark("command_established", unit, place, time, remark=said), cost=0.02)


def _commander(take: Take, i: int) -> str | None:
    """Who has command now: not the one that it is taken from."""
    span = take.span
    before = [k for k in span.kinds("unit") if span.items[k - 1].text == "from" and k > max(i, span.lo)]
    take.mark(*before)
    take.terms("face_to_face")
    return take.unit()


def _takes_command(span: Span, k: int) -> bool:
    """Who is said to have it, or a verb of having or taking it."""
    item = span.items[k]
    if item.kind == "unit":
        return span.said.lower().count("'s") > 0 and item.text.endswith(" s")
    return bool(item.concepts & {"establishing", "for_noise"}) or item.text in ("am", "took")


def _of_a_line(span: Span, i: int) -> bool:
    """ "The line is charged and in service": the line is, not the company."""
    if not span.items[i].text.endswith("in service"):
        return False
    before = span.items[:i]
    told = any(item.kind == "line" or not item.concepts.isdisjoint(("line", "charge", "big_line")) for item in before)
    return told and not any(item.kind == "unit" for item in before)


def _begins(span: Span, k: int) -> bool:
    """Nothing of its clause stands before it."""
    before = span.items[k - 1] if k > span.lo else None
    return before is None or before.kind == "sep" or "and" in before.concepts


def _both_searches(span: Span) -> Iterator[Candidate]:
    """ "primary and secondary complete"."""
    i, j = span.first("primary"), span.first("secondary")
    state = next(span.where("complete", "all_clear", "clear_word"), -1)
    if not 0 <= i < j < state or any(item.kind == "sep" for item in span.items[i:state]):
        return
    between = [k for k in range(i + 1, j) if not span.items[k].free and "search" not in span.items[k].concepts]
    if between or span.stance(i, j, state) != "said":
        return
    take = Take(span, i, j, state)
    take.terms("search", "both", "all_lines", "complete", "all_clear", *_EXTRA)
    unit, place, time = take.unit(), take.place(), take.time()
    yield take.reading(
        Benchmark("primary_search_complete", unit, place, time),
        Benchmark("secondary_search_complete", unit, place, time),
    )


def _of_utilities(span: Span, i: int) -> bool:
    """ "Utilities are under control" says nothing of the fire."""
    return any(span.items[k].concepts & {"utilities", "gas"} and not _apart(span, k, i) for k in range(span.lo, i))


def _apart(span: Span, i: int, j: int) -> bool:
    """A pause stands between: the state belongs to something else."""
    between = span.items[min(i, j) + 1 : max(i, j)]
    return any(item.kind == "sep" or item.text in ("and", "but", "then") for item in between)


def report(
    span: Span,
    benchmark: BenchmarkName,
    at: tuple[int, ...],
    cost: float = 0.0,
    also: tuple[int, ...] = (),
    part: str | None = None,
) -> Iterator[Candidate]:
    """The report of a benchmark as it was said: logged, answered from the log, or not logged."""
    stance = span.stance(*at)
    if stance == "asked" and _how_long(span):
        return
    take = Take(span, *at, cost=cost)
    if stance == "said" and (excepting := _excepting(span)):
        take.mark(*excepting)
        yield take.declining(EXCEPTED, Benchmark.intent, 0.0)
        return
    if _told_otherwise(span, benchmark, at):
        return
    unit = _commander(take, at[0]) if benchmark == "command_established" else take.unit()
    place = _place(take, benchmark, at)
    take.cost += _doubt(span, benchmark, at, unit)
    if part is not None:
        place = f"{part}, {place}" if place else part
    take.terms(*_EXTRA)
    take.mark(*also, *(k for k in span.where("for_noise") if span.items[k].text in _WE_HAVE))
    if stance == "asked":
        _mark_marks(take)
        take.terms("when_was", "ask_flow", "board", "since", "secured", "complete", "all_clear", "started")
        take.mark(*(k for k in take.open() if span.items[k].text in _ASKED_WITH))
        take.kind("time")
        yield take.reading(Status(about=benchmark, unit=unit), cost=0.03)
        return
    if stance == "denied" and place is None and benchmark in span.context.stamped:
        _mark_marks(take)
        yield take.asking(_take_back(benchmark), Undo.intent, 0.02)
        return
    if stance != "said":
        _mark_marks(take)
        told = stance == "hoped" and any("tale" in span.items[k].polarity for k in at)
        yield take.declining(TOLD if told else sentence(stance), Benchmark.intent, 0.02)
        return
    if span.kinds("badtime"):
        take.kind("badtime")
        yield take.declining("That isn't a time of day. Say it as 14:12.", Benchmark.intent, 0.05)
        return
    if benchmark in _GOES_ON and any("still" in span.items[k].text.split() for k in range(span.lo, at[-1])):
        yield take.declining("Nothing was logged: nothing changed.", Benchmark.intent, 0.02)
        return
    yield _stamped(take, benchmark, at, unit, place)


def _told_otherwise(span: Span, benchmark: BenchmarkName, at: tuple[int, ...]) -> bool:
    """ "Knocked down, still pockets on three": what isn't is told by itself. "Still rolling in the attic"."""
    if benchmark == "knocked_down":
        after = range(at[-1] + 1, span.hi)
        return any(span.items[k].text.split()[0] == "still" and span.items[k - 1].kind == "sep" for k in after)
    return benchmark == "en_route" and span.items[at[0]].text == "rolling" and bool(span.kinds("place", "floor"))


def _place(take: Take, benchmark: BenchmarkName, at: tuple[int, ...]) -> str | None:
    """Where it was done."""
    span = take.span
    place = None if benchmark in _CREWED and _of_a_fire(span) else take.place()
    if place is not None and any(k > at[-1] for k in span.where("assign")):
        take.cost += 0.25  # "truck 4 on scene, take the roof": the place is where it is sent
    if place is None:
        place = _on_floor(take)
    return _part_named(take, at[-1]) if place is None and benchmark in _IN_PARTS else place


def _doubt(span: Span, benchmark: BenchmarkName, at: tuple[int, ...], unit: str | None) -> float:
    """What it costs that something else may be meant."""
    said = span.items[at[0]].text
    if benchmark == "command_terminated" and any(item.text == "report" for item in span.items[at[-1] + 1 :]):
        return 0.6  # "send the incident report"?
    if benchmark == "care_transferred" and said.endswith(("the patient", "over care")):
        return 0.0 if unit and unit.split()[0] in _TRANSPORTS else 0.5  # "engine 9 has the patient": out, or cared for?
    return 0.0


def _stamped(
    take: Take, benchmark: BenchmarkName, at: tuple[int, ...], unit: str | None, place: str | None
) -> Candidate:
    """The report with its time, crew, remark and name."""
    span = take.span
    if benchmark == "available" and place is not None:
        take.cost += 0.5  # "we're clear in here": the place is
    time = take.time()
    if time is None and benchmark not in _PAST and _once(span, at[0]):
        take.cost += 0.5
    staffing = _staffing(take) if benchmark in _CREWED else None
    _address(take)
    remark = _patient(take) if benchmark == "patient_contact" else None
    if benchmark in ("command_established", "command_terminated") and (name := _command_name(span, at[0])):
        take.mark(*name)  # "Juniper command established"
        if benchmark == "command_established":
            remark = f"{' '.join(span.items[k].text for k in name)} command"
    if benchmark == "command_terminated":
        take.mark(*_named_after(span, at[-1]))
    if span.items[at[0]].text.startswith("fire") and at[0] > span.lo and _names(span, at[0] - 1):
        take.mark(at[0] - 1)  # "Ridgeline fire is under control"
    return take.reading(Benchmark(benchmark, unit, place, time, staffing, remark))


def _named_after(span: Span, i: int) -> list[int]:
    """ "Terminating Ridgeline command": the name behind it."""
    k = i + 1
    while k < span.hi and k - i <= _NAME and (_names(span, k) or _road(span, k)):
        k += 1
    return list(range(i + 1, k + 1)) if k < span.hi and "command_word" in span.items[k].concepts else []


_IN_PARTS = (
    "knocked_down",
    "water_on_fire",
    "ventilation",
    "primary_search_complete",
    "primary_search_started",
    "secondary_search_complete",
    "overhaul",
)
"""What may be so in one part only."""


def _part_named(take: Take, i: int) -> str | None:
    """ "Good knock in the dormer room": a part that goes by a word of its own."""
    items, hi = take.span.items, take.span.hi
    k = i + 1
    if k + 1 >= hi or items[k].text not in ("in", "on") or items[k + 1].text != "the":
        return None
    words: list[int] = []
    for j in range(k + 2, hi):
        if items[j].kind == "sep":
            break
        if items[j].kind != "word" or items[j].free or items[j].polarity_mark or len(words) == _NAME:
            return None
        words.append(j)
    if not words or items[words[-1]].text in word_list("benchmarks_whole"):
        return None
    take.mark(k, k + 1, *words)
    take.cost += 0.05
    return " ".join(items[j].text for j in words)


_TRANSPORTS = ("medic", "ambulance", "als", "bls")


def _of_a_fire(span: Span) -> bool:
    """ "On scene, basement fire": the floor is the fire's, not where the unit arrived."""
    return bool(span.kinds("floor")) or any(
        span.items[k].kind == "place" and k + 1 < span.hi and span.items[k + 1].text in ("fire", "smoke", "alarm")
        for k in range(span.lo, span.hi)
    )


def _take_back(benchmark: BenchmarkName) -> Question:
    """What was reported before is denied now: is the report to be taken back?"""
    words = benchmark.replace("_", " ")
    choices = (Choice("take it back", (Undo(benchmark=benchmark),)), Choice("leave it"))
    return Question(f"“{words.capitalize()}” is logged. Take it back?", choices)


def _excepting(span: Span) -> list[int]:
    """ "… except the basement": what is said there is what isn't done."""
    for i in range(span.lo, span.hi):
        text = span.items[i].text
        if text in ("except", "excluding", "besides", "other than", "apart from", "minus") or text.startswith("except"):
            return list(range(i, span.hi))
        if text == "other" and i + 1 < span.hi and span.items[i + 1].text == "than":
            return list(range(i, span.hi))
        if text == "but" and i > span.lo and _only_names(span, i + 1):
            return list(range(i, span.hi))  # "everywhere but the basement"
    return []


def _only_names(span: Span, lo: int) -> bool:
    rest = [span.items[k] for k in range(lo, span.hi) if not span.items[k].free]
    return bool(rest) and all(item.kind in ("place", "floor") or "gas" in item.concepts for item in rest)


_ASKED_WITH = frozenset(
    ("yet", "get", "got", "gotten", "finish", "finished", "do", "done", "take", "hit", "ever", "have")
)
"""What a question says of a benchmark that is no state of it: "did truck 4 get the utilities"."""
_GOES_ON = ("primary_search_started", "overhaul", "ventilation")
"""What may still be going on when it is spoken of: "still doing the primary"."""
_PAST = ("dispatched", "care_transferred")
"""What is over as soon as it has happened: "we were dispatched"."""


def _once(span: Span, i: int) -> bool:
    """ "It was under control": and isn't any more?"""
    said = [span.items[k].text.split() for k in range(max(i - 2, 0), i + 1)]
    return any(word in ("was", "were") for words in said for word in words)


def _how_long(span: Span) -> bool:
    """ "How long have we been on scene" asks for the time, not whether."""
    before = span.items[: span.hi]
    return any(item.concepts & {"elapsed", "how_long"} for item in before)


def sentence(stance: Stance) -> str:
    """Why nothing was logged."""
    return reason({"denied": "not_happened", "ordered": "an_order"}.get(stance, "still_to_come"))


def _mark_marks(take: Take) -> None:
    """The words that negate, hope or ask are explained, and with them what they were said of."""
    items = take.span.items
    for i in take.open():
        item = items[i]
        if item.polarity_mark or (item.kind == "num" and item.unit in ("min", "s", "hr", "percent")):
            take.mark(i)


def _staffing(take: Take) -> int | None:
    """ "with four", "with a crew of four"."""
    items = take.span.items
    for i in take.open():
        item = items[i]
        if item.kind == "num" and item.unit is None and item.form == "int" and 1 <= item.number <= 12:
            near = {items[k].text for k in range(max(i - 3, take.span.lo), i)} | {
                t for k in range(i + 1, min(i + 2, take.span.hi)) for t in [items[k].text]
            }
            if near & {
                "with",
                "with a crew of",
                "crew of",
                "staffed with",
                "staffing",
                "people",
                "personnel",
                "crew",
                "members",
                "firefighters",
                "on board",
                "aboard",
                "person crew",
            }:
                take.mark(i)
                return int(item.number)
    return None


def _patient(take: Take) -> str | None:
    """ "62 year old female"."""
    items = take.span.items
    for i in take.open():
        if items[i].kind == "num" and i + 1 < take.span.hi and items[i + 1].text.split()[0] in ("year", "years", "yo"):
            take.mark(*range(i, take.span.hi))
            return " ".join(items[k].text for k in range(i, take.span.hi) if items[k].kind != "sep")
    return None


_TALLEST = 60
_OURS = ("side", "floor", "level", "end", "area", "part", "half")


def _on_floor(take: Take) -> str | None:
    """ "Primary complete on six": the sixth floor; "on our side"."""
    items = take.span.items
    for i in take.open():
        if items[i].text in ("our", "my") and i + 1 < take.span.hi and items[i + 1].text in _OURS:
            take.mark(i, i + 1)
            return f"our {items[i + 1].text}"
        if items[i].text != "on" or i + 1 >= take.span.hi:
            continue
        number, after = items[i + 1], items[i + 2] if i + 2 < take.span.hi else None
        whole = number.kind == "num" and number.form == "int" and number.unit is None
        also = after is not None and after.text in ("too", "as well", "also")
        if whole and 1 <= number.number <= _TALLEST and (after is None or also or after.free or after.kind == "sep"):
            take.mark(i, i + 1, *([i + 2] if also else []))
            take.cost += 0.03
            return floor_name(int(number.number))
    return None


def _address(take: Take) -> None:
    """An address says where, and is no number of anything: "at 88 Larkspur", "at Sixth", "on Orchard Street"."""
    items = take.span.items
    for i in list(take.open()):
        before = items[i - 1].text.split()[-1] if i > take.span.lo else ""
        after = items[i + 1] if i + 1 < take.span.hi else None
        named = after is not None and after.kind in ("word", "street") and after.form != "plain" and not after.free
        if items[i].kind == "num" and named and before in _AT and items[i].unit is None:
            take.mark(i, i + 1)
            take.cost += 0.03
        if items[i].kind == "num" and items[i].form == "ordinal" and before in _AT and after is None:
            take.mark(i)
        if items[i].kind in ("word", "street") and items[i].form != "plain" and before in ("at", "on", "of"):
            take.mark(i)
            take.cost += 0.03
        if items[i].kind != "num":
            continue
        for k in range(i + 1, min(i + 4, take.span.hi)):
            if items[k].kind == "street" or items[k].text in word_list("benchmarks_roads"):
                take.mark(*range(i, k + 1))
                take.cost += 0.03
                break


_AT = frozenset(("at", "on", "scene", "location", "of", "and"))


@reads("all_clear", "search", "clear_word", "both_searches")
def read_all_clear(span: Span) -> Iterable[Candidate]:
    """A bare "all clear" asks: primary or secondary."""
    if span.has("primary", "secondary"):
        return
    i = span.first("all_clear")
    at: tuple[int, ...]
    if i >= 0:
        at = (i,)
    else:
        i, j = span.first("search", "both_searches"), span.first("complete")
        if (i < 0 or j < 0) and not _only_place_clear(span):
            return
        at = (i, j) if i >= 0 and j >= 0 else (span.first("clear_word"),)
    stance = span.stance(*at)
    take = Take(span, *at)
    take.terms("search", "complete", "log")
    unit, place = take.unit(), take.place()
    if stance == "asked":
        _mark_marks(take)
        take.mark(*(k for k in take.open() if span.items[k].text in ("ever", "get", "got", "gotten", "have")))
        yield take.reading(Status(about="primary_search_complete", unit=unit), cost=0.1)
        return
    if stance != "said":
        _mark_marks(take)
        yield take.declining(sentence(stance), Benchmark.intent, 0.02)
        return
    if excepting := _excepting(span):
        take.mark(*excepting)
        yield take.declining(EXCEPTED, Benchmark.intent, 0.0)
        return
    time = take.time()
    if span.has("both_searches"):
        take.terms("both_searches", "both", "found_nobody")
        both: tuple[BenchmarkName, ...] = ("primary_search_complete", "secondary_search_complete")
        yield take.reading(*(Benchmark(one, unit, place, time) for one in both))
        return
    if (
        place is not None
        and "primary_search_started" in span.context.stamped
        and not _SEARCHED & {*span.context.stamped}
    ):
        take.notes.append("the primary search, the one that was started")
        yield take.reading(Benchmark("primary_search_complete", unit, place, time))
        return
    yield take.asking(primary_or_secondary(unit, place, time), Benchmark.intent)


_SEARCHED = frozenset(("primary_search_complete", "secondary_search_complete"))


def _only_place_clear(span: Span) -> bool:
    """ "Second floor is clear": a place, and nothing else."""
    return bool(span.kinds("place", "floor")) and all(
        span.items[i].kind in ("place", "floor") or "clear_word" in span.items[i].concepts for i in span.content()
    )


def primary_or_secondary(unit: str | None, place: str | None, time: SaidTime | None) -> Question:
    """The closed question a bare "all clear" needs."""

    def said(benchmark: BenchmarkName) -> tuple[Command, ...]:
        return (Benchmark(benchmark, unit, place, time),)

    return Question(
        "All clear on the primary or the secondary search?",
        (Choice("primary", said("primary_search_complete")), Choice("secondary", said("secondary_search_complete"))),
    )
