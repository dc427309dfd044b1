"""Who is told where: from an audience ("driver", "officer", "crew", "all", a unit) to the rooms of the incident.

Nobody is left out: a role without a room of its own is told in the crew's room, and without one in any room of the
incident. A room that refuses what it is sent doesn't count as one's own. A room that stands for several of the audience
is named once.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

from bot.store.places import Place
from handlers.outcome import Audience, Said

ROLES = ("driver", "officer", "crew")
SCREENS = "page:"
"""The page's room of a company: every role looks at it, so what any role is told is told there too. While no screen
shows it (it isn't reached), it is as if it weren't there, unless it is the only room."""


class Directory:
    """The rooms of one incident (or, outside one, of one company)."""

    def __init__(self, places: Sequence[Place], company: str, crew_room: str = "") -> None:
        """`company` is the incident's own, rooms of others are its guests'; `crew_room` is a room's key or chat id."""
        self.company = company
        shown = [place for place in places if not nobody_looks(place)]
        self._places = sorted(shown or places, key=lambda place: place.room)
        self._own = own = [place for place in self._places if place.unit is None and place.company == company]
        self._screens = tuple(place.room for place in own if place.room.startswith(SCREENS))
        own = [place for place in own if place.room not in self._screens]
        named = [place.room for place in own if _is(place, crew_room) or (place.role == "crew" and place.grouped)]
        alone = [place.room for place in own if place.role == "crew" and not place.grouped]
        shared = [place.room for place in own if place.grouped]
        everywhere = tuple(place.room for place in own) or (() if self._screens else self.all)
        self._crew = (tuple(dict.fromkeys([*(named or shared), *alone])) or everywhere) + self._screens

    @property
    def all(self) -> tuple[str, ...]:
        """Every room."""
        return tuple(place.room for place in self._places)

    def rooms(self, audience: Audience) -> tuple[str, ...]:
        """The rooms of an audience, each once."""
        return tuple(dict.fromkeys(room for who in audience for room in self._rooms_of(who)))

    def _rooms_of(self, who: str) -> tuple[str, ...]:
        if who == "all":
            return self.all
        if who in self.all:  # a room by its key; in private it is its person's
            return (who,)
        if who == "crew":
            return self._crew
        if who in ROLES:
            of_role = [place for place in self._own if place.role == who]
            reached = any(place.unreached_since is None for place in of_role)
            return (*(place.room for place in of_role), *(self._screens if reached else self._crew))
        guests = (place for place in self._places if place not in self._own)
        return tuple(place.room for place in guests if (place.unit or place.company) == who) or self._crew

    def leader_of(self, room: str, at: datetime) -> Said:
        """Whoever leads there: what is put to a room is for the one who may do most in it."""
        of = next((place for place in self._places if place.room == room), None)
        unit = (of.unit or of.company) if of is not None else self.company
        return Said(at=at, role="officer", room=room, unit=unit, company=self.company)

    def unreached(self, rooms: Collection[str]) -> list[Place]:
        """Those of the rooms that refused what they were sent last."""
        return [place for place in self._places if place.room in rooms and place.unreached_since is not None]

    def holds_everyone(self, room: str) -> bool:
        """Whether the room stands for every role and every room: nobody else is to be told."""
        return self.all == (room,) and self.rooms(ROLES) == (room,)


def nobody_looks(place: Place) -> bool:
    """Whether it is the page's, and no screen shows it."""
    return place.room.startswith(SCREENS) and place.unreached_since is not None


def _is(place: Place, named: str) -> bool:
    return bool(named) and named in (place.room, place.room.partition(":")[2])
