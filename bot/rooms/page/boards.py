"""What every screen shows of its incident: worked out when something has changed, and now and then while it is open."""

from __future__ import annotations

import asyncio
import contextlib
import logging

from bot import reminders as reminding
from bot.message.directory import Directory
from bot.message.situation import AFTERWARDS
from bot.outbox import reach
from bot.program.station import Station
from bot.rooms.page import KIND, talk
from bot.rooms.page.hub import Hub
from bot.rooms.page.protocol import Beat, Board
from bot.rooms.page.room import GRACE_S, PageRoom
from bot.store import log, outgoing, places
from bot.store.connection import Tx
from bot.store.database import unbroken
from bot.store.outgoing import Unsent
from handlers.incident.glance import Glance, glance

BEAT_S = 2.0
"""So often every screen hears from the server; one that hears nothing for longer says so."""
LOST_S = 5.0
"""So often it is looked whether rooms are shown nowhere."""
ANEW_S = 20.0
"""So often a board is worked out anyway while its incident is open."""
GAP_S = 0.05
"""Changes within so long are shown at once."""

_LOG = logging.getLogger(__name__)


class Boards:
    """`run` it beside the serving."""

    def __init__(self, station: Station, hub: Hub, room: PageRoom) -> None:
        self._station = station
        self._hub = hub
        self._room = room
        self._changed: set[str] = set()
        self._poked = asyncio.Event()
        station.pipeline.changed.append(self.change)

    def change(self, incident: str) -> None:
        """Something of an incident has changed."""
        self._changed.add(incident)
        self._poked.set()

    async def run(self) -> None:
        """Keep every screen up to date, for ever."""
        beside = [asyncio.create_task(work) for work in (self._beat(), self._look_anew(), self._look_for_lost())]
        try:
            while True:
                await self._poked.wait()
                self._poked.clear()
                changed, self._changed = self._changed, set()
                try:
                    await self._show(changed)
                except Exception:
                    _LOG.exception("The boards couldn't be shown")
                await asyncio.sleep(GAP_S)
        finally:
            for task in beside:
                task.cancel()

    async def _beat(self) -> None:
        while True:
            await asyncio.sleep(BEAT_S)
            now = self._station.clock.now()
            for room in self._hub.rooms:
                self._hub.show(room, Beat(now))

    async def _look_for_lost(self) -> None:
        while True:
            await asyncio.sleep(LOST_S)
            with contextlib.suppress(Exception):
                await unbroken(self._note_lost())

    async def _look_anew(self) -> None:
        while True:
            await asyncio.sleep(ANEW_S)
            with contextlib.suppress(Exception):
                await self._show(None)

    async def _show(self, incidents: set[str] | None) -> None:
        """Show the boards of these incidents; None: of all that are open."""
        for room in self._hub.rooms:
            board = await unbroken(self.of(room))
            shown = board.board
            if incidents is None and (shown is None or not shown.open):
                continue
            if incidents is None or shown is None or shown.incident in incidents:
                self._hub.show(room, board)

    async def of(self, room: str) -> Board:
        """The board of a room now."""
        house, now = self._station.house, self._station.clock.now()
        async with self._station.store.begin() as tx:
            asked = await talk.open_questions(tx, room, now - AFTERWARDS)
            place = await places.place(tx, room)
            if place is None or place.incident is None:
                return Board(now, None, asked)
            history = await house.logbook.history(tx, place.incident)
            lead = await house.logbook.lead(tx, place.incident)
        closed_at = history.scene.closed_at
        if closed_at is not None and now >= closed_at + AFTERWARDS:
            return Board(now, None, asked)
        rig = house.rigs.of(place.unit or lead)
        drawn: Glance = glance(history.scene, rig, place.unit or lead, now, house.tz)
        return Board(now, drawn, asked)

    # --- rooms that no screen shows

    async def present(self, room: str) -> None:
        """A screen shows a room: what is planned is planned for it too from now on."""
        async with self._station.store.begin() as tx:
            place = await places.place(tx, room)
            if place is None or place.unreached_since is None:
                return
            await reach.reached(tx, room)
            await self._plan(tx, place.incident)
        self._station.timers.poke()

    async def _note_lost(self) -> None:
        """Rooms that no screen has shown for a while are as if they weren't there: others are told in their place.

        Where a screen has shown it in this run, the officer is told by other ways.
        """
        async with self._station.store.begin() as tx:
            for place in await places.of_kind(tx, KIND):
                if place.unreached_since is not None or self._room.alone_s(place.room) < GRACE_S:
                    continue
                now = self._station.clock.now()
                if place.room in self._hub.left_at:
                    letter = Unsent(room=place.room, kind="notice", text="", created_at=now)
                    await outgoing.put(tx, await reach.refused(tx, letter, self._station.house.crew_room, now))
                else:
                    await places.change_place(tx, place.room, unreached_since=now)
                await self._plan(tx, place.incident)
        self._station.outbox.poke()

    async def _plan(self, tx: Tx, incident: str | None) -> None:
        if incident is None or not await log.is_open(tx, incident):
            return
        house = self._station.house
        company = await house.logbook.lead(tx, incident)
        history = await house.logbook.history(tx, incident)
        directory = Directory(await places.of_incident(tx, incident), company, house.crew_room)
        rig = house.rigs.of(company)
        await reminding.bring_in_line(tx, incident, history.scene, rig, directory, self._station.clock.now())
