"""Counts what the rules alone, each use of the network alone, and all together make of sentences never trained on."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any

from grammar.judge.settle import FEATURES, Settled, consulted, weighed
from grammar.verdict import unsure
from tests.judge.fit import fit
from tests.judge.judged import Judged, verdict

WITHOUT = {
    "together": (),
    "verifier alone": ("heads", "beyond", "least", "own"),
    "tagger alone": ("right", "lead", "nothing", "least"),
}
"""Features left out."""
VERDICTS = ("right", "asked", "declined", "wrong")


def settled_of(found: dict[str, Any]) -> Settled:
    """The numbers of settled.json as they are used."""
    bounds = (found[name] for name in ("take", "logs", "alone", "ask", "doubt", "sure"))
    weights = (tuple(found[of].get(name, 0.0) for name in FEATURES) for of in ("weights", "taken"))
    return Settled(*weights, *bounds)


def outcome(each: Judged, by: Settled, own: bool) -> str:
    """The verdict of a message as both readers have it."""
    if not consulted(each.reading, each.sentence.context, by, unsure(each.reading)):
        return each.rules
    listed = [one for _, one in each.proposals if own or not one.own]
    reading = weighed(each.reading, listed, each.sentence.context, by)
    return each.rules if reading is each.reading else verdict(each.sentence, reading)


def holds(each: Judged, by: Settled) -> bool | None:
    """Of a message that is asked about: whether a choice of the question is the right one."""
    reading = each.reading
    if consulted(reading, each.sentence.context, by, unsure(reading)):
        reading = weighed(reading, [one for _, one in each.proposals], each.sentence.context, by)
    if reading.question is None:
        return None
    right = [one.commands for is_right, one in each.proposals if is_right]
    return any(choice.commands in right for choice in reading.question.choices)


def table(fitted_on: Sequence[Judged], measured: Sequence[Judged]) -> list[str]:
    """A row a set and a way of deciding."""
    rows = []
    by_set: dict[str, list[Judged]] = defaultdict(list)
    for each in measured:
        by_set[each.sentence.of].append(each)
    ways = {name: settled_of(fit(list(fitted_on), without=without)) for name, without in WITHOUT.items()}
    for of, listed in by_set.items():
        counts = {"rules alone": Counter(each.rules for each in listed)}
        for name, by in ways.items():
            own = name != "verifier alone"
            counts[name] = Counter(outcome(each, by, own) for each in listed)
        for name, count in counts.items():
            told = "  ".join(f"{v} {count[v]:4} ({100 * count[v] / len(listed):4.1f} %)" for v in VERDICTS)
            rows.append(f"{of:22} {name:15} {told}")
        held = [h for each in listed if (h := holds(each, ways["together"])) is not None]
        rows.append(f"{of:22} questions that hold the right choice: {sum(held)} of {len(held)}")
    return rows
