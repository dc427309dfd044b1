"""One message, from its words to everything it changes, inside one transaction of the record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

import msgspec

from bot import reminders
from bot.message import Button, join_codes, roles_taken
from bot.message.directory import Directory
from bot.message.read import read
from bot.message.recording import Listened
from bot.message.reply import Handled, answer_reading, chosen, whole_in_place_of
from bot.message.situation import House, Situation, directory_of, look
from bot.outbox import reach
from bot.rigs import flow_test
from bot.store import inbox, log, outgoing, places, questions
from bot.store.connection import Tx
from bot.store.database import lock
from bot.store.inbox import Received
from bot.store.logbook import quarters
from bot.store.outgoing import Letter, Unsent
from bot.store.places import Place
from bot.store.questions import Asked
from grammar.commands import Choice, Command, Confirm, Help, Mayday, Question, Reading, Repeat, Talk
from handlers.events import Event, IncidentOpened, RoleTaken, UnitJoined
from handlers.history import History
from handlers.rights import offered, why_not
from handlers.scene import Scene


class AlreadyHandled(Exception):  # noqa: N818 - no error: another program on the same record did it
    """Another program has handled the message."""


class NotYet(Exception):  # noqa: N818 - no error: its turn comes
    """Another program on the same record has an earlier message of the room, and hasn't handled it so far."""


class Committed(msgspec.Struct, frozen=True):
    """What a message came to."""

    handled: Handled
    incident: str | None
    planned: bool
    """Reminders have changed."""


class Sender(Protocol):
    """Sends a room's message as soon as the transaction that wrote it is committed (bot.outbox.Outbox)."""

    def reserve(self, room: str) -> bool:
        """Whether the room is idle; if so, it is kept for this message."""
        ...

    def release(self, room: str) -> None: ...

    def send(self, letter: Letter) -> None: ...


