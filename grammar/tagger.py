"""Tags a message: which words form terms, numbers, units and names.

`segmentations` gives the cheapest ways to cut it into items.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from grammar.clock import durations, times
from grammar.items import Item
from grammar.lexicon import by_language
from grammar.numbers import NumberAt, number_words, numbers_at
from grammar.quantities import floors, quantities, unit_at
from grammar.spelling import Spelling
from grammar.vocabulary import Meaning, Names, Vocabulary, matches, vocabulary, word_list


@by_language
def _numeric_words() -> frozenset[str]:
    """Words that a number, a size or a time can begin with."""
    return number_words().words | word_list("begins_a_number")


SEPARATORS = frozenset(",.;:!?\n")
_BEAM = 4
_WINDOW = 0.28
"""Segmentations dearer than the best by more than this are dropped."""
_NUMBER, _ITEM, _UNREAD = 0.1, 0.3, 0.35
"""Costs of an item: phrases are dearer than numbers, so that the longest phrase wins and groupings of numbers compete.
"""


def segmentations(spelling: Spelling, known: Names) -> list[tuple[float, list[Item]]]:
    """The cheapest ways to cut the words into items: (cost, items), best first; costs include corrected spellings.

    Each caller gets items of its own.
    """
    if spelling.cuts is None:
        spelling.cuts = tuple((cost, tuple(items)) for cost, items in _segmentations(spelling, known))
    return [(cost, [item.again() for item in items]) for cost, items in spelling.cuts]


def _segmentations(spelling: Spelling, known: Names) -> Iterator[tuple[float, list[Item]]]:
    words = spelling.words
    n = len(words)
    numbers = _Numbers(words)
    best: list[list[tuple[float, int, int, Item | None]]] = [[] for _ in range(n + 1)]
    best[0] = [(0.0, 0, 0, None)]
    for i in range(n):
        if not best[i]:
            continue
        best[i].sort(key=lambda e: e[0])
        floor = best[i][0][0]
        best[i] = [e for e in best[i][:_BEAM] if e[0] <= floor + _WINDOW]
        for edge in _edges(spelling, i, known, numbers):
            best[edge.end].extend(
                (cost + edge.cost + numbers.parted(last, edge), i, k, edge)
                for k, (cost, _, _, last) in enumerate(best[i])
            )
    best[n].sort(key=lambda e: e[0])
    for cost, i, k, last in best[n][:_BEAM]:
        if cost > best[n][0][0] + _WINDOW:
            break
        items: list[Item] = []
        while last is not None:
            items.append(last)
            _, i, k, last = best[i][k]
        items.reverse()
        yield cost, items


_ONE_NUMBER, _JOINED = 0.3, 0.1
"""What it costs to part words that are one number: "five hundred" is never five and a hundred."""


class _Numbers:
    """The numbers that begin at each word."""

    def __init__(self, words: Sequence[str]) -> None:
        self._words = words

    def at(self, i: int) -> Sequence[NumberAt]:
        return numbers_at(self._words, i)

    def parted(self, last: Item | None, item: Item) -> float:
        """What it costs that `item` comes right after the number `last`, when both are one number."""
        if last is None or last.kind != "num" or last.unit is not None or item.kind not in ("num", "floor"):
            return 0.0
        if item.kind == "num":
            end = max((n.end for n in self.at(item.start) if n.end <= item.end), default=item.end)
        else:
            end = item.start + 1  # "three fifty | fifth floor", never "three | fifty fifth floor"
        joined = (n for n in self.at(last.start) if n.form in ("int", "hundreds", "mixed") and n.cost < _JOINED)
        return _ONE_NUMBER if any(n.end >= end for n in joined) else 0.0


def _edges(spelling: Spelling, i: int, known: Names, read: _Numbers) -> Iterator[Item]:
    words = spelling.words
    word = words[i]
    if word in SEPARATORS:
        yield Item("sep", i, i + 1, value=word, text=word.replace("\n", "."), free=True)
        return
    terms = vocabulary()
    term_matches = matches(terms.tree, words, i, terms.skip)
    found: list[Item] = []
    numbers: Sequence[NumberAt] = ()
    if word[0].isdigit() or word[0] == "." or word in _numeric_words():
        numbers = read.at(i)
        found.extend(times(words, i, numbers))
        found.extend(durations(words, i, numbers))
        found.extend(quantities(words, i, numbers, terms))
    found.extend(floors(words, numbers, i, terms, term_matches))
    if term_matches:
        found.extend(_units(spelling, i, term_matches))
        found.extend(_terms(words, i, term_matches, terms))
    for end, meanings in matches(known.tree, words, i, terms.skip):
        found.extend(_named(words, i, end, meanings))
        found.extend(_company(words, i, end, meanings))
    if i and words[i - 1] in word_list("streets_before"):
        found.extend(_streets(words, i, terms))
    spans = spelling.costs
    plain = False
    for item in _undominated(found):
        plain = plain or item.end == i + 1
        item.slip = sum(spans[i : item.end])
        if item.kind == "term" and item.end == i + 1 and spelling.glued[i] and word.isalpha():
            item.form = "short"
        item.cost += (_NUMBER if item.kind == "num" else _ITEM) + item.slip
        yield item
    if not plain:
        cost = _ITEM + spans[i] + (0.0 if word in terms.free else _UNREAD)
        form = "plain" if word in terms.words else ""
        yield Item("word", i, i + 1, cost=cost, free=word in terms.free, text=word, form=form)


_SUPPLYING = frozenset(("supply_to", "supply_word", "water_supply"))


def _streets(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "On Orchard Street", "at Orchard and Third": a name that means nothing else, by where it stands."""
    word = words[i]
    if i + 1 >= len(words) or not word.isalpha() or word in terms.words:
        return
    if words[i + 1] in word_list("streets_roads"):
        yield Item("street", i, i + 2, value=word, text=" ".join(words[i : i + 2]))
    corner = words[i + 2] if i + 2 < len(words) and words[i + 1] == "and" else ""
    if corner and (corner in number_words().ordinals or (corner.isalpha() and corner not in terms.words)):
        yield Item("street", i, i + 3, value=word, text=" ".join(words[i : i + 3]))


