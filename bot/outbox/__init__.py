"""Sends what waits in the outbox: in order in each room, rooms side by side, until each has what is meant for it."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo

import msgspec

from bot.clock import Clock
from bot.errors import RetryAfter, Undeliverable, Unsure
from bot.message import Attachment, Outgoing
from bot.outbox import reach
from bot.outbox.attachments import Attachments
from bot.reminders import LATE
from bot.rooms import Room
from bot.store import outgoing, places
from bot.store.connection import Tx
from bot.store.database import Store, unbroken
from bot.store.outgoing import Letter

LOOK_AGAIN_S = 1.0
"""How often the rows are looked at anyway: another program may have written some."""
FIRST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 60.0
GIVE_UP = timedelta(hours=24)
UNEXPECTED = 3
"""So often a message is tried whose sending fails as nobody expected."""
SET_ASIDE = "set_aside"

_LOG = logging.getLogger(__name__)
_Result = tuple[Letter, str | Exception]


class Outbox:
    """The sender for the kinds of rooms that this program serves."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        tz: tzinfo,
        rooms: Sequence[Room],
        attachments: Attachments | None = None,
        *,
        crew_room: str = "",
    ) -> None:
        self._store = store
        self._clock = clock
        self._tz = tz
        self._rooms = {room.kind: room for room in rooms}
        self._attachments = attachments
        self._sending: dict[str, asyncio.Task[None]] = {}
        self._reserved: set[str] = set()
        """Rooms whose next message is being written by a transaction that hands it over itself."""
        self._finished: list[_Result] = []
        self._crew_room = crew_room
        self._unreached: set[str] | None = None
        """Rooms that refused what they were sent last; None: not looked up yet."""
        self._holding: set[str] = set()
        """Rooms that this program sends to, where several share the record."""
        self._unexpected: dict[int, int] = {}
        """How often the sending of a message failed as nobody expected."""
        self._poked = asyncio.Event()
        self._one_round = asyncio.Lock()

    def poke(self) -> None:
        """There is something new to send."""
        self._poked.set()

    def reserve(self, room: str) -> bool:
        """Keep an idle room for a message that is about to be committed; then `send` or `release` it."""
        free = self._store.one_writer and room.partition(":")[0] in self._rooms
        if not free or room in self._sending or room in self._reserved:
            return False
        self._reserved.add(room)
        return True

    def release(self, room: str) -> None:
        """Nothing comes of it."""
        self._reserved.discard(room)

    def send(self, letter: Letter) -> None:
        """Send a reserved room's message, which is committed as being on its way."""
        self._reserved.discard(letter.draft.room)
        self._sending[letter.draft.room] = asyncio.create_task(self._send(letter))

    async def run(self) -> None:
        """Send for ever."""
        while True:
            self._poked.clear()
            try:
                wait_s = await unbroken(self._round())
            except Exception:
                _LOG.exception("The outbox couldn't be read or written; trying again")
                wait_s = LOOK_AGAIN_S
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(wait_s):  # wait_for can lose a cancellation that comes with the event
                    await self._poked.wait()

    async def drain(self) -> None:
        """Send everything that can be sent now, and come back when it is done."""
        await self._round()
        while self._sending or self._finished:
            await asyncio.gather(*self._sending.values())
            await self._round()

    async def stop(self, patience_s: float = 2.0) -> None:
        """Wait a moment for what is on its way and note what became of it."""
        if self._sending:
            await asyncio.wait(tuple(self._sending.values()), timeout=patience_s)
        for task in tuple(self._sending.values()):
            task.cancel()
        finished, now = list(self._finished), self._clock.now()
        async with self._store.begin() as tx:
            for result in finished:
                await self._note_one(tx, *result, now)
        del self._finished[: len(finished)]

    async def _round(self) -> float:
        """Note what became of the messages on their way, start the next one of every idle room.

        Returns the seconds after which to look again, unless something happens before.
        """
        async with self._one_round:
            now = self._clock.now()
            finished = list(self._finished)
            only = None if self._store.one_writer else await self._held(finished)
            if finished:  # lost with the power, they would be sent again, marked
                async with self._store.begin(soft=True) as tx:
                    for result in finished:
                        await self._note_one(tx, *result, now)
                del self._finished[: len(finished)]
            async with self._store.begin() as tx:
                # One that ended while others were noted is still "sending" in the record: its room isn't idle yet.
                busy = {*self._sending, *self._reserved, *(letter.draft.room for letter, _ in self._finished)}
                letters, retry_at = await outgoing.start(tx, tuple(self._rooms), busy, now, only)
            for letter in letters:
                self._sending[letter.draft.room] = asyncio.create_task(self._send(letter))
            if only is not None:
                busy |= set(self._sending)
                for room in only - busy:
                    await self._store.let_go(f"outbox/{room}")
                self._holding = only & busy
        return LOOK_AGAIN_S if retry_at is None else min(LOOK_AGAIN_S, max(0.0, (retry_at - now).total_seconds()))

    async def _held(self, finished: Sequence[_Result]) -> set[str]:
        """The waiting rooms that no other program sends to just now; kept until nothing of theirs is on its way."""
        async with self._store.begin() as tx:
            rooms = await outgoing.rooms_waiting(tx, tuple(self._rooms))
        free = {room for room in rooms - self._holding if await self._store.hold(f"outbox/{room}")}
        return self._holding | free

    async def _send(self, letter: Letter) -> None:
        room = self._rooms[letter.draft.room.partition(":")[0]]
        result: str | Exception
        try:
            result = await room.send(await self._out(letter))
        except Exception as error:
            result = error
        self._finished.append((letter, result))
        del self._sending[letter.draft.room]
        self.poke()

    async def _note_one(self, tx: Tx, letter: Letter, result: str | Exception, now: datetime) -> None:
        where = {"room": letter.draft.room, "row": letter.id, "what": letter.draft.name or letter.draft.kind}
        match result:
            case str():
                await outgoing.sent(tx, letter.id, result, now)
                await self._reached(tx, letter.draft.room)
                _LOG.info(
                    "sent", extra={**where, "waited_s": round((now - letter.draft.created_at).total_seconds(), 1)}
                )
            case RetryAfter(seconds=seconds):
                until = now + timedelta(seconds=seconds)
                await outgoing.put_off(tx, letter.id, until, str(result), arrived_maybe=False)
            case Unsure() if now - letter.draft.created_at < GIVE_UP:
                await self._again(tx, letter, str(result), letter.attempts, now)
            case Undeliverable():
                _LOG.warning("refused: %s", result, extra=where)
                await outgoing.failed(tx, letter.id, str(result), now)
                await self._refused(tx, letter, now)
            case Unsure():
                _LOG.warning("given up: %s", result, extra=where)
                await outgoing.failed(tx, letter.id, str(result), now)
            case _:
                _LOG.error("A message failed", exc_info=result, extra=where)
                await self._failed(tx, letter, result, now)

    async def _again(self, tx: Tx, letter: Letter, why: str, tries: int, now: datetime) -> None:
        pause_s = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** min(tries, 10))
        await outgoing.put_off(tx, letter.id, now + timedelta(seconds=pause_s), why, arrived_maybe=True)

    async def _failed(self, tx: Tx, letter: Letter, error: Exception, now: datetime) -> None:
        """What nobody expected is tried again, a few times; then the message is set aside, which its room is told."""
        tries = self._unexpected.pop(letter.id, 0) + 1
        if tries < UNEXPECTED:
            self._unexpected[letter.id] = tries
            await self._again(tx, letter, repr(error), tries - 1, now)
            return
        await outgoing.failed(tx, letter.id, repr(error), now)
        if letter.draft.name != SET_ASIDE:
            at = letter.draft.created_at.astimezone(self._tz)
            text = f"A message of {at:%H:%M:%S} couldn't be shown here. Ask again."
            here = msgspec.structs.replace(letter.draft, picture=None, buttons=(), reply_to="", due_at=None)
            told = msgspec.structs.replace(here, kind="notice", name=SET_ASIDE, text=text, spoken="", created_at=now)
            await outgoing.put(tx, [told])

    async def _refused(self, tx: Tx, letter: Letter, now: datetime) -> None:
        await outgoing.put(tx, await reach.refused(tx, letter.draft, self._crew_room, now))
        self.unreachable(letter.draft.room)

    def unreachable(self, room: str) -> None:
        """A room was noted as one that refuses what it is sent (see bot.outbox.reach)."""
        if self._unreached is not None:
            self._unreached.add(room)

    async def _reached(self, tx: Tx, room: str) -> None:
        if self._unreached is None:
            self._unreached = await places.unreached(tx)
        if room in self._unreached:
            await reach.reached(tx, room)
            self._unreached.discard(room)

    async def attachment(self, number: int, room: str) -> Attachment | None:
        """The picture or file that a room was told by message `number`, made anew; None where it has none."""
        async with self._store.begin() as tx:
            draft = await outgoing.told(tx, number, room)
        if draft is None or draft.picture is None or self._attachments is None:
            return None
        made, _missing = await self._attachments.of(draft, aloud=False)
        return made[0] if made else None

    async def _out(self, letter: Letter) -> Outgoing:
        marks = self._marks(letter)
        spoken = letter.draft.spoken and marks + letter.draft.spoken
        draft = msgspec.structs.replace(letter.draft, spoken=spoken)
        attached: tuple[Attachment, ...] = ()
        missing = ""
        if self._attachments is not None and (draft.picture is not None or letter.aloud):
            attached, missing = await self._attachments.of(draft, aloud=letter.aloud)
        return Outgoing(
            id=letter.id,
            room=draft.room,
            kind=draft.kind,
            text="\n".join(part for part in (marks + draft.text, missing) if part),
            name=draft.name,
            spoken=draft.spoken,
            buttons=draft.buttons,
            reply_to=draft.reply_to,
            thread=draft.thread,
            incident=draft.incident,
            attachments=attached,
            due_at=draft.due_at,
        )

    def _marks(self, letter: Letter) -> str:
        """What the message says of itself: that it may be here already, that it is late."""
        marks = "(sent again: it may be here already) " if letter.attempts else ""
        due_at = letter.draft.due_at
        if due_at is not None and self._clock.now() - due_at > LATE:
            marks += f"(late: due {due_at.astimezone(self._tz):%H:%M:%S}) "
        return marks