class Handling:
    """The handling of one message; make one a message and `run` it."""

    def __init__(
        self,
        house: House,
        tx: Tx,
        received: Received,
        now: datetime,
        *,
        urgent: bool = False,
        sender: Sender | None = None,
    ) -> None:
        """`urgent`: whatever came before it. `sender`: takes the reply as soon as it is committed, where it can."""
        self._house = house
        self._urgent = urgent
        self._sender = sender
        self._tx = tx
        self._id = received.id
        self._message = received.message
        self._now = now
        self._moved = False
        """Somebody entered an incident or took a role: who is told where has changed."""
        self._asked_at: datetime | None = None
        """When the question was put that the message answers."""
        self._pressed: int | None = None
        """The question whose button was pressed."""
        self._touched: set[str] = set()
        """Logs that were added to: to be forgotten when the transaction fails."""
        self._letter: Letter | None = None
        """The reply, if it is sent as soon as the transaction is committed."""
        self._planned = False
        """The reminders' rows have changed."""

    async def run(self, listened: Listened | None = None) -> Committed:
        """Handle it and write down everything that follows; then `committed` or `failed`.

        `listened`: what a recording was heard as.
        """
        await self._by_ourselves()
        now = await look(self._house, self._tx, self._message, self._now)
        reading = listened.reading_in(now.context) if listened else await self._reading(now)
        reading = _asked_again(reading, now)
        if now.asked is not None and self._pressed is None:
            reading = _no_of_who_may(reading, now.asked, now)
        if join_codes.concerns(reading, now.said):
            reading = await join_codes.settle(self._house, self._tx, now, reading, self._now)
            now = await look(self._house, self._tx, self._message, self._now)
            self._moved = True
        open_ones = [asked for asked in (now.asked, now.asked_before) if asked is not None]
        confirmed = next((asked for asked in open_ones if _confirms(reading, asked.question)), None)
        if confirmed is not None:
            self._asked_at = confirmed.asked_at
        said = msgspec.structs.replace(now.said, asked_at=self._asked_at)
        answer = whole_in_place_of(self._message.replaces) if self._message.replaces else answer_reading
        handled = answer(
            reading,
            now.history,
            now.rig,
            said,
            heard=listened.line if listened else "",
            incident=self._log_id(now),
            logged_at=self._now,
        )
        on = said.at.astimezone(self._house.tz).date()
        saved = tuple(flow_test.carried_out(one, self._house.rigs, said.unit, on) for one in handled.outcomes)
        handled = msgspec.structs.replace(handled, outcomes=saved)
        if self._pressed is not None and handled.status != "declined":
            await questions.close(self._tx, self._pressed, self._now)  # refused, it stays open to who may
        for asked in open_ones:
            if _settled(asked, handled):
                await questions.close(self._tx, asked.id, self._now)
        happened = any(outcome.events for _, outcome in handled.numbered)
        incident, history = await self._log(handled, now) if happened else (now.incident, now.history)
        if self._moved:
            directory = await directory_of(self._house, self._tx, now.place, incident)
        else:
            directory = now.directory
        await self._tell(handled, now, incident, history.scene, directory)
        if incident is not None and (happened or now.new_here):
            rig = self._house.rigs.of(await self._house.logbook.lead(self._tx, incident))
            self._planned = await reminders.bring_in_line(
                self._tx, incident, history.scene, rig, directory, self._message.at
            )
        for command in handled.reading.commands:
            if isinstance(command, Talk):
                await places.change_place(self._tx, now.place.room, talk=command.on)
        await self._tick_off(handled, incident)
        return Committed(handled, incident, self._planned)

    def committed(self) -> None:
        """Its transaction has gone through."""
        if self._letter is not None and self._sender is not None:
            self._sender.send(self._letter)

    def failed(self) -> None:
        """Its transaction hasn't."""
        for incident in self._touched:
            self._house.logbook.forget(incident)
        if self._sender is not None:
            self._sender.release(self._message.room)

    async def _by_ourselves(self) -> None:
        """Where several transactions run at a time: one at a time in an incident, no message twice, none overtaken.

        Raises AlreadyHandled, NotYet.
        """
        if self._tx.dialect.name == "sqlite":
            return
        if await inbox.is_done(self._tx, self._id):
            raise AlreadyHandled
        in_turn = not self._urgent and not self._message.is_recording
        if in_turn and await inbox.waits_for_another(self._tx, self._id, self._message.room):
            raise NotYet
        place = await places.place(self._tx, self._message.room)
        company = place.company if place is not None else self._house.rigs.own_unit
        if place is None or place.incident is None:
            await lock(self._tx, f"company/{company}")
            place = await places.place(self._tx, self._message.room)  # it may have entered one meanwhile
        if place is not None and place.incident is not None:
            await lock(self._tx, f"incident/{place.incident}")

    async def _reading(self, now: Situation) -> Reading:
        """What typed words or a pressed button mean. A button means the commands of its choice, once."""
        if not self._message.button:
            return read(self._message.text, now.context)
        parsed = questions.parse_button(self._message.button)
        asked = await questions.by_number(self._tx, parsed[0], now.place.room) if parsed else None
        choice = chosen(asked.question, parsed[1]) if parsed and asked else None
        if asked is None or choice is None:
            return Reading(text="", declined="That button doesn't belong to an open question: say it in words.")
        label, commands = choice
        if not asked.open:
            return Reading(text=label, declined="That question was answered already. Say it in words to change it.")
        self._pressed = asked.id
        self._asked_at = asked.asked_at
        pressed = Reading(text=label, commands=commands or (Confirm(yes=False),), confidence=1.0)
        return _no_of_who_may(pressed, asked, now)

    # --- what follows from it

    def _log_id(self, now: Situation) -> str:
        """The log that it belongs to: the incident's, or out of one its company's of the day."""
        return now.incident or quarters(now.place.company, self._message.at, self._house.tz)

    async def _log(self, handled: Handled, now: Situation) -> tuple[str | None, History]:
        """Write the events that it was answered with, opening an incident where one begins."""
        incident, history = now.incident, now.history
        closed_at = history.scene.closed_at
        for changed in handled.logs:
            opens = not changed.written and any(isinstance(e.body, IncidentOpened) for e in changed.unwritten)
            if opens:
                incident, closed_at = await self._open(now.place), None
                changed.name(incident)
            if events := changed.unwritten:
                history, key = changed, incident or self._log_id(now)
                self._touched.add(key)
                await log.add(self._tx, events)
                self._house.logbook.keep(key, changed)
                await self._take_roles(now.place, events)
                if incident is not None:
                    await self._bring_in(incident, events)
        if incident is not None and history.scene.closed_at != closed_at:
            await log.set_closed(self._tx, incident, history.scene.closed_at)
        return incident, history

    async def _open(self, place: Place) -> str:
        """A new incident of the room's company; all rooms of the company enter it."""
        self._moved = True
        incident = await log.open_incident(self._tx, place.company, self._message.at, self._house.tz)
        self._house.logbook.forget(incident)  # one of that number may have been erased
        mates = await places.of_company(self._tx, place.company)
        await places.enter_incident(self._tx, incident, [place.room, *(mate.room for mate in mates)])
        return incident

    async def _bring_in(self, incident: str, events: Sequence[Event]) -> None:
        """Rooms of other companies that this program serves enter the incident with their company."""
        units = {unit for event in events if isinstance(event.body, IncidentOpened) for unit in event.body.units}
        units |= {event.body.unit for event in events if isinstance(event.body, UnitJoined)}
        for unit in sorted(units):
            self._moved = True
            mates = await places.of_company(self._tx, unit)
            free = [
                mate.room for mate in mates if mate.incident is None or not await log.is_open(self._tx, mate.incident)
            ]
            await places.enter_incident(self._tx, incident, free)

    async def _take_roles(self, place: Place, events: Sequence[Event]) -> None:
        """A role stays with its person beyond the incident; in a room of one's own it becomes the room's."""
        for event in events:
            if isinstance(event.body, RoleTaken):
                self._moved = True
                await roles_taken.take(self._tx, event.body, self._message.at)
                if not place.grouped and event.body.person == self._message.who:
                    await places.change_place(self._tx, place.room, role=event.body.role)

    async def _tell(
        self, handled: Handled, now: Situation, incident: str | None, scene: Scene, directory: Directory
    ) -> None:
        """Line up the reply and what others are to hear."""
        drafts, place = [], now.place
        notices = [notice for _, outcome in handled.numbered for notice in outcome.notices]
        if handled.reply:
            alerted = {room for one in notices if one.kind == "alert" for room in directory.rooms(one.to)}
            gone = reach.alert_line(directory.unreached(alerted - {place.room}), self._house.crew_room)
            await self._reply(
                Unsent(
                    room=place.room,
                    incident=incident or "",
                    kind="reply",
                    text="\n".join(part for part in (handled.reply, gone) if part),
                    spoken=" ".join(part for part in (handled.spoken, gone) if part),
                    buttons=await self._ask(handled.to_ask, place.room, incident, who=self._message.who),
                    picture=handled.picture,
                    unit=now.said.unit,
                    reply_to=self._message.id,
                    thread=self._message.thread,
                    created_at=self._now,
                ),
                aloud=place.talk,
            )
        for notice in notices:
            for room in directory.rooms(notice.to):
                if room == place.room and notice.kind == "notice" and notice.question is None:
                    continue  # the reply has just said it here
                question = offered(notice.question, scene, directory.leader_of(room, self._now))
                drafts.append(
                    Unsent(
                        room=room,
                        incident=incident or "",
                        kind=notice.kind,
                        name=notice.name,
                        text=notice.text,
                        spoken=notice.spoken,
                        buttons=await self._ask(question, room, incident, who=None),
                        created_at=self._now,
                    )
                )
        await outgoing.put(self._tx, drafts)

    async def _reply(self, draft: Unsent, *, aloud: bool) -> None:
        """The reply: straight on its way where its room is idle, else lined up."""
        if self._sender is not None and self._sender.reserve(draft.room):
            self._letter = await outgoing.put_sending(self._tx, draft, aloud=aloud)
            if self._letter is not None:
                return
            self._sender.release(draft.room)
        await outgoing.put(self._tx, [draft])

    async def _ask(
        self, question: Question | None, room: str, incident: str | None, *, who: str | None
    ) -> tuple[Button, ...]:
        """The buttons of a question that is put to a person, or (`who` None) to whoever is in the room."""
        if question is None:
            return ()
        number = await questions.ask(self._tx, question, room=room, who=who, incident=incident, now=self._now)
        return questions.buttons(number, question)

    async def _tick_off(self, handled: Handled, incident: str | None) -> None:
        talk = handled.reading.commands and all(isinstance(c, Repeat | Help) for c in handled.reading.commands)
        await inbox.done(
            self._tx,
            self._id,
            self._now,
            incident=incident,
            commands=() if talk else handled.reading.commands,
            reply=None if talk else msgspec.structs.replace(handled, note="").reply or None,
        )


