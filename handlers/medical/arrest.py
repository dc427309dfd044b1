"""Cardiac-arrest clock: CPR, rhythm checks, doses and shocks as reported, and the intervals that follow.

Intervals: compressor change and rhythm check every 2 min, epinephrine every 3–5 min, after a shock the next check in
2 min (AHA 2020 adult cardiac arrest algorithm, copies; 2025 unchanged here). Announced, never ordered: medical
direction decides.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import islice

from msgspec.structs import replace

from grammar.commands import Arrest, Medication
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import ArrestAction, KindSet
from handlers.events_medical import DrugGiven
from handlers.incident.clocks import ticks
from handlers.medical.patients import DIRECTION
from handlers.medical.resuscitation import no_flow_s, share_words
from handlers.outcome import Answer, Audience, Dated, Outcome, Reminder, Said
from handlers.rig import Rig
from handlers.scene import ArrestClock, Scene
from handlers.times import clock, duration, stated

CHECKS_PLANNED = 45  # rhythm checks planned ahead (90 min); a later event plans on
MEDIC = ("medic", "ambulance", "rescue")
"""How the units that care for a patient are called (common practice)."""


class ArrestAnswer(Answer, frozen=True):
    """Answer of `arrest`: what was logged, and what is due."""

    action: str
    at: datetime
    rhythm_check_at: datetime | None = None
    epi_from_at: datetime | None = None
    epi_to_at: datetime | None = None
    doses: int = 0
    shocks: int = 0


@handle.register
def arrest(command: Arrest, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Something was done for a patient in cardiac arrest: logged, with the next interval."""
    at = stated(command.time, said.at, said.tz)
    if command.action in ("pulses_back", "cpr_stopped") and scene.arrest is None:
        raise Refusal("No CPR is logged in this incident: say “CPR started” with its time first.")
    check_at = at + timedelta(minutes=rig.intervals.rhythm_check_min)
    doses = len(scene.arrest.doses) if scene.arrest else 0
    shocks = len(scene.arrest.shocks) if scene.arrest else 0
    when = clock(at, said.tz, seconds=True)
    epi_from = epi_to = None
    due: datetime | None = check_at
    cautions = [DIRECTION]
    match command.action:
        case "cpr_started":
            lead = f"CPR started {when}. Rhythm check and compressor change {clock(check_at, said.tz, seconds=True)}."
        case "epinephrine":
            doses += 1
            epi_from = at + timedelta(minutes=rig.intervals.epi_from_min)
            epi_to = at + timedelta(minutes=rig.intervals.epi_to_min)
            window = f"{clock(epi_from, said.tz, seconds=True)} to {clock(epi_to, said.tz, seconds=True)}"
            lead = f"Epinephrine, dose {doses}, logged {when}. Window {window}."
            due = None
        case "shock":
            shocks += 1
            joules = f", {command.joules:g} J" if command.joules else ""
            lead = f"Shock {shocks}{joules}, logged {when}. Next rhythm check {clock(check_at, said.tz, seconds=True)}."
        case "rhythm_check":
            lead = f"Rhythm check {when}. Next {clock(check_at, said.tz, seconds=True)}."
        case "compressor_change":
            lead = f"Compressor changed {when}. Next {clock(check_at, said.tz, seconds=True)}."
        case "cpr_paused":
            lead = f"Compressions paused {when}. The no-flow clock runs."
            due = None
        case "pulses_back":
            lead = f"Pulses back, {when}. Logged. Arrest clock stopped."
            due = None
        case "cpr_stopped":
            lead = f"CPR stopped, {when}. Logged. Arrest clock stopped."
            due = None
        case _:
            lead = f"{command.text or 'Drug'}, logged {when}."
            due = None
    how = _how(command, scene, rig, at)
    if scene.arrest is None and command.action not in ("cpr_started", "drug"):
        cautions.insert(0, "No CPR start is logged: say “CPR started at …”.")
    events: list[Dated] = []
    if scene.kind != "medical" and not _is_a_fire(scene):
        events.append(Dated(KindSet(kind="medical"), at=at))
        how.append("Taken as a medical run: fire reminders are off. Say “structure fire” if it isn't.")
    events += [Dated(body, at=at) for body in _logged(command, scene)]
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        answer=ArrestAnswer(
            action=command.action,
            at=at,
            rhythm_check_at=due,
            epi_from_at=epi_from,
            epi_to_at=epi_to,
            doses=doses,
            shocks=shocks,
        ),
        cautions=tuple(cautions),
        events=tuple(events),
        opens=True,
    )


