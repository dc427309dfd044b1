"""Reads the tank: how long it lasts, and what its gauge shows (the rest is declared in language/water.toml)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from grammar.commands import Choice, Question, TankTime, WaterSource
from grammar.costs import DOUBTFUL, FAIR, LIKELY, SURE, UNSURE, WEAK
from grammar.frames import then
from grammar.items import Item
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.flows import plain
from grammar.readers.layout import lays_without, whichever
from grammar.saying import Sayer
from grammar.slots import fill, slots
from grammar.vocabulary import word_list

_IN_THE_TANK = frozenset(("gal", "l", "percent"))
_MOST_LINES = 8


def _tank_asked(span: Span) -> bool:
    """ "How long …", "half a tank and crosslay 1 open, what have I got"."""
    if span.has("tank_time", "water_left"):
        return True
    named = span.has("tank", "on_tank", "last_word", "water_word", "is:num", "is:line", "is:family")
    told = span.has("tank") or any(_in_the_tank(span.items[i]) for i in range(span.lo, span.hi))
    return (span.has("how_long") and named) or (span.has("what_then") and told)


def _in_the_tank(item: Item) -> bool:
    return item.unit in _IN_THE_TANK or not item.concepts.isdisjoint(word_list("tank_shares"))


@reads("tank_time", "how_long", "water_left", "last_word", "tank", "what_then")
def read_tank_time(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last", "how long at 300 gpm", "500 gallons at 150 gpm how long"."""
    asked = _tank_asked(span)
    numbers = [span.items[i] for i in span.kinds("num")]
    tank_at = span.has("tank") and any(n.unit == "gpm" or (n.unit is None and n.number >= 50) for n in numbers)
    breathed = span.has(*word_list("tank_of_air")) and not span.has("tank_time", "water_left", "on_tank")
    if not (asked or tank_at) or breathed or span.has(*word_list("tank_unless")):
        return
    take = Take(span, *span.where(*word_list("tank_asked")))
    each = _of_lines(take)
    flow = each if each is not None else take.number("gpm", "lpm")
    told = _told(take)
    whole = flow is not None and (bool(told) or each is not None)
    if span.has("is:line", "is:family", "crosslay") or (span.has("line") and numbers and not whole):
        yield from _with_lays(span)
        return
    if flow is None and (at := span.first("flowing")) >= 0:
        flow = take.number_near(at, "gpm", None, low=10, high=5000)
    bare = take.number("gpm", None, low=20, high=5000) if flow is None and not span.has("flowing") else None
    take.terms(*word_list("tank_around"), "gauge_word", "dropped_to")
    if bare is not None:
        yield _at_bare(take, bare, told, asked)
        return
    at_gallons = flow is None and "tank_gal" in told
    if at_gallons and any(item.text in word_list("tested_at") for item in span.items[span.lo : span.hi]):
        take.cost += DOUBTFUL  # "at 600 liters": a flow, or what is in the tank?
    if flow is not None or (asked and (not at_gallons or span.has("how_long", "tank_time"))):
        yield _used(take, replace(TankTime(flow), **told), SURE if asked else WEAK)


def _told(take: Take) -> dict[str, float]:
    """What is in the tank, as gallons or a share of it: "with half a tank"."""
    spent = _spent(take)
    said = fill({"tank_gal": slots()["tank_gallons"], "tank_fraction": slots()["tank_share"]}, take)
    for term, share in slots()["tank_level"].choices.items():
        if take.terms(*share):
            said.setdefault("tank_fraction", float(term))
    if spent and "tank_fraction" in said and said["tank_fraction"]:
        said["tank_fraction"] = 1 - said["tank_fraction"]
    return said


def _at_bare(take: Take, flow: float, told: dict[str, float], asked: bool) -> Candidate:
    """ "How long at 150", "tank at 300": a flow where the tank is asked about, else asked which."""
    span, say = take.span, Sayer(take.span.context.wording)
    if span.has("tank_time") or (span.has("tank") and asked) or told:
        return _used(take, replace(TankTime(flow), **told), FAIR)
    gpm = say.gpm(flow)
    if asked:
        choices = (Choice(sentence("yes"), (TankTime(flow),)), Choice(sentence("no")))
        return take.asking(Question(sentence("tank_at_flow", flow=gpm), choices), TankTime.intent, WEAK)
    choices = (
        Choice(sentence("flow_flowing", flow=gpm), (TankTime(flow),)),
        Choice(sentence("gallons_left", gallons=say.gal(flow)), (WaterSource(tank_gal=flow),)),
    )
    question = Question(sentence("flow_or_gallons", flow=gpm, gallons=say.gal(flow)), choices)
    return take.asking(question, TankTime.intent, FAIR)


def _of_lines(take: Take) -> float | None:
    """ "A 95 gallon line", "two 50 gpm lines": what they flow together a minute."""
    items, span = take.span.items, take.span
    for i in span.kinds("num"):
        behind = items[i + 1].concepts if i + 1 < span.hi else frozenset[str]()
        if items[i].unit not in ("gpm", "lpm", "gal", "l") or behind.isdisjoint(word_list("tank_lines")):
            continue
        before = items[i - 1] if i > span.lo else items[i]
        counted = before.kind == "num" and before.unit is None and 1 <= before.number <= _MOST_LINES
        take.mark(i, i + 1, i - 1 if counted else -1)
        return (in_unit(items[i], "gpm", "lpm", "gal", "l") or 0.0) * (before.number if counted else 1)
    return None


