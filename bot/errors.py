"""What can go wrong in the shell; each error is one plain sentence that says what is wrong and what to do.

CrosslayError                    (handlers.errors)
├── SettingsError                a setting can't be used
├── FileProblem                  a file can't be read or written
├── ScriptError                  a drill script is wrong; says the line
├── StoreError                   the record can't be opened or written
└── RoomError                    a message couldn't be handed to its room
    ├── RetryAfter               the room asks to wait; only that room does
    ├── Unsure                   it may have arrived: it is sent again, marked
    └── Undeliverable            it will never arrive; not tried again
"""

from __future__ import annotations

from pathlib import Path

from handlers.errors import CrosslayError


class SettingsError(CrosslayError):
    """A setting can't be used."""

    def __init__(self, key: str, problem: str) -> None:
        self.key = key
        super().__init__(f"{key}: {problem}")


class FileProblem(CrosslayError):  # noqa: N818 - what people are told, by its plain name
    """A file can't be read or written."""

    def __init__(self, path: Path | str, problem: str) -> None:
        self.path = Path(path)
        super().__init__(f"{path}: {problem}")


class ScriptError(CrosslayError):
    """A drill script is wrong."""

    def __init__(self, path: str, line: int, problem: str) -> None:
        self.line = line
        super().__init__(f"{path}, line {line}: {problem}")


class StoreError(CrosslayError):
    """The record can't be opened or written."""


class RoomError(CrosslayError):
    """A message couldn't be handed to its room."""


class RetryAfter(RoomError):  # noqa: N818 - the room's word, not a fault
    """The room asks to wait before the next message."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        super().__init__(f"The room asks to wait {seconds:g} s.")


class Unsure(RoomError):  # noqa: N818
    """The connection broke while sending: the message may or may not have arrived."""


class Undeliverable(RoomError):  # noqa: N818
    """The room refuses the message for good."""
