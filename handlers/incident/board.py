"""The status board: the whole incident at a glance, as titled lines that a pinned message or a screen panel can show.

What flows and when things were reported, with clock times beside what counts down, so that a board that wasn't edited
for a minute is still right. It says what was reported and calculated, no verdict.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo

import msgspec

from handlers.incident.accountability import outstanding
from handlers.incident.air import outlook
from handlers.incident.clocks import duration_clock
from handlers.incident.describing import BENCHMARK_WORDS, SOURCE_WORDS
from handlers.medical.patients import counts_line, tally_words
from handlers.pumping.working_lines import flow_of
from handlers.rig import Rig
from handlers.scene import Crew, Pump, Scene
from handlers.times import clock, duration, listed, minutes, unit_name
from handlers.words import Words

MARKS_SHOWN = 12


class BoardSection(msgspec.Struct, frozen=True):
    """A title and its lines."""

    title: str
    lines: tuple[str, ...]


class Board(msgspec.Struct, frozen=True):
    """The board: a heading, sections; `alert` when something overrides all else (Mayday, evacuation, supply lost)."""

    heading: str
    sections: tuple[BoardSection, ...]
    alert: str | None = None

    @property
    def text(self) -> str:
        """As one plain message."""
        head = [self.alert] if self.alert else []
        parts = ["\n".join((section.title.upper(), *section.lines)) for section in self.sections]
        return "\n\n".join([*head, self.heading, *parts])


def board(scene: Scene, rig: Rig, now: datetime, tz: tzinfo | None) -> Board:
    """The board of an incident as it stands at `now`; a closed one stands still, as it was closed."""
    now = min(now, scene.closed_at) if scene.closed_at is not None else now
    sections = [
        BoardSection("Clocks", tuple(_clocks(scene, now, tz))),
        *(_pump(pump, rig, now, tz) for pump in scene.pumps.values() if worth_showing(pump)),
        BoardSection("Benchmarks", tuple(_marks(scene, tz))),
        BoardSection("Inside", tuple(_inside(crew, rig, now, tz) for crew in scene.crews_inside)),
        BoardSection("Companies", tuple(companies_of(scene))),
        BoardSection("PAR", tuple(par_of(scene, tz))),
        BoardSection("Patients", tuple(patients_of(scene, now, tz))),
    ]
    what = ", ".join(part for part in (scene.nature, scene.address) if part)
    closed = f", closed {clock(scene.closed_at, tz)}" if scene.closed_at else ""
    return Board(
        heading=f"{scene.incident or 'No incident'}{': ' + what if what else ''}{closed}",
        sections=tuple(section for section in sections if section.lines),
        alert=alert_of(scene, now, tz),
    )


def alert_of(scene: Scene, now: datetime, tz: tzinfo | None) -> str | None:
    """What overrides all else, in words."""
    if scene.mayday_open and scene.mayday is not None:
        running = duration((now - scene.mayday.at).total_seconds())
        return f"MAYDAY since {clock(scene.mayday.at, tz)} ({running})"
    if scene.evacuation_at is not None:
        return f"EVACUATION ordered {clock(scene.evacuation_at, tz)}"
    lost = [unit_name(pump.unit) for pump in scene.pumps.values() if pump.source_lost]
    return f"SUPPLY LOST: {listed(lost)}" if lost else None


def _clocks(scene: Scene, now: datetime, tz: tzinfo | None) -> Iterator[str]:
    for name, words in (("dispatched", "Duration of incident"), ("on_scene", "On scene")):
        stamp = scene.stamp(name)
        if stamp is not None and (name != "dispatched" or duration_clock(scene) is not None):
            yield f"{words} {minutes((now - stamp.at).total_seconds())} (since {clock(stamp.at, tz)})"
    if scene.strategy is not None:
        yield f"Strategy: {scene.strategy}"
    for timer in scene.timers:
        if timer.due_at > now:
            yield f"Timer {clock(timer.due_at, tz)}: {timer.label}"


def worth_showing(pump: Pump) -> bool:
    """Whether anything was done at this pump."""
    return bool(pump.lines or pump.shut or pump.source_since or pump.used_gal)


def _pump(pump: Pump, rig: Rig, now: datetime, tz: tzinfo | None) -> BoardSection:
    words = Words.of(rig)
    lines = []
    if pump.on_tank:
        left = pump.left_s(now)
        tank = f"Tank {words.gal(pump.gallons_at(now))}"
        if left is not None and left <= 0:
            tank = "Tank calculated empty: check the gauge"
        elif left is not None:
            tank += f", {duration(left)} left, empty about {clock(now + timedelta(seconds=left), tz)} (calculated)"
        lines.append(tank)
    else:
        since = f" since {clock(pump.source_since, tz)}" if pump.source_since else ""
        intake = f", intake {words.psi(pump.intake_psi)}" if pump.intake_psi is not None else ""
        lines.append(f"On the {SOURCE_WORDS[pump.source]}{since}{intake}; tank {words.gal(pump.gallons_at(now))}")
    if pump.supply_expected_at is not None and pump.on_tank:
        who = unit_name(pump.supply_unit) if pump.supply_unit else "supply"
        lines.append(f"Expected: {who}, about {clock(pump.supply_expected_at, tz)}")
    for line in pump.lines:
        where = f", {line.place}" if line.place else ""
        lines.append(f"{line.label}: {words.psi(line.pressure_psi)}, {flow_of(line, words)}{where}")
    if len(pump.lines) > 1:
        lines.append(f"Together {words.gpm(pump.flow_gpm)}")
    if pump.trouble:
        lines.append(f"Trouble: {pump.trouble.replace('_', ' ')}")
    return BoardSection(unit_name(pump.unit), tuple(lines))


def _marks(scene: Scene, tz: tzinfo | None) -> Iterator[str]:
    for stamp in scene.stamps[-MARKS_SHOWN:]:
        unit = f"{unit_name(stamp.unit)} " if stamp.unit and stamp.benchmark in ("en_route", "on_scene") else ""
        words = BENCHMARK_WORDS[stamp.benchmark]
        place = f", {stamp.place}" if stamp.place else ""
        yield f"{clock(stamp.at, tz)} {unit}{words.lower() if unit else words}{place}"


def _inside(crew: Crew, rig: Rig, now: datetime, tz: tzinfo | None) -> str:
    parts = [unit_name(crew.crew) + (f" ({crew.count})" if crew.count else "")]
    if crew.place:
        parts.append(crew.place)
    if crew.entered_at is not None:
        parts.append(f"in {minutes((now - crew.entered_at).total_seconds())}")
    if crew.coming_out_at is not None:
        parts.append(f"COMING OUT since {clock(crew.coming_out_at, tz)}")
    elif crew.told_out_at is not None:
        parts.append(f"told to come out {clock(crew.told_out_at, tz)}")
    if crew.gauges:
        last = crew.gauges[-1]
        parts.append(f"{Words.of(rig).gauge(last.psi)} at {clock(last.at, tz)}")
    _turn, alarm_at, _rate, measured = outlook(crew, rig)
    parts.append(f"alarm {'about' if measured else 'as early as'} {clock(alarm_at, tz)}")
    return ", ".join(parts)


def companies_of(scene: Scene) -> Iterator[str]:
    """The companies with an assignment or a known number, a line each."""
    for company in scene.companies.values():
        if company.left_at is not None:
            continue
        crew = f" ({company.staffing})" if company.staffing else ""
        doing = ", ".join(part for part in (company.place, company.task) if part)
        if doing or crew:
            yield f"{unit_name(company.unit)}{crew}{': ' + doing if doing else ''}"


def par_of(scene: Scene, tz: tzinfo | None) -> Iterator[str]:
    """The last PAR: who answered, who didn't, whose answer was short."""
    if scene.par is None:
        return
    answered = {unit: count for unit, count, _missing, _at in scene.par.answered}
    told = [f"{unit_name(unit)} {count if count is not None else '?'}" for unit, count in answered.items()]
    if scene.par.asked:
        yield f"Asked {clock(scene.par.at, tz)}. Answered: {listed(told) or 'nobody yet'}"
    else:
        yield f"Not asked. Reported since {clock(scene.par.at, tz)}: {listed(told)}"
    silent, short = outstanding(scene.par)
    if silent:
        yield f"No answer: {listed([unit_name(unit) for unit in silent])}"
    if short:
        yield f"SHORT: {listed([unit_name(unit) for unit in short])}"


