"""Runs the bot on Telegram: takes updates in, keeps its rooms known, answers button presses."""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections import deque
from collections.abc import Callable, Coroutine, Sequence
from typing import Any

from telegram import Bot, CallbackQuery, Update, User
from telegram import Message as Sent
from telegram.error import InvalidToken, TelegramError

from bot.clock import ServiceClock
from bot.errors import SettingsError
from bot.message import Message
from bot.message.pipeline import Ticket
from bot.message.situation import known_place
from bot.program.station import Station
from bot.rooms.telegram import menu
from bot.rooms.telegram.admission import Admission, key
from bot.rooms.telegram.boards import Boards
from bot.rooms.telegram.door import Door
from bot.rooms.telegram.floods import Floods
from bot.rooms.telegram.incoming import KIND, message_of, room_key
from bot.rooms.telegram.polling import FIRST_PAUSE_S, LONGEST_PAUSE_S, poll
from bot.rooms.telegram.room import TelegramRoom
from bot.rooms.telegram.setup import PRIVACY
from bot.rooms.throttle import Throttle
from bot.store import places
from bot.store.database import is_trouble

_CLOSED_KEPT = 256
"""Questions whose buttons were taken away, so that a second press isn't worth a second edit."""

_LOG = logging.getLogger(__name__)


