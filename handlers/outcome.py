"""What handling a command gives: a reply that shows its work, events, notices, or a question, or a refusal."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any, Literal, TypeAlias

import msgspec

from grammar.commands import Command, Question, Role
from handlers.events import EventBody

Kind: TypeAlias = Literal["reply", "reminder", "alert", "notice"]
Audience: TypeAlias = tuple[str, ...]
"""Who hears it: "driver", "officer", "crew", "all", a unit's key ("engine 9"), or a room's or person's own key."""


class Said(msgspec.Struct, frozen=True):
    """Who said it, where and when: what a handler may know besides the scene and the rig."""

    at: datetime
    """When the message was sent. UTC; the handlers' `now`."""
    who: str = "driver"
    name: str = ""
    """What the speaker is called; "" = as `who`."""
    role: Role | None = None
    unit: str = ""
    """The speaker's company; "" = the rig's own."""
    room: str = ""
    message: str = ""
    tz: tzinfo | None = None
    """Local time zone for words; None = UTC."""
    live: bool = True
    """False outside any incident (`crosslay ask`): answered, nothing opened or stamped."""
    last_commands: tuple[Command, ...] = ()
    """The same speaker's last message's commands…"""
    last_message: str = ""
    """…its id…"""
    last_at: datetime | None = None
    """…and its time: where a correction takes effect."""
    last_reply: str = ""
    """What this speaker was last told ("say again")…"""
    last_told: tuple[Command, ...] = ()
    """…the commands that it answered…"""
    last_told_in: str = ""
    """…their message's id…"""
    last_told_at: datetime | None = None
    """…and when they were said."""
    asked_at: datetime | None = None
    """When the question was put that this answers: what it confirms began then."""
    everyone_here: bool = False
    """The room holds every role: notices to others would only repeat the reply."""
    company: str = ""
    """Whose incident it is; "" = the rig's own. A speaker of another unit is a guest (handlers/rights.py)."""
    others_here: bool = False
    """Others read along: a group. What concerns a patient isn't told there."""
    guest_room: bool = False
    """The room is another company's: nobody there takes a role of this one."""
    given_role: Role | None = None
    """The role that the settings give the speaker…"""
    sets_up: bool = False
    """…or nobody leads the company yet, and the speaker was the first in the room."""
    officer: str = ""
    """What the officer of the speaker's company is called who is present and somebody else; "" = nobody is."""


class Notice(msgspec.Struct, frozen=True):
    """A message to others than the speaker: an alert, a benchmark's echo, a brief."""

    to: Audience
    kind: Kind
    name: str
    text: str
    spoken: str = ""
    question: Question | None = None
    """Buttons that go with it, for anybody in the room who may answer."""


class Picture(msgspec.Struct, frozen=True):
    """A picture or file the shell draws and sends with the reply: "profile" (of a lay), "chart", "report" …"""

    what: Literal["profile", "chart", "report", "readiness", "patient"]
    form: str = "png"
    command: Command | None = None


class Dated(msgspec.Struct, frozen=True):
    """An event body with a time of its own, or one that concerns another unit than the speaker's."""

    body: EventBody
    at: datetime | None = None
    unit: str | None = None


class Answer(msgspec.Struct, frozen=True):
    """Base of the typed answers. Field names are DEVELOPERS.md's keys, values unrounded."""


class Outcome(msgspec.Struct, frozen=True):
    """What one command comes to. A reply leads with its number, then one line of how, then assumed, then cautions."""

    intent: str
    lead: str = ""
    """The first line: readable at arm's length, speakable in three seconds."""
    how: tuple[str, ...] = ()
    """How it was worked out, a line each."""
    spoken: str = ""
    """Short form for speaking; "" = the lead."""
    answer: Answer | None = None
    assumed: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    events: tuple[EventBody | Dated, ...] = ()
    notices: tuple[Notice, ...] = ()
    question: Question | None = None
    """Asked instead of an answer. A follow-up after an answer is `follow_up`."""
    follow_up: Question | None = None
    refused: str | None = None
    picture: Picture | None = None
    opens: bool = False
    """Opens an incident when none is open (convention 13)."""
    silent: bool = False
    """Logged without a reply."""
    standing: int = 0
    """So many of its first events only had to stand in the log before it (the incident, the company, its pump): an undo
    leaves them."""

    @property
    def reply(self) -> str:
        """The text a person is shown."""
        if self.refused is not None:
            return self.refused
        if self.question is not None:
            return self.question.text
        lines = [self.lead, *self.how]
        if self.assumed:
            lines.append("Assumed: " + "; ".join(self.assumed) + ".")
        lines += self.cautions
        if self.follow_up is not None:
            lines.append(self.follow_up.text)
        return "\n".join(line for line in lines if line)

    @property
    def answer_json(self) -> dict[str, Any]:
        """The answer as DEVELOPERS.md's keys; {} when nothing was answered."""
        if self.answer is None or self.question is not None or self.refused is not None:
            return {}
        answer: dict[str, Any] = msgspec.to_builtins(self.answer)
        return answer


class Reminder(msgspec.Struct, frozen=True):
    """Something to be told at a time, a function of the scene. `key` is stable: sent once, moved when `at` moves."""

    key: str
    """Stable within the incident: "elapsed/3", "tank_half/engine 12/2"."""
    name: str
    """As in DEVELOPERS.md's table."""
    at: datetime
    to: Audience
    text: str
    kind: Kind = "reminder"
    spoken: str = ""
    question: Question | None = None
    """Buttons that go with it ("snooze 5 min")."""
    merged: tuple[str, ...] = ()
    """Keys of the other reminders that are told in this one (handlers/quiet.py)."""
    fell_due: datetime | None = None
    """When it fell due, where a Mayday, a snooze or the room's quiet moved `at` to later: its text says so."""
