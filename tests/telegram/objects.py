"""What a test server's world is made of: people, chats, topics, messages and files, and their Bot API JSON."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tests.telegram.schema import Json

if TYPE_CHECKING:
    from tests.telegram.world import World

FILE_KINDS = ("voice", "audio", "document", "photo")
_COMMAND = re.compile(r"(?<!\S)/[A-Za-z0-9_]{1,32}(?:@[A-Za-z0-9_]+)?")
_MENTION = re.compile(r"(?<!\w)@[A-Za-z0-9_]{4,32}")


def utf16_length(text: str) -> int:
    """Length as message entities count it: in UTF-16 code units."""
    return len(text.encode("utf-16-le")) // 2


def found_entities(text: str) -> list[Json]:
    """The entities that the service itself marks in what people write: commands and mentions."""
    return [
        {"type": kind, "offset": utf16_length(text[: hit.start()]), "length": utf16_length(hit.group())}
        for kind, pattern in (("bot_command", _COMMAND), ("mention", _MENTION))
        for hit in pattern.finditer(text)
    ]


@dataclass(eq=False)
class User:
    """A person or the bot, as other members see it."""

    id: int
    first_name: str
    username: str | None = None
    is_bot: bool = False

    def as_json(self) -> Json:
        """A Bot API User."""
        shown: Json = {"id": self.id, "is_bot": self.is_bot, "first_name": self.first_name}
        if self.username:
            shown["username"] = self.username
        return shown


@dataclass(eq=False)
class StoredFile:
    """A file that somebody sent; `path` is where the file address serves it."""

    file_id: str
    unique_id: str
    path: str
    content: bytes

    def as_json(self) -> Json:
        """A Bot API File."""
        return {
            "file_id": self.file_id,
            "file_unique_id": self.unique_id,
            "file_size": len(self.content),
            "file_path": self.path,
        }


@dataclass(eq=False)
class Topic:
    """A forum topic of a supergroup; its thread id is the id of the message that made it."""

    chat: Chat
    thread_id: int
    name: str
    open: bool = True


@dataclass(eq=False, repr=False)
class Message:
    """One message as it stands now; `earlier` keeps the texts that edits replaced, `silent` how it was sent."""

    chat: Chat
    message_id: int
    sender: User
    date: int
    text: str | None = None
    entities: list[Json] = field(default_factory=list)
    content: Json = field(default_factory=dict)
    topic: Topic | None = None
    reply_to: Message | None = None
    markup: Json | None = None
    silent: bool = False
    edit_date: int | None = None
    earlier: list[str | None] = field(default_factory=list)
    deleted: bool = False

    def __repr__(self) -> str:
        return f"<{self.message_id} {self.sender.first_name} in {self.chat.title or self.chat.id}: {self.text!r}>"

    @property
    def caption(self) -> str:
        """The words under a file, empty without any."""
        return str(self.content.get("caption", ""))

    @property
    def is_service(self) -> bool:
        """Whether the service wrote it (a pin, a member added), not a member."""
        return self.text is None and not any(kind in self.content for kind in FILE_KINDS)

    @property
    def buttons(self) -> list[str]:
        """The labels of the inline buttons below it, in reading order."""
        return [button["text"] for button in self.inline_buttons]

    @property
    def inline_buttons(self) -> list[Json]:
        """The inline buttons themselves, in reading order."""
        return [button for row in (self.markup or {}).get("inline_keyboard", []) for button in row]

    @property
    def pinned(self) -> bool:
        """Whether it is pinned in its chat."""
        return self in self.chat.pinned

    def as_json(self, *, with_reply: bool = True) -> Json:
        """A Bot API Message; the message replied to is shown without its own reply, as the service does."""
        shown: Json = {
            "message_id": self.message_id,
            "date": self.date,
            "chat": self.chat.as_json(),
            "from": self.sender.as_json(),
            **self.content,
        }
        if self.text is not None:
            shown["text"] = self.text
        if self.entities:
            shown["entities" if self.text is not None else "caption_entities"] = self.entities
        if self.edit_date is not None:
            shown["edit_date"] = self.edit_date
        if self.markup and "inline_keyboard" in self.markup:
            shown["reply_markup"] = self.markup
        if self.topic:
            shown |= {"message_thread_id": self.topic.thread_id, "is_topic_message": True}
        replied = self.reply_to or (self.topic and self.chat.find(self.topic.thread_id))
        if with_reply and replied and replied is not self:
            shown["reply_to_message"] = replied.as_json(with_reply=False)
            if self.chat.type == "supergroup" and not self.topic:
                # A trap of the real service: plain supergroups show reply threads too, which can't be sent to.
                shown["message_thread_id"] = replied.message_id
        return shown


@dataclass(eq=False, repr=False)
class Chat:
    """A private chat, group or supergroup with its members and messages."""

    world: World
    id: int
    type: str
    title: str | None = None
    person: User | None = None
    members: list[User] = field(default_factory=list)
    is_forum: bool = False
    bot_is: str = "member"  # member, administrator, left, kicked, or blocked by the person
    moved_to: Chat | None = None
    all_messages: list[Message] = field(default_factory=list)
    pinned: list[Message] = field(default_factory=list)
    topics: list[Topic] = field(default_factory=list)
    last_message_id: int = 0
    heard: int = 0  # how many of `from_bot` `hears` has handed out

    def __repr__(self) -> str:
        return f"<{self.type} {self.title or self.id}>"

    def as_json(self) -> Json:
        """A Bot API Chat."""
        shown: Json = {"id": self.id, "type": self.type}
        if self.person:
            shown["first_name"] = self.person.first_name
        if self.title:
            shown["title"] = self.title
        if self.is_forum:
            shown["is_forum"] = True
        return shown

    @property
    def messages(self) -> list[Message]:
        """Every message of people and bot that isn't deleted, without service messages, oldest first."""
        return [m for m in self.all_messages if not m.deleted and not m.is_service]

    @property
    def from_bot(self) -> list[Message]:
        """The bot's messages among them."""
        return [message for message in self.messages if message.sender.is_bot]

    def find(self, message_id: int) -> Message | None:
        """The message of that number, unless it is gone."""
        return next((m for m in self.all_messages if m.message_id == message_id and not m.deleted), None)

    async def hears(self, fragment: str = "", *, timeout_s: float = 10) -> Message:
        """Waits for the bot's next message here that holds `fragment`; messages before it count as read."""

        def next_one() -> Message | None:
            return next((m for m in self.from_bot[self.heard :] if fragment in (m.text or m.caption)), None)

        await self.world.until(lambda: next_one() is not None, timeout_s=timeout_s, what=lambda: self._told(fragment))
        message = next_one()
        assert message is not None
        self.heard = self.from_bot.index(message) + 1
        return message

    def _told(self, fragment: str) -> str:
        said = [m.text or m.caption for m in self.from_bot]
        return f"{fragment!r} in {self.title or self.id} (read: {self.heard} of {said})"

    def topic(self, name: str) -> Topic:
        """The forum topic of that name, made when it isn't there."""
        return next((t for t in self.topics if t.name == name), None) or self.world.open_topic(self, name)
