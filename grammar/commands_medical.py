"""The commands of a medical call: what is told and asked of patients. `grammar.commands` has them too.

A value is as it was said, turned to one unit (mg/dL, °C, kg); None: not said. Nothing here is checked against ranges:
that is the handlers' work, so that what is out of range is asked about in one place.
"""

from __future__ import annotations

from typing import ClassVar, Literal, TypeAlias

from grammar.commands_base import Part, SaidTime, Spoken


class OxygenTime(Spoken, frozen=True):
    """Minutes of an oxygen cylinder."""

    intent: ClassVar[str] = "oxygen_time"
    cylinder: str | None = None
    gauge_psi: float | None = None
    flow_lpm: float | None = None


class Arrest(Spoken, frozen=True):
    """Cardiac-arrest clock: what was done."""

    intent: ClassVar[str] = "arrest"
    action: Literal[
        "cpr_started",
        "epinephrine",
        "shock",
        "rhythm_check",
        "compressor_change",
        "pulses_back",
        "cpr_stopped",
        "cpr_paused",
        "drug",
    ]
    joules: float | None = None
    text: str | None = None
    time: SaidTime | None = None


class HandOver(Spoken, frozen=True):
    """The hand-over summary is wanted."""

    intent: ClassVar[str] = "hand_over"
    patient: str | None = None


class Told(Spoken, frozen=True):
    """Base of what is told of one patient."""

    patient: str | None = None
    """ "2", "driver"; None: the one last spoken of."""
    time: SaidTime | None = None
    text: str | None = None
    """The words as they were said."""
    sure: bool = False
    """Said again although it was asked about."""


class Vitals(Told, frozen=True):
    """A set of vital signs, whatever of it was said, in any order."""

    intent: ClassVar[str] = "vitals"
    systolic: float | None = None
    diastolic: float | None = None
    palpated: bool = False
    pulse: float | None = None
    saturation: float | None = None
    breaths: float | None = None
    etco2: float | None = None
    glucose: float | None = None
    """mg/dL."""
    temperature: float | None = None
    """°C."""
    pain: float | None = None
    gcs_eye: float | None = None
    gcs_verbal: float | None = None
    gcs_motor: float | None = None
    gcs: float | None = None
    """The total, where only that was said."""
    carbon_monoxide: float | None = None
    avpu: Literal["alert", "verbal", "painful", "unresponsive"] | None = None
    rhythm: str | None = None
    apgar: float | None = None
    apgar_parts: tuple[float, ...] = ()
    apgar_minute: float | None = None
    face: Literal["normal", "abnormal"] | None = None
    arm: Literal["normal", "abnormal"] | None = None
    speech: Literal["normal", "abnormal"] | None = None
    room_air: bool = False
    burns: tuple[str, ...] = ()
    """Parts of the body that were named with a burn."""


class Medication(Told, frozen=True):
    """A drug was given, as reported."""

    intent: ClassVar[str] = "medication"
    drug: str = ""
    dose: float | None = None
    unit: str | None = None
    route: str | None = None
    by: str | None = None
    response: Literal["improved", "unchanged", "worse"] | None = None
    nth: int | None = None
    """The number that was said: "second naloxone"."""
    before_arrival: bool = False
    completes: bool = False
    """Only says the unit of the last dose of this drug that lacked it (a choice of that question)."""


class Procedure(Told, frozen=True):
    """Something was done for a patient."""

    intent: ClassVar[str] = "procedure"
    procedure: str = ""
    site: str | None = None
    gauge: float | None = None
    tries: int | None = None
    success: bool | None = None
    device: str | None = None
    size: float | None = None
    depth_cm: float | None = None
    confirmed: tuple[str, ...] = ()
    flow_lpm: float | None = None
    reported: str | None = None
    """What a 12-lead, a check or a screen showed, in the words that were said."""
    ended: bool = False
    """Taken off: a tourniquet, a device."""


class PatientTold(Told, frozen=True):
    """What is known of a patient; all of it as said."""

    intent: ClassVar[str] = "patient"
    age: float | None = None
    age_unit: Literal["years", "months", "weeks", "days"] = "years"
    sex: Literal["female", "male"] | None = None
    complaint: str | None = None
    onset_s: float | None = None
    """So long ago it began."""
    onset_time: SaidTime | None = None
    well_s: float | None = None
    """Last known well so long ago…"""
    well_time: SaidTime | None = None
    """…or at this time of day."""
    allergies: str | None = None
    medicines: str | None = None
    history: str | None = None
    weight_kg: float | None = None
    unstable: bool | None = None
    trapped: bool | None = None
    born: bool = False
    disposition: Literal["refused", "cancelled", "no_patient", "left", "at_hospital", "not_attempted"] | None = None
    to: str | None = None
    """Where to, or with whom."""


class TriageGroup(Part, frozen=True):
    """So many of one category, where they are."""

    category: Literal["red", "yellow", "green", "gray", "black"]
    count: int


class Triage(Spoken, frozen=True):
    """Tallies of patients by category, as reported."""

    intent: ClassVar[str] = "triage"
    action: Literal["started", "counted", "total", "changed", "moved", "transported", "wanted"]
    groups: tuple[TriageGroup, ...] = ()
    to_category: Literal["red", "yellow", "green", "gray", "black"] | None = None
    patient: str | None = None
    count: int | None = None
    place: str | None = None
    unit: str | None = None
    all: bool = False
    text: str | None = None
    time: SaidTime | None = None
    want: str | None = None
    """What is wanted: "ambulances"."""


class CareAsked(Spoken, frozen=True):
    """A question about patients, answered from the log."""

    intent: ClassVar[str] = "status"
    about: Literal["vitals", "drug", "procedure", "patients", "history", "arrest", "clocks"]
    name: str | None = None
    """Which vital sign, drug or procedure."""
    which: Literal["first", "last", "trend", "when", "count", "since", "left"] | None = None
    patient: str | None = None


MedicalCommand: TypeAlias = (
    OxygenTime | Arrest | HandOver | Vitals | Medication | Procedure | PatientTold | Triage | CareAsked
)
