"""Needed fire flow by a named method, set beside what flows. Methods differ several-fold: the answer names its own."""

from __future__ import annotations

import math

import msgspec
from msgspec import UNSET, UnsetType

from grammar.commands import NeededFlow
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import NeededFlowSet
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.metric import FT_PER_M, GAL_PER_L
from handlers.scene import Scene
from handlers.words import Words, plain

# --- formulas


def area_third_gpm(area_ft2: float, floors: float, involved: float, exposures: int, each: float) -> float:
    """Quick method of the National Fire Academy: L·W/3 × floors × share involved, and 25 % more for each exposure.

    Fire Apparatus Magazine, Highway Hydraulics part 3 (L·W/3 × %); exposures and floors from memory.
    """
    return area_ft2 / 3 * floors * involved * (1 + each * exposures)


def volume_hundredth_gpm(area_ft2: float, height_ft: float) -> float:
    """Volume method: V/100 for the largest single space (FireFighterNation Quick Drill)."""
    return area_ft2 * height_ft / 100


def iso_gpm(area_ft2: float, construction: float, occupancy: float = 1.0, exposure: float = 0.0) -> float:
    """ISO needed fire flow: C = 18·F·√A, NFF = C·O·(1 + X + P) (USFA Coffee Break Training FP-2013-43 and -45)."""
    return 18 * construction * math.sqrt(area_ft2) * occupancy * (1 + exposure)


def iso_rounded_gpm(flow_gpm: float) -> float:
    """ISO's rounding: nearest 250 below 2,500, nearest 500 above; at least 500, at most 12,000 (memory)."""
    step = 250 if flow_gpm < 2500 else 500
    return min(12_000.0, max(500.0, step * math.floor(flow_gpm / step + 0.5)))


def minimum_supply_gal(volume_ft3: float, hazard: float, construction: float, *, exposed: bool, factor: float,
                       floor_gal: float, exposed_floor_gal: float) -> float:  # fmt: skip
    """Rural minimum water supply: V/OHC·CCN, × 1.5 with exposures, at least 2,000 (3,000) gal (NFPA 1142, 7.3.2)."""
    supply = volume_ft3 / hazard * construction * (factor if exposed else 1.0)
    return max(supply, exposed_floor_gal if exposed else floor_gal)


OCCUPANCY = {"noncombustible": 0.75, "limited": 0.85, "combustible": 1.0, "free_burning": 1.15, "rapid_burning": 1.25}
"""ISO occupancy factor O by class C-1 to C-5 (memory)."""
ISO_EXPOSURE = 0.15
"""X + P taken for each exposure, 0.60 at most (memory)."""
DELIVERY_GPM = ((2_500, 250.0), (10_000, 500.0), (20_000, 750.0), (math.inf, 1000.0))
"""Delivery that goes with a rural minimum supply below so many gallons (NFPA 1142 table, memory)."""


# --- the question


class NeededFlowAnswer(Answer, frozen=True):
    """Answer of `needed_flow`; `minimum_gal` for a rural minimum supply, `rounded_gpm` for ISO."""

    needed_gpm: float
    method: str
    minimum_gal: float | UnsetType = UNSET
    rounded_gpm: float | UnsetType = UNSET


LARGEST_FT2 = 25_000_000
LPM_PER_M2 = FT_PER_M**2 / 3 / GAL_PER_L
"""The area method's gpm for 3 ft² in L/min a square metre."""


class Needed(msgspec.Struct, frozen=True):
    """A flow by a method, with the words that show it."""

    answer: NeededFlowAnswer
    name: str
    work: str
    assumed: tuple[str, ...] = ()


