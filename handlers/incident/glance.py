"""The incident as a screen draws it: figures in words, clocks as absolute times, a tank as the course of its figure.

A screen far from here draws this and ticks; nothing is worked out there. Everything is a function of the scene, the rig
and a moment, so that a replay is the same function at an earlier moment. It says what was reported and calculated.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta, tzinfo

import msgspec

from handlers.errors import CrosslayError
from handlers.events import WorkingLine
from handlers.incident.accountability import outstanding
from handlers.incident.air import outlook
from handlers.incident.board import alert_of, companies_of, par_of, patients_of, worth_showing
from handlers.incident.clocks import duration_clock, on_scene_clock
from handlers.incident.describing import BENCHMARK_WORDS, SOURCE_WORDS
from handlers.pumping.panel import how
from handlers.pumping.pressure import work_out
from handlers.pumping.working_lines import flow_of, lay_of
from handlers.reminders import due
from handlers.rig import Rig
from handlers.scene import Crew, Pump, Scene, Stamp
from handlers.times import clock, unit_name
from handlers.words import Words, whole

AHEAD = timedelta(minutes=12)
"""So far ahead a tank's figure is told; a screen is told anew long before."""
MOST_STEPS = 180
REMINDERS_AHEAD = 3

OF_A_FIRE = (
    "on_scene",
    "command_established",
    "two_out_in_place",
    "rit_in_place",
    "water_on_fire",
    "water_supply",
    "primary_search_complete",
    "knocked_down",
    "under_control",
    "utilities_secured",
    "secondary_search_complete",
    "suppression_complete",
    "loss_stopped",
)
OF_A_MEDICAL_RUN = ("on_scene", "patient_contact", "care_transferred", "available")
"""The benchmarks that are offered to be touched, in the order in which they mostly come (common practice)."""


class Ticking(msgspec.Struct, frozen=True):
    """A clock: counts up from `since`, or down to `until`."""

    label: str
    since: datetime | None = None
    until: datetime | None = None
    note: str = ""


class TankStep(msgspec.Struct, frozen=True, array_like=True):
    """From `at` on the tank's figure is this."""

    at: datetime
    text: str
    share: float
    """Of the usable tank, 0 … 1."""


class LineCard(msgspec.Struct, frozen=True):
    """A line of the pump."""

    number: int
    label: str
    psi: str
    flow: str
    state: str
    """ "flowing", "gated", "held" (charged, its nozzle shut) or "shut"."""
    state_words: str
    place: str = ""
    governs: bool = False
    """Its pressure is the pump's."""
    why: tuple[str, ...] = ()
    """How its pressure comes about."""
    doings: tuple[str, ...] = ()
    """What may be done with it: "shut", "gate", "open", "close_nozzle", "flow", "charge"."""


class PumpCard(msgspec.Struct, frozen=True):
    """One company's pump."""

    unit: str
    name: str
    hold: str
    """The pressure to hold, without its unit; "" when nothing is on."""
    hold_unit: str
    hold_for: str
    """The line whose pressure it is."""
    flow: str
    source: str
    on_tank: bool
    tank: tuple[TankStep, ...]
    tank_of: str
    """What a full tank holds."""
    empty_at: datetime | None
    """When the tank is calculated empty; None when nothing flows from it."""
    source_since: datetime | None = None
    source_lost: bool = False
    intake: str = ""
    expected: Ticking | None = None
    trouble: str = ""
    lines: tuple[LineCard, ...] = ()


class Mark(msgspec.Struct, frozen=True):
    """A benchmark: reported, or one that can be."""

    benchmark: str
    words: str
    at: datetime | None = None
    who: str = ""
    place: str = ""


class CrewCard(msgspec.Struct, frozen=True):
    """A crew inside."""

    crew: str
    count: int | None
    entered_at: datetime | None
    place: str
    state: str
    gauge: str
    gauge_at: datetime | None
    turn: str
    alarm_at: datetime
    alarm_words: str
    """ "Alarm about", or "Alarm as early as" where nothing was measured."""


