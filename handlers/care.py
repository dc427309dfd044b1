"""The part of the scene that concerns patients: who they are, what was measured, given and done; the tallies.

All parts are frozen; times are aware UTC datetimes. `handlers/folding/care.py` folds the log into it.
"""

from __future__ import annotations

from datetime import datetime

import msgspec

from grammar.commands import Medication, PatientTold, Procedure, Vitals

CATEGORIES = ("red", "yellow", "green", "gray", "black")
"""Triage categories in their order (eScene.08)."""


class VitalSet(msgspec.Struct, frozen=True):
    """Vital signs that were told together."""

    at: datetime
    told: Vitals
    seq: int = 0


class Given(msgspec.Struct, frozen=True):
    """A dose as it was reported."""

    at: datetime
    told: Medication
    seq: int = 0


class Done(msgspec.Struct, frozen=True):
    """A procedure as it was reported."""

    at: datetime
    told: Procedure
    seq: int = 0


class Patient(msgspec.Struct, frozen=True):
    """One patient; `key` is a number, or the name of a place that stands for them ("driver")."""

    key: str
    first_at: datetime
    told: PatientTold = PatientTold()
    """All that was told of who they are, the newest word of each kind."""
    onset_at: datetime | None = None
    well_at: datetime | None = None
    """Last known well."""
    vitals: tuple[VitalSet, ...] = ()
    drugs: tuple[Given, ...] = ()
    procedures: tuple[Done, ...] = ()
    words: tuple[tuple[datetime, str], ...] = ()
    """Everything as it was said, with its time."""
    notes: tuple[tuple[datetime, str], ...] = ()
    """What was told of who they are and what happened, as it was said."""
    reporters: tuple[str, ...] = ()
    """People who told of this patient."""
    category: str | None = None
    born_at: datetime | None = None
    reassess_from: datetime | None = None
    """Told to be unstable, or pulses back, since then: vitals are due at the shorter interval."""

    @property
    def name(self) -> str:
        """ "Patient 2", "Driver"."""
        return f"Patient {self.key}" if self.key.isdigit() else self.key[:1].upper() + self.key[1:]

    @property
    def tourniquets(self) -> tuple[Done, ...]:
        """Those that are on: each that was put on and not said to be off, by its place."""
        on: list[Done] = []
        for done in self.procedures:
            if done.told.procedure != "tourniquet":
                continue
            if done.told.ended:
                gone = next((one for one in reversed(on) if done.told.site in (None, one.told.site)), None)
                on = [one for one in on if one is not gone]
            else:
                on.append(done)
        return tuple(on)


class Tally(msgspec.Struct, frozen=True):
    """So many patients of one category at one place ("" where none was named)."""

    category: str
    place: str
    count: int


class Care(msgspec.Struct, frozen=True):
    """Patients and triage of an incident."""

    patients: dict[str, Patient] = {}
    current: str | None = None
    """The patient last spoken of."""
    triage_at: datetime | None = None
    tallies: tuple[Tally, ...] = ()
    """Patients who are still here."""
    gone: tuple[tuple[str, int, str | None, datetime], ...] = ()
    """(category or "", how many, with whom, when) who were transported."""
    total: int | None = None
    """How many patients there were said to be."""
    wanted: dict[str, int] = {}
    """What was asked for, counted: "ambulances" → 3."""
    arrest_patient: str | None = None

    @property
    def active(self) -> bool:
        return bool(self.patients) or self.triaged

    @property
    def triaged(self) -> bool:
        return self.triage_at is not None or bool(self.tallies or self.gone)

    def count(self, category: str) -> int:
        """How many of a category are still here."""
        return sum(tally.count for tally in self.tallies if tally.category == category)

    @property
    def here(self) -> int:
        return sum(tally.count for tally in self.tallies)

    @property
    def transported(self) -> int:
        return sum(count for _, count, _, _ in self.gone)
