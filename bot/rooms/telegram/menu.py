"""The command menu of a few trade words, the role buttons, and the words that each of them stands for.

A command or a role button is only another way of saying something: what it stands for goes through the grammar like any
other words, so that the menu can do nothing that a sentence can't.
"""

from __future__ import annotations

from collections.abc import Iterable

from bot.message import Button
from handlers.times import unit_name

MENU = {
    "pump": ("Pump pressure: /pump two lines, 200 feet, 1.75", ""),
    "tank": ("How long the tank lasts", "tank time"),
    "status": ("Lines, water, clocks and benchmarks", "status"),
    "elapsed": ("Time since arrival", "elapsed time"),
    "par": ("Ask for a PAR", "PAR"),
    "again": ("Say the last answer again", "say again"),
    "cancel": ("Take my last message back", "cancel that"),
    "role": ("Driver, officer or crew", ""),
    "link": ("A one-time link for another company", ""),
    "report": ("The incident's record", "send the report"),
    "help": ("What can be said", "help"),
}
"""Command: what the menu shows, and what it stands for ("" = the words that follow it)."""

START = "start"
"""Opens a private chat, or (with a code) follows a join link."""
ROLE = "role"
LINK = "link"
"""Makes a one-time join link."""

_ROLES = {"driver": "I'm the driver", "officer": "I'm the officer", "crew": "I'm crew"}
_ROLE_DATA = "role:"
_LINK_DATA = "link:"


def command_of(text: str, bot_name: str) -> tuple[str, str] | None:
    """Command and rest of "/tank" or "/pump@our_bot two lines"; None for plain words and another bot's commands."""
    if not text.startswith("/"):
        return None
    head, _, rest = text.partition(" ")
    command, at, name = head.removeprefix("/").partition("@")
    if not command or (at and name.casefold() != bot_name.casefold()):
        return None
    return command.casefold(), rest.strip()


def words_of(command: str, rest: str) -> str:
    """What a command says in words; those that the room itself answers (START, ROLE, LINK) stay commands."""
    if command in (START, ROLE, LINK):
        return f"/{command} {rest}".strip()
    stands_for = MENU[command][1] if command in MENU else command.replace("_", " ")
    return f"{stands_for} {rest}".strip() or "help"


def own_command(text: str) -> tuple[str, str] | None:
    """Command and rest where the room itself answers; None for words."""
    head, _, rest = text.partition(" ")
    return (head.removeprefix("/"), rest) if head.startswith("/") else None


def role_buttons() -> tuple[Button, ...]:
    """Driver, officer, crew."""
    return tuple(Button(f"{_ROLE_DATA}{role}", role.capitalize()) for role in _ROLES)


def link_buttons(units: Iterable[str]) -> tuple[Button, ...]:
    """The companies that a link can be for."""
    return tuple(Button(f"{_LINK_DATA}{unit}", unit_name(unit)) for unit in units)


def words_of_button(data: str) -> str:
    """What a role or link button says; "" for the button of a question."""
    if data.startswith(_LINK_DATA):
        return f"/{LINK} {data.removeprefix(_LINK_DATA)}"
    return _ROLES.get(data.removeprefix(_ROLE_DATA), "") if data.startswith(_ROLE_DATA) else ""


def join_links(bot_name: str, code: str) -> str:
    """The one-time links that bring a person, or a group, into the incident."""
    return f"In private: https://t.me/{bot_name}?start={code}\nA group: https://t.me/{bot_name}?startgroup={code}"
