"""What goes out with a message besides its text: the picture or file that an answer asks for, and its words spoken."""

from __future__ import annotations

import asyncio
import logging
from datetime import tzinfo

from bot.clock import Clock
from bot.message import Attachment
from bot.rigs import Rigs
from bot.store import log
from bot.store.database import Store
from bot.store.outgoing import Unsent
from grammar.commands import SendReport
from handlers.errors import CrosslayError
from handlers.outcome import Picture
from handlers.words import said_aloud

IMAGES = ("png",)

_LOG = logging.getLogger(__name__)


class Attachments:
    """Draws and speaks, in threads of their own; what can't be made is said in the message instead."""

    def __init__(self, store: Store, rigs: Rigs, clock: Clock, tz: tzinfo, *, piper: bool = False) -> None:
        """`piper`: speak with it where it is installed."""
        self._store = store
        self._rigs = rigs
        self._clock = clock
        self._tz = tz
        self._piper = piper

    async def of(self, draft: Unsent, *, aloud: bool) -> tuple[tuple[Attachment, ...], str]:
        """The attachments of a message, and a sentence on what is missing ("" when nothing is)."""
        made, missing = [], ""
        if draft.picture is not None:
            try:
                made.append(await self._picture(draft.picture, draft))
            except CrosslayError as error:
                missing = error.message
            except Exception:
                _LOG.exception("A %s couldn't be drawn", draft.picture.what)
                missing = "The picture couldn't be drawn."
        if aloud:
            try:
                words = said_aloud(draft.spoken or draft.text, self._rigs.of(draft.unit))
                made.append(await asyncio.to_thread(_spoken, words, self._piper))
            except CrosslayError as error:
                _LOG.warning("Nothing can be spoken: %s", error.message)
        return tuple(made), missing

    async def _picture(self, picture: Picture, draft: Unsent) -> Attachment:
        if picture.what == "report":
            return await self._report(picture.form, draft.incident)
        if picture.what == "readiness":
            return await self._check(picture.form, draft.unit)
        if picture.what == "patient":
            return await self._patient(picture, draft.incident)
        from bot.drawing import draw

        data = await asyncio.to_thread(draw, picture, self._rigs.of(draft.unit))
        return _named(picture.what, picture.form, data)

    async def _report(self, form: str, incident: str) -> Attachment:
        from bot.report import render
        from handlers.incident.record import record

        async with self._store.begin() as tx:
            found = await log.incident(tx, incident)
            events = await log.since(tx, incident)
        rig = self._rigs.of(found.company if found else "")
        made = record(events, rig, self._clock.now(), self._tz)
        return _named(f"incident {incident}", form, await asyncio.to_thread(render, made, form, rig, self._tz))

    async def _patient(self, picture: Picture, incident: str) -> Attachment:
        from bot.report.patient import patient_of, render_patient
        from handlers.history import fold

        async with self._store.begin() as tx:
            found = await log.incident(tx, incident)
            events = await log.since(tx, incident)
        rig, scene = self._rigs.of(found.company if found else ""), fold(events)
        key = picture.command.patient if isinstance(picture.command, SendReport) and picture.command.patient else "1"
        patient, now = patient_of(scene, key), self._clock.now()
        data = await asyncio.to_thread(render_patient, scene, patient, picture.form, rig, now, self._tz)
        return _named(f"incident {incident} {patient.name}", picture.form, data)

    async def _check(self, form: str, unit: str) -> Attachment:
        from bot.commands.report import latest_check
        from bot.report.readiness import FORMS, render_check

        async with self._store.begin() as tx:
            made = await latest_check(tx, self._rigs.of(unit), unit)
        form = form if form in FORMS else "pdf"
        return _named("daily check", form, await asyncio.to_thread(render_check, made, form, self._tz))


def _named(what: str, form: str, data: bytes) -> Attachment:
    return Attachment(f"{what}.{form}", data, "image" if form in IMAGES else "file")


def _spoken(words: str, piper: bool) -> Attachment:
    from bot.speech.voice import open_voice

    return Attachment("spoken.ogg", open_voice(piper).speak(words).as_voice_message(), "voice")
