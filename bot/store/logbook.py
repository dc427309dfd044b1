"""The logs in memory: each incident's history, brought up to date from the record before it is used."""

from __future__ import annotations

from collections import OrderedDict
from datetime import datetime, tzinfo

from bot.store import log
from bot.store.connection import Tx
from handlers.history import History

KEPT = 1_000
"""Histories kept in memory; the one longest unused is read again when it is needed."""


def quarters(company: str, at: datetime, tz: tzinfo) -> str:
    """The log of what a company says on a day out of any incident (roles, the daily check)."""
    return f"{company} {at.astimezone(tz).date().isoformat()}"


class Logbook:
    """Histories by incident. What it hands out must not be changed: a changed copy is written, then `keep` that."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, History] = OrderedDict()
        self._leads: dict[str, str] = {}

    async def history(self, tx: Tx, incident: str) -> History:
        """The history of an incident as the record has it now, whoever wrote to it."""
        kept = self._kept.get(incident)
        known = kept or History()
        for event in await log.since(tx, incident, known.last_seq):
            if event.seq > known.last_seq:  # another transaction of this program may have been quicker
                known.add(event)
        if kept is not None and self._kept.get(incident) is not kept:  # another now: this one may hold too much
            return await self.history(tx, incident)
        self.keep(incident, known)
        return known

    def keep(self, incident: str, known: History) -> None:
        """A history all of whose events stand in the record (unless its transaction fails: then `forget` it)."""
        known.written = len(known.events)
        self._kept[incident] = known
        self._kept.move_to_end(incident)
        if len(self._kept) > KEPT:
            self._kept.popitem(last=False)

    async def lead(self, tx: Tx, incident: str) -> str:
        """The company whose incident it is; that never changes."""
        if incident not in self._leads:
            found = await log.incident(tx, incident)
            if found is None:
                raise LookupError(f"no incident {incident}")
            self._leads[incident] = found.company
        return self._leads[incident]

    def kept(self, incident: str) -> History | None:
        """The history as it was last read, for a look at it."""
        return self._kept.get(incident)

    def forget(self, incident: str) -> None:
        """Read it anew the next time (a transaction that added to it was rolled back)."""
        self._kept.pop(incident, None)
        self._leads.pop(incident, None)