@handle.register
def _(command: NeededFlow, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    _check(command, words)
    method = command.method or rig.fire_flow.method
    if command.rural_supply:
        needed = _rural(command, rig, words)
    else:
        needed = {"area_third": _area, "volume_hundredth": _volume, "iso": _iso}[method](command, rig, words)
    if method != "iso" and not command.rural_supply and (command.construction_class or command.construction_type):
        _, kind = _construction(command)
        told = f"{kind.split(',')[0]} isn't used by this method: say “ISO” for it"
        needed = msgspec.structs.replace(needed, assumed=(*needed.assumed, told))
    gpm = needed.answer.needed_gpm
    flowing, available = scene.pump(said.unit).flow_gpm, scene.pump(said.unit).available_gpm
    how = [needed.work]
    if scene.open:
        how.append(f"Flowing {words.gpm(flowing)}: {_difference(flowing - gpm, words)}.")
        if available is not None:
            how.append(f"The hydrant can give {words.gpm_down(available)}: {_difference(available - gpm, words)}.")
    return Outcome(
        intent=command.intent,
        lead=f"{words.gpm(gpm)} by {needed.name}",
        how=tuple(how),
        answer=needed.answer,
        assumed=needed.assumed,
        cautions=("A rule of thumb: methods differ several-fold; conditions and the incident commander decide.",),
        events=(NeededFlowSet(gpm, needed.answer.method),) if scene.open else (),
    )


def _difference(gpm: float, words: Words) -> str:
    return f"{words.gpm(abs(gpm))} {'over' if gpm >= 0 else 'short'}"


def _check(command: NeededFlow, words: Words) -> None:
    sizes = {"length": command.length_ft, "width": command.width_ft, "height": command.height_ft,
             "number of floors": command.floors, "floors involved": command.floors_involved}  # fmt: skip
    for name, value in sizes.items():
        if value is not None and not 0 < value <= 5_000:
            raise Refusal(f"The {name} of a building must be above zero: say it again.")
    if command.involved_percent is not None and not 0 < command.involved_percent <= 100:
        raise Refusal("The share involved lies between 1 and 100 percent: say it again.")
    if command.exposures is not None and not 0 <= command.exposures <= 8:
        raise Refusal("Say how many exposures, from 0 to 8.")
    if command.area_ft2 is not None and not 0 < command.area_ft2 <= LARGEST_FT2:
        raise Refusal("The area of a building must be above zero: say it again.")
    for value, slot in ((command.length_ft, "length_ft"), (command.width_ft, "width_ft")):
        if value is None and command.area_ft2 is None:
            text = f"What is the building's {slot.removesuffix('_ft')}, in {words.length_name}?"
            raise NeedsAnswer(text, part=command, slot=slot)


def _floor_ft2(command: NeededFlow) -> float:
    """One floor's area: said, or of the sides."""
    return command.area_ft2 or (command.length_ft or 0.0) * (command.width_ft or 0.0)


def _sides(command: NeededFlow, words: Words) -> str:
    if command.area_ft2 is not None:
        return words.area(command.area_ft2)
    return f"{words.feet(command.length_ft or 0.0)} × {words.feet(command.width_ft or 0.0)}"


def _area(command: NeededFlow, rig: Rig, words: Words) -> Needed:
    percent = command.involved_percent if command.involved_percent is not None else 100.0
    floors, exposures = command.floors_involved or command.floors or 1, command.exposures or 0
    gpm = area_third_gpm(_floor_ft2(command), floors, percent / 100, exposures, rig.fire_flow.exposure_share)
    work = f"{_sides(command, words)} / 3"
    if words.metric:  # 1 gpm for 3 ft², turned
        work = f"{_sides(command, words)} × {plain(LPM_PER_M2, 1)} L/min a m²"
    work += f" × {floors} floors" if floors > 1 else ""
    work += f" × {plain(percent)} %" if percent != 100 else ""
    work += (
        f" + {plain(100 * rig.fire_flow.exposure_share * exposures)} % for {exposures} exposures" if exposures else ""
    )
    assumed = () if command.involved_percent is not None else ("fully involved",)
    return Needed(NeededFlowAnswer(gpm, "area_third"), "L × W / 3", work, assumed)


def _height(command: NeededFlow, rig: Rig, words: Words) -> tuple[float, tuple[str, ...]]:
    if command.height_ft is not None:
        return command.height_ft, ()
    floors = command.floors or 1
    ceiling = rig.fire_flow.ceiling_ft
    return floors * ceiling, (f"{words.feet(ceiling)} a floor",)


def _volume(command: NeededFlow, rig: Rig, words: Words) -> Needed:
    height, assumed = _height(command, rig, words)
    gpm = volume_hundredth_gpm(_floor_ft2(command), height)
    work = f"{_sides(command, words)} × {words.feet(height)} / 100, for the largest single space"
    if command.exposures or command.involved_percent:
        assumed = (*assumed, "the method takes no exposures and no share")
    return Needed(NeededFlowAnswer(gpm, "volume_hundredth"), "volume / 100", work, assumed)


def _iso(command: NeededFlow, rig: Rig, words: Words) -> Needed:
    iso, construction = _construction(command)
    factor = _of_class(iso, rig.fire_flow.construction_factor)
    effective = _floor_ft2(command) * (1 + 0.5 * ((command.floors or 1) - 1))
    occupancy = OCCUPANCY[command.occupancy or "combustible"]
    exposure = min(0.60, ISO_EXPOSURE * (command.exposures or 0))
    gpm = iso_gpm(effective, factor, occupancy, exposure)
    rounded = iso_rounded_gpm(gpm)
    assumed = () if command.occupancy else ("combustible contents",)
    if command.floors and command.floors > 1:
        assumed = (*assumed, "half the area of each floor above the first")
    assumed = (*assumed, f"construction: {construction}")
    work = f"18 × {plain(factor)} × √{plain(effective, 0)} × {plain(occupancy)}"
    work += f" × {plain(1 + exposure)}" if exposure else ""
    work += f"; rounded as ISO does: {words.gpm(rounded)}"
    return Needed(NeededFlowAnswer(gpm, "iso", rounded_gpm=rounded), "ISO", work, assumed)


CLASSES = {1: "frame", 2: "joisted masonry", 3: "non-combustible", 4: "masonry non-combustible",
           5: "modified fire-resistive", 6: "fire-resistive"}  # fmt: skip
"""ISO construction classes (USFA Coffee Break Training FP-2013-43)."""
TYPES = {1: "fire-resistive", 2: "non-combustible", 3: "ordinary", 4: "heavy timber", 5: "wood frame"}
"""Building types I to V (NFPA 220, memory)."""
CLASS_OF_TYPE = {1: 6, 2: 3, 3: 2, 4: 2, 5: 1}
"""The ISO class that a building type is taken for: exterior masonry with combustible floors is class 2 (memory)."""
ROMAN = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V"}


def _construction(command: NeededFlow) -> tuple[int, str]:
    """The ISO class, and the words that name the scale it was said on."""
    if command.construction_type is not None:
        number = command.construction_type
        if number not in TYPES:
            raise Refusal("Building types run from I (fire-resistive) to V (wood frame): say it again.")
        iso = CLASS_OF_TYPE[number]
        return iso, f"type {ROMAN[number]} ({TYPES[number]}), taken as ISO class {iso} ({CLASSES[iso]})"
    if command.construction_class is None:
        options = tuple(
            (name, msgspec.structs.replace(command, construction_class=number)) for number, name in CLASSES.items()
        )
        raise NeedsAnswer("What construction is it?", part=command, slot="construction_class", options=options)
    if command.construction_class not in CLASSES:
        raise Refusal("ISO construction classes run from 1 (frame) to 6 (fire-resistive): say it again.")
    return command.construction_class, f"ISO class {command.construction_class} ({CLASSES[command.construction_class]})"


def _of_class(iso: int, values: dict[str, float]) -> float:
    if str(iso) not in values:
        raise Refusal(f"The rig file has no value for ISO construction class {iso}: add it there.")
    return values[str(iso)]


def _rural(command: NeededFlow, rig: Rig, words: Words) -> Needed:
    if command.hazard_class is None:
        options = tuple((str(n), msgspec.structs.replace(command, hazard_class=n)) for n in range(3, 8))
        raise NeedsAnswer("Which occupancy hazard number, 3 (severe) to 7 (light)?", part=command, slot="hazard_class",
                          options=options)  # fmt: skip
    if not 3 <= command.hazard_class <= 7:
        raise Refusal("Occupancy hazard numbers run from 3 (severe) to 7 (light): say it again.")
    iso, construction = _construction(command)
    number = _of_class(iso, rig.rural.construction_number)
    height, assumed = _height(command, rig, words)
    volume = _floor_ft2(command) * height
    gal = minimum_supply_gal(
        volume, command.hazard_class, number, exposed=bool(command.exposures), factor=rig.rural.exposure_factor,
        floor_gal=rig.rural.minimum_gal, exposed_floor_gal=rig.rural.minimum_exposed_gal,
    )  # fmt: skip
    gpm = next(flow for below, flow in DELIVERY_GPM if gal < below)
    size = f"{_sides(command, words)} × {words.feet(height)}"
    work = f"{words.gal(gal)} minimum supply: {size} / {command.hazard_class} × {plain(number)}"
    work += f" × {plain(rig.rural.exposure_factor)}" if command.exposures else ""
    assumed = (*assumed, f"construction: {construction}")
    return Needed(NeededFlowAnswer(gpm, "rural_minimum", minimum_gal=gal), "rural minimum supply", work, assumed)
