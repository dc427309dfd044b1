"""One message, from its words to everything it changes, inside one transaction of the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

import msgspec
from sqlalchemy.ext.asyncio import AsyncConnection

from bot import reminding
from bot.context import build
from bot.directory import Directory
from bot.logbook import Logbook, quarters
from bot.message import Button, Message
from bot.replies import Handled, answer_reading, chosen, correctable
from bot.rigs import Rigs
from bot.store import inbox, log, outgoing, places, questions
from bot.store.inbox import Received
from bot.store.outgoing import Draft
from bot.store.places import Person, Place
from grammar.commands import Confirm, Context, Help, Mayday, Question, Reading, Repeat, Role
from handlers.desk import events_of
from handlers.events import Event, IncidentOpened, RoleTaken, UnitJoined
from handlers.history import History
from handlers.outcome import Said

AFTERWARDS = timedelta(hours=4)
"""So long after it closed, what is reported still belongs to an incident (available, made ready again)."""
ANSWERABLE = timedelta(minutes=10)
"""So long a question can be answered by words; its buttons work until it is answered."""


@dataclass(frozen=True)
class House:
    """What every message is handled with."""

    rigs: Rigs
    logbook: Logbook
    tz: tzinfo
    crew_room: str = ""


@dataclass(frozen=True)
class Heard:
    """A recording after recognition: its reading, and the line that reads back what was heard."""

    reading: Reading
    line: str


class Handling:
    """The handling of one message; make one a message and `run` it."""

    def __init__(self, house: House, tx: AsyncConnection, received: Received, now: datetime) -> None:
        self._house = house
        self._tx = tx
        self._id = received.id
        self._message = received.message
        self._now = now
        self.touched: set[str] = set()
        """Logs that were added to: to be forgotten when the transaction fails."""

    async def run(self, heard: Heard | None = None) -> tuple[Handled, str | None]:
        """Handle it and write down everything that follows; returns that and the incident it belongs to."""
        place = await self._place()
        history, incident = await self._history(place)
        person = await self._person(place)
        directory = await self._directory(place, incident)
        said = await self._said(place, person, incident, directory)
        rig = self._house.rigs.of(said.unit)
        asked = await questions.open_to(self._tx, place.room, said.who, self._now - ANSWERABLE)
        reading = await self._reading(place, history, said, asked, heard)
        handled = answer_reading(reading, history, rig, said, heard=heard.line if heard else "")
        if asked is not None and _settled(asked.question, handled):
            await questions.close(self._tx, asked.id, self._now)
        incident, history = await self._log(handled, place, history, incident, said)
        directory = await self._directory(place, incident)
        await self._tell(handled, place, said, incident, directory)
        if incident is not None:
            lead = self._house.rigs.of((await self._incident(incident)).company)
            await reminding.bring_in_line(self._tx, incident, history.scene, lead, directory, self._message.at)
        await self._tick_off(handled, incident)
        return handled, incident

    # --- where and who

    async def _place(self) -> Place:
        """The room; a new one belongs to the rig whose file names it and enters that company's open incident."""
        message = self._message
        own_role = None if message.group else message.role
        known = await known_place(self._tx, self._house.rigs, message.room, own_role)
        seen = {"title": message.title or known.title, "grouped": message.group, "thread": message.thread}
        changed = {key: value for key, value in seen.items() if getattr(known, key) != value}
        if changed:
            await places.change_place(self._tx, known.room, **changed)
        return msgspec.structs.replace(known, **changed)

    async def _history(self, place: Place) -> tuple[History, str | None]:
        """The log that this message is handled against: the room's incident's, else its company's of the day."""
        if place.incident is not None:
            history = await self._house.logbook.history(self._tx, place.incident)
            closed_at = history.scene.closed_at
            if closed_at is None or self._message.at < closed_at + AFTERWARDS:
                return history, place.incident
        day = quarters(place.company, self._message.at, self._house.tz)
        return await self._house.logbook.history(self._tx, day), None

    async def _person(self, place: Place) -> Person:
        message = self._message
        known = await places.person(self._tx, message.who)
        person = known or Person(person=message.who, unit=message.unit or place.unit or place.company)
        seen = msgspec.structs.replace(person, name=message.name or person.name)
        if seen != known:
            await places.put_person(self._tx, seen)
        return seen

    async def _directory(self, place: Place, incident: str | None) -> Directory:
        if incident is None:
            mates = await places.of_company(self._tx, place.company)
            return Directory(mates, place.company, self._house.crew_room)
        company = (await self._incident(incident)).company
        return Directory(await places.of_incident(self._tx, incident), company, self._house.crew_room)

    async def _incident(self, incident: str) -> log.Incident:
        found = await log.incident(self._tx, incident)
        if found is None:
            raise LookupError(f"no incident {incident}")
        return found

    async def _said(self, place: Place, person: Person, incident: str | None, directory: Directory) -> Said:
        message = self._message
        last = await inbox.last_commands(self._tx, message.who, place.room, incident)
        return Said(
            at=message.at,
            who=message.who,
            role=message.role or person.role,
            unit=message.unit or place.unit or person.unit or place.company,
            room=place.room,
            message=f"{place.room}/{message.id}",
            tz=self._house.tz,
            last_commands=last.commands if last else (),
            last_message=last.message if last else "",
            last_at=last.at if last else None,
            last_reply=await inbox.last_reply(self._tx, message.who, place.room),
            everyone_here=directory.holds_everyone(place.room),
        )

    # --- what it means

    async def _reading(
        self, place: Place, history: History, said: Said, asked: questions.Asked | None, heard: Heard | None
    ) -> Reading:
        if heard is not None:
            return heard.reading
        if self._message.button:
            return await self._pressed(place)
        from grammar.reader import read

        return read(self._message.text, self.context(self._house, self._message, history, said, asked))

    @staticmethod
    def context(house: House, message: Message, history: History, said: Said, asked: questions.Asked | None) -> Context:
        """The reader's context for a message."""
        return build(
            house.rigs.of(said.unit),
            said.unit,
            history.scene,
            role=said.role,
            speaker_unit=said.unit,
            last=said.last_commands,
            asked=asked.question if asked else None,
            group=message.group,
            addressed=message.addressed,
        )

    async def _pressed(self, place: Place) -> Reading:
        """A pressed button means the commands of its choice, once."""
        parsed = questions.parse_button(self._message.button)
        asked = await questions.by_number(self._tx, parsed[0], place.room) if parsed else None
        choice = chosen(asked.question, parsed[1]) if parsed and asked else None
        if asked is None or choice is None:
            return Reading(text="", declined="That button doesn't belong to an open question: say it in words.")
        label, commands = choice
        if not asked.open:
            return Reading(text=label, declined="That question was answered already. Say it in words to change it.")
        await questions.close(self._tx, asked.id, self._now)
        if not commands:
            return Reading(text=label, commands=(Confirm(yes=False),), confidence=1.0)
        return Reading(text=label, commands=commands, confidence=1.0)

    # --- what follows from it

    async def _log(
        self, handled: Handled, place: Place, history: History, incident: str | None, said: Said
    ) -> tuple[str | None, History]:
        """Log the events, opening an incident where one begins."""
        key = incident or quarters(place.company, self._message.at, self._house.tz)
        for number, outcome in enumerate(handled.outcomes):
            begins = any(isinstance(getattr(e, "body", e), IncidentOpened) for e in outcome.events)
            if begins and not history.scene.open:
                key = incident = await self._open(place)
                history = await self._house.logbook.history(self._tx, key)
            self.touched.add(key)
            events = events_of(outcome, number, said, first_seq=history.last_seq + 1, incident=key, logged_at=self._now)
            await log.add(self._tx, events)
            for event in events:
                history.add(event)
            await self._take_roles(place, events)
            if incident is not None:
                await self._bring_in(incident, events)
        if incident is not None and any(outcome.events for outcome in handled.outcomes):
            await log.set_closed(self._tx, incident, history.scene.closed_at)
        return incident, history

    async def _open(self, place: Place) -> str:
        """A new incident of the room's company; all rooms of the company enter it."""
        incident = await log.open_incident(self._tx, place.company, self._message.at, self._house.tz)
        mates = await places.of_company(self._tx, place.company)
        await places.enter_incident(self._tx, incident, [mate.room for mate in mates])
        return incident

    async def _bring_in(self, incident: str, events: Sequence[Event]) -> None:
        """Rooms of other companies that this program serves enter the incident with their company."""
        units = {unit for event in events if isinstance(event.body, IncidentOpened) for unit in event.body.units}
        units |= {event.body.unit for event in events if isinstance(event.body, UnitJoined)}
        for unit in sorted(units):
            mates = [mate for mate in await places.of_company(self._tx, unit) if mate.incident is None]
            await places.enter_incident(self._tx, incident, [mate.room for mate in mates])

    async def _take_roles(self, place: Place, events: Sequence[Event]) -> None:
        """A role stays with its person beyond the incident; in a room of one's own it becomes the room's."""
        for event in events:
            if isinstance(event.body, RoleTaken):
                person = await places.person(self._tx, event.body.person) or Person(person=event.body.person)
                taken = msgspec.structs.replace(person, role=event.body.role, unit=event.body.unit)
                await places.put_person(self._tx, taken)
                if not place.grouped and event.body.person == self._message.who:
                    await places.change_place(self._tx, place.room, role=event.body.role)

    async def _tell(
        self, handled: Handled, place: Place, said: Said, incident: str | None, directory: Directory
    ) -> None:
        """Line up the reply and what others are to hear."""
        drafts = []
        if handled.reply:
            drafts.append(
                Draft(
                    room=place.room,
                    incident=incident or "",
                    kind="reply",
                    text=handled.reply,
                    spoken=handled.spoken,
                    buttons=await self._ask(handled.to_ask, place, incident),
                    picture=handled.picture,
                    reply_to=self._message.id,
                    thread=self._message.thread,
                    created_at=self._now,
                )
            )
        for notice in (notice for outcome in handled.outcomes for notice in outcome.notices):
            for room in directory.rooms(notice.to):
                if room == place.room and notice.kind == "notice":
                    continue  # the reply has just said it here
                drafts.append(
                    Draft(
                        room=room,
                        incident=incident or "",
                        kind=notice.kind,
                        name=notice.name,
                        text=notice.text,
                        spoken=notice.spoken,
                        created_at=self._now,
                    )
                )
        await outgoing.put(self._tx, drafts)

    async def _ask(self, question: Question | None, place: Place, incident: str | None) -> tuple[Button, ...]:
        if question is None:
            return ()
        number = await questions.ask(
            self._tx, question, room=place.room, who=self._message.who, incident=incident, now=self._now
        )
        return questions.buttons(number, question)

    async def _tick_off(self, handled: Handled, incident: str | None) -> None:
        talk = handled.reading.commands and all(isinstance(c, Repeat | Help) for c in handled.reading.commands)
        await inbox.done(
            self._tx,
            self._id,
            self._now,
            incident=incident,
            commands=correctable(handled.reading.commands) if handled.status == "answered" else (),
            reply=None if talk else handled.reply or None,
        )


def _settled(question: Question, handled: Handled) -> bool:
    """Whether a question needn't be answered any more. The parts of a Mayday stay wanted whatever else is said."""
    if handled.status not in ("answered", "asked"):
        return False
    wanted = question.fills
    return not isinstance(wanted, Mayday) or any(isinstance(c, Mayday) for c in handled.reading.commands)


async def known_place(tx: AsyncConnection, rigs: Rigs, room: str, own_role: Role | None = None) -> Place:
    """A room as the record knows it; a new one belongs to the rig whose file names it and enters its open incident."""
    if (known := await places.place(tx, room)) is not None:
        return known
    new = _new_place(rigs, room, own_role)
    mates = await places.of_company(tx, new.company)
    incident = next((mate.incident for mate in mates if mate.incident), None)
    new = msgspec.structs.replace(new, incident=incident)
    await places.add_place(tx, new)
    return new


def _new_place(rigs: Rigs, room: str, own_role: Role | None) -> Place:
    chat = room.partition(":")[2] or room
    for unit in rigs.units:
        for role, mapped in rigs.of(unit).rooms.items():
            if mapped in (room, chat):
                return Place(room=room, company=unit, role=role)
    return Place(room=room, company=rigs.own_unit, role=own_role)
