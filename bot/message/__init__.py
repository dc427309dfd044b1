"""What comes in from a room (`Message`) and what goes out to one (`Outgoing`), whatever kind of room it is."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Literal

import msgspec

from grammar.commands import Role
from handlers.outcome import Kind

_UNWRITABLE = re.compile("[\0\ud800-\udfff]")


class Message(msgspec.Struct, frozen=True):
    """Something said in a room. Exactly one of `text`, `voice`, `voice_ref` and `button` is set."""

    room: str
    """Key of the room: its kind and its own id, as "local" or "telegram:-100123"."""
    id: str
    """The room's own id of the message: the same one twice is handled once."""
    who: str
    """Key of the person, stable for as long as the incident lasts."""
    at: datetime
    """When it was sent. UTC."""
    text: str = ""
    voice: bytes = b""
    """A recording; deleted once it was recognised."""
    recorded: bool = False
    """There is a recording, kept in the record apart from this."""
    voice_ref: str = ""
    """Or where the room can fetch it (see Room.fetch)."""
    button: str = ""
    """The id that came with a pressed button (see Button.id)."""
    name: str = ""
    """What the person is called; "" = the key."""
    role: Role | None = None
    """The person's role where the room knows it by itself; else what they last said of it counts."""
    unit: str = ""
    """The person's company where the room knows it; else the room's."""
    reply_to: str = ""
    """Id of the message that this one answers."""
    thread: str = ""
    """Topic within the room, handed back with the reply."""
    title: str = ""
    """What the room is called."""
    group: bool = False
    """Several people talk here: what isn't for the bot gets no reply."""
    addressed: bool = False
    """The bot was addressed by name, mention or reply."""
    replaces: str = ""
    """Id of an earlier message of which this is the whole: it takes its place, and what that logged is taken back."""

    @property
    def is_recording(self) -> bool:
        """Whether it is spoken."""
        return bool(self.voice or self.voice_ref or self.recorded)


def clean_text(text: str) -> str:
    """Text that any database and any JSON takes: what is no character (half a surrogate pair, NUL) becomes U+FFFD."""
    if not _UNWRITABLE.search(text):
        return text
    return text.replace("\0", "\ufffd").encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def clean(message: Message) -> Message:
    """A message of such texts only."""
    texts = {name: value for name, value in msgspec.structs.asdict(message).items() if isinstance(value, str)}
    dirty = {name: cleaned for name, value in texts.items() if (cleaned := clean_text(value)) != value}
    return msgspec.structs.replace(message, **dirty) if dirty else message


class Button(msgspec.Struct, frozen=True):
    """A choice of a closed question; `id` (≤ 20 characters) comes back in Message.button."""

    id: str
    label: str


class Attachment(msgspec.Struct, frozen=True):
    """A picture, a file, or the message spoken (OGG/Opus)."""

    name: str
    """File name."""
    data: bytes
    kind: Literal["image", "file", "voice"]


class Outgoing(msgspec.Struct, frozen=True):
    """Something to be shown in a room."""

    id: int
    room: str
    kind: Kind
    text: str
    """Ready to show: what left late or may be there already says so itself."""
    name: str = ""
    """Of a reminder, alert or notice (DEVELOPERS.md's table)."""
    spoken: str = ""
    """Short form for speaking."""
    buttons: tuple[Button, ...] = ()
    reply_to: str = ""
    thread: str = ""
    incident: str = ""
    attachments: tuple[Attachment, ...] = ()
    due_at: datetime | None = None

    @property
    def loud(self) -> bool:
        """Alerts make a sound; everything else comes quietly."""
        return self.kind == "alert"
