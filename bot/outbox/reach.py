"""Rooms that refuse what they are sent: the officer is told once, the board shows it until something arrives again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.message.directory import Directory, nobody_looks
from bot.store import log, places
from bot.store.connection import Tx
from bot.store.outgoing import Unsent
from bot.store.places import Place
from handlers.times import unit_name

NOT_REACHED = "not_reached"


def whose(place: Place, crew_room: str = "") -> str:
    """A room as people call it: "the crew's room"."""
    if crew_room and crew_room in (place.room, place.room.partition(":")[2]):
        return "the crew's room"
    if place.unit:
        return f"{unit_name(place.unit)}'s room"
    if place.role:
        return f"the {place.role}'s room"
    return f"the room “{place.title}”" if place.title else f"the room {place.room}"


def board_line(here: Sequence[Place], crew_room: str = "") -> str:
    """What a board says of rooms that can't be reached; "" when all can."""
    lost = (place for place in here if place.unreached_since is not None and not nobody_looks(place))
    gone = sorted(whose(place, crew_room) for place in lost)
    return f"NOT REACHED: {', '.join(gone)}" if gone else ""


def alert_line(gone: Sequence[Place], crew_room: str = "") -> str:
    """What whoever raises an alert is told of rooms that it won't arrive in; "" when there are none."""
    return f"{line}. Tell them by radio." if (line := board_line(gone, crew_room)) else ""


async def refused(tx: Tx, letter: Unsent, crew_room: str, now: datetime) -> list[Unsent]:
    """Note that a room refused a message; gives what the officer is told of it, once until it is reached again."""
    place = await places.place(tx, letter.room)
    if place is None or place.unreached_since is not None:
        return []
    await places.change_place(tx, place.room, unreached_since=now)
    incident = await log.incident(tx, place.incident) if place.incident else None
    company = incident.company if incident is not None else place.company
    mates = await (places.of_incident(tx, incident.id) if incident is not None else places.of_company(tx, company))
    reached = [mate for mate in mates if mate.room != place.room and mate.unreached_since is None]
    named = whose(place, crew_room)
    text = f"{named[:1].upper()}{named[1:]} isn't reached: what is told there doesn't arrive. Tell them by radio."
    return [
        Unsent(
            room=room,
            incident=place.incident or "",
            kind="alert" if letter.kind == "alert" else "notice",
            name=NOT_REACHED,
            text=text,
            created_at=now,
        )
        for room in Directory(reached, company, crew_room).rooms(("officer",))
    ]


async def reached(tx: Tx, room: str) -> None:
    """Something arrived in a room that had refused."""
    await places.change_place(tx, room, unreached_since=None)
