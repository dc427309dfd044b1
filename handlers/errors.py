"""The errors of the handlers: each is one plain sentence that a firefighter can act on.

CrosslayError
├── Refusal        a question that can't be answered as asked; says what to change
├── NeedsAnswer    a part is missing or doubtful; carries the closed question to ask
└── RigFileError   the rig file is wrong; says the line, the key and what to write
"""


class CrosslayError(Exception):
    """Something went wrong in Crosslay; the record is kept."""

    def __init__(self, message: str | None = None) -> None:
        self.message = message or (type(self).__doc__ or "").strip()
        super().__init__(self.message)


class Refusal(CrosslayError):  # noqa: N818 - a refusal is an answer, not a fault
    """That can't be answered as asked."""


class NeedsAnswer(CrosslayError):  # noqa: N818
    """One more thing is needed before that can be answered."""

    def __init__(self, text: str, choices: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.choices = choices


class RigFileError(CrosslayError):
    """The rig file can't be used as it is."""

    def __init__(self, problem: str, *, key: str = "", line: int | None = None) -> None:
        self.problem, self.key, self.line = problem, key, line
        where = f"line {line}, " if line else ""
        super().__init__(f"{where}{key}: {problem}" if key else f"{where}{problem}")
