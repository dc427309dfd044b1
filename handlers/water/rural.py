"""Water without hydrants: the tender shuttle; long lay, relay and shuttle compared for a flow and a distance."""

from __future__ import annotations

import math

import msgspec
from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from grammar.commands import Shuttle
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping import hydraulics, limits
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import duration
from handlers.words import Words, plain

FT_PER_MILE = 5280

# --- formulas


def travel_min(distance_mi: float, base_min: float = 0.65, min_per_mile: float = 1.7) -> float:
    """Travel time one way: T = 0.65 + 1.7·D at 35 mph (NFPA 1142, as quoted in Highway Hydraulics part 3)."""
    return base_min + min_per_mile * distance_mi


def cycle_min(fill_min: float, dump_min: float, out_min: float, back_min: float, handling_min: float = 0.0) -> float:
    """One round of a tender: fill + dump + both ways + handling (NFPA 1142 annex form, memory)."""
    return fill_min + dump_min + out_min + back_min + handling_min


def delivery_gpm(tank_gal: float, round_min: float, usable_share: float = 0.9) -> float:
    """What one tender delivers: 0.9·V/cycle (water shuttle drill after IFSTA, 1st ed. ch. 14: 10 % is lost)."""
    return usable_share * tank_gal / round_min


# --- the question


class ShuttleAnswer(Answer, frozen=True):
    """Answer of `shuttle`: what one tender delivers; the rest where a flow, a number or a comparison was asked for."""

    delivery_gpm: float
    cycle_min: float
    tenders_needed: int | UnsetType = UNSET
    total_gpm: float | UnsetType = UNSET
    long_lay_psi: float | UnsetType = UNSET
    relay_engines: int | UnsetType = UNSET


class Round(msgspec.Struct, frozen=True):
    """One tender's round with how it was reckoned."""

    tank_gal: float
    minutes: float
    work: str
    assumed: tuple[str, ...]


@handle.register
def _(command: Shuttle, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    _check(command, words)
    if command.round_trip and command.distance_mi is not None:
        command = replace(command, distance_mi=command.distance_mi / 2, round_trip=False)
    tender = _round(command, rig, words)
    each = delivery_gpm(tender.tank_gal, tender.minutes, rig.rural.usable_share)
    flow = command.flow_gpm or (scene.pump(said.unit).flow_gpm if command.compare or scene.open else None) or None
    needed = math.ceil(flow / each - 1e-9) if flow else None
    how = [tender.work]
    lead = f"{words.gpm_down(each)} from one tender"
    if needed is not None and flow is not None:
        lead = f"{needed} tender{'s' * (needed != 1)} for {words.gpm(flow)}"
        how.append(f"One delivers {words.gpm_down(each)}.")
        how.append(_portable(command, flow, tender, needed, rig, words))
    total: float | UnsetType = UNSET
    if command.tenders is not None:
        total = command.tenders * each
        lead = f"{words.gpm_down(total)} from {command.tenders} tenders"
    lay: float | UnsetType = UNSET
    engines: int | UnsetType = UNSET
    if command.compare:
        lay, engines, lines = _compare(command, flow, rig, words)
        how += lines
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        answer=ShuttleAnswer(each, tender.minutes, UNSET if needed is None else needed, total, lay, engines),
        assumed=tender.assumed,
    )


def _check(command: Shuttle, words: Words) -> None:
    amounts = (command.tank_gal, command.cycle_min, command.flow_gpm, command.tenders, command.portable_tank_gal)
    if any(value is not None and value <= 0 for value in amounts):
        raise Refusal("Tank, cycle, flow and tenders are all above zero: say them again.")
    times = (command.distance_mi, command.fill_min, command.dump_min, command.handling_min)
    if any(value is not None and value < 0 for value in times):
        raise Refusal("Distances and times can't be below zero: say them again.")
    if command.cycle_min is None and command.distance_mi is None:
        text = f"How far is the fill site, in {words.distance_name} one way?"
        raise NeedsAnswer(text, part=command, slot="distance_mi")


def _round(command: Shuttle, rig: Rig, words: Words) -> Round:
    values, assumed = rig.rural, []
    tank = command.tank_gal or values.tender_gal
    if command.tank_gal is None:
        assumed.append(f"{words.gal(tank)} tender")
    lost = plain(100 * (1 - values.usable_share))
    if command.cycle_min is not None:
        work = f"{words.gal(tank)} less {lost} % every {plain(command.cycle_min, 1)} min"
        return Round(tank, command.cycle_min, work, tuple(assumed))
    fill, dump = command.fill_min, command.dump_min
    if fill is None:
        fill = tank / values.fill_gpm
        assumed.append(f"filled at {words.gpm(values.fill_gpm)}")
    if dump is None:
        dump = tank / values.dump_gpm
        assumed.append(f"dumped at {words.gpm(values.dump_gpm)}")
    handling = command.handling_min
    if handling is None:
        ends = (command.fill_min is None) + (command.dump_min is None)
        handling = values.handling_min * ends
        if handling:
            assumed.append(f"{plain(handling, 1)} min to couple and set up")
    way = travel_min(command.distance_mi or 0.0, values.travel_base_min, values.travel_min_per_mile)
    minutes = cycle_min(fill, dump, way, way, handling)
    parts = [
        f"fill {plain(fill, 1)}",
        f"dump {plain(dump, 1)}",
        f"2 × {plain(way, 1)} driving ({words.miles(command.distance_mi or 0.0)} each way)",
    ]
    parts += [f"{plain(handling, 1)} handling"] if handling else []
    work = f"{words.gal(tank)} less {lost} % every {plain(minutes, 1)} min: {' + '.join(parts)}"
    return Round(tank, minutes, work, tuple(assumed))


def _portable(command: Shuttle, flow: float, tender: Round, needed: int, rig: Rig, words: Words) -> str:
    """How long the portable tank bridges, beside how often a load comes."""
    tank = command.portable_tank_gal or rig.rural.portable_tank_gal
    every = tender.minutes * 60 / needed
    return (
        f"A {words.gal(tank)} portable tank lasts {duration(tank / flow * 60)} at that flow; "
        f"a load comes every {duration(every)}."
    )


def _compare(command: Shuttle, flow: float | None, rig: Rig, words: Words) -> tuple[float, int, list[str]]:
    """One long lay, a relay: pressure and engines for the same flow and distance, with the rig's supply hose."""
    if flow is None:
        raise NeedsAnswer("For what flow?", part=command, slot="flow_gpm")
    line = next((line for line in rig.line.values() if line.kind == "supply"), None)
    if line is None or command.distance_mi is None:
        raise Refusal("To compare, say the distance, and have a supply line in the rig file.")
    hose, feet = rig.hose[line.pieces[0].hose], command.distance_mi * FT_PER_MILE
    residual = rig.hydraulics.residual_psi
    psi = hydraulics.supply_pressure_psi(hydraulics.friction_psi(hose.coefficient, flow, feet), 0.0, residual)
    highest = limits.highest_psi(flow, (hose.key,), rig)
    engines = max(1, math.ceil((psi - residual) / (highest - residual) - 1e-9)) + 1
    size = words.hose(hose.diameter_in)
    reach = "one pump can" if psi <= highest else f"more than one pump gives ({words.psi(highest)})"
    lines = [
        f"Long lay: {words.feet(feet)} of {size} at {words.psi(psi)}, {reach}.",
        f"Relay: {engines} engines with the one at the fire, {words.feet(feet / (engines - 1))} apart.",
    ]
    if feet > hose.carried_ft:
        lines.append(f"This rig carries {words.feet(hose.carried_ft)} of {size}.")
    return psi, engines, lines
