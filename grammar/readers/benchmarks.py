"""Reads tactical benchmarks, by the rules of language/reports.toml.

Taken only when reported: negated, hoped, future or asked ones stamp nothing (convention 2).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from grammar.commands import Benchmark, BenchmarkName, Choice, Command, Question, SaidTime, Status, Undo
from grammar.costs import DOUBTFUL, FAIR, HARDLY, LIKELY, UNSURE
from grammar.lexicon import ENGLISH, language, speaking
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Stance, Take, reads
from grammar.readers.commanders import command_name, commander, named_after, written_name
from grammar.readers.said import beside, holds, sentence, text_at
from grammar.readers.where import address, on_floor, part_named
from grammar.vocabulary import word_list


class Rule(NamedTuple):
    """A benchmark: a subject and a state that must both be said; no states: the subject alone is the report."""

    benchmark: BenchmarkName
    subject: tuple[str, ...]
    states: tuple[str, ...]
    alone: bool
    """The subject alone is the report too."""
    part: bool
    """It is one of several, never all of it."""


def _rules() -> Iterator[Rule]:
    with speaking(ENGLISH):  # which terms make a benchmark is the same in every language
        for one in language()["benchmarks"]["rules"]:
            states = tuple(one.get("states", ()))
            yield Rule(one["name"], (one["subject"],), states, one.get("alone", False), one.get("part", False))


RULES = tuple(_rules())
_SEARCHES = ("primary", "secondary")


@reads(*{rule.subject[0] for rule in RULES})
def read_benchmark(span: Span) -> Iterable[Candidate]:
    """ "water on the fire", "primary complete on the second floor at 14:12", "engine 9 on scene with four"."""
    if span.has("primary"):
        yield from _both_searches(span)
    for rule in RULES:
        for i in span.where(*rule.subject):
            if not _of_something_else(span, rule.benchmark, i):
                yield from _by_rule(span, rule, i)


def _of_something_else(span: Span, benchmark: BenchmarkName, i: int) -> bool:
    """ "The line is charged and in service", "utilities are under control": nothing of the company, or the fire."""
    before = span.items[span.lo : i]
    if benchmark == "under_control":
        return any(span.items[k].concepts & {"utilities", "gas"} and not _apart(span, k, i) for k in range(span.lo, i))
    line = any(item.kind == "line" or item.concepts & word_list("benchmarks_of_a_line") for item in before)
    return benchmark == "available" and line and not any(item.kind == "unit" for item in before)


def _by_rule(span: Span, rule: Rule, i: int) -> Iterator[Candidate]:
    if not rule.states or span.items[i].concepts & {*rule.states} & {"complete"}:
        yield from report(span, rule.benchmark, (i,))
        return
    states = [j for j in span.where(*rule.states) if j != i and not _apart(span, i, j)]
    if states:
        yield from _with_state(span, rule, i, states)
    elif rule.alone:
        told = i == span.lo and text_at(span, i + 1) in word_list("where_the")
        yield from report(span, rule.benchmark, (i,), DOUBTFUL if told else HARDLY)  # "overhaul the kitchen" orders it
    else:
        near = [j for j in span.where(*word_list("benchmarks_states")) if not _apart(span, i, j)]
        stance = span.stance(i, *near)
        other = any(span.has(*r.states) for r in RULES if r.subject == rule.subject and r is not rule)
        begun = stance == "asked" and rule.benchmark == "primary_search_started"
        if stance != "said" and not other and not begun:  # "did engine 9 finish the primary": whether it is complete
            yield from report(span, rule.benchmark, (i, *near), FAIR)


def _with_state(span: Span, rule: Rule, i: int, states: list[int]) -> Iterator[Candidate]:
    if rule.subject[0] in _SEARCHES and not span.has(*{*_SEARCHES} - {*rule.subject}):
        states += [j for j in span.where("all_clear") if j not in states]
    nearest = min(states, key=lambda j: (abs(j - i), j < i))
    if rule.part and nearest < i and _begins(span, nearest):  # "shut off the gas"
        yield Take(span, *range(nearest, span.hi)).declining(reason("an_order"), Benchmark.intent, LIKELY)
        return
    at = (i, *states) if rule.subject == ("command_word",) else (i, nearest)  # "command will be established"
    part = span.items[i].text.split()[-1] if rule.part else None
    yield from report(span, rule.benchmark, at, also=tuple(states), part=part)


def _begins(span: Span, k: int) -> bool:
    """Nothing of its clause stands before it."""
    before = span.items[k - 1] if k > span.lo else None
    return before is None or before.kind == "sep" or "and" in before.concepts


def _both_searches(span: Span) -> Iterator[Candidate]:
    """ "primary and secondary complete"."""
    i, j = span.first("primary"), span.first("secondary")
    state = span.first("complete", "all_clear", "clear_word")
    between = span.items[i + 1 : j]
    if not i < j < state or any(item.kind == "sep" for item in span.items[i:state]):
        return
    if span.stance(i, j, state) == "said" and all(item.free or "search" in item.concepts for item in between):
        take = Take(span, i, j, state)
        take.terms("search", "both", "complete", "all_clear")
        beside(take, "benchmarks_beside")
        unit, place, time = take.unit(), take.place(), take.time()
        yield take.reading(*searches(unit, place, time))


def searches(unit: str | None, place: str | None, time: SaidTime | None) -> tuple[Command, Command]:
    """Both searches are complete."""
    one = Benchmark("primary_search_complete", unit, place, time)
    return one, Benchmark("secondary_search_complete", unit, place, time)


def _apart(span: Span, i: int, j: int) -> bool:
    """A pause stands between: the state belongs to something else."""
    between = span.items[min(i, j) + 1 : max(i, j)]
    return any(item.kind == "sep" or item.text in word_list("benchmarks_then") for item in between)


def report(
    span: Span,
    benchmark: BenchmarkName,
    at: tuple[int, ...],
    cost: float = 0,
    also: tuple[int, ...] = (),
    part: str | None = None,
) -> Iterator[Candidate]:
    """The report of a benchmark as it was said: logged, answered from the log, or not logged."""
    stance = span.stance(*at)
    if (stance == "asked" and span.has("elapsed", "how_long")) or _told_otherwise(span, benchmark, at):
        return
    take = Take(span, *at, cost=cost)
    if stance == "said" and (excepting := _excepting(span)):
        take.mark(*excepting)
        yield take.declining(reason("leaves_out"), Benchmark.intent)
        return
    unit = commander(take, at[0]) if benchmark == "command_established" else take.unit()
    place = _place(take, benchmark, at)
    take.cost += _doubt(span, benchmark, at[0], unit)
    beside(take, "benchmarks_beside")
    take.mark(*also, *(k for k in span.where("for_noise") if span.items[k].text in word_list("benchmarks_we_have")))
    place = ", ".join(filter(None, (part, place))) or None
    if stance == "said":
        yield _stamped(take, benchmark, at, unit, place)
    else:
        yield _unstamped(take, benchmark, at, Status(about=benchmark, unit=unit), stance, place)


def _doubt(span: Span, benchmark: BenchmarkName, at: int, unit: str | None) -> float:
    """ "Engine 9 you have water supply": it is sent to do it. "Engine 9 has the patient": out, or cared for?"""
    has_them = benchmark == "care_transferred" and text_at(span, at).endswith(
        tuple(word_list("benchmarks_having_them"))
    )
    transports = unit is not None and unit.split()[0] in word_list("benchmarks_transports")
    sent = text_at(span, at - 1) in word_list("benchmarks_you")
    return DOUBTFUL if sent or (has_them and not transports) else 0


def _unstamped(
    take: Take, benchmark: BenchmarkName, at: tuple[int, ...], asked: Status, stance: Stance, place: str | None
) -> Candidate:
    """Asked, denied, hoped or ordered."""
    items = take.span.items
    measured = ("min", "s", "hr", "percent")
    take.mark(*(i for i in take.open() if items[i].polarity_mark or items[i].unit in measured))
    if stance == "asked":
        beside(take, "benchmarks_asked_beside")
        take.free(*word_list("benchmarks_asked_with"))
        take.kind("time")
        return take.reading(asked, cost=HARDLY)
    if stance == "denied" and place is None and benchmark in take.span.context.stamped:
        return take.asking(_take_back(benchmark), Undo.intent, HARDLY)
    tale = stance == "hoped" and any("tale" in items[k].polarity for k in at)
    return take.declining(reason("told_tale") if tale else sentence(stance), Benchmark.intent, HARDLY)


def _told_otherwise(span: Span, benchmark: BenchmarkName, at: tuple[int, ...]) -> bool:
    """ "Knocked down, still pockets on three": what isn't is told by itself. "Still rolling in the attic"."""
    if benchmark == "knocked_down":
        after = range(at[-1] + 1, span.hi)
        return any(holds(span, "benchmarks_still", k, k + 1) and span.items[k - 1].kind == "sep" for k in after)
    return benchmark == "en_route" and span.items[at[0]].text == "rolling" and span.has("is:place", "is:floor")