class ParCard(msgspec.Struct, frozen=True):
    """The last PAR, in the board's words."""

    lines: tuple[str, ...]
    silent: tuple[str, ...]
    short: tuple[str, ...]


class Coming(msgspec.Struct, frozen=True):
    """A reminder that is due next."""

    name: str
    at: datetime
    text: str
    to: tuple[str, ...]


class Glance(msgspec.Struct, frozen=True):
    """Everything that a screen shows of an incident."""

    incident: str
    title: str
    open: bool
    closed_at: datetime | None
    kind: str
    alert: str
    alert_since: datetime | None
    clocks: tuple[Ticking, ...]
    pumps: tuple[PumpCard, ...]
    marks: tuple[Mark, ...]
    """What can be touched, in order."""
    logged: tuple[Mark, ...]
    """Everything reported, the latest first."""
    inside: tuple[CrewCard, ...]
    companies: tuple[str, ...]
    par: ParCard | None
    patients: tuple[str, ...]
    coming: tuple[Coming, ...]
    strategy: str = ""


def glance(scene: Scene, rig: Rig, own_unit: str, now: datetime, tz: tzinfo | None) -> Glance:
    """The incident as it stands at `now`; a closed one stands still, as it was closed.

    Args:
        rig: that of the company whose people look.
        own_unit: that company; its pump comes first and is shown as soon as the incident is open.
        now: UTC.
        tz: whose clock times the words tell.
    """
    moment = min(now, scene.closed_at) if scene.closed_at is not None else now
    alert, since = _alert(scene, moment, tz)
    return Glance(
        incident=scene.incident,
        title=", ".join(part for part in (scene.nature, scene.address) if part),
        open=scene.open,
        closed_at=scene.closed_at,
        kind=scene.kind,
        alert=alert,
        alert_since=since,
        clocks=tuple(_clocks(scene, moment)),
        pumps=tuple(_pump(pump, rig, moment) for pump in _pumps(scene, own_unit)),
        marks=tuple(_to_touch(scene)),
        logged=tuple(_mark(stamp) for stamp in reversed(scene.stamps)),
        inside=tuple(_crew(crew, rig, tz) for crew in scene.crews_inside),
        companies=tuple(companies_of(scene)),
        par=_par(scene, tz),
        patients=tuple(patients_of(scene, moment, tz)),
        coming=_coming(scene, rig, moment) if scene.open else (),
        strategy=scene.strategy or "",
    )


def _alert(scene: Scene, now: datetime, tz: tzinfo | None) -> tuple[str, datetime | None]:
    """The words of what overrides all else, and since when: its clock ticks where it is drawn."""
    if scene.mayday_open and scene.mayday is not None:
        parts = (scene.mayday.unit and unit_name(scene.mayday.unit), scene.mayday.name, scene.mayday.location)
        return ", ".join(("MAYDAY", *(part for part in parts if part))), scene.mayday.at
    if scene.evacuation_at is not None:
        return "EVACUATION ordered", scene.evacuation_at
    return alert_of(scene, now, tz) or "", None


def _clocks(scene: Scene, now: datetime) -> Iterator[Ticking]:
    on_scene, incident = on_scene_clock(scene), duration_clock(scene)
    if on_scene is not None:
        yield Ticking("On scene", since=on_scene.since, note="" if on_scene.reported else "no arrival reported")
    if incident is not None:
        yield Ticking("Since dispatch", since=incident.since)
    for timer in scene.timers:
        if timer.due_at > now:
            yield Ticking(timer.label or "Timer", until=timer.due_at)


# --- the pump


def _pumps(scene: Scene, own_unit: str) -> list[Pump]:
    """The own pump first, then those of others that do something."""
    own = [scene.pumps[own_unit]] if own_unit in scene.pumps else []
    return own + [pump for unit, pump in scene.pumps.items() if unit != own_unit and worth_showing(pump)]


