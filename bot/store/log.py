"""The log: incidents and their events, the truth that everything else is worked out from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo

import msgspec
from sqlalchemy import bindparam, insert, select, update

from bot.store.connection import Tx
from bot.store.tables import events, incidents
from handlers.events import Event, EventBody

_BODY: msgspec.json.Decoder[EventBody] = msgspec.json.Decoder(EventBody)
_encode = msgspec.json.Encoder().encode

_INCIDENT = select(incidents).where(incidents.c.incident == bindparam("incident"))
_LOG = insert(events)
_SINCE = (
    select(*(events.c[name] for name in Event.__struct_fields__))
    .where(events.c.incident == bindparam("incident"), events.c.seq > bindparam("seq"))
    .order_by(events.c.seq)
)


class IncidentRow(msgspec.Struct, frozen=True):
    """An incident by its id, the company whose it is, and when it opened and closed."""

    id: str
    company: str
    opened_at: datetime
    closed_at: datetime | None = None


async def open_incident(tx: Tx, company: str, at: datetime, tz: tzinfo) -> str:
    """A new incident; its id is the local date and the number of the day."""
    day = at.astimezone(tz).date().isoformat()
    of_day = (await tx.execute(select(incidents.c.incident).where(incidents.c.incident.like(f"{day}-%")))).scalars()
    numbers = [int(number) for one in of_day if (number := one.removeprefix(f"{day}-")).isdecimal()]
    incident = f"{day}-{max(numbers, default=0) + 1}"  # not their count: some may be forgotten
    await tx.execute(insert(incidents).values(incident=incident, company=company, opened_at=at))
    return incident


async def set_closed(tx: Tx, incident: str, closed_at: datetime | None) -> None:
    """Note when an incident closed (None: it is open again, the closing was taken back)."""
    await tx.execute(update(incidents).where(incidents.c.incident == incident).values(closed_at=closed_at))


async def incident(tx: Tx, incident_id: str) -> IncidentRow | None:
    """The incident of this id."""
    row = (await tx.execute(_INCIDENT, {"incident": incident_id})).first()
    return None if row is None else IncidentRow(row.incident, row.company, row.opened_at, row.closed_at)


async def is_open(tx: Tx, incident_id: str) -> bool:
    """Whether an incident isn't closed."""
    found = await incident(tx, incident_id)
    return found is not None and found.closed_at is None


async def latest_incidents(tx: Tx, limit: int = 20) -> list[IncidentRow]:
    """The newest incidents, newest first."""
    rows = await tx.execute(select(incidents).order_by(incidents.c.opened_at.desc()).limit(limit))
    return [IncidentRow(row.incident, row.company, row.opened_at, row.closed_at) for row in rows]


async def add(tx: Tx, new: Sequence[Event]) -> None:
    """Log events. Raises IntegrityError when another process was quicker with one of their numbers."""
    if new:
        await tx.execute(_LOG, [_row(event) for event in new])


async def since(tx: Tx, incident_id: str, seq: int = 0) -> list[Event]:
    """The events of an incident after a number, in order."""
    return [_event(row) for row in await tx.execute(_SINCE, {"incident": incident_id, "seq": seq})]


async def log_of_latest(tx: Tx, unit: str, body: type[EventBody]) -> str | None:
    """The log (incident or day) in which a company's latest event of this kind stands; None where there is none."""
    of_kind = events.c.body.like(f'{{"type":"{body.__name__}"%')
    query = select(events.c.incident).where(events.c.unit == unit, of_kind).order_by(events.c.at.desc()).limit(1)
    return (await tx.execute(query)).scalar_one_or_none()


def _row(event: Event) -> dict[str, object]:
    fields = {name: getattr(event, name) for name in event.__struct_fields__}
    return {**fields, "body": _encode(event.body).decode()}


def _event(row: object) -> Event:
    fields = {name: getattr(row, name) for name in Event.__struct_fields__}
    return Event(**{**fields, "body": _BODY.decode(fields["body"])})
