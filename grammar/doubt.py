"""What a reading may leave unread, and how much doubt that casts on it.

A reading's confidence is e^-cost, and it is taken from 0.8 on: words that together cost 0.22 turn an answer into a
question. What a word costs depends on what it is and on what hangs on the reading: a lay told with its hose is carried
by its numbers, a report or a bare line's name by its words. The words of `language/around.toml` are told apart there.
`python -m tests.grammar.doubts` measures each cost against the wording bank.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, get_args

from grammar import commands as c
from grammar.costs import COSTS, SLIPPED, SURE
from grammar.items import POLARITY, Item
from grammar.lexicon import by_language, language
from grammar.vocabulary import vocabulary, word_list

Bearing = Literal[
    "carried", "named", "report", "road", "changes", "change", "source", "expected", "asked", "exact", "other"
]
"""What hangs on words beside a reading: a lay that its numbers carry, a line by its bare name, a report, one of the
road, a change of what is logged or runs, of a line, of the water source, a supply to come, an answer from the log,
a command that a single word makes another, anything else."""


@by_language
def around(name: str) -> frozenset[str]:
    """A list of words around what is said: idle, scenery, passing, turning."""
    return frozenset(language().get("around", {}).get(name, ()))


_IDLE: dict[Bearing, tuple[str, ...]] = {
    "carried": ("idle", "scenery"),
    "report": ("idle", "scenery", "passing", "having", "who"),
    "road": ("idle", "passing", "having", "who", "stops"),
    "changes": ("idle", "having"),
    "change": ("idle", "having", "changing"),
    "source": ("idle", "having", "waters"),
    "named": ("idle", "scenery", "asking"),
    "asked": ("idle", "passing"),
    "exact": ("calls",),
}


@by_language
def _idle_words() -> dict[Bearing, frozenset[str]]:
    return {bears: frozenset().union(*map(around, _IDLE.get(bears, ("idle",)))) for bears in get_args(Bearing)}


def idle(item: Item, bears: Bearing = "other") -> bool:
    """It changes nothing of what is said beside it."""
    if item.text not in _idle_words()[bears] or item.slip >= SLIPPED:
        return False
    return item.kind in ("word", "term") and not heard_as_another(item)


OWN = "own"
"""The form of an item that names the speaker's own company."""


def heard_as_another(item: Item) -> bool:
    """What thumbs and recognisers make of a word of the trade: it may be that word."""
    return item.text in vocabulary().confusions


def names_a_subject(items: Iterable[Item]) -> bool:
    """One of them is what is reported of: a word left unread beside it may be the report ("command's dissolved")."""
    return any(item.text in around("subjects") for item in items)


def turns(item: Item) -> bool:
    """It turns what is said beside it into something else."""
    return not around("turning").isdisjoint((item.text, *item.text.split()))


def bearing(commands: Sequence[c.Command]) -> Bearing:
    """What hangs on the words that a reading leaves unread."""
    kinds = {type(command) for command in commands}
    if not kinds:
        return "other"
    if not kinds.isdisjoint(_EXACT):
        return "exact"
    if kinds <= {c.Benchmark, c.Strategy}:
        return "road" if any(_of_the_road(command) for command in commands) else "report"
    if not kinds.isdisjoint(CHANGES):
        return "change" if kinds == {c.LineChange} else "source" if kinds == {c.WaterSource} else "changes"
    if all(map(_carried, commands)):
        return "carried"
    if all(isinstance(command, c.SupplyExpected) and command.minutes is not None for command in commands):
        return "expected"
    return "named" if kinds == {c.PumpPressure} else "asked" if kinds <= {c.Status, c.Elapsed} else "other"


def _of_the_road(command: c.Command) -> bool:
    return isinstance(command, c.Benchmark) and command.benchmark in OF_THE_ROAD


OF_THE_ROAD = ("en_route", "returning", "available", "in_quarters")
"""Benchmarks that say where a unit is on its way: what place is named beside them is part of it."""
_EXACT = frozenset((c.Par, c.Undo, c.Request, c.ShowPicture))


_WORKED_OUT = (
    c.FlowAtPressure,
    c.SupplyPressure,
    c.LongestLay,
    c.TipForFlow,
    c.Nozzle,
    c.Hydrant,
    c.HydrantFlow,
    c.Shuttle,
    c.Draft,
    c.OxygenTime,
    c.NeededFlow,
)


