"""What commands are made of: their base, a stated time, the role and units of whoever speaks."""

from __future__ import annotations

from typing import ClassVar, Literal, TypeAlias

import msgspec

Units: TypeAlias = Literal["us", "metric"]
Role: TypeAlias = Literal["driver", "officer", "crew", "unit", "guest"]


class Part(msgspec.Struct, frozen=True, omit_defaults=True):
    """Base of the pieces that commands are made of."""


class Spoken(msgspec.Struct, frozen=True, tag=True, omit_defaults=True):
    """Base of all commands; the tag (class name) makes them storable."""

    intent: ClassVar[str]


class SaidTime(Part, frozen=True):
    """A stated local clock time ("at 14:12"), how long ago ("two minutes ago"), or how long after what the speaker
    reported last ("two minutes after that").
    """

    hour: int | None = None
    minute: int | None = None
    second: int | None = None
    ago_s: float | None = None
    after_s: float | None = None