def _asked_again(reading: Reading, now: Situation) -> Reading:
    """ "Say again" after a question: it is asked again, and stays open; behind an answer, the answer is said again."""
    open_one = now.asked.question if now.asked is not None else None
    if open_one is None or not now.said.last_reply.startswith(open_one.text) or not reading.commands:
        return reading
    if not all(isinstance(command, Repeat) for command in reading.commands):
        return reading
    return Reading(reading.text, question=open_one, confidence=reading.confidence, intent=reading.intent)


def _no_of_who_may(reading: Reading, asked: Asked, now: Situation) -> Reading:
    """A "no" to what a room is asked is for who may say yes there: anybody else's is refused as their yes would be."""
    if asked.who is not None or reading.commands != (Confirm(yes=False),):
        return reading
    for choice in asked.question.choices:
        if any(why_not(command, now.history.scene, now.said) is not None for command in choice.commands):
            return msgspec.structs.replace(reading, commands=choice.commands)
    return reading


def _confirms(reading: Reading, question: Question) -> bool:
    """The message takes what the question offered: a choice of it, or the Mayday that it asked about."""
    offered = [choice.commands for choice in question.choices if choice.commands]
    asked = any(isinstance(command, Mayday) and not command.cleared for commands in offered for command in commands)
    called = any(isinstance(command, Mayday) and not command.cleared for command in reading.commands)
    return reading.commands in offered or (asked and called)


def _settled(asked: Asked, handled: Handled) -> bool:
    """Whether a question needn't be answered any more.

    The parts of a Mayday stay wanted whatever else is said; what anybody in the room may answer, until somebody does.
    """
    if handled.status not in ("answered", "asked"):
        return False
    said, wanted = handled.reading.commands, asked.question.fills
    if isinstance(wanted, Mayday):
        return any(isinstance(command, Mayday) for command in said)
    return asked.who is not None or any(said == _stands_for(choice) for choice in asked.question.choices)


def _stands_for(choice: Choice) -> tuple[Command, ...]:
    return choice.commands or (Confirm(yes=False),)
