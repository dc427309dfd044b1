"""The language that is spoken, as data: a folder of terms, number words, slots, frames, sentences and wording.

English is this package's own folder; another language is another folder of the same files, and `speaking` reads in it:

    language/*.toml      terms, word lists, confusions, number words, slots, frames, sentences, the help's topics
    plain.txt            ordinary words that are never taken for a misspelt term      (may be left out, as what follows)
    phrases.toml         wording of the word graph beside the frames'
    trouble.toml         trouble of a crew's own without the word Mayday
    orders_out.toml      orders that everybody get out
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache, wraps
from inspect import signature
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

P = ParamSpec("P")
R = TypeVar("R")

FOLDER = Path(__file__).with_name("language")


class LanguageError(ValueError):
    """The declared language doesn't hold together: mend the file and the frame that the message names."""


@dataclass(frozen=True, eq=False, slots=True)
class Pack:
    """A language: the folder of its files."""

    folder: Path

    def table(self, name: str) -> dict[str, Any]:
        """One of its files; empty where the language has none."""
        path = self.folder / f"{name}.toml"
        return tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else {}

    def words(self, name: str) -> frozenset[str]:
        """The words of a text file; none where the language has none."""
        path = self.folder / f"{name}.txt"
        lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else ()
        return frozenset(word for line in lines if not line.startswith("#") for word in line.split())


ENGLISH = Pack(Path(__file__).parent)
_SPOKEN: ContextVar[Pack] = ContextVar("language", default=ENGLISH)


spoken_here: Callable[[], Pack] = _SPOKEN.get
"""The language that is read now."""


@contextmanager
def speaking(pack: Pack) -> Iterator[None]:
    """All that is read within is in this language."""
    before = _SPOKEN.set(pack)
    try:
        yield
    finally:
        _SPOKEN.reset(before)


def by_language(made: Callable[P, R]) -> Callable[P, R]:
    """Worked out once, as by functools.cache, for each language apart (and for the last 2,048 arguments)."""
    return _kept(made, 2048)


def lately(size: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """The same, for this many of the last arguments."""
    return lambda made: _kept(made, size)


def _kept(made: Callable[P, R], size: int) -> Callable[P, R]:
    kept: dict[Pack, Callable[P, R]] = {}
    values: dict[Pack, R] = {}

    @wraps(made)
    def look_up(*args: P.args, **named: P.kwargs) -> R:
        pack = spoken_here()
        try:
            known = kept[pack]
        except KeyError:
            known = kept[pack] = cast(Callable[P, R], lru_cache(maxsize=size)(made))
        return known(*args, **named)

    @wraps(made)
    def value() -> R:
        try:
            return values[spoken_here()]
        except KeyError:
            return values.setdefault(spoken_here(), made())  # type: ignore[call-arg]

    return look_up if signature(made).parameters else cast(Callable[P, R], value)


@by_language
def language() -> dict[str, Any]:
    """Every table of every file of `language`, read once; a frame knows its `file`.

    A term may have ways of saying it in several files, each with those of its subject.

    Raises:
        LanguageError: any other name that two files declare.
    """
    tree: dict[str, Any] = {"frame": []}
    for path in sorted(spoken_here().folder.glob("language/*.toml")):
        for key, value in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if isinstance(value, list):
                tree.setdefault(key, []).extend({**one, "file": path.name} for one in value)
                continue
            into = tree.setdefault(key, {})
            twice = into.keys() & value.keys()
            if key == "term":
                value |= {term: into[term] + value[term] for term in twice}
            elif twice:
                raise LanguageError(f"{path.name}: {key} {sorted(twice)[0]} is declared twice; keep one")
            into.update(value)
    return tree


def sentence(name: str, **values: object) -> str:
    """One of the plain sentences that are answered, values put in; the English one where the language has none."""
    said = language().get("sentences", {}).get(name)
    if said is None:
        with speaking(ENGLISH):
            said = language()["sentences"][name]
    return str(said).format(**values)