def _carried(command: c.Command) -> bool:
    """Its numbers carry the answer, and it logs nothing: a lay told with its hose, a flow, a gauge; the tank's time.

    Of several lines a word may say how they hang together: it isn't the numbers alone.
    """
    if isinstance(command, c.PumpPressure | c.FlowAtPressure):
        told = [line for lay in command.lays for line in lay.lines]
        alone = len(told) == 1 and not command.lays[0].feed
        return alone and any(h.length_ft is not None for h in told[0].hose)
    if isinstance(command, c.SupplyPressure):
        return any(hose.length_ft is not None for hose in command.hose)
    return isinstance(command, c.TankTime) or (isinstance(command, _WORKED_OUT) and _numbers(command))


def _numbers(command: c.Command) -> bool:
    values = (getattr(command, field) for field in command.__struct_fields__)
    return any(isinstance(value, float | c.SaidNozzle | c.SaidLay) for value in values)


def doubt(item: Item, bears: Bearing = "other") -> float:
    """What an item left unread costs. A number is never dropped in silence: it costs more than an answer may."""
    if item.doubts is None:
        item.doubts = {}
    if bears not in item.doubts:
        item.doubts[bears] = _doubt(item, bears)
    return item.doubts[bears]


def _doubt(item: Item, bears: Bearing) -> float:
    if item.kind == "sep":
        return SURE
    if item.kind not in ("word", "term"):
        own = item.form == OWN and bears != "exact"
        return COSTS.idle if own else _OF_ITS_KIND.get(item.kind, COSTS.name)
    if "not" in item.concepts:
        return COSTS.denial if item.form != "answers" else COSTS.answered_no
    if item.polarity_mark and not item.free:
        return COSTS.carried if _wishes(item, bears) else COSTS.mark
    if item.free:
        return COSTS.filler if item.slip >= SLIPPED else SURE
    return _of_a_word(item, bears)


def _of_a_word(item: Item, bears: Bearing) -> float:
    """What a word or a term costs that says something."""
    if not item.concepts.isdisjoint(word_list("strong")):
        return COSTS.strong
    if idle(item, bears):
        return COSTS.idle
    carried = bears == "carried" or (bears == "expected" and item.kind == "word")
    if carried and _beside_numbers(item):
        return COSTS.carried if item.kind == "word" else COSTS.carried_term
    if any(concept.startswith("app:") for concept in item.concepts):
        return COSTS.name  # "engine" without its number
    if item.kind == "term":
        return COSTS.term
    return COSTS.turning if turns(item) else COSTS.plain if item.form == "plain" else COSTS.strange


def _wishes(item: Item, bears: Bearing) -> bool:
    """It only wishes for the answer, or supposes what is asked: "looking for", "should … be at"."""
    answer = bears == "carried" or (bears == "named" and "ask" in item.polarity)
    return answer and item.concepts & POLARITY <= {"hope", "order", "cond"} and not turns(item)


def _beside_numbers(item: Item) -> bool:
    """An ordinary word or a term that no lay is made of: it is no misspelt part of one, and turns nothing."""
    if turns(item) or heard_as_another(item) or not _units().isdisjoint(item.text.split()):
        return False
    return (
        item.form == "plain"
        if item.kind == "word"
        else item.concepts.isdisjoint(word_list("of_a_lay") | around("structure"))
    )


@by_language
def _units() -> frozenset[str]:
    """Words that are units: "2 in with …" is no "in with"."""
    return frozenset(way for _, ways in vocabulary().concepts.beginning("unit:") for way in ways)


_OF_ITS_KIND = {
    "num": COSTS.number,
    "person": COSTS.person,
    "street": COSTS.street,
    "badtime": COSTS.bad_time,
    "time": COSTS.time,
}


CHANGES = (
    c.Benchmark,
    c.LineOn,
    c.LineOff,
    c.LineChange,
    c.WaterSource,
    c.Evacuate,
    c.Strategy,
    c.Emergency,
    c.Arrest,
    c.Entry,
    c.Exit,
    c.ComingOut,
    c.Par,
    c.Undo,
    c.SetRole,
    c.ReminderChange,
    c.Intake,
)
"""Commands that change what is logged or runs: a word that they can't explain weighs more."""
