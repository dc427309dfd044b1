"""Roles as the record keeps them: who takes one takes it from whoever of the company had it."""

from __future__ import annotations

from datetime import datetime

import msgspec

from bot.message.situation import PRESENT
from bot.store import places
from bot.store.connection import Tx
from bot.store.places import Person
from handlers.events import RoleTaken
from handlers.rights import LEADING


async def take(tx: Tx, taken: RoleTaken, at: datetime) -> None:
    """A person has a role from now on; there is one officer and one driver, so another who was there has it no more."""
    person = await places.person(tx, taken.person) or Person(person=taken.person)
    await places.put_person(tx, msgspec.structs.replace(person, role=taken.role, unit=taken.unit))
    await _in_private(tx, taken.person, taken.role)
    if taken.role not in LEADING:
        return
    for other in await places.holding(tx, taken.unit, [taken.role], but=taken.person, since=at - PRESENT):
        await places.put_person(tx, msgspec.structs.replace(other, role="crew"))
        await _in_private(tx, other.person, "crew")


async def _in_private(tx: Tx, person: str, role: str) -> None:
    """A private chat has its person's key, and speaks for their role."""
    room = await places.place(tx, person)
    if room is not None and not room.grouped and room.unit is None:
        await places.change_place(tx, person, role=role)
