"""Minutes of a medical oxygen cylinder: (gauge − 200) × factor / flow, rounded down; the factor is named, since
letters differ abroad.

Source: US oxygen-cylinder duration formula (several training sources): D 0.16, E 0.28, M 1.56, G 2.41, H/K 3.14
L/psi, 200 psi residual. A cylinder called by the litres of water it holds gives those at each bar (Boyle's law).
"""

from __future__ import annotations

import math

from grammar.commands import Choice, OxygenTime, Question
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import OxygenNoted
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.metric import PSI_PER_KPA
from handlers.scene import Scene
from handlers.words import Words, plain

BY_WATER = {f"{litres} L": litres / (100 * PSI_PER_KPA) for litres in (2, 3, 5, 10, 15, 20, 30, 47, 50)}
"""L/psi of cylinders called by the water they hold: so many litres a bar."""


class OxygenAnswer(Answer, frozen=True):
    """Answer of `oxygen_time`."""

    minutes: float
    factor: float


def oxygen_minutes(gauge_psi: float, factor: float, flow_lpm: float, residual_psi: float) -> float:
    """Minutes until the gauge falls to the residual; 0 when it is there already."""
    return max(0.0, (gauge_psi - residual_psi) * factor / flow_lpm)


@handle.register
def oxygen_time(command: OxygenTime, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """How long an oxygen cylinder lasts at a flow."""
    words = Words.of(rig)
    if command.cylinder is None:
        choices = tuple(
            Choice(
                label=letter,
                commands=(OxygenTime(cylinder=letter, gauge_psi=command.gauge_psi, flow_lpm=command.flow_lpm),),
            )
            for letter in (*(BY_WATER if words.metric else ()), *rig.oxygen.factors)
        )
        return Outcome(
            intent=command.intent,
            question=Question(text="Which oxygen cylinder?", choices=choices, fills=command, slot="cylinder"),
        )
    letter = command.cylinder.upper()
    factors = {**BY_WATER, **rig.oxygen.factors}
    if letter not in factors:
        raise Refusal(f"No factor for a {letter} cylinder in the rig file; it knows {', '.join(rig.oxygen.factors)}.")
    if command.gauge_psi is None:
        return Outcome(
            intent=command.intent,
            question=Question(text="What does the oxygen gauge read?", fills=command, slot="gauge_psi"),
        )
    if command.flow_lpm is None:
        return Outcome(
            intent=command.intent,
            question=Question(text="At how many litres a minute?", fills=command, slot="flow_lpm"),
        )
    if command.flow_lpm <= 0:
        raise Refusal("The oxygen flow must be above zero.")
    if command.gauge_psi < 0:
        raise Refusal("A gauge can't read below zero: read it again.")
    factor, residual = factors[letter], rig.oxygen.change_below_psi
    per_unit = factor / words.gauge_value(1.0)
    left = oxygen_minutes(command.gauge_psi, factor, command.flow_lpm, residual)
    shown = math.floor(left + 1e-9)
    cautions = [] if command.gauge_psi > residual else [f"At or below {words.gauge(residual)}: change it."]
    return Outcome(
        intent=command.intent,
        lead=f"About {shown} min of oxygen, by calculation." if left else "Change the oxygen cylinder.",
        how=(
            f"({words.gauge_bare(command.gauge_psi)} − {words.gauge_bare(residual)}) × {plain(per_unit)} ({letter}) "
            f"÷ {command.flow_lpm:g} L/min.",
        ),
        spoken=f"Oxygen about {shown} minutes.",
        answer=OxygenAnswer(minutes=left, factor=factor),
        assumed=(
            f"{letter} cylinder: factor {plain(per_unit)} L/{words.gauge_unit}, {words.gauge(residual)} kept "
            f"({rig.source('oxygen')})",
        ),
        cautions=tuple(cautions),
        events=(
            (
                OxygenNoted(
                    minutes=left, factor=factor, gauge_psi=command.gauge_psi, flow_lpm=command.flow_lpm, cylinder=letter
                ),
            )
            if scene.open
            else ()
        ),
    )