def _undominated(found: list[Item]) -> list[Item]:
    """Without twins, and without the parts of a floor, a unit or a clock time that was said whole."""
    if len(found) < 2:
        return found
    whole = max((i.end for i in found if i.kind in ("floor", "unit", "time") and i.cost < 0.02), default=0)
    named = max(
        (i.end for i in found if i.kind == "line"), default=max((i.end for i in found if i.kind == "family"), default=0)
    )
    kept: dict[tuple[object, ...], Item] = {}
    for item in found:
        if item.end < whole and item.kind in ("num", "term", "place"):
            continue
        if item.kind == "term" and not item.concepts.isdisjoint(_SUPPLYING):
            pass  # a rig's line may be called "supply" too: both meanings compete
        elif (
            item.end <= named and item.kind in ("term", "family") and not (item.kind == "family" and item.end == named)
        ):
            continue
        key = (item.kind, item.end, item.value, item.unit, item.form, item.concepts)
        if key not in kept or item.cost < kept[key].cost:
            kept[key] = item
    return list(kept.values())


def _numeric(word: str) -> bool:
    return word[0].isdigit() or (word in number_words().words and word not in ("a", "an", "to", "for", "and"))


def _terms(
    words: Sequence[str], i: int, matches: Sequence[tuple[int, tuple[object, ...]]], terms: Vocabulary
) -> Iterator[Item]:
    for end, concepts in matches[-3:]:
        if end - i > 1 and words[end - 1] in word_list("companies_kinds") and end < len(words) and _numeric(words[end]):
            continue  # "supply engine 9": the engine is that one
        names = frozenset(str(c) for c in concepts)
        text = " ".join(words[i:end])
        place = next((c for c in names if c.startswith("place:")), None)
        crew = next((c for c in names if c.startswith("crew:")), None)
        free = "free" in names or "skip" in names or (end == i + 1 and words[i] in terms.free)
        if crew:
            yield Item("unit", i, end, concepts=names, value=_plain_text(words, i, end, terms), text=text)
        elif place and not place.endswith((":division", ":sector", ":apartment_no")):
            yield Item("place", i, end, concepts=names, value=_place_name(place, words[i:end]), text=text)
        if not crew:
            yield Item("term", i, end, concepts=names, text=text, free=free, cost=0.01 if place else 0.0)
        if place and place.endswith((":division", ":sector", ":apartment_no")):
            yield from _numbered_place(words, i, end, place)


def _plain_text(words: Sequence[str], i: int, end: int, terms: Vocabulary) -> str:
    return " ".join(w for w in words[i:end] if w not in terms.skip or end - i == 1)