class Telegram:
    """The bot at work in one station: `open_rooms` before the station starts, then `run` it until it is cancelled."""

    def __init__(
        self, bot: Bot, room: TelegramRoom, station: Station, say: Callable[[str], None] = lambda sentence: None
    ) -> None:
        """`say` is told once that it serves, and what hinders it."""
        self._bot = bot
        self._station = station
        self._admission = Admission(_named(station))
        self._door = Door(station, self._admission)
        self._boards = Boards(bot, station)
        self._throttle = Throttle()
        self._floods = Floods(station.pipeline, self._door, self._throttle)
        self._me = User(0, "", is_bot=True)
        self._tasks: set[asyncio.Task[None]] = set()
        self._closed: deque[tuple[int, int]] = deque(maxlen=_CLOSED_KEPT)
        self._say = say
        room.moved = self._move

    async def run(self) -> None:
        """Serve for ever. Raises SettingsError when the token isn't accepted."""
        await self._connect()
        boards = asyncio.create_task(self._boards.run())
        try:
            await self._take_for_ever()
        finally:
            for task in (boards, *self._tasks):
                task.cancel()
            await asyncio.gather(boards, *self._tasks, self._floods.stop(), return_exceptions=True)

    async def _take_for_ever(self) -> None:
        given = self._station.settings
        if not given.telegram_webhook:
            await poll(self._bot, self.take, self._say)
            return
        try:
            from bot.rooms.telegram.webhook import Webhook
        except ImportError:
            raise SettingsError(
                "CROSSLAY_TELEGRAM_WEBHOOK", "it needs the Python package aiohttp: install crosslay[webhook]."
            ) from None
        secret = given.telegram_secret or secrets.token_urlsafe(32)
        await Webhook(self._bot, self.take, given.telegram_webhook, given.telegram_listen, secret).run(self._say)

    async def take(self, batch: Sequence[Update]) -> None:
        """Write a batch of updates down, in one commit for all that is said; the same ones again do nothing."""
        self._compare_clocks(batch)
        messages: list[Message] = []
        presses: dict[tuple[str, str], CallbackQuery] = {}
        for update in batch:
            try:
                message = await self._message(update)
            except Exception as error:
                if is_trouble(error):
                    raise
                _LOG.exception("Update %s can't be taken and is left out", update.update_id)
                continue
            if message is not None:
                messages.append(message)
            if update.callback_query:
                self._later(self._acknowledge(update.callback_query))
                if message is not None and message.button:
                    presses[message.room, message.id] = update.callback_query
        held = [message for message in messages if self._throttle.holds(message)]
        for ticket in await self._station.pipeline.receive([message for message in messages if message not in held]):
            said = ticket.received.message
            if (query := presses.get((said.room, said.id))) is not None:
                self._later(self._close_question(query, ticket))
        if held:
            await self._floods.take(held)

    def _compare_clocks(self, batch: Sequence[Update]) -> None:
        clock = self._station.clock
        said = [update.message.date for update in batch if update.message and update.message.date]
        if isinstance(clock, ServiceClock) and said:
            clock.was_said(max(said))

    async def _message(self, update: Update) -> Message | None:
        """What an update says to the pipeline; None when it is something else, or was dealt with here."""
        if update.message and update.message.migrate_to_chat_id:
            await self._move(room_key(update.message.chat.id), room_key(update.message.migrate_to_chat_id))
            return None
        if update.my_chat_member:
            if update.my_chat_member.new_chat_member.status in ("member", "administrator"):
                await self._door.turn_away(room_key(update.my_chat_member.chat.id))
            return None
        try:
            message = message_of(update, self._me, self._station.clock.now())
        except Exception:
            _LOG.exception("Update %s can't be read and is left out", update.update_id)
            return None
        if message is not None and update.edited_message:
            await self._door.edited(message)
            return None
        return message if message is not None and await self._door.admits(message) else None

    # --- beginning

    async def open_rooms(self) -> None:
        """The rooms of the settings are known before anybody writes there; those no longer served are told nothing."""
        now = self._station.clock.now()
        rigs = self._station.rigs
        roles = {key(chat): role for unit in rigs.units for role, chat in rigs.of(unit).rooms.items()}
        if self._station.settings.crew_room:
            roles[key(self._station.settings.crew_room)] = "crew"
        async with self._station.store.begin() as tx:
            await self._admission.load(tx)
            for named in _named(self._station):
                room = self._admission.current(key(named))
                known = await known_place(tx, rigs, room)
                grouped = room.startswith(key("-"))
                role = roles.get(key(named), None if grouped else known.role)
                await places.change_place(tx, room, grouped=grouped, role=role)
            for place in await places.of_kind(tx, KIND):
                if not await self._admission.serves(tx, place.room, now):
                    await places.forget(tx, place.room)

    async def _connect(self) -> None:
        """Say hello to the service as often as it takes; the clocks and reminders don't wait for it."""
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                await self._bot.initialize()
                if not self._station.settings.telegram_webhook:
                    await self._bot.delete_webhook()
            except InvalidToken:
                raise SettingsError("CROSSLAY_TELEGRAM_TOKEN", "the service doesn't accept this token.") from None
            except TelegramError as error:
                _LOG.warning("Telegram can't be reached (%s); trying again in %.1f s", error, pause_s)
                await asyncio.sleep(pause_s)
                pause_s = min(pause_s * 2, LONGEST_PAUSE_S)
            else:
                self._me = self._bot.bot
                self._door.bot_name = self._me.username or ""
                self._later(self._offer_menu())
                self._say(f"Serving {len(_named(self._station))} room(s) on Telegram as @{self._me.username}.")
                if not self._me.can_read_all_group_messages:
                    self._say(f"Mind: {PRIVACY}.")
                return

    async def _offer_menu(self) -> None:
        await self._bot.set_my_commands([(name, shown) for name, (shown, _) in menu.MENU.items()])

    async def _move(self, old: str, new: str) -> None:
        """A group has become a supergroup: its room goes on under the new id."""
        async with self._station.store.begin() as tx:
            moved = await self._admission.move(tx, old, new, self._station.clock.now())
        if moved:
            _LOG.warning("%s is now %s: write the new number into CROSSLAY_ROOMS when you next change it", old, new)

    # --- buttons

    async def _acknowledge(self, query: CallbackQuery) -> None:
        """Every press is answered, or the button goes on turning on the telephone."""
        await query.answer(menu.words_of_button(query.data or "") or None)

    async def _close_question(self, query: CallbackQuery, ticket: Ticket) -> None:
        """Takes an answered question's buttons away and says which was pressed, by whom."""
        handled = await ticket.handled
        shown = query.message
        if handled.status == "declined" and handled.reading.declined is None:
            return  # who pressed it may not; it stays for who may
        if not isinstance(shown, Sent) or (shown.chat.id, shown.message_id) in self._closed:
            return
        self._closed.append((shown.chat.id, shown.message_id))
        if handled.status == "declined" or not shown.text:
            await shown.edit_reply_markup(None)
            return
        rows = shown.reply_markup.inline_keyboard if shown.reply_markup else ()
        chosen = next((button.text for row in rows for button in row if button.callback_data == query.data), "")
        words = f"{shown.text}\n→ {chosen} ({query.from_user.first_name})"
        await shown.edit_text(words, entities=shown.entities, reply_markup=None)

    def _later(self, work: Coroutine[Any, Any, None]) -> None:
        """Does something beside the polling that may fail without harm."""
        task = asyncio.create_task(_harmless(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)


async def _harmless(work: Coroutine[Any, Any, None]) -> None:
    try:
        await work
    except TelegramError as error:
        _LOG.info("Telegram: %s", error)
    except Exception:
        _LOG.exception("Something beside the polling failed")


def _named(station: Station) -> list[str]:
    """The chats that the settings and the rig files name."""
    of_rigs = [chat for unit in station.rigs.units for chat in station.rigs.of(unit).rooms.values()]
    crew_room = [station.settings.crew_room] if station.settings.crew_room else []
    return list(dict.fromkeys([*station.settings.rooms, *crew_room, *of_rigs]))
