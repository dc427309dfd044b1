"""The pump's source as the driver reports it, the intake gauge, a supply on its way against the tank's end.

Only the driver's own report ("on the hydrant") stops the tank clock; "lost water" by anyone starts it again and is told
to all.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from grammar.commands import Benchmark, Choice, Draft, Intake, Question, SupplyExpected, WaterSource
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import IntakeRead, Noted, PumpTrouble, SourceChanged, SupplyAnnounced, TankRead
from handlers.outcome import Answer, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import clock, duration, unit_name
from handlers.water.state import SOURCES, tank_line
from handlers.words import Words

NOT_THE_DRIVERS = ("officer", "crew")
TROUBLE = {"lost_prime": "Lost prime", "cavitating": "Cavitating", "overheating": "Pump overheating"}


class Supply(Answer, frozen=True):
    """Answer of `supply_expected`: which comes first, and the flow that would make the tank last until then."""

    unit: str | None
    expected_at: datetime | None
    tank_empty_at: datetime | None
    short_s: float | None
    """Seconds between the tank's end and the supply; negative when the supply comes first."""
    lasting_flow_gpm: float | None


class IntakeAnswer(Answer, frozen=True):
    """Answer of `intake`."""

    intake_psi: float
    low: bool


@handle.register
def water_source(command: WaterSource, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The source, the tank's gauge, or trouble at the pump."""
    pump = scene.pump(said.unit)
    if command.trouble is not None:
        return _trouble(command, scene, rig, said)
    if command.tank_gal is not None or command.tank_fraction is not None or command.refilled:
        return _tank_read(command, pump, rig, said)
    if command.topping_off:
        return Outcome(
            intent=command.intent,
            lead="Topping off the tank: noted.",
            how=("It counts as full when you say “tank full”, or by the gauge you read out.",),
            events=(Noted(kind="note", text="Topping off the tank"),),
        )
    if command.lost:
        return _lost(command, pump, rig, said)
    if command.source is None:
        raise NeedsAnswer(
            "Which source?",
            part=command,
            options=(
                ("Tank", WaterSource(source="tank")),
                ("Hydrant", WaterSource(source="hydrant")),
                ("Draft", WaterSource(source="draft")),
            ),
        )
    return _on(command, pump, scene, rig, said)


def _on(command: WaterSource, pump: Pump, scene: Scene, rig: Rig, said: Said) -> Outcome:
    source = command.source or "tank"
    where = SOURCES[source]
    if source != "tank" and said.role in NOT_THE_DRIVERS:
        return Outcome(
            intent=command.intent,
            lead=f"{where}: noted. The tank clock runs on until the driver says so.",
            events=(Noted(kind="note", text=f"{where}, said by the {said.role}"),),
            notices=(
                Notice(("driver",), "notice", "source", f"{where}? The {said.role} says so. Say “on the {source}”."),
            ),
        )
    again = pump.source == source and pump.as_of is not None
    text = f"{where}{' still' if again else ''}, {clock(said.at, said.tz)}. Logged."
    ask = None
    first = all(one.source_since is None for one in scene.pumps.values())
    if source != "tank" and first and scene.open and scene.stamp("water_supply", partial=True) is None:
        supply = Benchmark(benchmark="water_supply")
        ask = Question("Log “water supply established” too?", (Choice("Log it", (supply,)), Choice("Not yet")))
    return Outcome(
        intent=command.intent,
        lead=text,
        spoken=text,
        events=(SourceChanged(source=source),),
        notices=(Notice(("crew", "officer"), "notice", "source", f"{unit_name(said.unit)}: {text}"),)
        if not again
        else (),
        follow_up=ask,
    )


def _lost(command: WaterSource, pump: Pump, rig: Rig, said: Said) -> Outcome:
    """The supply is gone: back on the tank. Told to all as an alert, unless it was meant."""
    words = Words.of(rig)
    before = SOURCES[pump.source]
    gal = pump.gallons_at(said.at) if pump.as_of is not None else rig.tank.usable_gal
    left = f", {duration(gal / pump.drawn_gpm * 60)} left" if pump.flow_gpm > 0 else ""
    if command.meant:
        text = f"{unit_name(said.unit)} off its supply as planned, on the tank: {words.gal(gal)}{left}."
        return Outcome(
            intent=command.intent,
            lead=text,
            events=(SourceChanged(source="tank"),),
            notices=(Notice(("crew", "officer"), "notice", "source", text),),
        )
    was = f" ({before.lower()} until now)" if not pump.on_tank else ""
    text = f"LOSS OF WATER, {unit_name(said.unit)}{was}, {clock(said.at, said.tz)}. "
    text += f"By calculation {words.gal(gal)} in the tank{left}." if gal > 0 else "By calculation the tank is empty."
    return Outcome(
        intent=command.intent,
        lead=f"LOSS OF WATER {clock(said.at, said.tz)}: everyone is being told. Tell them by radio too.",
        spoken="Loss of water. Everyone is being told. Use the radio too.",
        events=(SourceChanged(source="tank", lost=True),),
        notices=(Notice(("all",), "alert", "loss_of_water", text),),
    )


def _tank_read(command: WaterSource, pump: Pump, rig: Rig, said: Said) -> Outcome:
    words, capacity = Words.of(rig), rig.tank.capacity_gal
    gal = command.tank_gal if command.tank_gal is not None else (command.tank_fraction or 0.0) * capacity
    if command.refilled:
        gal = capacity
    if not 0 <= gal <= capacity * 1.02:
        raise Refusal(f"The tank holds {words.gal(capacity)}: read its gauge again.")
    gal = min(gal, capacity)
    text = f"Tank full, {words.gal(capacity)}" if gal == capacity else f"Tank {words.gal(gal)} by its gauge"
    empty = f"{unit_name(said.unit)}: tank EMPTY by its gauge, {clock(said.at, said.tz)}."
    told = gal == 0 and pump.on_tank and pump.flow_gpm > 0
    return Outcome(
        intent=command.intent,
        lead=f"{text}, {clock(said.at, said.tz)}. Logged.",
        notices=(Notice(("all",), "alert", "tank_empty", empty),) if told else (),
        events=(TankRead(tank_gal=gal, refilled=command.refilled or gal == capacity),),
    )


def _trouble(command: WaterSource, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Trouble at the pump: logged, with the short check list; lost prime is told to all as a loss of water."""
    kind = command.trouble or "cavitating"
    checks: tuple[str, ...] = ("Open the tank-to-pump and recirculate; slow down; feel the pump's casing.",)
    if kind in ("lost_prime", "cavitating"):
        asked = handle(Draft(checklist="lost_prime" if kind == "lost_prime" else "cavitating"), scene, rig, said)
        checks = (asked.lead, *asked.how)
    text = f"{TROUBLE[kind]}, {unit_name(said.unit)}, {clock(said.at, said.tz)}."
    alert: tuple[Notice, ...] = ()
    ask = None
    if kind == "lost_prime":
        tank, ask = _tank_after_lost_prime(scene.pump(said.unit), said, rig)
        checks = (*tank, *checks)
        alert = (Notice(("all",), "alert", "loss_of_water", " ".join((f"LOSS OF WATER: {text}", *tank))),)
    return Outcome(
        intent=command.intent,
        lead=f"{text} Logged.",
        how=checks,
        events=(PumpTrouble(kind=kind),),
        notices=alert or (Notice(("officer",), "notice", "pump_trouble", text),),
        follow_up=ask,
    )


def _tank_after_lost_prime(pump: Pump, said: Said, rig: Rig) -> tuple[tuple[str, ...], Question | None]:
    """What the tank holds while nothing comes from the draft, and the question which source it is now."""
    if pump.as_of is None:
        return (), None
    if pump.on_tank:
        return (tank_line(pump, said, rig),), None
    gal = pump.gallons_at(said.at)
    lasts = (
        f": {duration(gal / pump.flow_gpm * 60)} at {Words.of(rig).gpm(pump.flow_gpm)} from it"
        if pump.flow_gpm > 0
        else ""
    )
    told = f"By calculation {Words.of(rig).gal(gal)} in the tank{lasts}. Its clock stands until “on the tank” is said."
    choices = (
        Choice("On the tank", (WaterSource(source="tank"),)),
        Choice(f"{SOURCES[pump.source]} again", (WaterSource(source=pump.source),)),
        Choice("No water yet"),
    )
    return (told,), Question("Which source now?", choices)


@handle.register
def intake(command: Intake, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The intake gauge; a low or falling one is warned of at once."""
    words, pump = Words.of(rig), scene.pump(said.unit)
    if command.vacuum_inhg is not None:
        return Outcome(
            intent=command.intent,
            lead=f"Vacuum {words.vacuum(command.vacuum_inhg)}. Logged.",
            answer=IntakeAnswer(intake_psi=command.intake_psi, low=False),
            events=(IntakeRead(command.intake_psi),),
        )
    least = rig.hydrant.low_intake_psi
    low = command.intake_psi < least
    fell = pump.intake_psi is not None and command.intake_psi < pump.intake_psi
    was = f", was {words.psi_bare(pump.intake_psi)}" if fell and pump.intake_psi is not None else ""
    lead = f"Intake {words.psi(command.intake_psi)}{was}{' and LOW' if low else ''}."
    cautions = (
        (f"Below {words.psi(least)}: shut a line or gate down, or the pump runs away from its supply.",) if low else ()
    )
    warned = f"{unit_name(said.unit)}: intake {words.psi(command.intake_psi)}, low."
    return Outcome(
        intent=command.intent,
        lead=lead,
        spoken=lead,
        answer=IntakeAnswer(intake_psi=command.intake_psi, low=low),
        cautions=cautions,
        events=(IntakeRead(command.intake_psi),),
        notices=(Notice(("officer",), "notice", "intake_low", warned),) if low else (),
    )


@handle.register
def supply_expected(command: SupplyExpected, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A supply is on its way: does it come before the tank's end, and what flow would make it last?"""
    if command.minutes is None:
        who = unit_name(command.unit) if command.unit else "the supply"
        question = Question(f"How many minutes out is {who}?", fills=command, slot="minutes")
        return Outcome(intent=command.intent, question=question)
    if command.minutes < 0:
        raise Refusal("The minutes must be above zero: how far out is the supply?")
    pump, words = scene.pump(said.unit), Words.of(rig)
    expected = said.at + timedelta(minutes=command.minutes)
    empty = pump.empty_at()
    who = f"{unit_name(command.unit)}'s supply" if command.unit else "Supply"
    lead = f"{who} about {clock(expected, said.tz)} ({command.minutes:g} min)."
    short = lasting = None
    how: tuple[str, ...]
    if empty is None:
        how = ("Nothing flows from the tank now.",) if pump.on_tank else (f"{SOURCES[pump.source]} now.",)
    else:
        short = (expected - empty).total_seconds()
        left = pump.gallons_at(said.at)
        lasting = left / command.minutes if command.minutes > 0 and left > 0 else None
        tank = f"The tank is calculated empty {clock(empty, said.tz, seconds=True)}"
        if short > 0:
            gone = empty <= said.at
            tank = "The tank is calculated empty: check its gauge" if gone else tank
            how = (f"{tank}.",) if gone else (f"{tank}, {duration(short)} BEFORE it.", *_stretch(pump, lasting, words))
        else:
            how = (f"{tank}, {duration(-short)} after it.",)
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=how,
        answer=Supply(command.unit, expected, empty, short, lasting),
        cautions=("Time to hook up and fill the supply hose isn't counted.",),
        events=(SupplyAnnounced(unit=command.unit, expected_at=expected, kind=command.kind, gallons=command.gallons),),
    )


def _stretch(pump: Pump, lasting_gpm: float | None, words: Words) -> tuple[str, ...]:
    """What flow would make the tank last until then; none where less than a whole gallon a minute would."""
    if lasting_gpm is None or lasting_gpm < 1:
        return ()
    return (
        f"Holding to {words.gpm_down(lasting_gpm)} (now {words.gpm(pump.flow_gpm)}) would make it last until then.",
    )
