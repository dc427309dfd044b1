"""The local room on a terminal: a line to type on, a status panel under it, everything that is told above it."""

from __future__ import annotations

from datetime import datetime
from html import escape

from prompt_toolkit import PromptSession
from prompt_toolkit.formatted_text import HTML
from prompt_toolkit.patch_stdout import patch_stdout
from rich.console import Console
from rich.text import Text

from bot import rigs
from bot.clock import LocalClock
from bot.message import Outgoing
from bot.program.station import Station
from bot.rooms.page.address import chosen
from bot.rooms.page.serve import Page, Say
from bot.rooms.terminal import LEAVE, WELCOME, seated, with_choices
from bot.settings import Settings
from bot.store import places
from handlers.errors import CrosslayError
from handlers.incident.board import board

PAGE = "/page"
"""Typed, it shows the page's address with a new code."""
STYLES = {"reply": "", "notice": "cyan", "reminder": "yellow", "alert": "bold white on red"}


async def sit(settings: Settings, known: rigs.Rigs) -> int:
    """Sit in the room until its people leave."""
    with patch_stdout(raw=True):
        console = Console(force_terminal=True)

        def show(out: Outgoing) -> None:
            console.print(_shown(out, settings))

        def say(text: str) -> None:
            console.print(Text(text, style="dim"))

        def tell(text: str) -> None:
            console.print(Text(text))  # a QR code is to be as bright as it can

        say(WELCOME)
        beside = page_beside(settings, tell)
        if beside is None:
            station, room = await seated(settings, known, show)
        else:
            station, room = await seated(
                settings, known, show, clock=beside.clock, beside=[beside.room], ears=beside.ears
            )
            if not await opened(beside, station, tell):
                beside = None
        panel = StatusPanel(station, room.kind)
        station.pipeline.changed.append(panel.changed)
        await panel.look()
        session: PromptSession[str] = PromptSession(bottom_toolbar=panel.render, refresh_interval=1.0)
        try:
            while True:
                line = (await session.prompt_async(f"{room.prompt}> ")).strip()
                if line.casefold() in LEAVE:
                    return 0
                if line == PAGE and beside is not None:
                    tell(await beside.invitation())
                elif line:
                    await station.pipeline.say(room.message(line))
                    await station.outbox.drain()
        except (EOFError, KeyboardInterrupt):
            return 0
        finally:
            if beside is not None:
                await beside.close()
            await station.stop()


def page_beside(settings: Settings, say: Say) -> Page | None:
    """The page that is served beside the room; None where it is off, or can't be (why not is said)."""
    try:
        at = chosen(settings.page_listen)
        return Page(at, settings, say, LocalClock()) if at is not None else None
    except CrosslayError as error:
        say(f"The page isn't served: {error.message}")
        return None


async def opened(beside: Page, station: Station, say: Say) -> bool:
    """Open the page; the room goes on without it where it can't be (why not is said)."""
    try:
        await beside.open(station)
    except CrosslayError as error:
        say(f"The page isn't served: {error.message}")
        await beside.close()
        return False
    say(f"{await beside.invitation()}\n“{PAGE}” shows this again with a new code.")
    return True


def _shown(out: Outgoing, settings: Settings) -> Text:
    """A message for the screen: its lead bold, alerts not to be missed."""
    if out.kind == "reply":
        lead, _, rest = with_choices(out).partition("\n")
        return Text.assemble((lead, "bold"), f"\n{rest}" if rest else "")
    at = f"{datetime.now(settings.tz):%H:%M:%S} "
    return Text(at + with_choices(out), style=STYLES[out.kind])


class StatusPanel:
    """The status panel: the incident's board as it stands this second."""

    def __init__(self, station: Station, room: str) -> None:
        self._station = station
        self._room = room
        self._incident = ""

    def changed(self, incident: str) -> None:
        """This is the incident to show."""
        self._incident = incident

    async def look(self) -> None:
        """Find the incident that the room is in."""
        async with self._station.store.begin() as tx:
            place = await places.place(tx, self._room)
            if place is not None and place.incident is not None:
                await self._station.house.logbook.history(tx, place.incident)
                self.changed(place.incident)

    def render(self) -> HTML:
        """The panel's text now."""
        history = self._station.house.logbook.kept(self._incident)
        if history is None or not history.scene.open:
            return HTML("No incident is open.")
        shown = board(history.scene, self._station.rigs.own, self._station.clock.now(), self._station.settings.tz)
        lines = [f"<b>{escape(shown.heading)}</b>"]
        if shown.alert:
            lines.insert(0, f'<style bg="ansired" fg="ansiwhite"><b>{escape(shown.alert)}</b></style>')
        lines += [f"<b>{escape(part.title)}</b>  {escape(' · '.join(part.lines))}" for part in shown.sections]
        return HTML("\n".join(lines))
