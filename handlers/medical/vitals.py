"""Vital signs as they were told: checked against what can be, logged with their time, beside the set before."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from grammar.commands import Choice, Question, Vitals
from handlers.desk import handle
from handlers.events import KindSet
from handlers.events_medical import VitalsTaken
from handlers.medical.patients import heading, how_many, meant, reads_reply, set_line, signs_words
from handlers.medical.ranges import Doubt, doubts, jump
from handlers.medical.scales import (
    CHILD_UNDER,
    Burned,
    gcs_total,
    mean_pressure,
    rule_of_nines,
    shock_index,
    worked_out,
)
from handlers.outcome import Answer, Dated, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, stated


class VitalsAnswer(Answer, frozen=True):
    """Answer of `vitals`: what was logged; temperatures in °C, glucose in mg/dL."""

    patient: str
    at: datetime
    systolic: float | None = None
    diastolic: float | None = None
    palpated: bool = False
    pulse: float | None = None
    saturation: float | None = None
    breaths: float | None = None
    etco2: float | None = None
    glucose: float | None = None
    temperature: float | None = None
    pain: float | None = None
    gcs: float | None = None
    avpu: str | None = None
    rhythm: str | None = None
    mean_pressure: float | None = None
    shock_index: float | None = None
    burned_percent: float | None = None


def opens_as_medical(scene: Scene) -> tuple[Dated, ...]:
    """What concerns a patient, out of any incident, opens a medical run."""
    return () if scene.open else (Dated(KindSet(kind="medical")),)


@handle.register
def vitals(command: Vitals, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Log a set; what can't be is asked about and never logged unasked."""
    at = stated(command.time, said.at, said.tz)
    key = meant(scene, command.patient)
    found = doubts(command)
    good = _without(command, found)
    known = scene.care.patients.get(key)
    last = known.vitals[-1] if known is not None and known.vitals else None
    leap = jump(good, last, (at - last.at).total_seconds() if last else 0.0)
    if leap is not None:
        found.append(leap)
        good = _without(good, [leap])
    asks = _question(command, found[0]) if found else None
    if asks is not None and how_many(good) == 0:
        return Outcome(intent=command.intent, question=asks)
    good = replace(good, time=None)
    when = clock(at, said.tz)
    shown = reads_reply(said)
    told = f"{heading(scene, key)}{signs_words(good)}, {when}. Logged."
    lead = told if shown else f"Vitals {when}: {how_many(good)} values. Logged."
    how: list[str] = []
    nines = rule_of_nines(good.burns, _child(scene, key)) if good.burns else None
    if shown:
        how += [f"{one.text} ({one.source})." for one in worked_out(good, metric=rig.units == "metric")]
        if nines is not None:
            how += _burned(nines, _child(scene, key))
        if last is not None:
            how.append(f"Before: {set_line(last, said.tz)}.")
    total = gcs_total(good)
    both = good.systolic is not None and good.diastolic is not None
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        spoken=lead,
        answer=VitalsAnswer(
            patient=key,
            at=at,
            systolic=good.systolic,
            diastolic=good.diastolic,
            palpated=good.palpated,
            pulse=good.pulse,
            saturation=good.saturation,
            breaths=good.breaths,
            etco2=good.etco2,
            glucose=good.glucose,
            temperature=good.temperature,
            pain=good.pain,
            gcs=total,
            avpu=good.avpu,
            rhythm=good.rhythm,
            mean_pressure=mean_pressure(good.systolic, good.diastolic) if both else None,  # type: ignore[arg-type]
            shock_index=shock_index(good.pulse, good.systolic) if good.pulse and good.systolic else None,
            burned_percent=nines.percent if nines is not None else None,
        ),
        events=(*opens_as_medical(scene), Dated(VitalsTaken(key, good), at=at)),
        follow_up=asks,
        opens=True,
    )


def _child(scene: Scene, key: str) -> bool:
    known = scene.care.patients.get(key)
    if known is None or known.told.age is None:
        return False
    return known.told.age_unit != "years" or known.told.age < CHILD_UNDER


def _without(command: Vitals, found: list[Doubt]) -> Vitals:
    """The set without what is asked about; a pressure goes as a whole."""
    gone: dict[str, object] = {}
    for doubt in found:
        match doubt.field:
            case "systolic" | "diastolic":
                gone |= {"systolic": None, "diastolic": None}
            case "gcs_eye" | "gcs_verbal" | "gcs_motor":
                gone |= {"gcs_eye": None, "gcs_verbal": None, "gcs_motor": None}
            case "apgar_parts":
                gone["apgar_parts"] = ()
            case field:
                gone[field] = None
    return replace(command, **gone)


def _question(command: Vitals, doubt: Doubt) -> Question:
    """A closed one where there is something to choose; else the value again."""
    bare = replace(_only(command), sure=False)
    value = getattr(command, doubt.field)
    if doubt.field == "diastolic" and command.systolic is not None and command.diastolic is not None:
        turned = replace(bare, systolic=command.diastolic, diastolic=command.systolic)
        if max(command.systolic, command.diastolic) <= 500:
            return Question(
                doubt.text,
                (
                    Choice(f"{command.diastolic:g} over {command.systolic:g}", (turned,)),
                    Choice("Neither, I say it again"),
                ),
            )
    if doubt.text.endswith("Log it?"):
        again = replace(bare, **{doubt.field: value, "sure": True})
        if doubt.field == "systolic":
            again = replace(again, diastolic=command.diastolic, palpated=command.palpated)
        return Question(doubt.text, (Choice("Yes, log it", (again,)), Choice("No")))
    return Question(doubt.text, (), fills=bare, slot=doubt.field)


def _only(command: Vitals) -> Vitals:
    """The command's patient, time and words, with no value."""
    return Vitals(patient=command.patient, time=command.time, text=command.text)


def _burned(nines: Burned, child: bool) -> list[str]:
    lines = []
    if nines.how:
        whose = "small child; its shares differ by age and by book" if child else "adult"
        lines.append(f"{nines.percent:g} % = {' + '.join(nines.how)} (rule of nines, {whose}, Wallace 1951).")
    if nines.without:
        lines.append(f"No share of the rule for: {', '.join(nines.without)}.")
    return lines