def _pump(pump: Pump, rig: Rig, now: datetime) -> PumpCard:
    words = Words.of(rig)
    governing = max(pump.lines, key=lambda line: line.pressure_psi, default=None)
    on = tuple(_line(line, pump, rig, words, governs=line is governing) for line in pump.lines)
    named = {line.name for line in pump.lines}
    shut = {line.name: line for line in pump.shut if line.name is not None and line.name not in named}
    return PumpCard(
        unit=pump.unit,
        name=unit_name(pump.unit),
        hold=words.psi_bare(governing.pressure_psi) if governing is not None else "",
        hold_unit=words.pressure_unit,
        hold_for=governing.label if governing is not None else "",
        flow=words.gpm(pump.flow_gpm),
        source="Tank" if pump.on_tank else f"On the {SOURCE_WORDS[pump.source]}",
        on_tank=pump.on_tank,
        tank=tank_course(pump, words, now),
        tank_of=words.gal(pump.usable_gal),
        empty_at=pump.empty_at(),
        source_since=pump.source_since,
        source_lost=pump.source_lost,
        intake=words.psi(pump.intake_psi) if pump.intake_psi is not None else "",
        expected=_expected(pump),
        trouble=(pump.trouble or "").replace("_", " "),
        lines=on + tuple(_shut(line, words) for line in shut.values()),
    )


def _expected(pump: Pump) -> Ticking | None:
    if pump.supply_expected_at is None or not pump.on_tank:
        return None
    return Ticking(unit_name(pump.supply_unit) if pump.supply_unit else "Supply", until=pump.supply_expected_at)


def tank_course(pump: Pump, words: Words, now: datetime) -> tuple[TankStep, ...]:
    """The tank's figure now and whenever it changes, to its end or so far ahead as a screen must know; UTC times."""
    now_gal = pump.gallons_at(now)
    usable = pump.usable_gal or 1.0
    steps = [TankStep(now, words.gal(now_gal), round(min(1.0, now_gal / usable), 4))]
    left_s = pump.left_s(now)
    if left_s is None:
        return tuple(steps)
    until_s = min(left_s, AHEAD.total_seconds())
    apart_s = max(1.0, until_s / MOST_STEPS)
    for number in range(1, math.ceil(until_s / apart_s) + 1):
        at = now + timedelta(seconds=min(number * apart_s, until_s))
        gal = pump.gallons_at(at)
        step = TankStep(at, words.gal(gal), round(min(1.0, gal / usable), 4))
        if step.text != steps[-1].text:
            steps.append(step)
    return tuple(steps)


def _line(line: WorkingLine, pump: Pump, rig: Rig, words: Words, *, governs: bool) -> LineCard:
    state = "held" if line.held else "gated" if line.gated else "flowing"
    again = ("flow",) if line.held and (line.name is not None or _alone_held(line, pump)) else ()
    full = ("open",) if line.gated and not line.held and line.name is not None else ()
    close = ("close_nozzle",) if not line.held else ()
    return LineCard(
        number=line.number,
        label=line.label,
        psi=words.psi(line.pressure_psi),
        flow=flow_of(line, words),
        state=state,
        state_words={"held": "charged, nozzle shut", "gated": "gated, flowing", "flowing": "flowing"}[state],
        place=line.place or "",
        governs=governs,
        why=why_of(line, rig, words),
        doings=("shut", *(("gate",) if not line.held else ()), *close, *full, *again),
    )


def _shut(line: WorkingLine, words: Words) -> LineCard:
    return LineCard(
        number=line.number,
        label=line.label,
        psi=words.psi(line.pressure_psi),
        flow="shut",
        state="shut",
        state_words="shut",
        place=line.place or "",
        doings=("charge",),
    )


def why_of(line: WorkingLine, rig: Rig, words: Words) -> tuple[str, ...]:
    """How a line's pressure comes about, a line each, as its answer told it."""
    lies = ", ".join(
        part
        for part in (
            words.hose(line.hose_in) if line.hose_in is not None else "",
            words.feet(line.length_ft) if line.length_ft else "",
            line.place or "",
        )
        if part
    )
    told = [lies] if lies else []
    if line.lay is not None:
        try:
            told += how(work_out((lay_of((line,)),), rig), rig)
        except CrosslayError as error:
            told.append(error.message)
    if line.gated:
        told.append(f"Gated: {words.psi(line.pressure_psi)} behind the gate for {words.gpm(line.flow_gpm)}.")
    return tuple(told)