def _place(take: Take, benchmark: BenchmarkName, at: tuple[int, ...]) -> str | None:
    """Where it was done; "truck 4 on scene, take the roof": where it is sent."""
    span = take.span
    of_a_fire = benchmark in word_list("benchmarks_crewed") and _of_a_fire(span)
    place = None if of_a_fire else take.place()
    if place is not None and any(k > at[-1] for k in span.where("assign")):
        take.cost += UNSURE
    place = place or on_floor(take)
    if place is None and benchmark == "on_scene":
        part_named(take, at[-1])  # "on scene at the bins": where the incident is
    return part_named(take, at[-1]) if place is None and benchmark in word_list("benchmarks_in_parts") else place


def _of_a_fire(span: Span) -> bool:
    """ "On scene, basement fire": the floor is the fire's, not where the unit arrived."""
    afire = (text_at(span, k + 1) in word_list("benchmarks_afire") for k in span.kinds("place"))
    return bool(span.kinds("floor")) or any(afire)


def _stamped(
    take: Take, benchmark: BenchmarkName, at: tuple[int, ...], unit: str | None, place: str | None
) -> Candidate:
    """The report with its time, crew, remark and name."""
    span = take.span
    if span.has("is:badtime"):
        take.kind("badtime")
        return take.declining(reason("no_time"), Benchmark.intent, LIKELY)
    if benchmark in word_list("benchmarks_go_on") and holds(span, "benchmarks_still", span.lo, at[-1]):
        return take.declining(reason("nothing_changed"), Benchmark.intent, HARDLY)
    time = take.time()
    over = time is not None or benchmark in word_list("benchmarks_past")
    was = not over and holds(span, "benchmarks_was", at[0] - 2, at[0] + 1)  # and isn't any more?
    sent = benchmark == "command_terminated" and holds(span, "benchmarks_report", at[-1] + 1)  # "send the report"?
    if was or sent or (benchmark == "available" and place is not None):  # "we're clear in here": the place is
        take.cost += DOUBTFUL
    staffed = benchmark in word_list("benchmarks_crewed")
    staffing = _staffing(take) if staffed else None
    address(take)
    remark = _patient(take) if benchmark == "patient_contact" else _carried(take) if staffed else None
    remark = _named_command(take, benchmark, at) or remark
    if span.items[at[0]].text.startswith("fire") and at[0] > span.lo and written_name(span, at[0] - 1):
        take.mark(at[0] - 1)  # "Ridgeline fire is under control"
    return take.reading(Benchmark(benchmark, unit, place, time, staffing, remark))


