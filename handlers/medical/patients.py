"""Which patient is meant, who may read what was told of them, and how sets, doses and procedures are put into words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import tzinfo

from grammar.commands import Medication, PatientTold, Procedure, Vitals
from handlers.care import CATEGORIES, Care, Done, Given, Patient, VitalSet
from handlers.medical.ranges import SIGNS
from handlers.medical.scales import gcs_total
from handlers.outcome import Said
from handlers.rights import is_guest
from handlers.scene import Scene
from handlers.times import clock, listed

DIRECTION = "Interval only: local protocol and medical direction decide."
ELSEWHERE = "What concerns a patient isn't told here: the officer and who reported it ask in a room of their own."


_SAME = {"mom": "mother", "dad": "father", "newborn": "baby", "infant": "baby"}


def meant(scene: Scene, named: str | None) -> str:
    """The key of the patient that is meant: the named one, by a word of the name too; else the one last spoken of."""
    care = scene.care
    if named is None:
        return care.current or "1"
    if named in care.patients:
        return named
    named = _SAME.get(named, named)
    if named in care.patients:
        return named
    first = care.patients.get("1")
    if named == "mother" and first is not None and first.told.sex == "female":
        return first.key
    words = set(named.split()) - {"one", "patient"}
    for key in care.patients:
        if (words and words <= set(key.split())) or (
            words and set(key.split()) - {"one", "patient"} <= words and not key.isdigit()
        ):
            return key
    return named


def heading(scene: Scene, key: str, care: Care | None = None) -> str:
    """ "Patient 2: ", where there are several, or this one goes by a name; else ""."""
    known = scene.care.patients
    others = [one for one in known if one != key]
    if not others and key == "1":
        return ""
    return f"{f'Patient {key}' if key.isdigit() else key[:1].upper() + key[1:]}: "


def reads(scene: Scene, said: Said, patient: Patient | None) -> bool:
    """Whether the speaker may be shown what concerns a patient, where they speak."""
    if not said.live:
        return True
    if said.others_here or is_guest(said):
        return False
    return said.role == "officer" or (patient is not None and said.who in patient.reporters)


def reads_reply(said: Said) -> bool:
    """Whether the reply to one's own report may repeat it: not where others read it."""
    return not (said.live and said.others_here)


# --- in words


def signs_words(told: Vitals) -> str:
    """ "BP 150/90, pulse 96, SpO2 94 %, resp 20"; an order that doesn't hang on the one it was said in."""
    parts = []
    if told.systolic is not None:
        below = "palp" if told.palpated else f"{told.diastolic:g}" if told.diastolic is not None else "not said"
        parts.append(f"BP {told.systolic:g}/{below}")
    elif told.diastolic is not None:
        parts.append(f"diastolic {told.diastolic:g}")
    short = {
        "pulse": "pulse {:g}", "breaths": "resp {:g}", "etco2": "EtCO2 {:g} mmHg", "carbon_monoxide": "SpCO {:g} %",
        "glucose": "glucose {:.0f} mg/dL", "temperature": "temp {:.1f} °C", "pain": "pain {:g}/10",
    }  # fmt: skip
    for sign in SIGNS:
        value = getattr(told, sign.field)
        if value is None:
            continue
        if sign.field == "saturation":
            parts.append(f"SpO2 {value:g} %{' on room air' if told.room_air else ''}")
        elif sign.field in short:
            parts.append(short[sign.field].format(value))
    total = gcs_total(told)
    if total is not None:
        parts.append(f"GCS {total:g}")
    if told.avpu is not None:
        parts.append(told.avpu)
    if told.rhythm is not None:
        parts.append(f"rhythm {told.rhythm}")
    if told.apgar is not None or told.apgar_parts:
        score = told.apgar if told.apgar is not None else sum(told.apgar_parts)
        parts.append(f"APGAR {score:g}{f' at {told.apgar_minute:g} min' if told.apgar_minute else ''}")
    for name, how in (("facial droop", told.face), ("arm drift", told.arm), ("speech", told.speech)):
        if how is not None:
            parts.append(f"{name} {how}")
    if told.burns:
        parts.append("burns: " + ", ".join(told.burns))
    return ", ".join(parts)