def patients_of(scene: Scene, now: datetime, tz: tzinfo | None) -> Iterator[str]:
    """Times and counts: a board is read by everybody in its room."""
    care = scene.care
    if care.triaged:
        yield f"Triage since {clock(care.triage_at, tz)}: {tally_words(care)}" if care.triage_at else tally_words(care)
        for place in dict.fromkeys(tally.place for tally in care.tallies if tally.place):
            there = [f"{one.category} {one.count}" for one in care.tallies if one.place == place]
            yield f"{place[:1].upper()}{place[1:]}: {', '.join(there)}"
        if care.transported:
            yield f"Transported: {care.transported}"
    for want, count in care.wanted.items():
        yield f"Wanted: {count} {want}"
    yield from (counts_line(patient, tz) for patient in care.patients.values())
    yield from _arrest(scene, now, tz)


def _arrest(scene: Scene, now: datetime, tz: tzinfo | None) -> Iterator[str]:
    state = scene.arrest
    if state is None:
        return
    if state.pulses_at is not None:
        yield f"Pulses back {clock(state.pulses_at, tz)}"
    elif state.stopped_at is not None:
        yield f"CPR stopped {clock(state.stopped_at, tz)}"
    else:
        yield f"CPR {duration((now - state.started_at).total_seconds())} (since {clock(state.started_at, tz)})"
    if state.doses:
        yield f"Epinephrine {len(state.doses)}, last {clock(state.doses[-1], tz, seconds=True)}"
    if state.shocks:
        yield f"Shocks {len(state.shocks)}, last {clock(state.shocks[-1], tz, seconds=True)}"
