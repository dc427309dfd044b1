"""What happened at a patient: the bodies of the events of a medical call. `handlers.events` has them too.

A body holds the command as it was told, with the patient it was taken to be of; times of its own are resolved to UTC.
"""

from __future__ import annotations

from datetime import datetime
from typing import TypeAlias

import msgspec

from grammar.commands import Medication, PatientTold, Procedure, Triage, Vitals


class CareBody(msgspec.Struct, frozen=True, tag=True, omit_defaults=True):
    """Base of what concerns one patient."""

    patient: str
    """ "1", "2", "driver": as handlers/medical/patients.py keeps them."""


class VitalsTaken(CareBody, frozen=True):
    told: Vitals


class DrugGiven(CareBody, frozen=True):
    told: Medication


class DoseUnitSaid(CareBody, frozen=True):
    """The unit of the last dose of a drug that was logged without one."""

    drug: str
    unit: str


class ProcedureDone(CareBody, frozen=True):
    told: Procedure


class PatientNoted(CareBody, frozen=True):
    told: PatientTold
    onset_at: datetime | None = None
    well_at: datetime | None = None


class TriageNoted(msgspec.Struct, frozen=True, tag=True, omit_defaults=True):
    """Tallies, changes and transports of a triage, as told."""

    told: Triage


MedicalBody: TypeAlias = VitalsTaken | DrugGiven | DoseUnitSaid | ProcedureDone | PatientNoted | TriageNoted
