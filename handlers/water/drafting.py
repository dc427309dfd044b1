"""Drafting: how high a pump can lift water, by altitude and water temperature, and what a lift costs in capacity."""

from __future__ import annotations

import math

import msgspec
from msgspec import UNSET, UnsetType

from grammar.commands import Draft
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping import hydraulics
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.words import Words, plain

USUAL_WATER_F = 60.0
"""The two-thirds rule is taken to hold for water of this temperature."""

# --- formulas


def head_ft(psi: float) -> float:
    """Feet of water a pressure holds up: 2.304·p (NWCG Firefighter Math 3.5; = 1/0.434)."""
    return 2.304 * psi


def atmosphere_psi(altitude_ft: float) -> float:
    """Air pressure by altitude: 14.696·(1 − 6.8756e-6·h)^5.2559, the standard atmosphere (ICAO / ISO 2533)."""
    return float(14.696 * (1 - 6.8756e-6 * altitude_ft) ** 5.2559)


def vapour_psi(water_f: float) -> float:
    """Vapour pressure of water, 32–212 °F: Buck's equation, 0.61121·e^((18.678 − t/234.5)·t/(257.14 + t)) kPa, t in °C.

    A. L. Buck, J. Appl. Meteorology 20 (1981) 1527, coefficients of 1996 (memory).
    """
    celsius = (water_f - 32) / 1.8
    return 0.61121 * math.exp((18.678 - celsius / 234.5) * celsius / (257.14 + celsius)) / 6.894757293168361


def theoretical_lift_ft(altitude_ft: float) -> float:
    """The column that the air pressure holds up: 33.9 ft at sea level."""
    return head_ft(atmosphere_psi(altitude_ft))


def attainable_lift_ft(altitude_ft: float, water_f: float, share: float) -> float:
    """Two thirds of the theoretical lift (NWCG Firefighter Math 3.5), less what the vapour of warm water takes.

    22.6 ft at sea level with water of 60 °F; only what is warmer takes more.
    """
    warmer = head_ft(vapour_psi(water_f) - vapour_psi(USUAL_WATER_F))
    return share * theoretical_lift_ft(altitude_ft) - max(0.0, warmer)


def suction_loss_ft(
    coefficient: float, flow_gpm: float, suction_ft: float, strainer_ft: float, rated_gpm: float
) -> float:
    """Friction of the hard suction, and of its strainer (∝ Q², given at the rated flow), in feet of water."""
    return (
        head_ft(hydraulics.friction_psi(coefficient, flow_gpm, suction_ft)) + strainer_ft * (flow_gpm / rated_gpm) ** 2
    )


PSI_PER_INHG = 0.491154
"""One inch of mercury (NIST SP 811)."""


def capacity_gpm(head_ft: float, lift_ft: float, loss_at_rated_ft: float, rated_gpm: float) -> float:
    """What a pump gives at a lift, its rating at most: Q = Q_r·√((H − lift)/loss), as losses go with the flow's square.

    Args:
        head_ft: H, what the pump can draw.
        loss_at_rated_ft: in the suction hose, its strainer and the pump's own inlet at the rated flow.
    """
    left = head_ft - lift_ft
    return 0.0 if left <= 0 else min(rated_gpm, rated_gpm * math.sqrt(left / loss_at_rated_ft))


# --- the question

CHECKLISTS = {
    "lost_prime": (
        "Ease the throttle and close the discharges.",
        "Strainer well under water, off the bottom, no whirlpool above it?",
        "Suction couplings tight, gaskets in, no hump in the hose above the pump?",
        "Drains, other intakes and the tank-to-pump valve shut?",
        "Prime again; no water in 30 s (45 s for a large pump): stop and look for the air leak.",
    ),
    "cavitating": (
        "Ease the throttle until the sound and the needle steady: the pump asks for more than comes in.",
        "Give less flow: gate a line down or shut one.",
        "Hydrant or supply fully open, hose not kinked, intake screen clear?",
        "At draft: strainer clear and deep, less lift, larger or second suction hose?",
        "Warm water from long churning: open a line or the recirculation.",
    ),
}
"""Short check lists (common practice; priming times from the NFPA 1911 test summary)."""


class DraftAnswer(Answer, frozen=True):
    """Answer of `draft`: the greatest lift; for a stated lift whether it can be had, and the capacity at it."""

    max_lift_ft: float | UnsetType = UNSET
    feasible: bool | UnsetType = UNSET
    capacity_gpm: float | UnsetType = UNSET
    checklist: tuple[str, ...] | UnsetType = UNSET


class Suction(msgspec.Struct, frozen=True):
    """A suction lay: its losses, altitude and water, what was assumed."""

    coefficient: float
    suction_ft: float
    attainable_ft: float
    """What a lift can be at most, with no flow."""
    drawn_ft: float
    """The head that the running pump can draw."""
    loss_at_rated_ft: float
    """Of that head, what suction and pump inlet take at the rated flow."""
    assumed: tuple[str, ...]

    def highest_ft(self, flow_gpm: float, hose_ft: float, rated_gpm: float) -> float:
        """The highest lift at a flow whose suction hose takes `hose_ft`."""
        by_pump = self.drawn_ft - self.loss_at_rated_ft * (flow_gpm / rated_gpm) ** 2
        return max(0.0, min(self.attainable_ft - hose_ft, by_pump))


