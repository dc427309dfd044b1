"""Decides between the rules' reading and what the network makes of every proposal.

Where the rules take a reading for certain, nothing is asked of the network. Where they ask or don't understand, a
proposal is taken when it is surer than a fitted bound and every number rests on the rules; a likely one is asked about.
Where they take a reading narrowly and the network is sure that it is another, it is asked about. What the rules refuse
with a reason stays refused, and an alarm is never held back.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from grammar import commands as c
from grammar.commands import Choice, Command, Context, Question, Reading
from grammar.describe import several
from grammar.judge.features import Scored, scored
from grammar.judge.network import DATA, Network
from grammar.judge.rewriting import Considered
from grammar.lexicon import sentence
from grammar.splitting import Part

_ALARMS = (c.Mayday, c.Emergency, c.Evacuate)
_TALK = (c.Confirm, c.Correction, c.Undo, c.Join, c.SetRole)
"""What rests on what was said before, or on who says it: the rules alone read it."""
FEATURES = (
    "one",
    "quality",
    "dearer",
    "right",
    "lead",
    "nothing",
    "heads",
    "beyond",
    "least",
    "logs",
    "declined",
    "taken",
    "own",
)
_CALCULATED = (
    c.PumpPressure, c.FlowAtPressure, c.LongestLay, c.TipForFlow, c.Nozzle, c.SupplyPressure, c.PumpStatus, c.WhatIf,
    c.TankTime, c.NeededFlow, c.Shuttle, c.Draft, c.Fitting, c.Elapsed, c.Status, c.AirTime, c.OxygenTime, c.Help,
    c.Repeat, c.PumpChart,
)  # fmt: skip
"""Commands that log and start nothing."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What `python -m tests.judge fit` fitted: a weight a feature, and the bounds."""

    weights: tuple[float, ...]
    """Of a proposal where the rules ask or don't understand…"""
    taken: tuple[float, ...]
    """…and where they take a reading."""
    take: float
    """Least probability at which a reading that the rules doubt is taken."""
    logs: float
    """The same for one that logs or starts something."""
    alone: float
    """The same for one that only the tagger has."""
    ask: float
    """Least probability at which one that they don't understand is asked about."""
    doubt: float
    """A reading that the rules take is asked about below this."""
    sure: float
    """The network isn't asked where the rules' confidence is at least this."""


@cache
def settled(path: Path = DATA / "settled.json") -> Settled:
    """The fitted numbers."""
    plain = json.loads(path.read_text(encoding="utf-8"))
    return Settled(
        tuple(plain["weights"][name] for name in FEATURES),
        tuple(plain["taken"][name] for name in FEATURES),
        *(plain[n] for n in ("take", "logs", "alone", "ask", "doubt", "sure")),
    )


def features(one: Scored, reading: Reading) -> tuple[float, ...]:
    """The numbers that are weighed, in the order of FEATURES."""
    right, lead, nothing = (min(max(x, -9.0), 9.0) for x in (one.right, one.lead, one.nothing))
    declined = not reading.commands and reading.question is None
    return (
        1.0, max(one.quality, -3.0), min(one.dearer, 1.0), right, lead, nothing, one.heads, one.beyond,
        min(right, lead, nothing, one.heads), float(logs(one.commands)), float(declined), float(one.taken),
        float(one.own),
    )  # fmt: skip


def probability(one: Scored, reading: Reading, by: Settled) -> float:
    """How likely the proposal is what was meant."""
    weights = by.taken if reading.commands else by.weights
    z = sum(w * x for w, x in zip(weights, features(one, reading), strict=True))
    return 1 / (1 + math.exp(-min(max(z, -30.0), 30.0)))


def consulted(reading: Reading, context: Context, by: Settled, unsure: bool) -> bool:
    """The network can change what comes of this."""
    if reading.ignored or context.asked is not None or len(reading.text.split()) > 60:
        return False
    if reading.commands:
        held = any(isinstance(command, (*_ALARMS, *_TALK, c.Report)) for command in reading.commands)
        return reading.confidence < by.sure and not held and not context.last
    return unsure


