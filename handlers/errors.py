"""The errors of the handlers: each is one plain sentence that a firefighter can act on.

CrosslayError
├── Refusal        a question that can't be answered as asked; says what to change
├── NeedsAnswer    a part is missing or doubtful: what to ask, and which part of the command the choices complete
└── RigFileError   the rig file is wrong; says the line, the key and what to write
"""

from typing import Any


class CrosslayError(Exception):
    """Something went wrong in Crosslay; the record is kept."""

    def __init__(self, message: str | None = None) -> None:
        self.message = message or (type(self).__doc__ or "").strip()
        super().__init__(self.message)


class Refusal(CrosslayError):  # noqa: N818 - a refusal is an answer, not a fault
    """That can't be answered as asked."""


class NeedsAnswer(CrosslayError):  # noqa: N818
    """One more thing is needed before that can be answered.

    Args:
        part: the piece of the command that lacks something (the very object).
        options: what can be chosen: (label, the piece completed).
        slot: the field that a free answer fills.
    """

    def __init__(self, text: str, *, part: Any = None, slot: str | None = None,
                 options: tuple[tuple[str, Any], ...] = ()) -> None:  # fmt: skip
        super().__init__(text)
        self.part, self.slot, self.options = part, slot, options


class RigFileError(CrosslayError):
    """The rig file can't be used as it is."""

    def __init__(self, problem: str, *, key: str = "", line: int | None = None) -> None:
        self.problem, self.key, self.line = problem, key, line
        where = f"line {line}, " if line else ""
        super().__init__(f"{where}{key}: {problem}" if key else f"{where}{problem}")