def _used(take: Take, asked: TankTime, cost: float) -> Candidate:
    """The question; in an incident, what was told of the tank before it is a report of its gauge, too."""
    span = take.span
    told = [i for i in range(span.lo, span.hi) if take.taken(i) and _in_the_tank(span.items[i])]
    question = span.first(*word_list("tank_asked"))
    if not span.context.incident_open or not told or told[0] > question or span.stance(*told) != "said":
        return take.reading(asked, cost=cost)
    gauge = WaterSource(tank_fraction=asked.tank_fraction, tank_gal=asked.tank_gal)
    return take.reading(gauge, replace(asked, tank_fraction=None, tank_gal=None), cost=cost)


def _with_lays(span: Span) -> Iterator[Candidate]:
    tank = Take(span)
    told = _told(tank)
    without = lays_without(span, *(i for i in range(span.lo, span.hi) if tank.taken(i)))  # the tank's are no lay's
    for lay in map(whichever, without):
        take = Take(span, *span.where(*word_list("tank_asked"), "last_word", "tank"))
        take.used |= lay.used | tank.used
        take.terms(*word_list("tank_around"), "gauge_word", "dropped_to", "charged_state", "at")
        lines = [line for one in lay.lays for line in one.lines]
        named = all(line.name or line.nozzle.flow_gpm or (line.hose and line.hose[0].hose_in) for line in lines)
        if not plain(lay._replace(missing=None)) or lay.total_or_each or not named:
            continue
        at = [i for i in span.kinds("line", "family", "num") if span.items[i].unit not in _IN_THE_TANK]
        later = (
            not told
            and not span.has("cond", "on_tank", "tank")
            and span.first("tank_time", "how_long") > min([*at, span.hi])
        )  # told: then all is one question
        yield _used(take, replace(TankTime(lays=lay.lays), **told), lay.cost + (UNSURE + LIKELY if later else LIKELY))


@reads("tank", "water_word", "ask_flow")
def read_bare_tank(span: Span) -> Iterable[Candidate]:
    """ "Tank?", "water?", "how much water": how it stands."""
    said = " ".join(span.items[i].text for i in span.content())
    asked = said in word_list("tank_bare_asked") and re.search(word_pattern(), span.said.casefold())
    if asked or said in word_list("tank_how_much"):
        yield Take(span, *span.content()).reading(TankTime(), cost=FAIR)


def word_pattern() -> str:
    """One of the bare words with a question mark; "tank" by itself asks too."""
    asked, alone = "|".join(word_list("tank_bare_asked")), "|".join(word_list("tank_alone"))
    return rf"(?:^|[,.;] *)(?:the |and )*(?:{asked}) *\?|^(?:{alone})[.!]?$"


@reads("is:num")
def read_gallons_at(span: Span) -> Iterable[Candidate]:
    """ "a thousand gallons at two hundred gallons a minute", "500 gallons at 150"."""
    numbers = span.kinds("num")
    if len(numbers) != 2 or span.has("is:unit", "is:line", "shuttle", "tender", "how_long", "tank_time"):
        return
    take = Take(span, *numbers)
    take.terms(*word_list("tank_around"), "at")
    one, two = sorted((span.items[i] for i in numbers), key=lambda item: item.unit not in ("gal", "l"))
    bare = two.unit is None and one.start < two.start and span.items[numbers[1] - 1].text in word_list("tested_at")
    if one.unit in ("gal", "l") and (two.unit in ("gpm", "lpm") or bare):
        yield take.reading(TankTime(in_unit(two, "gpm", None), in_unit(one, "gal")), cost=WEAK if bare else LIKELY)


# ------------------------------------------------------------------------------------------------------------ its gauge


@then
def tank_gauge(take: Take, command: WaterSource) -> Candidate | None:
    """What is left; what was used says it only as a share."""
    span, share, gallons = take.span, command.tank_fraction, command.tank_gal
    if not span.context.incident_open and any(
        "how_long" in i.concepts or "tank_time" in i.concepts for i in span.items
    ):
        return None  # "half a tank, how long at 150 gpm": nothing is logged, it is used in the question
    if gallons is not None and span.has("flowing", "shuttle", "tender"):
        return None
    if gallons is not None and gallons < 0:
        return take.declining(sentence("less_than_nothing"), command.intent, LIKELY)
    spent = _spent(take)
    if spent and gallons is not None:
        said = Sayer(span.context.wording).gal(gallons)
        return take.asking(
            Question(sentence("how_much_left", said=said), (), WaterSource(), "tank_gal"), command.intent
        )
    if spent and share:
        command = replace(command, tank_fraction=1 - share)
    return take.reading(command, cost=_of_what(take))


def _spent(take: Take) -> bool:
    """Whether what is told of is no longer in the tank: "three quarters of the tank's gone", "used half the tank"."""
    items, gone = take.span.items, word_list("tank_spent")
    spent = [i for i in range(take.span.lo, take.span.hi) if items[i].text in gone]
    ends = tuple(f" {word}" for word in gone)
    take.mark(*spent)
    return bool(spent) or any(item.text.endswith(ends) for item in items[take.span.lo : take.span.hi])


def _of_what(take: Take) -> float:
    """What it costs that no tank was named: "40 percent left" may be of anything, "250 gallons" aboard or gone."""
    span = take.span
    percent = any(item.unit == "percent" for item in span.items[span.lo : span.hi])
    gallons = any(item.unit in ("gal", "l") for item in span.items[span.lo : span.hi])
    if percent and not any(
        word in item.text.split() for item in span.items[span.lo : span.hi] for word in word_list("tank_word")
    ):
        return UNSURE
    return WEAK if gallons and not span.has("tank", "last_word", "gauge_word") else SURE
