"""Other companies come in: one-time codes, made in an incident's room and said in the other company's."""

from __future__ import annotations

import secrets
from datetime import datetime

import msgspec

from bot.message.situation import House, Situation
from bot.store import chats, log, places, tries
from bot.store.chats import Code
from bot.store.connection import Tx
from grammar.commands import Command, Correction, Join, Reading
from handlers.incident.amend import code_taken_back
from handlers.incident.roles import CODE_LASTS
from handlers.outcome import Said
from handlers.rights import why_not

ALPHABET = "0123456789"
"""Digits: nothing in it looks or, said aloud, sounds like a letter of it; the ear and a gloved hand know them too."""
LENGTH = 8
BAD_CODE = (
    "That join code or link isn't known, was used already or is over: ask the incident's officer or driver for a new"
    " one (“join code for engine 9”, or “/link engine 9”)."
)
TOO_MANY = "Too many wrong join codes: none is taken for 15 minutes. The incident's officer can make a new one then."
HERE_ALREADY = "This room is in that incident already."
ELSEWHERE = "This room is in another incident that is still open: end that first (“command terminated”)."
OVER_ALREADY = (
    "That join code was used, or is over already. Nothing was taken back: to take back a report made before it, name it"
    " (“undo under control”)."
)
WHICH_UNIT = "That code names no unit: ask for one that does (“join code for engine 9”)."


async def make_code(tx: Tx, incident: str, unit: str | None, by: str, now: datetime) -> str:
    """A new code that brings a room into an incident, for a company or (unit None) for the room's own."""
    while True:
        code = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
        if await chats.code(tx, code) is None:
            await chats.add_code(tx, Code(code, incident, unit, by, now + CODE_LASTS))
            return code


async def settle(house: House, tx: Tx, now: Situation, reading: Reading, at: datetime) -> Reading:
    """A reading with its codes made, void or used up: the room has entered the incident, or the reading is declined."""
    commands = []
    for command in map(_anew, reading.commands):
        if (code := code_taken_back(command, now.said)) is not None and not await chats.end_code(tx, code, at):
            return msgspec.structs.replace(reading, commands=(), declined=OVER_ALREADY)
        if isinstance(command, Join) and command.make and _may_make(command, now):
            code = await make_code(tx, now.incident or "", command.unit, now.message.who, at)
            command = msgspec.structs.replace(command, code=code)
        elif isinstance(command, Join) and command.code is not None and not command.make:
            unit = await _enter(house, tx, now, command.code, at)
            if isinstance(unit, Reading):
                return msgspec.structs.replace(unit, text=reading.text, intent=reading.intent)
            command = Join(unit=unit)
        commands.append(command)
    return msgspec.structs.replace(reading, commands=tuple(commands))


def concerns(reading: Reading, said: Said) -> bool:
    """Whether a code is asked for, said or taken back."""
    return any(
        isinstance(_anew(command), Join) or code_taken_back(command, said) is not None for command in reading.commands
    )


def _anew(command: Command) -> Command:
    """A code that was told can't be corrected: with another company wanted, another code is made."""
    amended = command.amended if isinstance(command, Correction) else ()
    if len(amended) == 1 and isinstance(amended[0], Join) and amended[0].make:
        return msgspec.structs.replace(amended[0], code=None)
    return command


def _may_make(command: Join, now: Situation) -> bool:
    """Whether a code is made here; why not is said where the command is worked out."""
    scene = now.history.scene
    if command.unit is None:
        return False
    return now.incident is not None and scene.open and why_not(command, scene, now.said) is None


async def tried(tx: Tx, code: str, room: str, who: str, company: str, at: datetime) -> Code | str:
    """A code that brings a room in now; else why not. A wrong one is counted, for the person and for the company."""
    if await tries.locked(tx, who, company, at):
        return TOO_MANY
    found = await chats.code(tx, code)
    over = found is None or found.used_by not in (None, room) or at > found.expires_at
    if found is None or over or not await log.is_open(tx, found.incident):
        await tries.wrong(tx, who, company, at)
        return BAD_CODE
    return found


async def _may_be_a_guest(house: House, tx: Tx, now: Situation, code: Code) -> bool:
    """Whether a room that entered with the incident's own company can be another's.

    New rooms enter so. Not the crew's, one that speaks for a role, the code's maker's, or the company's only one.
    """
    place, crew = now.place, house.crew_room
    if place.unit is not None or place.role is not None or now.message.who == code.made_by:
        return False
    if crew and crew in (place.room, place.room.partition(":")[2]):
        return False
    own = [mate for mate in await places.of_incident(tx, code.incident) if mate.unit is None]
    return any(mate.room != place.room and mate.company == place.company for mate in own)


async def _enter(house: House, tx: Tx, now: Situation, code: str, at: datetime) -> str | Reading:
    """The company that came in, or why it didn't."""
    place = now.place
    found = await tried(tx, code, place.room, now.message.who, place.company, at)
    incident = await log.incident(tx, found.incident) if isinstance(found, Code) else None
    if not isinstance(found, Code) or incident is None:
        return Reading("", declined=found if isinstance(found, str) else BAD_CODE)
    if found.used_by == place.room and place.incident == incident.id and place.unit is not None:
        return place.unit  # let in at the door
    if place.incident == incident.id and not await _may_be_a_guest(house, tx, now, found):
        return Reading("", declined=HERE_ALREADY)
    if place.incident not in (None, incident.id) and await log.is_open(tx, place.incident):
        return Reading("", declined=ELSEWHERE)
    own = place.unit or (place.company if place.company != incident.company else None)
    unit = found.unit or own
    if unit is None:
        return Reading("", declined=WHICH_UNIT)
    if await chats.use_code(tx, code, place.room, at) is None:
        return Reading("", declined=BAD_CODE)
    if place.company == incident.company:
        await places.change_place(tx, place.room, unit=unit)
    await places.enter_incident(tx, incident.id, [place.room])
    return unit