ENDS = ("pulses_back", "cpr_stopped")


def _how(command: Arrest, scene: Scene, rig: Rig, at: datetime) -> list[str]:
    """What follows for the clock: that it ran no more, the share of CPR at its end, the pause that ends."""
    state = scene.arrest
    if state is None:
        return []
    lines = []
    if (state.stopped_at or state.pulses_at) and command.action not in ENDS:
        lines.append("The arrest clock had been stopped.")
    if command.action in ENDS:
        lines.append(share_words(replace(state, stopped_at=at), at))
    if command.action == "pulses_back":
        lines.append(f"Vital signs: told every {rig.intervals.reassess_unstable_min:g} min from the last set on.")
    paused = next((begun for begun, until in reversed(state.pauses) if until is None), None)
    if command.action == "cpr_started" and paused is not None:
        lines.append(f"No-flow {duration((at - paused).total_seconds())}, {duration(no_flow_s(state, at))} in all.")
    return lines


def _logged(command: Arrest, scene: Scene) -> list[ArrestAction | DrugGiven]:
    """What was done; a dose stands with the patient's drugs too, where a patient is known."""
    patient = scene.care.current if scene.care.patients else None
    done = ArrestAction(action=command.action, joules=command.joules, text=command.text, patient=patient)
    if command.action != "epinephrine" or patient is None:
        return [done]
    return [done, DrugGiven(patient, Medication(drug="epinephrine", text=command.text))]


FIRE_STAMPS = frozenset({"water_supply", "water_on_fire", "primary_search_started", "knocked_down", "ventilation"})


def _is_a_fire(scene: Scene) -> bool:
    """Told to be one, or worked as one: an arrest at it runs beside its reminders (convention 23)."""
    worked = any(stamp.benchmark in FIRE_STAMPS for stamp in scene.stamps)
    pumping = any(pump.lines or pump.shut for pump in scene.pumps.values())
    return scene.open and (scene.dispatch_text is not None or worked or pumping or bool(scene.crews))


def arrest_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`rhythm_check` every 2 min from the last check, and the `epi_window` opening and closing after the last dose."""
    state = scene.arrest
    if state is None or state.stopped_at is not None or state.pulses_at is not None:
        return []
    anchor = state.last_check_at
    following = islice(ticks(anchor, rig.intervals.rhythm_check_min, now), CHECKS_PLANNED)
    to = ("officer", "crew", *(unit for unit in scene.companies if unit.startswith(MEDIC)))
    found = [_check(state, anchor, count, at, to) for count, at in following]
    if state.doses:
        dose = state.doses[-1]
        for edge, wait, words in (
            ("opens", rig.intervals.epi_from_min, "window opens"),
            ("closes", rig.intervals.epi_to_min, "window ends"),
        ):
            found.append(
                Reminder(
                    key=f"epi_window/{dose.isoformat()}/{edge}",
                    name="epi_window",
                    at=dose + timedelta(minutes=wait),
                    to=to,
                    text=f"Epinephrine {words}: {wait:g} min since the last dose. Medical direction decides.",
                )
            )
    return found


def _check(state: ArrestClock, anchor: datetime, count: int, at: datetime, to: Audience) -> Reminder:
    running = duration((at - state.started_at).total_seconds())
    return Reminder(
        key=f"rhythm_check/{anchor.isoformat()}/{count}",
        name="rhythm_check",
        at=at,
        to=to,
        text=f"Rhythm check, compressor change. CPR {running}.",
    )
