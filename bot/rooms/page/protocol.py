"""What a screen and the server say to each other, a JSON object each, told apart by `type`.

Sound of hands-free listening comes as binary frames: 16 kHz, mono, 16 bit, little-endian.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, TypeAlias

import msgspec
from msgspec import Meta

from bot.rooms.page.door import Member
from bot.rooms.page.talk import Entry
from handlers.incident.glance import Glance

LONGEST_TEXT = 2_000
LONGEST_VOICE = 900_000
"""Characters of a recording in base64: a minute and more of Opus."""
LARGEST_FRAME = 1_000_000

Id = Annotated[str, Meta(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9-]+$")]


# --- from a screen


class Say(msgspec.Struct, frozen=True, tag="say", forbid_unknown_fields=True):
    """Something typed."""

    id: Id
    at: datetime
    text: Annotated[str, Meta(min_length=1, max_length=LONGEST_TEXT)]


class Press(msgspec.Struct, frozen=True, tag="press", forbid_unknown_fields=True):
    """A question's button."""

    id: Id
    at: datetime
    button: Annotated[str, Meta(min_length=1, max_length=40)]


class Touch(msgspec.Struct, frozen=True, tag="touch", forbid_unknown_fields=True):
    """A line's button: what it says is worked out by how the pump stands."""

    id: Id
    at: datetime
    unit: Annotated[str, Meta(max_length=40)]
    line: Annotated[int, Meta(ge=1, le=10_000)]
    doing: Annotated[str, Meta(max_length=20)]
    amount: Annotated[float, Meta(gt=0, le=100_000)] | None = None


class Voice(msgspec.Struct, frozen=True, tag="voice", forbid_unknown_fields=True):
    """A recording."""

    id: Id
    at: datetime
    sound: Annotated[bytes, Meta(min_length=1, max_length=LONGEST_VOICE)]
    """Base64 in JSON."""


class HandsFree(msgspec.Struct, frozen=True, tag="handsfree", forbid_unknown_fields=True):
    """Listening begins or ends."""

    on: bool


class Speaking(msgspec.Struct, frozen=True, tag="speaking", forbid_unknown_fields=True):
    """The screen begins or ends to speak itself: what it hears meanwhile is its own voice."""

    on: bool


class Who(msgspec.Struct, frozen=True, tag="who", forbid_unknown_fields=True):
    """Who is on the page?"""


class PutOut(msgspec.Struct, frozen=True, tag="put_out", forbid_unknown_fields=True):
    """Put somebody out."""

    person: Annotated[str, Meta(max_length=80)]


class NewCode(msgspec.Struct, frozen=True, tag="new_code", forbid_unknown_fields=True):
    """A code for one more phone."""


FromScreen: TypeAlias = Say | Press | Touch | Voice | HandsFree | Speaking | Who | PutOut | NewCode
read = msgspec.json.Decoder(FromScreen).decode
"""Raises msgspec.DecodeError."""


# --- to a screen


class Welcome(msgspec.Struct, frozen=True, tag="welcome"):
    """The first thing on every connection: everything that is to be shown."""

    now: datetime
    person: str
    name: str
    role: str
    unit: str
    unit_name: str
    guest: bool
    leads: bool
    call_name: str
    lines: tuple[str, ...]
    """The lines that the rig carries, as they are called."""
    entries: tuple[Entry, ...]
    board: Glance | None
    questions: tuple[int, ...]
    zone: str
    """Time zone that clock times are told in."""
    demonstration: bool


class Board(msgspec.Struct, frozen=True, tag="board"):
    """The incident now (None: none is open), and the questions that are open."""

    now: datetime
    board: Glance | None
    questions: tuple[int, ...]


class Shown(msgspec.Struct, frozen=True, tag="entry"):
    """Something new in the conversation."""

    now: datetime
    entry: Entry


class Taken(msgspec.Struct, frozen=True, tag="taken"):
    """A message of this screen is safe in the record (or was already)."""

    id: str


class Refused(msgspec.Struct, frozen=True, tag="refused"):
    """A message of this screen isn't taken, for good."""

    id: str
    why: str


class Wait(msgspec.Struct, frozen=True, tag="wait"):
    """A message of this screen is to be sent again later."""

    id: str
    seconds: float
    why: str


class Beat(msgspec.Struct, frozen=True, tag="beat"):
    """The server is there."""

    now: datetime


class You(msgspec.Struct, frozen=True, tag="you"):
    """What the person may do has changed."""

    role: str
    leads: bool


class People(msgspec.Struct, frozen=True, tag="people"):
    """Everybody on the page."""

    people: tuple[Member, ...]


class CodeShown(msgspec.Struct, frozen=True, tag="code"):
    """A code for one more phone, with its QR code as SVG."""

    code: str
    url: str
    svg: str
    until: datetime


class Ear(msgspec.Struct, frozen=True, tag="ear"):
    """What becomes of what is heard."""

    state: str
    """ "on", "off", "called", "left" (not addressed), "cut" (said while it spoke), "gone" (it can't listen)."""
    words: str = ""


class NotSpoken(msgspec.Struct, frozen=True, tag="not_spoken"):
    """The answer to this message isn't spoken: what was said went on."""

    message: str
