"""Shows one message in a chat, and says in our own errors what became of it."""

from __future__ import annotations

import httpx
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, MessageEntity, ReplyParameters
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
from bot.message import Button, Outgoing

_NOT_CONNECTED_S = 2.0
_TOKEN_REFUSED_S = 60.0
_TOPIC_GONE = ("message thread not found", "topic_closed", "topic_deleted")
_BUTTONS_A_ROW = 3
_LONG_LABEL = 12


async def send(bot: Bot, chat_id: int, out: Outgoing) -> str:
    """Sends one message and returns the chat's id of it (of its last part, where it takes several).

    It answers the message it belongs to, in that message's topic; a topic that is closed or gone is left for the chat.

    Raises:
        ChatMigrated: the group has a new id.
        RetryAfter, Unsure, Undeliverable: see bot.errors.
    """
    thread = int(out.thread) if out.thread else None
    try:
        return await _send_parts(bot, chat_id, out, thread)
    except BadRequest as refusal:
        if thread is None or not any(reason in str(refusal).casefold() for reason in _TOPIC_GONE):
            raise fate(refusal) from refusal
        return await _send_parts(bot, chat_id, out, None)
    except TelegramError as error:
        raise fate(error) from error


async def _send_parts(bot: Bot, chat_id: int, out: Outgoing, thread: int | None) -> str:
    sent_id = ""
    parts = split(out.text)
    for part in parts:
        sent = await bot.send_message(
            chat_id,
            part,
            entities=lead_in_bold(part),
            disable_notification=not out.loud,
            message_thread_id=thread,
            reply_parameters=_reply(out.reply_to) if part is parts[0] else None,
            reply_markup=keyboard(out.buttons) if part is parts[-1] else None,
        )
        sent_id = str(sent.message_id)
    return sent_id


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
