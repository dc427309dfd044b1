"""Several people in one local room: who says a line that is typed as `who: what was said`."""

from __future__ import annotations

import re
from collections.abc import Collection

import msgspec

from grammar.commands import Role

ROLES: dict[str, Role] = {
    "driver": "driver",
    "engineer": "driver",
    "officer": "officer",
    "captain": "officer",
    "command": "officer",
    "crew": "crew",
    "firefighter": "crew",
}
RESERVED = frozenset({"dispatch"})
"""Words before a colon that are no person."""

_SAID = re.compile(r"\s*(?P<who>[^\W\d][\w' -]{0,30}?)\s*:\s*(?P<words>\S.*)", re.DOTALL)
_UNIT = re.compile(r"(?P<kind>[a-z]+(?: [a-z]+)?) \d{1,4}")


class Speaker(msgspec.Struct, frozen=True):
    """Somebody in the room: their key, and what it says of their role and company."""

    who: str
    role: Role | None = None
    unit: str = ""


def speaker(name: str) -> Speaker:
    """The speaker of this name: a role, a unit ("engine 9"), or a person."""
    key = " ".join(name.split()).casefold()
    if key in ROLES:
        return Speaker(key, ROLES[key])
    return Speaker(key, "unit", key) if _is_unit(key) else Speaker(key)


def split(line: str, people: Collection[str] = ()) -> tuple[Speaker | None, str]:
    """The speaker that a line names (None: it names none) and what is said.

    A word of the trade before the colon ("correction: two fifty") is part of what is said, unless it is a role, a unit
    or one of `people` (names in lower case).
    """
    found = _SAID.fullmatch(line)
    if found is None:
        return None, line.strip()
    name = " ".join(found["who"].split()).casefold()
    if name in RESERVED or not (name in ROLES or name in people or _is_unit(name) or _is_name(name)):
        return None, line.strip()
    return speaker(name), found["words"].strip()


def _is_unit(name: str) -> bool:
    from grammar.vocabulary import vocabulary

    found = _UNIT.fullmatch(name)
    return found is not None and found["kind"] in vocabulary().apparatus


def _is_name(word: str) -> bool:
    from grammar.vocabulary import vocabulary

    return " " not in word and word not in vocabulary().words
