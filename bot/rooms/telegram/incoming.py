"""Turns the service's updates into messages: text, recordings and pressed buttons, who sent them, where and when."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
from telegram import CallbackQuery, MessageEntity, Update, User
from telegram import Message as Sent
from telegram.constants import ChatType

from bot.message import Message
from bot.rooms.telegram import menu

KIND = "telegram"
ALLOWED_UPDATES = (Update.MESSAGE, Update.EDITED_MESSAGE, Update.CALLBACK_QUERY, Update.MY_CHAT_MEMBER)
EDIT = "/edit"
"""Ends the id of what an edited message says now."""
_AUDIO_DOCUMENTS = ("audio/", "video/webm", "video/mp4", "application/ogg")


def room_key(chat_id: int) -> str:
    """Our key of a chat."""
    return f"{KIND}:{chat_id}"


def chat_id(room: str) -> int:
    """The chat of one of our room keys."""
    return int(room.partition(":")[2])


def person_key(person_id: int) -> str:
    """Our key of a person."""
    return f"{KIND}:{person_id}"


def message_of(update: Update, bot: User, now: datetime | None = None) -> Message | None:
    """What was said, or None when the update is no message for us (a member left, a pin, a sticker).

    `now`: the time of a pressed button, which the service doesn't tell.
    """
    if update.callback_query:
        return _press(update.callback_query, now or datetime.now(UTC))
    if update.edited_message:
        edited = _said(update.edited_message, bot)
        return edited and msgspec.structs.replace(edited, id=edited.id + EDIT)
    return _said(update.message, bot) if update.message else None


def _said(sent: Sent, bot: User) -> Message | None:
    recording = _recording(sent)
    words, to_bot = _words(sent, bot)
    if not recording and not words:
        return None
    replied = sent.reply_to_message if _is_reply(sent) else None
    who, name = _sender(sent)
    return Message(
        room=room_key(sent.chat.id),
        id=str(sent.message_id),
        who=who,
        name=name,
        at=sent.date.astimezone(UTC),
        text="" if recording else words,
        voice_ref=recording,
        reply_to=str(replied.message_id) if replied else "",
        thread=str(sent.message_thread_id) if sent.is_topic_message and sent.message_thread_id else "",
        title=sent.chat.title or name,
        group=sent.chat.type != ChatType.PRIVATE,
        addressed=to_bot
        or sent.chat.type == ChatType.PRIVATE
        or bool(replied and replied.from_user and replied.from_user.id == bot.id),
    )


def _press(query: CallbackQuery, now: datetime) -> Message | None:
    shown = query.message
    if shown is None or not query.data:
        return None
    said = menu.words_of_button(query.data)
    return Message(
        room=room_key(shown.chat.id),
        id=f"{shown.message_id}/press-{query.id}",
        who=person_key(query.from_user.id),
        name=query.from_user.first_name,
        at=now,
        text=said,
        button="" if said else query.data,
        reply_to=str(shown.message_id),
        thread=str(shown.message_thread_id)
        if isinstance(shown, Sent) and shown.is_topic_message and shown.message_thread_id
        else "",
        title=shown.chat.title or query.from_user.first_name,
        group=shown.chat.type != ChatType.PRIVATE,
        addressed=True,
    )


def _sender(sent: Sent) -> tuple[str, str]:
    """Key and name; a group's anonymous administrator or a channel speaks as that chat."""
    if sent.sender_chat:
        return person_key(sent.sender_chat.id), sent.author_signature or sent.sender_chat.title or "somebody"
    if sent.from_user:
        return person_key(sent.from_user.id), sent.from_user.first_name
    return person_key(sent.chat.id), sent.chat.title or "somebody"


def _is_reply(sent: Sent) -> bool:
    """In a topic every message "answers" the one that made the topic; that is no reply."""
    replied = sent.reply_to_message
    return replied is not None and not (sent.is_topic_message and replied.message_id == sent.message_thread_id)


def _recording(sent: Sent) -> str:
    """The file id of a recording, as voice message, audio file, video note or document; "" without one."""
    if sent.document:
        kind = sent.document.mime_type or ""
        return sent.document.file_id if kind.startswith(_AUDIO_DOCUMENTS) else ""
    recording = sent.voice or sent.audio or sent.video_note
    return recording.file_id if recording else ""


def _words(sent: Sent, bot: User) -> tuple[str, bool]:
    """The text (or a picture's caption) as a person would say it, and whether it calls the bot by name or command."""
    words, name = sent.text or sent.caption or "", bot.username or ""
    if words.startswith("/"):
        command = menu.command_of(words, name)
        return (menu.words_of(*command), True) if command else ("", False)
    mention = f"@{name}".casefold()
    spans = sent.parse_entities([MessageEntity.MENTION]) if sent.text else {}
    if any(span.casefold() == mention for span in spans.values()):
        start = words.casefold().index(mention)
        return f"{words[:start]} {words[start + len(mention) :]}".strip(" ,:"), True
    return words.strip(), False