def _named_command(take: Take, benchmark: BenchmarkName, at: tuple[int, ...]) -> str | None:
    """ "Juniper command established"."""
    span = take.span
    name = command_name(span, at[0]) if benchmark in ("command_established", "command_terminated") else range(0)
    take.mark(*name, *(named_after(span, at[-1]) if benchmark == "command_terminated" else ()))
    named = name and benchmark == "command_established"
    return f"{' '.join(span.items[k].text for k in name)} command" if named else None


def _take_back(benchmark: BenchmarkName) -> Question:
    """What was reported before is denied now: is the report to be taken back?"""
    said = benchmark.replace("_", " ").capitalize()
    choices = (Choice("take it back", (Undo(benchmark=benchmark),)), Choice("leave it"))
    return Question(f"“{said}” is logged. Take it back?", choices)


def _excepting(span: Span) -> list[int]:
    """ "… except the basement", "everywhere but the basement": what is said there is what isn't done."""
    for i in range(span.lo, span.hi):
        two = f"{text_at(span, i)} {text_at(span, i + 1)}"
        but = text_at(span, i) in word_list("benchmarks_but") and i > span.lo and _only_names(span, i + 1)
        if but or not word_list("benchmarks_except").isdisjoint((text_at(span, i), two)):
            return list(range(i, span.hi))
    return []