@handle.register
def _(command: Draft, scene: Scene, rig: Rig, said: Said) -> Outcome:
    if command.checklist is not None:
        steps = CHECKLISTS[command.checklist]
        lead = {"lost_prime": "Lost prime: check", "cavitating": "Cavitating: check"}[command.checklist]
        numbered = tuple(f"{number}. {step}" for number, step in enumerate(steps, start=1))
        return Outcome(intent=command.intent, lead=lead, how=numbered, answer=DraftAnswer(checklist=steps))
    _check(command)
    words, suction = Words.of(rig), _suction(command, rig)
    flow = command.flow_gpm or 0.0
    loss = suction_loss_ft(suction.coefficient, flow, suction.suction_ft, rig.drafting.strainer_ft, rig.pump.rated_gpm)
    highest = suction.highest_ft(flow, loss, rig.pump.rated_gpm)
    how = [f"Two thirds of {words.lift(theoretical_lift_ft(_altitude(command, rig)))} that the air pressure holds up"]
    if flow:
        how.append(f"less what suction hose and pump take at {words.gpm(flow)}")
    if command.lift_ft is None:
        return Outcome(
            intent=command.intent, lead=f"{words.lift(highest)} at most", how=("; ".join(how),),
            answer=DraftAnswer(max_lift_ft=highest), assumed=suction.assumed, cautions=_doubts(),
        )  # fmt: skip
    feasible = command.lift_ft <= highest
    capacity = capacity_gpm(suction.drawn_ft, command.lift_ft, suction.loss_at_rated_ft, rig.pump.rated_gpm)
    capacity = capacity if command.lift_ft <= suction.attainable_ft else 0.0
    at_flow = f" at {words.gpm(flow)}" if flow else ""
    lead = f"{words.lift(command.lift_ft)}{at_flow}: {'yes' if feasible else 'no'}, {words.lift(highest)} at most"
    if command.lift_ft > rig.drafting.rated_lift_ft:
        how.append(f"the pump is rated at {words.lift(rig.drafting.rated_lift_ft)}")
    if capacity > 0:
        cost = words.gpm_down(capacity) if capacity < rig.pump.rated_gpm else f"rated capacity, {words.gpm(capacity)}"
        how.append(f"about {cost} at that lift")
        net = hydraulics.net_pump_pressure_at_draft_psi(0.0, command.lift_ft, loss)
        how.append(f"lifting takes {words.psi(net)} of net pump pressure")
    return Outcome(
        intent=command.intent, lead=lead, how=("; ".join(how),),
        answer=DraftAnswer(max_lift_ft=highest, feasible=feasible, capacity_gpm=capacity),
        assumed=suction.assumed, cautions=_doubts(),
    )  # fmt: skip


def _check(command: Draft) -> None:
    if command.lift_ft is not None and not 0 <= command.lift_ft <= 100:
        raise Refusal("A lift is measured from the water up to the pump: say it again.")
    if command.altitude_ft is not None and not -1_500 <= command.altitude_ft <= 20_000:
        raise Refusal("That altitude can't be: say it again.")
    if command.water_f is not None and not 32 <= command.water_f <= 200:
        raise Refusal("Water to draft lies between freezing and boiling: say its temperature again.")
    for value in (command.suction_ft, command.suction_in, command.flow_gpm):
        if value is not None and value <= 0:
            raise Refusal("Suction hose and flow are above zero: say them again.")


def _altitude(command: Draft, rig: Rig) -> float:
    return command.altitude_ft if command.altitude_ft is not None else rig.drafting.altitude_ft


def _suction(command: Draft, rig: Rig) -> Suction:
    words, values, assumed = Words.of(rig), rig.drafting, []
    size = command.suction_in or values.suction_in
    hose = rig.hose_of(size)
    if hose is None:
        raise Refusal(f"The rig file knows no {words.hose(size)} suction hose.")
    length = command.suction_ft or values.suction_ft
    counts = bool(command.flow_gpm) or command.lift_ft is not None
    if counts and (command.suction_in is None or command.suction_ft is None):
        origin = rig.origin("drafting.suction_ft", "drafting.suction_in")
        assumed.append(f"{words.feet(length)} of {words.hose(size)} suction ({origin})")
    altitude = _altitude(command, rig)
    if command.altitude_ft is None:
        assumed.append(
            "sea level" if altitude == 0 else f"{words.feet(altitude)} altitude ({rig.origin('drafting.altitude_ft')})"
        )
    water = command.water_f if command.water_f is not None else values.water_f
    if command.water_f is None:
        assumed.append(_water(water, words))
    attainable = attainable_lift_ft(altitude, water, values.attainable_share)
    drawn, at_rated = _pump_draws(rig, altitude, water)
    here = suction_loss_ft(hose.coefficient, rig.pump.rated_gpm, length, values.strainer_ft, rig.pump.rated_gpm)
    return Suction(hose.coefficient, length, attainable, drawn, at_rated + here, tuple(assumed))


def _pump_draws(rig: Rig, altitude_ft: float, water_f: float) -> tuple[float, float]:
    """The head that the pump can draw, and what its own inlet takes of it at the rated flow.

    The inlet's share is what makes the rig's own suction give the rated flow at the rated lift (at sea level), where
    pumps are tested; handbook tables of discharge at various lifts lie within a few per cent of what follows (memory).
    """
    values, rated = rig.drafting, rig.pump.rated_gpm
    at_sea = head_ft(values.pump_vacuum_inhg * PSI_PER_INHG)
    share = at_sea / theoretical_lift_ft(0.0)
    hose = rig.hose_of(values.suction_in)
    own = suction_loss_ft(hose.coefficient if hose else 0.0, rated, values.suction_ft, values.strainer_ft, rated)
    return attainable_lift_ft(altitude_ft, water_f, share), at_sea - values.rated_lift_ft - own


def _water(water_f: float, words: Words) -> str:
    return f"water of {plain((water_f - 32) / 1.8, 0)} °C" if words.metric else f"water of {plain(water_f, 0)} °F"


def _doubts() -> tuple[str, ...]:
    return ("An estimate: the pump's condition, the suction lay and its own test decide.",)
