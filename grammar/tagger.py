"""Tags a message: which words form terms, numbers with units, units, floors, times and names. Several tags may compete.

`spellings` gives the likely corrected word lists of a message; `segmentations` the cheapest ways to cut one into items.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from rapidfuzz.distance import OSA
from rapidfuzz.process import extract

from grammar.commands import SaidTime
from grammar.numbers import ORDINALS, NumberAt, fraction_at, numbers_at
from grammar.numbers import WORDS as _NUMBER_WORDS
from grammar.text import Token
from grammar.vocabulary import END, Meaning, Names, Tree, Vocabulary, vocabulary

SEPARATORS = frozenset(",.;:!?\n")
_BEAM = 4
_WINDOW = 0.28
"""Segmentations dearer than the best by more than this are dropped."""
_NUMBER, _ITEM, _UNREAD = 0.1, 0.3, 0.35
"""Costs of an item: phrases are dearer than numbers, so that the longest phrase wins and groupings of numbers compete."""
_RIVAL_SPELLING = 0.35

POLARITY = frozenset(("not", "hope", "cond", "order"))


class Item:
    """A stretch of words with its meaning.

    `kind`: num, time, badtime, unit, line, family, floor, place, person, street, term, word, sep. `value`: the number, the name's
    canonical form, SaidTime, floor number. `unit`: of a number as said. `polarity`: markers of the clause that bear on it.
    """

    __slots__ = ("kind", "start", "end", "concepts", "value", "unit", "form", "cost", "free", "text", "polarity", "at")  # noqa: RUF023

    def __init__(
        self,
        kind: str,
        start: int,
        end: int,
        *,
        concepts: frozenset[str] = frozenset(),
        value: object = None,
        unit: str | None = None,
        form: str = "",
        cost: float = 0.0,
        free: bool = False,
        text: str = "",
    ) -> None:
        self.kind = kind
        self.start = start
        self.end = end
        self.concepts = concepts
        self.value = value
        self.unit = unit
        self.form = form
        self.cost = cost
        self.free = free
        self.text = text
        self.polarity: frozenset[str] = frozenset()
        self.at = 0

    def __repr__(self) -> str:
        extra = f"={self.value}{self.unit or ''}" if self.value is not None else ""
        return f"<{self.kind} {self.text!r}{extra} {'/'.join(sorted(self.concepts)[:4])}>"

    def again(self) -> Item:
        """A copy that may get a polarity of its own."""
        new = Item(
            self.kind,
            self.start,
            self.end,
            concepts=self.concepts,
            value=self.value,
            unit=self.unit,
            form=self.form,
            cost=self.cost,
            free=self.free,
            text=self.text,
        )
        return new

    @property
    def polarity_mark(self) -> bool:
        """The item itself negates, hopes, conditions or orders."""
        return not self.concepts.isdisjoint(POLARITY)

    @property
    def number(self) -> float:
        """The value of a num item."""
        assert isinstance(self.value, float)
        return self.value


# ------------------------------------------------------------------------------------------------------------------- spelling


class Spelling:
    """One way to take the words of a message: the words and what each correction costs."""

    __slots__ = ("costs", "glued", "words")

    def __init__(self, words: tuple[str, ...], costs: tuple[float, ...], glued: tuple[bool, ...]) -> None:
        self.words = words
        self.costs = costs
        self.glued = glued


_Option = tuple[tuple[str, ...], float]


def spellings(found: Sequence[Token], known: Names, confusions: bool) -> list[Spelling]:
    """The likely word lists, cheapest first (at most 6). `confusions`: also swap words that recognisers take for each other."""
    terms = vocabulary()
    swapped = _slang(found, known)
    options: list[list[_Option]] = []
    for i, token in enumerate(swapped):
        options.append(_options(i, swapped, known, terms, confusions))
    combos: list[tuple[float, list[_Option]]] = [(0.0, [])]
    for choice in options:
        combos = sorted(
            ((cost + extra, [*picked, (words, extra)]) for cost, picked in combos for words, extra in choice),
            key=lambda c: c[0],
        )[:6]
    out: dict[tuple[str, ...], Spelling] = {}
    for total, picked in combos:
        if total > combos[0][0] + _RIVAL_SPELLING:
            break
        words: list[str] = []
        costs: list[float] = []
        glued: list[bool] = []
        for (pieces, extra), token in zip(picked, swapped, strict=True):
            for k, piece in enumerate(pieces):
                words.append(piece)
                costs.append(extra / len(pieces))
                glued.append(token.glued and k == 0)
        out.setdefault(tuple(words), Spelling(tuple(words), tuple(costs), tuple(glued)))
    return list(out.values())


def _slang(found: Sequence[Token], known: Names) -> list[Token]:
    """The department's own words replaced by what they mean."""
    if not known.slang:
        return list(found)
    out: list[Token] = []
    i = 0
    while i < len(found):
        for said, means in known.slang:
            if tuple(t.text for t in found[i : i + len(said)]) == said:
                first, last = found[i], found[i + len(said) - 1]
                out.extend(Token(w, first.start, last.end, False) for w in means)
                i += len(said)
                break
        else:
            out.append(found[i])
            i += 1
    return out