_SIDES = ("alpha", "bravo", "charlie", "delta")


def _place_name(place: str, words: Sequence[str]) -> str:
    name = place.partition(":")[2]
    if name in _SIDES:
        return f"{name} side"
    if "_" in name and name.split("_")[0] in _SIDES:
        return name.replace("_", " ") + " corner"
    if name == "exposure_place":
        return " ".join(w for w in words if w != "the")
    return name.replace("_", " ")


def _numbered_place(words: Sequence[str], i: int, end: int, place: str) -> Iterator[Item]:
    """ "division 2", "apartment 3 b", "division alpha"."""
    if end >= len(words):
        return
    word = words[end]
    name = {"apartment_no": words[i]}.get(place.partition(":")[2], place.partition(":")[2])
    if word in word_list("sides"):
        yield Item("place", i, end + 1, value=f"{name} {word}", text=" ".join(words[i : end + 1]))
    for n in numbers_at(words, end):
        if n.form in ("int", "hundreds") and n.value > 0 and words[n.end : n.end + 1] not in (("by",), ("x",)):
            stop = n.end
            letter = ""
            if name != "division" and stop < len(words) and len(words[stop]) == 1 and words[stop].isalpha():
                letter, stop = words[stop], stop + 1
            extra = n.cost + (0.0 if name == "division" else 0.12)
            yield Item("place", i, stop, value=f"{name} {n.value:g}{letter}", text=" ".join(words[i:stop]), cost=extra)


def _named(words: Sequence[str], i: int, end: int, meanings: Sequence[object]) -> Iterator[Item]:
    text = " ".join(words[i:end])
    for meaning in meanings:
        assert isinstance(meaning, Meaning)
        if meaning.kind == "company":
            continue
        kind = "unit" if meaning.kind == "crew" else meaning.kind
        value: object = meaning.value if kind == "family" else meaning.value[0]
        cost = {"person": 0.15, "street": 0.02, "family": 0.01}.get(kind, 0.0)
        yield Item(kind, i, end, value=value, text=text, cost=cost)


def _company(words: Sequence[str], i: int, end: int, meanings: Sequence[object]) -> Iterator[Item]:
    """ "Pump 4" where companies are called so; a number with a unit after it is a pressure or a length."""
    for meaning in meanings:
        if not isinstance(meaning, Meaning) or meaning.kind != "company" or end >= len(words):
            continue
        for n in numbers_at(words, end):
            whole = n.form in ("int", "hundreds", "digits") and n.value == int(n.value) and 1 <= n.value <= 99
            if whole and not [u for _, u in unit_at(words, n.end, vocabulary()) if u not in ("m", "s", "in")]:
                unit = f"{meaning.value[0]} {int(n.value)}"
                yield Item("unit", i, n.end, value=unit, text=" ".join(words[i : n.end]), cost=n.cost + 0.02)


def _units(spelling: Spelling, i: int, matches: Sequence[tuple[int, tuple[object, ...]]]) -> Iterator[Item]:
    """ "engine 9", "E9", "battalion one", "crew 2"."""
    words = spelling.words
    for end, concepts in matches:
        apparatus = next((str(c) for c in concepts if str(c).startswith("app:")), None)
        if apparatus is None or end >= len(words):
            continue
        start = end + 1 if words[end] in word_list("companies_word") and end + 1 < len(words) else end
        for n in numbers_at(words, start):
            if n.form not in ("int", "hundreds", "digits") or n.value < 1 or n.value > 9999 or n.value != int(n.value):
                continue
            short = words[end - 1] in word_list("companies_letters") or len(words[end - 1]) < 3
            if short and not (spelling.glued[end] and words[end].isdigit()):
                continue
            kind = words[i] if apparatus in ("app:crew", "app:medic_unit") else apparatus.partition(":")[2]
            counts = [u for _, u in unit_at(words, n.end, vocabulary()) if u not in ("m", "s", "in")]
            if counts:
                continue  # "a tender 3 miles away"
            stop = n.end + 1 if n.end < len(words) and words[n.end] == "s" and spelling.glued[n.end] else n.end
            cost = n.cost + (0.0 if n.value < 100 or words[start].isdigit() else 0.25)
            yield Item("unit", i, stop, value=f"{kind} {int(n.value)}", text=" ".join(words[i:stop]), cost=cost)
