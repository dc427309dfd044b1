"""The times of 300 real fire incidents (City of Toronto open data; licence statement beside the file), local to UTC."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

TORONTO = ZoneInfo("America/Toronto")
FILE = Path(__file__).parent / "toronto_fire_incident_times_sample.csv"


@dataclass(frozen=True)
class RealIncident:
    """Five times of one incident, in UTC."""

    id: str
    alarm: datetime
    arrival: datetime
    agent: datetime
    control: datetime
    clear: datetime


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=TORONTO).astimezone(UTC)


def incidents() -> list[RealIncident]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return [
            RealIncident(
                row["id"],
                _utc(row["alarm"]),
                _utc(row["arrival"]),
                _utc(row["agent_applied_or_deferred"]),
                _utc(row["under_control"]),
                _utc(row["last_unit_clear"]),
            )
            for row in csv.DictReader(file)
        ]