def how_many(told: Vitals) -> int:
    """How many values a set holds."""
    numbers = [name for name in Vitals.__struct_fields__ if isinstance(getattr(told, name), float | int)]
    flags = ("palpated", "room_air", "sure", "apgar_minute")
    words = [name for name in ("avpu", "rhythm", "face", "arm", "speech") if getattr(told, name) is not None]
    return len([name for name in numbers if name not in flags]) + len(words) + len(told.burns)


def dose_words(told: Medication) -> str:
    """ "naloxone 4 mg IN"; a unit that wasn't said is said to be missing."""
    parts = [told.drug]
    if told.dose is not None:
        parts.append(f"{told.dose:g} {told.unit}" if told.unit else f"{told.dose:g} (unit not said)")
    if told.route:
        parts.append(told.route)
    words = " ".join(parts)
    return f"{words}, by {told.by}" if told.by else words


_SITES = {"ac": "AC", "ej": "EJ"}


def procedure_words(told: Procedure) -> str:
    """ "IV access 18 gauge, left AC"."""
    name = told.procedure if told.procedure[:3].isupper() else told.procedure[:1].upper() + told.procedure[1:]
    name = name.replace("Iv access", "IV access").replace("Io access", "IO access")
    parts = [name]
    if told.ended:
        parts[0] += " off"
    if told.gauge is not None:
        parts[0] += f" {told.gauge:g} gauge"
    if told.size is not None:
        parts[0] += f" size {told.size:g}"
    if told.site:
        parts.append(" ".join(_SITES.get(word, word) for word in told.site.split()))
    if told.flow_lpm is not None:
        parts.append(f"{told.flow_lpm:g} L/min")
    if told.device:
        parts.append(told.device)
    if told.depth_cm is not None:
        parts.append(f"{told.depth_cm:g} cm")
    if told.confirmed:
        parts.append("confirmed by " + listed(told.confirmed))
    if told.tries is not None:
        parts.append(f"{told.tries} {'try' if told.tries == 1 else 'tries'}")
    if told.success is False:
        parts.append("not successful")
    if told.reported:
        parts.append(f"reported: {told.reported}")
    return ", ".join(parts)


def told_words(told: PatientTold) -> list[str]:
    """What is known of a patient, part by part."""
    parts = []
    who = " ".join(
        part for part in (f"{told.age:g} {told.age_unit}" if told.age is not None else "", told.sex or "") if part
    )
    if who:
        parts.append(who)
    for label, value in (
        ("", told.complaint),
        ("allergies: ", told.allergies),
        ("medicines: ", told.medicines),
        ("history: ", told.history),
    ):
        if value:
            parts.append(f"{label}{value}")
    if told.weight_kg is not None:
        parts.append(f"{told.weight_kg:.1f} kg")
    if told.trapped is not None:
        parts.append("trapped" if told.trapped else "freed")
    if told.unstable is not None:
        parts.append("told to be unstable" if told.unstable else "told to be stable")
    return parts


def set_line(taken: VitalSet, tz: tzinfo | None) -> str:
    return f"{clock(taken.at, tz)} {signs_words(taken.told)}"


def given_line(given: Given, tz: tzinfo | None) -> str:
    return f"{clock(given.at, tz)} {dose_words(given.told)}" + (
        f", {given.told.response}" if given.told.response else ""
    )


def done_line(done: Done, tz: tzinfo | None) -> str:
    return f"{clock(done.at, tz)} {procedure_words(done.told)}"


def tally_words(care: Care) -> str:
    """ "red 2, yellow 4, green 2, black 1: 9 here"."""
    parts = [f"{category} {count}" for category in CATEGORIES if (count := care.count(category))]
    return (
        f"{', '.join(parts) or 'no patients'}: {care.here} here"
        if care.tallies or care.triaged
        else "no triage reported"
    )


def counts_line(patient: Patient, tz: tzinfo | None) -> str:
    """What everybody may read of a patient: times and counts."""
    parts = []
    kinds: Iterable[tuple[str, tuple[VitalSet, ...] | tuple[Given, ...] | tuple[Done, ...]]] = (
        ("vitals", patient.vitals),
        ("drugs", patient.drugs),
        ("procedures", patient.procedures),
    )
    for name, things in kinds:
        if things:
            parts.append(f"{name} {len(things)} (last {clock(max(one.at for one in things), tz)})")
    number = f"Patient {patient.key}" if patient.key.isdigit() else "Patient"
    return f"{number}: {', '.join(parts) or 'since ' + clock(patient.first_at, tz)}"