def _options(i: int, found: Sequence[Token], known: Names, terms: Vocabulary, confusions: bool) -> list[_Option]:
    word = found[i].text
    as_is: _Option = ((word,), 0.0)
    if not word.isalpha():
        return [as_is]
    familiar = word in terms.words or word in known.words
    meant = _sounds_like(i, found)
    if meant:
        return [((meant,), 0.06), (as_is[0], 0.3)]
    if familiar:
        if confusions and word in terms.confusions:
            return [as_is, *(((meant,), 0.3) for meant in terms.confusions[word])]
        return [as_is]
    if word in terms.confusions:
        return [*(((meant,), 0.08) for meant in terms.confusions[word]), (as_is[0], 0.5)]
    fixes = _corrections(word, known.words)
    return [*fixes, (as_is[0], 0.0 if not fixes else 0.2 if len(word) < 4 else 0.6)]


_SOUND = {
    "to": "two",
    "too": "two",
    "tow": "two",
    "teo": "two",
    "for": "four",
    "fore": "four",
    "won": "one",
    "ate": "eight",
    "tree": "three",
    "night": "nine",
    "tin": "ten",
    "sex": "six",
}
_CALLED = frozenset(["engine", "truck", "ladder", "rescue", "squad", "medic", "tender", "tanker", "battalion", "crosslay"])
_COUNTED = frozenset(["lines", "line", "legs", "hundred", "thousand"])
_BEFORE_COUNT = frozenset(
    ["lines", "line", "feet", "foot", "and", ",", ".", "charge", "charging", "flowing", "with", "have", "got", "need", "pulled", "pull", "par", "of"]
)
_TENS = frozenset(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"])
_AFTER_TENS = frozenset(("", ",", ".", "psi", "gpm", "feet", "pounds", "gallons", "flowing", "and"))


def _sounds_like(i: int, found: Sequence[Token]) -> str | None:
    """A number that a recogniser wrote as a word that sounds like it: "to lines", "lines to hundred feet", "sixty too"."""
    meant = _SOUND.get(found[i].text)
    if meant is None:
        return None
    before = found[i - 1].text if i else ""
    after = found[i + 1].text if i + 1 < len(found) else ""
    if before in _CALLED:
        return meant
    if after in _COUNTED and (before == "" or before in _BEFORE_COUNT):
        return meant
    if before in _TENS and after in _AFTER_TENS and not (before in _TENS and found[i].text == "for" and after == ""):
        return meant
    if before == "of" and i > 1 and found[i - 2].text in ("par", "crew") and after in ("", ",", "."):
        return meant
    return None


_SHORT_NUMBERS = ("one", "two", "six", "ten", "three", "four", "five", "nine")


def _run_together(word: str, names: frozenset[str]) -> _Option | None:
    """Words that were run together: "onthe", "wateronthefire"; at most four."""
    if len(word) < 5:
        return None
    terms = vocabulary()
    best: list[tuple[str, ...] | None] = [()] + [None] * len(word)
    for end in range(1, len(word) + 1):
        for start in range(max(0, end - 14), end):
            head = best[start]
            piece = word[start:end]
            if (
                head is None
                or len(head) > 3
                or (len(piece) < 2 and piece != "a")
                or not (piece in terms.spoken or piece in names)
            ):
                continue
            if best[end] is None or len(head) + 1 < len(best[end] or ()):
                best[end] = (*head, piece)
    pieces = best[len(word)]
    if pieces is None or len(pieces) < 2 or max(len(p) for p in pieces) < 3:
        return None
    short = sum(len(p) < 3 and p not in terms.skip | {"on", "in", "to", "of", "at", "is"} for p in pieces)
    return pieces, 0.1 + 0.02 * len(pieces) + 0.3 * short


@lru_cache(maxsize=2048)
def _corrections(word: str, names: frozenset[str]) -> tuple[_Option, ...]:
    """Known words that an unknown one may be a misspelling of, or two that were run together."""
    if len(word) < 3 or len(word) > 24:
        return ()
    terms = vocabulary()
    found: list[_Option] = []
    most = 1 if len(word) < 6 else 2
    pool = (*terms.targets, *(n for n in names if len(n) > 3)) if names else terms.targets
    if len(word) == 3:
        pool = _SHORT_NUMBERS
    for target, distance, _ in extract(word, pool, scorer=OSA.distance, score_cutoff=most, limit=6):
        cost = 0.09 * distance if distance == 1 else 0.26
        if target[0] != word[0]:
            cost += 0.12
        if len(target) < 5:
            cost += 0.06
        found.append(((target,), cost))
    joined = _run_together(word, names)
    if joined is not None:
        found.append(joined)
    found.sort(key=lambda f: f[1])
    if found:
        found = [f for f in found if f[1] <= found[0][1] + 0.13][:3]
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------- segmentation


def segmentations(spelling: Spelling, known: Names) -> list[tuple[float, list[Item]]]:
    """The cheapest ways to cut the words into items: (cost, items), best first; costs include corrected spellings."""
    words = spelling.words
    n = len(words)
    best: list[list[tuple[float, int, int, Item | None]]] = [[] for _ in range(n + 1)]
    best[0] = [(0.0, 0, 0, None)]
    for i in range(n):
        if not best[i]:
            continue
        best[i].sort(key=lambda e: e[0])
        floor = best[i][0][0]
        best[i] = [e for e in best[i][:_BEAM] if e[0] <= floor + _WINDOW]
        for item in _edges(spelling, i, known):
            ends = best[item.end]
            for k, (cost, _, _, _) in enumerate(best[i]):
                ends.append((cost + item.cost, i, k, item))
    best[n].sort(key=lambda e: e[0])
    out = []
    for cost, i, k, last in best[n][:_BEAM]:
        if cost > best[n][0][0] + _WINDOW:
            break
        items: list[Item] = []
        item: Item | None = last
        while item is not None:
            items.append(item)
            _, i, k, item = best[i][k]
        items.reverse()
        out.append((cost, items))
    return out


def _edges(spelling: Spelling, i: int, known: Names) -> Iterator[Item]:
    words = spelling.words
    word = words[i]
    if word in SEPARATORS:
        yield Item("sep", i, i + 1, value=word, text=word, free=True)
        return
    terms = vocabulary()
    numbers = numbers_at(words, i)
    found: list[Item] = []
    found.extend(_times(words, i, numbers))
    found.extend(_quantities(words, i, numbers, terms))
    found.extend(_floors(words, i, numbers, terms))
    term_matches = list(_matches(terms.tree, words, i, terms.skip))
    found.extend(_units(spelling, i, term_matches))
    found.extend(_terms(words, i, term_matches, terms))
    for end, meanings in _matches(known.tree, words, i, terms.skip):
        found.extend(_named(words, i, end, meanings))
    spans = spelling.costs
    plain = False
    for item in _undominated(found):
        plain = plain or item.end == i + 1
        item.cost += (_NUMBER if item.kind == "num" else _ITEM) + sum(spans[i : item.end])
        yield item
    if not plain:
        cost = _ITEM + spans[i] + (0.0 if word in terms.free else _UNREAD)
        yield Item("word", i, i + 1, cost=cost, free=word in terms.free, text=word)


def _undominated(found: list[Item]) -> list[Item]:
    """Without twins, and without the parts of a floor, a unit or a clock time that was said whole."""
    whole = max((i.end for i in found if i.kind in ("floor", "unit", "time") and i.cost < 0.02), default=0)
    named = max(
        (i.end for i in found if i.kind == "line"), default=max((i.end for i in found if i.kind == "family"), default=0)
    )
    kept: dict[tuple[object, ...], Item] = {}
    for item in found:
        if item.end < whole and item.kind in ("num", "term", "place"):
            continue
        if item.end <= named and item.kind in ("term", "family") and not (item.kind == "family" and item.end == named):
            continue
        key = (item.kind, item.end, item.value, item.unit, item.form, item.concepts)
        if key not in kept or item.cost < kept[key].cost:
            kept[key] = item
    return list(kept.values())


def _matches(
    tree: Tree, words: Sequence[str], i: int, skip: frozenset[str]
) -> Iterator[tuple[int, tuple[object, ...]]]:
    """Phrases of the tree that begin at `i`; words that may be skipped are passed over between the phrase's own."""
    node = tree.get(words[i])
    j = i + 1
    while node is not None:
        if END in node:
            yield j, node[END]
        while j < len(words) and words[j] not in node and words[j] in skip:
            j += 1
        if j >= len(words):
            return
        node = node.get(words[j])
        j += 1


def _terms(
    words: Sequence[str], i: int, matches: Sequence[tuple[int, tuple[object, ...]]], terms: Vocabulary
) -> Iterator[Item]:
    for end, concepts in matches[-3:]:
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
    if word in _SIDES or word == "charlie":
        yield Item("place", i, end + 1, value=f"{name} {word}", text=" ".join(words[i : end + 1]))
    for n in numbers_at(words, end):
        if n.form in ("int", "hundreds") and n.value > 0:
            stop = n.end
            letter = ""
            if name != "division" and stop < len(words) and len(words[stop]) == 1 and words[stop].isalpha():
                letter, stop = words[stop], stop + 1
            yield Item("place", i, stop, value=f"{name} {n.value:g}{letter}", text=" ".join(words[i:stop]), cost=n.cost)


def _named(words: Sequence[str], i: int, end: int, meanings: Sequence[object]) -> Iterator[Item]:
    text = " ".join(words[i:end])
    for meaning in meanings:
        assert isinstance(meaning, Meaning)
        kind = "unit" if meaning.kind == "crew" else meaning.kind
        value: object = meaning.value if kind == "family" else meaning.value[0]
        cost = {"person": 0.15, "street": 0.02, "family": 0.01}.get(kind, 0.0)
        yield Item(kind, i, end, value=value, text=text, cost=cost)


_LETTERS = frozenset("etlrmsabq")


def _units(spelling: Spelling, i: int, matches: Sequence[tuple[int, tuple[object, ...]]]) -> Iterator[Item]:
    """ "engine 9", "E9", "battalion one", "crew 2"."""
    words = spelling.words
    for end, concepts in matches:
        apparatus = next((str(c) for c in concepts if str(c).startswith("app:")), None)
        if apparatus is None or end >= len(words):
            continue
        start = end + 1 if words[end] == "company" and end + 1 < len(words) else end
        for n in numbers_at(words, start):
            if n.form not in ("int", "hundreds", "digits") or n.value < 1 or n.value > 9999 or n.value != int(n.value):
                continue
            short = words[end - 1] in _LETTERS or len(words[end - 1]) < 3
            if short and not (spelling.glued[end] and words[end].isdigit()):
                continue
            kind = words[i] if apparatus in ("app:crew", "app:medic_unit") else apparatus.partition(":")[2]
            cost = n.cost + (0.0 if n.value < 100 or words[start].isdigit() else 0.25)
            yield Item("unit", i, n.end, value=f"{kind} {int(n.value)}", text=" ".join(words[i : n.end]), cost=cost)


# -------------------------------------------------------------------------------------------------- numbers, floors and times


def _unit_at(words: Sequence[str], i: int, terms: Vocabulary) -> list[tuple[int, str]]:
    """Units of measurement that begin at `i`, longest first."""
    found = []
    for end, concepts in _matches(terms.tree, words, i, frozenset()) if i < len(words) else ():
        found.extend((end, str(c).partition(":")[2]) for c in concepts if str(c).startswith("unit:"))
    return found[::-1]


def _quantities(words: Sequence[str], i: int, numbers: Sequence[NumberAt], terms: Vocabulary) -> Iterator[Item]:
    yield from _inch_and(words, i)
    yield from _one_inch(words, i)
    for n in numbers:
        if n.form == "time":
            continue
        end = n.end
        concepts = frozenset(("hose_said",)) if n.form in ("mixed", "decimal") else frozenset()
        if end < len(words) and words[end] == "s" and n.form != "ordinal":
            end += 1
            concepts |= {"plural"}
        if n.form != "ordinal":
            units = _unit_at(words, end, terms)
            if not units and n.form == "fraction" and end < len(words) and words[end] in ("an", "a", "of"):
                units = _unit_at(words, end + 1, terms)
            for stop, unit in units[:2]:
                if unit == "in" and words[stop - 1] == "in" and not 0 < n.value <= 12:
                    continue
                doubtful = (
                    words[stop - 1] == "in"
                    and stop < len(words)
                    and words[stop] in ("the", "a", "place", "out", "two", "2")
                )
                cost = n.cost + (0.3 if doubtful else 0.0)
                yield _number(words, i, stop, n, unit, cost, concepts)
            if units and words[end] not in ("in", "m") and not any(_inch_and(words, end)):
                continue
        yield _number(words, i, end, n, None, n.cost, concepts)
    if words[i] in ("a", "an") and not numbers:
        for stop, unit in _unit_at(words, i + 1, terms)[:1]:
            if unit in ("min", "hr", "mi"):
                yield Item("num", i, stop, value=1.0, unit=unit, form="int", text=" ".join(words[i:stop]), cost=0.02)
    if words[i] in ("couple", "pair"):
        stop = i + 2 if i + 1 < len(words) and words[i + 1] == "of" else i + 1
        units = _unit_at(words, stop, terms)
        for end, unit in units[:1] if units and units[0][1] != "in" else ():
            yield Item("num", i, end, value=2.0, unit=unit, form="int", text=" ".join(words[i:end]))
        if not units:
            yield Item(
                "num", i, stop, value=2.0, form="int", text=" ".join(words[i:stop]), concepts=frozenset(("pair",))
            )


def _number(
    words: Sequence[str], i: int, end: int, n: NumberAt, unit: str | None, cost: float, concepts: frozenset[str]
) -> Item:
    return Item(
        "num",
        i,
        end,
        value=float(n.value),
        unit=unit,
        form=n.form,
        cost=cost,
        concepts=concepts,
        text=" ".join(words[i:end]),
    )


def _one_inch(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "an inch tip", "an inch line"."""
    j = i + 1 if words[i] in ("a", "an") else i
    if (
        words[j : j + 1] in (("inch",), ["inch"])
        and words[j + 1 : j + 2]
        and words[j + 1] in ("tip", "tips", "line", "hose", "smooth", "smoothbore", "nozzle")
    ):
        if (
            i == j
            and i
            and (words[i - 1][:1].isdigit() or words[i - 1] in _NUMBER_WORDS or words[i - 1] in ("a", "an"))
        ):
            return
        yield Item("num", i, j + 1, value=1.0, unit="in", form="int", text=" ".join(words[i : j + 1]), cost=0.02)


_AND = frozenset(("and", "n", "an", "in", "&", "+", "end"))


def _inch_and(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "inch and three quarter", "an inch and a half", "two inch and a half", "deuce and a half"."""
    word = words[i]
    n = len(words)
    if word in ("deuce", "duce", "deuces", "duece") and i + 1 < n:
        start = i + 2 if words[i + 1] in _AND else i + 1
        part = fraction_at(words, start) if start < n else None
        if part and part[1] == 0.5:
            yield _inches(words, i, _inch_end(words, part[0]), 2.5, 0.0)
        return
    whole, j, cost = 1, i, 0.0
    if word in ("a", "an", "one", "1", "single") and i + 1 < n and words[i + 1] in ("inch", "in_mark"):
        j = i + 1
    elif word in ("two", "2", "three", "3") and i + 1 < n and words[i + 1] == "inch":
        whole, j, cost = (2 if word in ("two", "2") else 3), i + 1, 0.35
    if words[j] not in ("inch", "in_mark"):
        return
    start = j + 1
    joined = start < n and words[start] in _AND
    if joined:
        start += 1
    if start >= n:
        return
    part = fraction_at(words, start)
    if part is None or (not joined and part[1] in (0.5, 0.25) and words[start] in ("a", "an", "half", "quarter")):
        return
    yield _inches(words, i, _inch_end(words, part[0]), whole + part[1], cost + (0.0 if joined else 0.02))


def _inch_end(words: Sequence[str], end: int) -> int:
    """Past a unit that was said again, and a plural."""
    while end < len(words) and words[end] in ("inch", "inches", "in_mark", "s"):
        again = words[end] == "inch" and end + 2 < len(words) and words[end + 1] in _AND
        if again and fraction_at(words, end + 2) is not None:
            break
        end += 1
    return end


def _inches(words: Sequence[str], i: int, end: int, value: float, cost: float) -> Item:
    plural = words[end - 1].endswith("s")
    concepts = frozenset(("hose_said", "plural") if plural else ("hose_said",))
    text = " ".join(words[i:end])
    return Item("num", i, end, value=value, unit="in", form="mixed", cost=cost, concepts=concepts, text=text)


_ORDINAL_NAMES = {v: k for k, v in ORDINALS.items()}


def floor_name(floor: int) -> str:
    """The canonical place of a floor: 2 = "second floor", -1 = "basement"."""
    if floor < 0:
        return "basement" if floor == -1 else f"{-floor} levels below ground"
    return f"{_ORDINAL_NAMES.get(floor, f'{floor}th')} floor"


def _floors(words: Sequence[str], i: int, numbers: Sequence[NumberAt], terms: Vocabulary) -> Iterator[Item]:
    for n in numbers:
        if n.form == "ordinal" and n.end < len(words):
            for end, concepts in _matches(terms.tree, words, n.end, frozenset()):
                if "floor" in concepts:
                    yield _floor(words, i, end, int(n.value))
    for end, concepts in _matches(terms.tree, words, i, terms.skip):
        if "floor" in concepts and end < len(words):
            for n in numbers_at(words, end):
                if n.form in ("int", "ordinal") and 0 < n.value < 120 and not _unit_at(words, n.end, terms):
                    yield _floor(words, i, n.end, int(n.value))
        for concept, floor in (("basement", -1), ("sub_basement", -2), ("ground_floor", 1)):
            if concept in concepts:
                yield _floor(words, i, end, floor)


def _floor(words: Sequence[str], i: int, end: int, floor: int) -> Item:
    return Item("floor", i, end, value=floor, text=" ".join(words[i:end]))


def _times(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """Clock times ("at 14:12", "at fourteen twelve", "1412 hours") and times ago ("two minutes ago")."""
    at = words[i] in ("at", "@")
    j = i + 1 if at else i
    if at and j >= len(words):
        return
    for n in numbers_at(words, j) if at else numbers:
        if n.form == "time":
            yield from _clock(words, i, n.end, *_parts(int(n.value)), words[j])
            continue
        if n.value < 0 or n.form == "ordinal":
            continue
        after = words[n.end] if n.end < len(words) else ""
        four = (len(words[j]) == 4 and words[j].isdigit() and n.end == j + 1) or (
            n.form in ("hundreds", "digits") and n.value >= 100
        )
        hours = after in ("hours", "hrs")
        if four and (at or hours):
            end = n.end + 1 if hours else n.end
            hour, minute = divmod(int(n.value), 100)
            if hour < 24 and minute < 60:
                yield from _clock(words, i, end, hour, minute, None, "", cost=n.cost + (0.0 if hours else 0.03))
        if after == "past" and n.end + 1 < len(words) and 0 < n.value < 60:
            for h in numbers_at(words, n.end + 1):
                if h.form == "int" and 0 < h.value < 25:
                    minute = 30 if n.value == 0.5 else 15 if n.value == 0.25 else int(n.value)
                    yield from _clock(words, i, h.end, int(h.value) % 24, minute, None, "", cost=0.05)
    if not at:
        yield from _ago(words, i, numbers)


def _parts(value: int) -> tuple[int, int, int]:
    """Hour, minute and second of a clock time as `numbers` gives it (hhmmss)."""
    return value // 10000, value // 100 % 100, value % 100


def _parts(value: int) -> tuple[int, int, int]:
    """Hour, minute and second of a clock time as `numbers` gives it (hhmmss)."""
    return value // 10000, value // 100 % 100, value % 100


def _clock(
    words: Sequence[str], i: int, end: int, hour: int, minute: int, second: int | None, literal: str, cost: float = 0.0
) -> Iterator[Item]:
    if end < len(words) and words[end] in ("hours", "hrs", "h"):
        end += 1
    if end < len(words) and words[end] in ("pm", "am") and hour <= 12:
        hour = hour % 12 + (12 if words[end] == "pm" else 0)
        end += 1
    text = " ".join(words[i:end])
    said = SaidTime(hour, minute, second if literal.count(":") == 2 else None)
    good = hour < 24 and minute < 60 and (second or 0) < 60
    yield Item("time" if good else "badtime", i, end, value=said, text=text, cost=cost)


_SECONDS = {
    "min": 60,
    "minute": 60,
    "minutes": 60,
    "mins": 60,
    "seconds": 1,
    "secs": 1,
    "sec": 1,
    "second": 1,
    "hour": 3600,
    "hours": 3600,
}


def _ago(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    amounts = [(n.end, n.value) for n in numbers if n.form not in ("ordinal", "time")]
    if words[i] in ("a", "an"):
        amounts.append((i + 1, 1.0))
        if i + 2 < len(words) and words[i + 1] == "couple":
            amounts.append((i + 3 if words[i + 2] == "of" else i + 2, 2.0))
    if words[i] == "couple":
        amounts.append((i + 2 if words[i + 1 : i + 2] == ("of",) else i + 1, 2.0))
    for end, amount in amounts:
        if end < len(words) and words[end] in ("an", "a") and end + 1 < len(words):
            end += 1
        if end >= len(words) or words[end] not in _SECONDS:
            continue
        seconds, end = float(amount * _SECONDS[words[end]]), end + 1
        part = fraction_at(words, end + 1) if end + 1 < len(words) and words[end] == "and" else None
        if part is not None:
            seconds, end = seconds + part[1] * _SECONDS[words[end - 1]], part[0]
        if end < len(words) and words[end] in ("ago", "back", "earlier"):
            yield Item("time", i, end + 1, value=SaidTime(ago_s=seconds), text=" ".join(words[i : end + 1]))


# ------------------------------------------------------------------------------------------------- what bears on what is said

_STOPS = frozenset(",.;:!?\n")
_HARD = frozenset(".;!?\n")
_AUX = frozenset(
    [
        "is",
        "are",
        "was",
        "were",
        "do",
        "does",
        "did",
        "has",
        "have",
        "had",
        "can",
        "could",
        "should",
        "would",
        "will",
        "am",
    ]
)
_ASKING = frozenset(["what", "where", "who", "how", "which", "why", "whose", "any", "anyone", "anybody", "whether"])
_SUBJECTS = frozenset(
    [
        "the",
        "we",
        "you",
        "they",
        "i",
        "he",
        "she",
        "it",
        "there",
        "anyone",
        "anybody",
        "everyone",
        "everybody",
        "that",
        "this",
        "our",
        "my",
        "your",
        "all",
        "any",
        "primary",
        "secondary",
        "fire",
        "utilities",
        "overhaul",
        "command",
        "a",
        "an",
        "anything",
        "someone",
        "search",
        "rit",
        "water",
        "engine",
        "truck",
        "ladder",
    ]
)
_PRONOUNS = frozenset(
    ["the", "we", "you", "they", "i", "he", "she", "it", "there", "anyone", "anybody", "everyone", "everybody", "that", "this", "our", "my", "your"]
)
_PRONOUNS = frozenset(
    ["the", "we", "you", "they", "i", "he", "she", "it", "there", "anyone", "anybody", "everyone", "everybody", "that", "this", "our", "my", "your"]
)
_TAGS = frozenset(["right", "correct", "yes", "ok", "okay", "huh", "yeah", "eh", "no"])
_AFTER = frozenset(
    [
        "soon",
        "shortly",
        "would",
        "would be",
        "momentarily",
        "almost",
        "nearly",
        "expected",
        "pending",
        "later",
        "tomorrow",
        "eta",
        "maybe",
        "hopefully",
        "probably",
        "possibly",
        "partially",
        "partly",
        "yet",
    ]
)


def mark_polarity(items: list[Item]) -> bool:
    """Marks each item with what bears on it in its clause: not, hope, cond, order, ask. True when the message asks anything."""
    asks = _asking(items)
    for lo, hi in _clauses(items):
        marks: set[str] = set()
        for k in range(lo, hi):
            item = items[k]
            if item.text == "but" or (
                item.kind == "term" and "and" in item.concepts and _new_subject(items, k + 1, hi)
            ):
                marks = set()
                continue
            if marks or k in asks:
                item.polarity = frozenset(marks | ({"ask"} if k in asks else set()))
            if _answers_no(items, k, lo, hi):
                item.form = "answers"
            else:
                marks |= item.concepts & POLARITY
            if _in_time(items, k):
                marks.add("hope")
        _backwards(items, lo, hi)
    return bool(asks)


def _answers_no(items: list[Item], k: int, lo: int, hi: int) -> bool:
    """ "No it's under control": the no answers somebody and negates nothing after it."""
    if items[k].text == "negative" and k == hi - 1 and k > lo:
        return True  # "primary complete, negative": nothing found, or not complete?
    return (
        k == lo
        and items[k].text == "no"
        and k + 1 < hi
        and items[k + 1].text.split()[0] in ("it", "that", "we", "they", "i", "the")
    )


def _backwards(items: list[Item], lo: int, hi: int) -> None:
    """ "under control soon", "primary complete in five minutes", "all clear not yet"."""
    for k in range(lo, hi):
        item = items[k]
        late = item.text in _AFTER or (item.text in ("not", "not yet") and k == hi - 1)
        if late or _in_time(items, k):
            mark = "not" if "not" in item.concepts else "hope"
            for j in range(lo, k):
                items[j].polarity |= {mark}


def _in_time(items: list[Item], k: int) -> bool:
    """ "in two minutes", "two minutes out": what is said is still to come."""
    item = items[k]
    if item.kind != "num" or item.unit not in ("min", "s", "hr"):
        return False
    before = items[k - 1].text if k else ""
    after = items[k + 1].text if k + 1 < len(items) else ""
    return before in ("in", "within", "about", "another", "give me", "give us") or after in ("out", "away", "from now")


def _new_subject(items: list[Item], k: int, hi: int) -> bool:
    while k < hi and items[k].free and items[k].text in ("the", "we", "our"):
        k += 1
    return k < hi and (items[k].kind == "unit" or not items[k].free)


def _clauses(items: list[Item]) -> Iterator[tuple[int, int]]:
    lo = 0
    for k, item in enumerate(items):
        if item.kind == "sep" and item.value in _STOPS:
            if k > lo:
                yield lo, k
            lo = k + 1
    if lo < len(items):
        yield lo, len(items)


def _asking(items: list[Item]) -> set[int]:
    """Positions of items inside a question."""
    inside: set[int] = set()
    clauses = list(_clauses(items))
    for c, (lo, hi) in enumerate(clauses):
        marked = hi < len(items) and items[hi].value == "?"
        if asks_first(items, lo, hi):
            inside.update(range(lo, hi))
        elif marked:
            inside.update(range(lo, hi))
            if c and all(i.text in _TAGS or i.free for i in items[lo:hi]) and items[lo - 1].value == ",":
                inside.update(range(*clauses[c - 1]))
    return inside


def asks_first(items: list[Item], lo: int, hi: int) -> bool:
    """The clause begins as a question does ("is the …", "have we …", "how …")."""
    k = lo
    called = any(items[i].kind == "unit" for i in range(lo, min(lo + 2, hi)))
    while k < hi and (
        items[k].kind == "unit" or items[k].text in ("hey", "ok", "okay", "so", "and", "command", "dispatch", "driver")
    ):
        k += 1
    words = [w for i in items[k : k + 3] for w in i.text.split()][:4]
    if not words:
        return False
    first, second = words[0], words[1] if len(words) > 1 else ""
    if first in _ASKING or " ".join(words[:2]) in (
        "status of",
        "status on",
        "when was",
        "when did",
        "when is",
        "when will",
    ):
        return True
    if first in ("can", "could", "will", "would") and second == "you":
        return False
    if first not in _AUX:
        return False
    if called:
        return second in _PRONOUNS and first not in ("has", "have", "had")
    return (
        second in _SUBJECTS
        or (k + 1 < hi and items[k + 1].kind == "unit")
        or (first in ("is", "are", "was", "did", "does"))
    )