def words_for(doing: str, number: int, pump: Pump, rig: Rig, amount: float | None = None) -> str | None:
    """What a touched button of a line says, by how the pump stands now; None where the line isn't as it was shown.

    Args:
        number: the line's own number, which never changes.
        amount: the flow to gate to, in the rig's unit.
    """
    on = {line.number: place for place, line in enumerate(pump.lines, start=1)}
    line = next((one for one in (*pump.lines, *pump.shut) if one.number == number), None)
    if line is None or (number in on) == (doing == "charge"):
        return None
    same = sum(other.name == line.name for other in pump.lines)
    called = line.label.casefold() if line.name is not None and same <= 1 else f"line {on.get(number)}"
    if doing == "gate":
        return f"gate {called} to {whole(amount).replace(',', '')} {Words.of(rig).gpm_unit}" if amount else None
    if doing == "flow" and line.name is None:
        return "flowing" if _alone_held(line, pump) else None
    said = {
        "shut": "shut down {}",
        "open": "open {}",
        "close_nozzle": "{}'s nozzle is shut",
        "flow": "{} flowing again",
        "charge": "charge {}",
    }.get(doing)
    return said.format(called) if said is not None else None


def _alone_held(line: WorkingLine, pump: Pump) -> bool:
    """Whether "flowing" without a line means it: no other nozzle is shut."""
    return [one.number for one in pump.lines if one.held] == [line.number]


# --- people and marks


def _to_touch(scene: Scene) -> Iterator[Mark]:
    for benchmark in OF_A_MEDICAL_RUN if scene.kind == "medical" else OF_A_FIRE:
        stamp = scene.stamp(benchmark)
        yield _mark(stamp) if stamp is not None else Mark(benchmark, BENCHMARK_WORDS[benchmark])


def _mark(stamp: Stamp) -> Mark:
    return Mark(
        stamp.benchmark,
        BENCHMARK_WORDS[stamp.benchmark],
        stamp.at,
        unit_name(stamp.unit) if stamp.unit else "",
        stamp.place or "",
    )


def _crew(crew: Crew, rig: Rig, tz: tzinfo | None) -> CrewCard:
    words = Words.of(rig)
    turn, alarm_at, _rate, measured = outlook(crew, rig)
    state = "inside"
    if crew.coming_out_at is not None:
        state = f"coming out since {clock(crew.coming_out_at, tz)}"
    elif crew.told_out_at is not None:
        state = f"told to come out {clock(crew.told_out_at, tz)}"
    last = crew.gauges[-1] if crew.gauges else None
    return CrewCard(
        crew=unit_name(crew.crew),
        count=crew.count,
        entered_at=crew.entered_at,
        place=", ".join(part for part in (crew.place, crew.task) if part),
        state=state,
        gauge=words.gauge(last.psi) if last is not None else "",
        gauge_at=last.at if last is not None else None,
        turn=words.gauge_up(turn),
        alarm_at=alarm_at,
        alarm_words="Alarm about" if measured else "Alarm as early as",
    )


def _par(scene: Scene, tz: tzinfo | None) -> ParCard | None:
    if scene.par is None:
        return None
    silent, short = outstanding(scene.par)
    return ParCard(tuple(par_of(scene, tz)), tuple(map(unit_name, silent)), tuple(map(unit_name, short)))


def _coming(scene: Scene, rig: Rig, now: datetime) -> tuple[Coming, ...]:
    """What falls due next, each kind once."""
    found: dict[str, Coming] = {}
    for reminder in due(scene, rig, now):
        if reminder.at > now and reminder.name not in found:
            found[reminder.name] = Coming(reminder.name, reminder.at, _first(reminder.text), reminder.to)
        if len(found) == REMINDERS_AHEAD:
            break
    return tuple(found.values())


def _first(text: str) -> str:
    return text.splitlines()[0] if text else ""


def times_of(scene: Scene) -> Sequence[tuple[str, datetime]]:
    """What a timeline marks: every benchmark with its time, in order."""
    return tuple((BENCHMARK_WORDS[stamp.benchmark], stamp.at) for stamp in scene.stamps)