def settle(
    reading: Reading,
    found: Sequence[tuple[Part, str]],
    context: Context,
    network: Network,
    unsure: bool,
    by_rules: Considered,
) -> Reading:
    """The reading as both readers have it."""
    by = settled()
    if not consulted(reading, context, by, unsure) or _on_purpose(reading, found):
        return reading
    return weighed(reading, scored(context, reading, found, network, by_rules), context, by)


def _on_purpose(reading: Reading, found: Sequence[tuple[Part, str]]) -> bool:
    """The rules ask because a part is missing or may mean two things, not because they read it badly."""
    return reading.question is not None and bool(found) and any(piece.question for piece in found[0][0].pieces)


def logs(commands: Sequence[Command]) -> bool:
    """Something of it is logged or started."""
    return any(not isinstance(command, _CALCULATED) for command in commands)


def weighed(reading: Reading, listed: Sequence[Scored], context: Context, by: Settled) -> Reading:
    """What comes of the scored proposals."""
    ranked = sorted(((probability(one, reading, by), one) for one in listed), key=lambda pair: -pair[0])
    if reading.commands:
        return _doubted(reading, ranked, context, by)
    if not ranked or any(isinstance(command, (*_TALK, *_ALARMS)) for command in ranked[0][1].commands):
        return reading
    p, best = ranked[0]
    least = max(by.logs if logs(best.commands) else by.take, by.alone if best.own else 0.0)
    if p >= least and best.numbers and not two_ways(best, listed):
        return Reading(reading.text, best.commands, round(p, 4), intent=best.commands[0].intent, assumed=best.notes)
    if p >= by.ask and reading.question is None:
        return _asked(reading, [best.commands], context, p)
    if reading.question is not None and len(reading.question.choices) > 1 and reading.question.fills is None:
        return _reordered(reading, [one.commands for _, one in ranked])
    return reading


def two_ways(best: Scored, listed: Sequence[Scored]) -> bool:
    """Its numbers were read in another way too that is not much less likely."""
    return any(
        one.shape == best.shape and one.commands != best.commands and one.words != best.words
        and one.right > best.right - _NEAR and one.dearer < best.dearer + _NEAR_COST
        for one in listed
    )  # fmt: skip


_NEAR, _NEAR_COST = 6.0, 0.8


def _doubted(reading: Reading, ranked: list[tuple[float, Scored]], context: Context, by: Settled) -> Reading:
    """A reading that the rules took, asked about where the network doesn't believe it."""
    mine = next(((p, one) for p, one in ranked if one.taken), None)
    if mine is None or mine[0] >= by.doubt:
        return reading
    others = [one.commands for p, one in ranked if not one.taken and p > mine[0]][:1]
    return _asked(reading, [*others, reading.commands], context, mine[0])


def _asked(reading: Reading, listed: list[tuple[Command, ...]], context: Context, p: float) -> Reading:
    labels = [several(commands, context.wording) for commands in listed]
    if len(listed) > 1 and len(set(labels)) == len(labels):
        choices = [Choice(label, commands) for label, commands in zip(labels, listed, strict=True)]
        question = Question(sentence("which"), (*choices, Choice(sentence("none_of_these"))))
    else:
        question = Question(
            sentence("did_you_mean", label=labels[-1], unread=""), (Choice("yes", listed[-1]), Choice("no"))
        )
    return Reading(
        reading.text, confidence=round(p, 4), question=question, rivals=reading.rivals, intent=listed[0][0].intent
    )


def _reordered(reading: Reading, ranked: list[tuple[Command, ...]]) -> Reading:
    """The choices of a question, the likeliest first; what stands for none of them stays last."""
    from msgspec.structs import replace

    assert reading.question is not None
    place = {commands: k for k, commands in enumerate(ranked)}
    real = [choice for choice in reading.question.choices if choice.commands in place]
    if len(real) < 2:
        return reading
    real.sort(key=lambda choice: place[choice.commands])
    rest = [choice for choice in reading.question.choices if choice.commands not in place]
    return replace(reading, question=replace(reading.question, choices=(*real, *rest)))
