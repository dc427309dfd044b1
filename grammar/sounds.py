"""What a word may have been by its sound or a slip, between its neighbours: the rules of language/sounds.toml."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from grammar.lexicon import by_language, language
from grammar.misspelling import Option
from grammar.numbers import number_words
from grammar.vocabulary import word_list

STOP = frozenset(("", ".", ",", ";", "?", "!"))
_PLACES = ("before", "before2", "after", "after2", "after3", "clause")


class Neighbours(NamedTuple):
    """The words around one; "" past the message's ends. `clause`: those before it in its clause."""

    before: str
    before2: str
    after: str
    after2: str
    after3: str
    clause: Sequence[str]


class _Condition(NamedTuple):
    place: int
    words: frozenset[str]
    digits: bool
    wanted: bool

    def holds(self, around: Neighbours) -> bool:
        found = around[self.place]
        said = [found] if isinstance(found, str) else found
        return any(word in self.words or (self.digits and word[:1].isdigit()) for word in said) == self.wanted


class _Rule(NamedTuple):
    meant: str
    costs: tuple[float, float] | None
    itself_first: bool
    conditions: tuple[_Condition, ...]


@by_language
def _rules() -> Mapping[str, tuple[_Rule, ...]]:
    """The rules of each heard word, in order."""
    rules: dict[str, tuple[_Rule, ...]] = {}
    for spec in language().get("sound", ()):
        conditions = tuple(
            _condition(place, spec[key], wanted)
            for place in _PLACES
            for key, wanted in ((place, True), (f"not_{place}", False))
            if key in spec
        )
        heard = spec["heard"]
        if isinstance(heard, str):
            heard = language()["sound_alike"][heard]
        elif isinstance(heard, list):
            heard = dict.fromkeys(heard, "")
        costs = tuple(spec["costs"]) if "costs" in spec else None
        for word, meant in heard.items():
            rule = _Rule(meant, costs, spec.get("itself_first", False), conditions)
            rules[word] = (*rules.get(word, ()), rule)
    return rules


def _condition(place: str, listed: Sequence[str], wanted: bool) -> _Condition:
    words = frozenset(word for one in listed for word in (_class(one[1:-1]) if one.startswith("<") else (one,)))
    return _Condition(_PLACES.index(place), words, "<digits>" in listed, wanted)


def _class(name: str) -> Any:
    said = number_words()
    classes = {"number": number_list(), "scale": said.scales, "stop": STOP, "digits": ()}
    return classes[name] if name in classes else word_list(f"spelling_{name}")


@by_language
def number_list() -> tuple[str, ...]:
    """The plain words of one to ninety, in order."""
    said = number_words()
    return (*said.ones, *said.teens, *said.tens)


def has_sounds(word: str) -> bool:
    """Whether it may have been another."""
    return word in _rules()


def sounds(word: str, around: Neighbours) -> list[Option]:
    """What it may have been: ("to", "two") and so on, with what each costs; nothing: it is itself."""
    rule = next((one for one in _rules().get(word, ()) if all(c.holds(around) for c in one.conditions)), None)
    if rule is None or rule.costs is None:
        return []
    found: list[Option] = [((rule.meant,), rule.costs[0]), ((word,), rule.costs[1])]
    if rule.itself_first:
        found.reverse()
    return sorted(found, key=lambda option: option[1])