def _only_names(span: Span, lo: int) -> bool:
    rest = [span.items[k] for k in range(lo, span.hi) if not span.items[k].free]
    return bool(rest) and all(item.kind in ("place", "floor") or "gas" in item.concepts for item in rest)


_CREW = 12
"""Most that ride on a company."""


def _staffing(take: Take) -> int | None:
    """ "with four", "with a crew of four"."""
    span = take.span
    for i in take.open():
        item = span.items[i]
        if item.kind == "num" and item.unit is None and item.form == "int" and 1 <= item.number <= _CREW:
            near = {text_at(span, k) for k in (*range(i - 3, i), i + 1)}
            if near & word_list("benchmarks_manned"):
                take.mark(i)
                return int(item.number)
    return None


def _patient(take: Take) -> str | None:
    """ "62 year old female"."""
    span = take.span
    for i in (i for i in span.kinds("num") if not take.taken(i) and holds(span, "benchmarks_years", i + 1, i + 2)):
        take.mark(*range(i, span.hi))
        return " ".join(item.text for item in span.items[i : span.hi] if item.kind != "sep")
    return None


def _carried(take: Take) -> str | None:
    """ "… with eighteen hundred gallons": what the company brings."""
    carried = [i for i in take.span.kinds("num") if take.span.items[i].unit == "gal" and not take.taken(i)]
    take.mark(*carried)
    return ", ".join(f"{take.span.items[i].number:g} gallons" for i in carried) or None


@reads("all_clear", "search", "clear_word", "both_searches")
def read_all_clear(span: Span) -> Iterable[Candidate]:
    """A bare "all clear" asks: primary or secondary."""
    at = _cleared(span)
    if span.has(*_SEARCHES) or not at:
        return
    stance = span.stance(*at)
    take = Take(span, *at)
    take.terms("search", "complete", "log", "both_searches", "both", "found_nobody")
    unit, place = take.unit(), take.place()
    if stance != "said":
        take.free(*(word_list("benchmarks_asked_with") if stance == "asked" else ()))
        asked = Status(about="primary_search_complete", unit=unit)
        yield _unstamped(take, "primary_search_complete", at, asked, stance, "")
    elif excepting := _excepting(span):
        take.mark(*excepting)
        yield take.declining(reason("leaves_out"), Benchmark.intent)
    elif span.has("both_searches"):
        yield take.reading(*searches(unit, place, take.time()))
    else:
        yield _which_search(take, *searches(unit, place, take.time()))


def _cleared(span: Span) -> tuple[int, ...]:
    """Where it stands: all clear, the search complete, a place that is clear and nothing else."""
    if (i := span.first("all_clear")) >= 0:
        return (i,)
    i, j = span.first("search", "both_searches"), span.first("complete")
    if i >= 0 and j >= 0:
        return i, j
    said = [span.items[k] for k in span.content()]
    place = all(item.kind in ("place", "floor") or "clear_word" in item.concepts for item in said)
    return (span.first("clear_word"),) if place and span.has("is:place", "is:floor") else ()


def _which_search(take: Take, primary: Command, secondary: Command) -> Candidate:
    """A part of the search that was started, and is not over; else asked."""
    stamped = {*take.span.context.stamped}
    started = "primary_search_started" in stamped and not stamped & word_list("benchmarks_searched")
    if started and isinstance(primary, Benchmark) and primary.place is not None:
        take.notes.append("the primary search, the one that was started")
        return take.reading(primary)
    choices = (Choice("primary", (primary,)), Choice("secondary", (secondary,)))
    return take.asking(Question("All clear on the primary or the secondary search?", choices), Benchmark.intent)
