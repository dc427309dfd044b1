"""The status board: one message in the crew's chat, pinned, and edited when the incident or its clocks have changed."""

from __future__ import annotations

import asyncio
import contextlib
import logging

from telegram import Bot
from telegram.error import BadRequest, Forbidden, TelegramError
from telegram.error import RetryAfter as Flooded

from bot.message.directory import Directory
from bot.outbox import reach
from bot.program.station import Station
from bot.rooms.telegram.incoming import KIND, chat_id
from bot.rooms.telegram.sending import lead_in_bold, seconds
from bot.store import log, outgoing, places
from bot.store.database import unbroken
from bot.store.outgoing import Unsent
from bot.store.places import Place
from handlers.incident.board import board

GAP_S = 3.5
"""Least time between two edits in a chat: a group takes about 20 messages a minute (commonly quoted)."""
TICK_S = 60.0
"""So often the clocks on the board go on by themselves."""
_MOST = 4096
_GONE = "chat not found"
_UNCHANGED = "message is not modified"

_LOG = logging.getLogger(__name__)


class Boards:
    """The boards of all open incidents. `run` it beside the polling."""

    def __init__(self, bot: Bot, station: Station) -> None:
        self._bot = bot
        self._station = station
        self._shown: dict[str, str] = {}
        self._parked_until: dict[str, float] = {}
        self._open: set[str] = set()
        self._changed: set[str] = set()
        self._poked = asyncio.Event()
        station.pipeline.changed.append(self._change)

    def _change(self, incident: str) -> None:
        self._changed.add(incident)
        self._poked.set()

    async def run(self) -> None:
        """Keep the boards up to date for ever."""
        while True:
            try:
                self._open = await unbroken(self._unfinished())
                break
            except Exception:
                _LOG.exception("The boards couldn't be looked up; trying again")
                await asyncio.sleep(GAP_S)
        while True:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(TICK_S):  # wait_for can lose a cancellation that comes with the event
                    await self._poked.wait()
            self._poked.clear()
            changed, self._changed = self._changed | self._open, set()
            for incident in changed:
                try:
                    for place, text in await unbroken(self._to_show(incident)):
                        await self._show(place, incident, text)
                except Exception:
                    _LOG.exception("The board of %s couldn't be shown", incident)
            await asyncio.sleep(GAP_S)

    async def _unfinished(self) -> set[str]:
        async with self._station.store.begin() as tx:
            return {place.incident for place in await places.of_kind(tx, KIND) if place.incident}

    async def _to_show(self, incident: str) -> list[tuple[Place, str]]:
        """The crew's chats with the text of their board."""
        house = self._station.house
        async with self._station.store.begin() as tx:
            found = await log.incident(tx, incident)
            if found is None:
                return []
            here = await places.of_incident(tx, incident)
            history = await house.logbook.history(tx, incident)
            (self._open.add if found.closed_at is None else self._open.discard)(incident)
            shown = board(history.scene, house.rigs.of(found.company), self._station.clock.now(), house.tz).text
            unreached = reach.board_line(here, house.crew_room)
            text = "\n\n".join(part for part in (unreached, shown) if part)[:_MOST]
        crew = Directory(here, found.company, house.crew_room).rooms(("crew",))
        return [(place, text) for place in here if place.room in crew and place.room.startswith(f"{KIND}:")]

    async def _show(self, place: Place, incident: str, text: str) -> None:
        if place.unreached_since is not None:
            return
        of, _, number = (place.board or "").rpartition(" ")
        if of == incident and self._shown.get(place.room) == text:
            return
        if asyncio.get_running_loop().time() < self._parked_until.get(place.room, 0.0):
            self._change(incident)
            return
        try:
            if of != incident or not await self._edit(place, int(number), text):
                await self._post(place, incident, text)
            self._shown[place.room] = text
        except Flooded as flooded:
            self._parked_until[place.room] = asyncio.get_running_loop().time() + seconds(flooded)
            self._change(incident)
        except (Forbidden, BadRequest) as refusal:  # asking again changes nothing
            _LOG.warning("The board is refused: %s", refusal, extra={"room": place.room})
            self._shown[place.room] = text
            if isinstance(refusal, Forbidden) or _GONE in str(refusal).casefold():
                await unbroken(self._not_reached(place))
        except TelegramError as error:
            _LOG.info("The board waits: %s", error, extra={"room": place.room})
            self._change(incident)

    async def _edit(self, place: Place, message_id: int, text: str) -> bool:
        """False when the message is gone, so that a new one is needed."""
        try:
            await self._bot.edit_message_text(text, chat_id(place.room), message_id, entities=lead_in_bold(text))
        except BadRequest as refusal:
            if _GONE in str(refusal).casefold():
                raise
            return _UNCHANGED in str(refusal).casefold()
        return True

    async def _post(self, place: Place, incident: str, text: str) -> None:
        thread = int(place.thread) if place.thread else None
        chat = chat_id(place.room)
        sent = await self._bot.send_message(
            chat, text, entities=lead_in_bold(text), disable_notification=True, message_thread_id=thread
        )
        await unbroken(self._remember(place.room, f"{incident} {sent.message_id}"))
        try:
            await self._bot.pin_chat_message(chat, sent.message_id, disable_notification=True)
        except BadRequest as refusal:
            _LOG.warning("The board in %s isn't pinned (%s): make the bot an administrator", place.room, refusal)

    async def _not_reached(self, place: Place) -> None:
        """The chat isn't there for the bot: the officer is told, and the board waits until something arrives there."""
        now = self._station.clock.now()
        letter = Unsent(room=place.room, kind="notice", text="", created_at=now)
        async with self._station.store.begin() as tx:
            await outgoing.put(tx, await reach.refused(tx, letter, self._station.house.crew_room, now))
        self._station.outbox.unreachable(place.room)
        self._station.outbox.poke()

    async def _remember(self, room: str, board_id: str) -> None:
        async with self._station.store.begin() as tx:
            await places.change_place(tx, room, board=board_id)
