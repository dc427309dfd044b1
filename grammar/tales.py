"""What tells of an exercise, or of another day: nothing of it happens now. The wordings are data: tales.toml."""

from __future__ import annotations

from typing import Literal, TypeAlias

from grammar.lexicon import by_language
from grammar.patterns import Search, search
from grammar.vocabulary import wording_file

Kind: TypeAlias = Literal["exercise", "real", "another", "learned", "named_so"]


def is_real(words: str) -> bool:
    """It is said that this is no exercise, or that the exercise is over. `words`: as `text.spaced` gives them."""
    return _found("real", words)


def is_exercise(words: str) -> bool:
    """It is said that what goes on now is an exercise."""
    return not is_real(words) and _found("exercise", words)


def is_another_day(words: str) -> bool:
    """It tells of an exercise, of another day or another fire."""
    return _found("another", words) and not is_real(words)


def is_tale(words: str) -> bool:
    """Of another day, or of what was learned, read or seen."""
    return is_another_day(words) or (_found("learned", words) and not is_real(words))


def _found(kind: Kind, words: str) -> bool:
    wordings = _wordings()
    return wordings[kind].search(wordings["named_so"].sub("_", words)) is not None


@by_language
def _wordings() -> dict[Kind, Search]:
    data = wording_file("tales")
    kinds: tuple[Kind, ...] = ("exercise", "real", "another", "learned", "named_so")
    return {kind: search(data["wordings"][kind], data["said"]) for kind in kinds}
