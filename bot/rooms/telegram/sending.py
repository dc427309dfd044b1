"""Shows one message in a chat, and says in our own errors what became of it."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import httpx
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, MessageEntity, ReplyParameters
from telegram import Message as Sent
from telegram.constants import MessageLimit
from telegram.error import (
    BadRequest,
    ChatMigrated,
    EndPointNotFound,
    Forbidden,
    InvalidToken,
    TelegramError,
)
from telegram.error import RetryAfter as Flooded

from bot import errors
from bot.message import Attachment, Button, Outgoing

_NOT_CONNECTED_S = 2.0
_TOKEN_REFUSED_S = 60.0
_TOPIC_GONE = ("message thread not found", "topic_closed", "topic_deleted")
_BUTTONS_A_ROW = 3
_LONG_LABEL = 12


async def send(bot: Bot, chat_id: int, out: Outgoing) -> str:
    """Sends one message and returns the chat's id of it (of its last part, where it takes several).

    It answers the message it belongs to, in that message's topic; a topic that is closed or gone is left for the chat.
    What is attached comes with the text under it; where it is refused, the text comes alone.

    Raises:
        ChatMigrated: the group has a new id.
        RetryAfter, Unsure, Undeliverable: see bot.errors.
    """
    try:
        return await _Sending(bot, chat_id, out).run()
    except TelegramError as error:
        raise fate(error) from error


class _Sending:
    """One message on its way: a message of the service for each part of the text and each attachment."""

    def __init__(self, bot: Bot, chat_id: int, out: Outgoing) -> None:
        self._bot = bot
        self._chat_id = chat_id
        self._out = out
        self._thread = int(out.thread) if out.thread else None
        self._last_id = ""

    async def run(self) -> str:
        out = self._out
        try:
            if out.attachments and len(out.text) <= MessageLimit.CAPTION_LENGTH:
                first, *others = out.attachments
                await self._in_topic(self._attach, first, caption=out.text, buttons=out.buttons)
            else:
                await self._text()
                others = list(out.attachments)
        except BadRequest:
            if not out.attachments or self._last_id:
                raise
            await self._text()
            return self._last_id
        for attachment in others:
            await self._in_topic(self._attach, attachment)
        return self._last_id

    async def _text(self) -> None:
        *firsts, last = split(self._out.text)
        for part in firsts:
            await self._in_topic(self._say, part)
        await self._in_topic(self._say, last, buttons=self._out.buttons)

    async def _in_topic(self, send_one: Callable[..., Awaitable[Sent]], *args: Any, **kwargs: Any) -> None:
        try:
            sent = await send_one(*args, **kwargs)
        except BadRequest as refusal:
            if self._thread is None or not any(reason in str(refusal).casefold() for reason in _TOPIC_GONE):
                raise
            self._thread = None
            sent = await send_one(*args, **kwargs)
        self._last_id = str(sent.message_id)

    async def _say(self, text: str, buttons: tuple[Button, ...] = ()) -> Sent:
        return await self._bot.send_message(
            self._chat_id, text, entities=lead_in_bold(text), **self._manners(), reply_markup=keyboard(buttons)
        )

    async def _attach(self, attachment: Attachment, caption: str = "", buttons: tuple[Button, ...] = ()) -> Sent:
        by_kind: dict[str, Callable[..., Awaitable[Sent]]] = {
            "image": self._bot.send_photo,
            "voice": self._bot.send_voice,
            "file": self._bot.send_document,
        }
        return await by_kind[attachment.kind](
            self._chat_id,
            attachment.data,
            filename=attachment.name,
            caption=caption or None,
            caption_entities=lead_in_bold(caption),
            reply_markup=keyboard(buttons),
            **self._manners(),
        )

    def _manners(self) -> dict[str, Any]:
        """Quiet but for alerts, in the topic; the first of several answers the message they belong to."""
        return {
            "disable_notification": not self._out.loud,
            "message_thread_id": self._thread,
            "reply_parameters": None if self._last_id else _reply(self._out.reply_to),
        }


def fate(error: TelegramError) -> Exception:
    """What becomes of a message whose sending ended so, as the outbox understands it; ChatMigrated stays itself."""
    match error:
        case ChatMigrated():
            return error
        case Flooded():
            return errors.RetryAfter(seconds(error))
        case InvalidToken() | EndPointNotFound():
            return errors.RetryAfter(_TOKEN_REFUSED_S)  # nothing is lost while the token is put right
        case BadRequest() | Forbidden():
            return errors.Undeliverable(str(error))
    if isinstance(error.__cause__, httpx.ConnectError | httpx.ConnectTimeout | httpx.PoolTimeout):
        return errors.RetryAfter(_NOT_CONNECTED_S)  # it can't have arrived, so that it isn't marked as a repeat
    return errors.Unsure(str(error))


def seconds(flooded: Flooded) -> float:
    """How long the service asks to wait."""
    wait = flooded.retry_after
    return wait if isinstance(wait, int) else wait.total_seconds()


def lead_in_bold(text: str) -> list[MessageEntity]:
    """The first line in bold: the number is what is read at arm's length."""
    lead, more, _ = text.partition("\n")
    length = len(lead.encode("utf-16-le")) // 2
    return [MessageEntity(MessageEntity.BOLD, 0, length)] if more and length else []


def keyboard(buttons: tuple[Button, ...]) -> InlineKeyboardMarkup | None:
    """Buttons for thumbs in gloves: short labels a few in a row, a long one alone."""
    rows: list[list[InlineKeyboardButton]] = []
    for button in buttons:
        wide = len(button.label) > _LONG_LABEL
        if not rows or wide or len(rows[-1]) == _BUTTONS_A_ROW or len(rows[-1][-1].text) > _LONG_LABEL:
            rows.append([])
        rows[-1].append(InlineKeyboardButton(button.label, callback_data=button.id))
    return InlineKeyboardMarkup(rows) if rows else None


def split(text: str) -> list[str]:
    """The text in parts that fit a message each, cut at line ends where there are any."""
    parts = []
    while len(text) > MessageLimit.MAX_TEXT_LENGTH:
        cut = text.rfind("\n", 1, MessageLimit.MAX_TEXT_LENGTH)
        cut = cut if cut > 0 else MessageLimit.MAX_TEXT_LENGTH
        parts.append(text[:cut])
        text = text[cut:].lstrip("\n")
    return [*parts, text]


def _reply(message: str) -> ReplyParameters | None:
    """To the message itself, or (for a pressed button) to the message that has the button."""
    number = message.partition("/")[0]
    return ReplyParameters(int(number), allow_sending_without_reply=True) if number.isdigit() else None
