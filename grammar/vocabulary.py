"""The one vocabulary: the terms of all files of the language, and the names of the rig, its crew and the incident.

A *concept* is the id of a term ("under_control"); its ways of saying it lie in a tree of words that the tagger walks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from sys import intern
from typing import Any, NamedTuple, TypeAlias

from grammar.commands import Context, RigLine
from grammar.lexicon import by_language, language, lately, spoken_here
from grammar.numbers import number_words
from grammar.patterns import wordings
from grammar.spoken import say
from grammar.text import clean, unaccented, words_of

Tree: TypeAlias = dict[str, Any]
"""word -> subtree; under END the concepts of the phrase that ends here. What goes on alike is one subtree."""
END = ""

_TABLES = ("filler", "cut", "units", "polarity", "talk", "term", "place", "apparatus", "crews")
"""The tables of the language that declare terms; what says nothing first."""
PREFIXED = {"units": "unit", "place": "place", "apparatus": "app", "crews": "crew"}
"""Those whose ids carry a prefix, because the same word is an id elsewhere ("rescue")."""
_FUZZY_NEVER = 4
"""Words shorter than this are never corrected."""


class Ways(Mapping[str, tuple[str, ...]]):
    """Concept -> its ways of saying it; written out when they are asked for."""

    def __init__(self, patterns: Mapping[str, Sequence[str]]) -> None:
        self._patterns = patterns
        self._written: dict[str, tuple[str, ...]] = {}

    def __getitem__(self, concept: str) -> tuple[str, ...]:
        if concept not in self._written:
            ways = (way for pattern in self._patterns[concept] for way in wordings(pattern))
            self._written[concept] = tuple(ways)
        return self._written[concept]

    def beginning(self, with_: str) -> Iterator[tuple[str, tuple[str, ...]]]:
        """The concepts whose ids begin so ("unit:"), and their ways."""
        return ((concept, self[concept]) for concept in self._patterns if concept.startswith(with_))

    def __iter__(self) -> Iterator[str]:
        return iter(self._patterns)

    def __len__(self) -> int:
        return len(self._patterns)


class Meaning(NamedTuple):
    """What a name of the context stands for.

    `kind` is line, family, unit, crew, person, street, or company (a word that companies are called by here).
    """

    kind: str
    value: tuple[str, ...]


class Topic(NamedTuple):
    """One topic of the help; its examples stand with what says them."""

    name: str
    also: tuple[str, ...]
    about: str
    when: tuple[str, ...]
    leads: str
    """The intent whose examples stand first."""


class Vocabulary(NamedTuple):
    """The terms as loaded."""

    tree: Tree
    words: frozenset[str]
    """Every word that means something here, and the plain ones."""
    spoken: frozenset[str]
    """Those that mean something."""
    targets: tuple[str, ...]
    """Words that a misspelling may be corrected to."""
    skip: frozenset[str]
    free: frozenset[str]
    idle: frozenset[str]
    """Words that say nothing by themselves."""
    polar: frozenset[str]
    """Words that a negation, hope or order is made of."""
    confusions: Mapping[str, tuple[str, ...]]
    """Heard or typed word -> words it may stand for."""
    concepts: Ways
    topics: tuple[Topic, ...]
    apparatus: frozenset[str]
    """Words that companies are called by."""
    lists: Mapping[str, frozenset[str]]
    """Word lists of single files of the reader."""
    misheard: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    """Words that recognisers write for others: (heard, meant), the longest first."""


class SlangError(ValueError):
    """A word of the department's own slang already means something; choose another."""


@by_language
def vocabulary() -> Vocabulary:
    """The vocabulary of the package; read once."""
    data = {table: language().get(table, {}) for table in _TABLES}
    plain = _plain_words()
    skip = frozenset(map(clean, data["filler"]["skip"]))
    loaded = _Loaded(data, skip, set(number_words().words) | plain)
    for table, terms in data.items():
        for term, patterns in terms.items():
            loaded.add(table, term, patterns)
    lists = defaultdict[str, frozenset[str]](frozenset)
    lists |= {name: frozenset(map(clean, listed)) for name, listed in language().get("words", {}).items()}
    targets = {w for w in loaded.targets - lists["spelling_exact"] if len(w) >= _FUZZY_NEVER and w.isalpha()}
    return Vocabulary(
        loaded.tree(),
        words=frozenset(loaded.words),
        spoken=frozenset(loaded.words - plain),
        targets=tuple(sorted(targets)),
        skip=skip,
        free=frozenset(loaded.free),
        idle=frozenset(loaded.idle),
        polar=frozenset(w for ways in data["polarity"].values() for way in ways for w in words_of(way)),
        confusions=_confusions(),
        concepts=Ways(loaded.patterns),
        topics=tuple(
            Topic(
                t["name"], tuple(t.get("also", ())), t["about"], tuple(t.get("when", ("always",))), t.get("leads", "")
            )
            for t in language().get("topic", ())
        ),
        apparatus=frozenset(way for ways in data["apparatus"].values() for way in ways),
        lists=lists,
        misheard=_misheard(language().get("misheard", {})),
    )


class _Loaded:
    """The terms as they are gathered, table by table."""

    def __init__(self, data: Mapping[str, Mapping[str, Sequence[str]]], skip: frozenset[str], words: set[str]) -> None:
        self._marks: dict[str, frozenset[str]] = {}
        for mark, ways in data["polarity"].items():
            for word in ways:
                self._marks[word] = self._marks.get(word, frozenset()) | {mark}
        self._skip = skip
        self._phrases: dict[str, list[tuple[str, ...]]] = {}
        """First word -> what is said so and the rest of the words."""
        self.words = words
        self.targets: set[str] = set(number_words().words)
        self.patterns: dict[str, tuple[str, ...]] = {}
        self.free: set[str] = set(skip)
        self.idle: set[str] = {*skip, *map(clean, data["cut"]["and"])}
        """What says nothing where it stands alone."""

    def add(self, table: str, term: str, patterns: Sequence[str]) -> None:
        """A term and its ways of saying it."""
        concept = intern(f"{PREFIXED[table]}:{term}" if table in PREFIXED else term)
        self.patterns[concept] = (*self.patterns.get(concept, ()), *patterns)
        for way in (way for pattern in patterns for way in wordings(pattern)):
            if table not in ("filler", "cut") and term not in ("ok_word", "yes"):
                self.idle.discard(way)
            said = clean(way).split() if table in ("units", "cut", "filler") else words_of(way)
            said = [intern(word) for word in (said[1:] if len(said) > 1 and said[0] == "the" else said)]
            self.words.update(said)
            if table == "filler":
                self.free.add(" ".join(said))
                self.idle.add(" ".join(said))
            else:
                self.targets.update(said)
            if term != "skip" or len(said) > 1:
                self._phrase(concept, said)
            for mark in self._turning(said) if table not in ("polarity", "talk") else ():
                self._phrase(mark, said)

    def _phrase(self, concept: str, said: list[str]) -> None:
        self._phrases.setdefault(said[0], []).append((concept, *said[1:]))

    def _turning(self, said: list[str]) -> Iterable[str]:
        """A phrase of nothing but negating, hoping or ordering words ("will be") keeps that meaning too."""
        if all(word in self._marks or word in self._skip for word in said):
            yield from {mark for word in said for mark in self._marks.get(word, ())}

    def tree(self) -> Tree:
        """All phrases, by their first words; what is planted is forgotten here."""
        tree: Tree = {}
        known: dict[Any, Any] = {}
        while self._phrases:
            first, phrases = self._phrases.popitem()
            branch: Tree = {}
            for concept, *rest in phrases:
                _plant(branch, (first, *rest), concept, self._skip)
            tree[first] = _shared(branch[first], known)
        return tree


def _shared(tree: Tree, known: dict[Any, Any]) -> Tree:
    """The tree with one subtree for all that goes on alike; `known`: those there are."""
    for word, below in tree.items():
        tree[word] = _shared(below, known) if word != END else known.setdefault(below, below)
    key = tuple(part for word in sorted(tree) for part in (word, tree[word] if word == END else id(tree[word])))
    shared: Tree = known.setdefault(key, tree)
    return shared


def _confusions() -> dict[str, tuple[str, ...]]:
    confusions: dict[str, tuple[str, ...]] = {}
    for meant, heard in language().get("confusions", {}).items():
        for word in heard:
            confusions[word] = (*confusions.get(word, ()), meant)
    return confusions


def _misheard(table: Mapping[str, Sequence[str]]) -> tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]:
    pairs = [(tuple(words_of(way)), tuple(words_of(meant))) for meant, ways in table.items() for way in ways]
    return tuple(sorted(pairs, key=lambda pair: -len(pair[0])))


@by_language
def wording_file(name: str) -> dict[str, Any]:
    """A file of wordings that are searched for; <unit> in them is "engine 9", "truck four", "the search team"."""
    found = spoken_here().table(name)
    data: dict[str, Any] = {
        part: defaultdict(tuple, {key: tuple(map(unaccented, ways)) for key, ways in found.get(part, {}).items()})
        for part in ("said", "wordings", "around", "talk")
    }
    data["said"] = {**_units_said(), **data["said"]}
    return data


@by_language
def _units_said() -> dict[str, list[str]]:
    number = number_words()
    tens = " | ".join(number.tens)
    return {
        "company": sorted((way for way in vocabulary().apparatus if len(way) > 2), key=lambda way: (-len(way), way)),
        "number": ["#", *number.ones, *number.teens, *([f"({tens}) [_]"] if tens else [])],
        "crew": sorted(word_list("crew_kinds"), key=lambda way: (-len(way), way)),
        "unit": ["<company> [company] <number> [s]", "[the] <crew> (team | crew | company)"],
    }


def word_list(name: str) -> frozenset[str]:
    """A word list of the language's [words]; empty where it has none."""
    return _lists()[name]


@by_language
def _lists() -> Mapping[str, frozenset[str]]:
    return vocabulary().lists


def _plain_words() -> frozenset[str]:
    """Ordinary words that are never taken for a misspelt term."""
    return spoken_here().words("plain")


def _plant(tree: Tree, said: Iterable[str], concept: Any, skip: frozenset[str]) -> None:
    """Adds a phrase.

    Words that may be skipped inside a phrase are left out of it, so that they never have to be said.
    """
    words = list(said)
    inner = [w for i, w in enumerate(words) if i == 0 or i == len(words) - 1 or w not in skip]
    for way in {tuple(words), tuple(inner)}:
        node = tree
        for word in way:
            node = node.setdefault(word, {})
        node[END] = (*node.get(END, ()), concept) if concept not in node.get(END, ()) else node[END]


def matches(tree: Tree, words: Sequence[str], i: int, skip: frozenset[str]) -> list[tuple[int, tuple[Any, ...]]]:
    """Phrases of the tree that begin at `i`; words that may be skipped are passed over between the phrase's own."""
    node = tree.get(words[i])
    if node is None:
        return []
    ways = [(node, i + 1, True)]
    found: dict[int, tuple[Any, ...]] = {}
    last = len(words)
    while ways:
        node, j, whole = ways.pop()
        if whole and END in node:
            found[j] = tuple(dict.fromkeys((*found[j], *node[END]))) if j in found else node[END]
        if j < last:
            word = words[j]
            if word in skip:
                ways.append((node, j + 1, False))
            if word in node:
                ways.append((node[word], j + 1, True))
    return sorted(found.items())


# ------------------------------------------------------------------------------------------- names of rig and incident


class Names(NamedTuple):
    """The names that a context adds: a tree like the vocabulary's of `Meaning`s, its words, its slang."""

    tree: Tree
    words: frozenset[str]
    slang: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]

    def __hash__(self) -> int:
        return hash((self.words, self.slang))


def names(context: Context) -> Names:
    """The names of this context; the same names are worked out once."""
    units = tuple(u for u in (context.own_unit, *context.units_known, *context.inside) if u)
    called = frozenset(unit.rpartition(" ")[0].lower() for unit in units if unit[-1:].isdigit())
    if context.units == "metric":
        called |= word_list("companies_metric")
    called -= frozenset(("", "crew", "medic", *vocabulary().apparatus))
    companies = tuple(sorted(called))
    return _names(context.rig_lines, context.slang, units, context.crews, context.people, context.streets, companies)


@lately(64)
def _names(
    lines: tuple[RigLine, ...],
    slang: tuple[tuple[str, str], ...],
    units: tuple[str, ...],
    crews: tuple[str, ...],
    people: tuple[str, ...],
    streets: tuple[str, ...],
    companies: tuple[str, ...],
) -> Names:
    tree: Tree = {}
    words: set[str] = set()

    def add(said: str, meaning: Meaning) -> None:
        ways = _number_ways(_without_article(words_of(said)))
        ways += [
            [*way[:-1], "number", way[-1]]
            for way in ways
            if len(way) > 1 and (way[-1].isdigit() or way[-1] in number_words().words)
        ]
        for way in ways:
            words.update(w for w in way if w.isalpha())
            _plant(tree, way, meaning, frozenset())

    families: dict[str, list[str]] = {}
    for line in lines:
        for name in _spelled(line):
            add(name, Meaning("line", (line.key,)))
            stem = words_of(name)
            if len(stem) > 1 and (stem[-1].isdigit() or stem[-1] in number_words().words):
                family = families.setdefault(" ".join(stem[:-1]), [])
                if line.key not in family:
                    family.append(line.key)
    for line, way in _by_device(lines):
        add(way, Meaning("line", (line.key,)))
    for stem_words, keys in families.items():
        add(stem_words, Meaning("family", tuple(keys)))
        add(stem_words + "s", Meaning("family", tuple(keys)))
    for kind, said in (("unit", units), ("crew", crews), ("person", people), ("street", streets)):
        for name in said:
            add(name, Meaning(kind, (name.lower(),)))
            if kind == "person":
                for part in name.split():
                    add(part, Meaning(kind, (name.lower(),)))
            if kind == "street":
                add(name.rsplit(" ", 1)[0], Meaning(kind, (name.lower(),)))
    for company in companies:
        words.add(company)
        _plant(tree, company.split(), Meaning("company", (company,)), frozenset())
    swaps = tuple((tuple(_without_article(words_of(a))), tuple(words_of(b))) for a, b in slang)
    words.update(w for said_words, _ in swaps for w in said_words if w.isalpha())
    return Names(tree, frozenset(words), tuple(sorted(swaps, key=lambda s: -len(s[0]))))


def _spelled(line: RigLine) -> Iterator[str]:
    """The line's names, and those in which the trade's word for such a line is said another way: "cross lay 1"."""
    for name in (*line.names, line.key.replace("_", " ")):
        yield name
        first, _, rest = name.partition(" ")
        ways = vocabulary().concepts.get("crosslay", ())
        if rest and first in ways:
            yield from (f"{way} {rest}" for way in ways if not way.endswith(("line", "s")))


def _by_device(lines: Iterable[RigLine]) -> Iterator[tuple[RigLine, str]]:
    """The rig's one gun or pack is meant by every word for such a thing: "the deck pipe", "the pack"."""
    by_device: dict[str, list[RigLine]] = {}
    for line in lines:
        by_device.setdefault(line.device or "", []).append(line)
    for device in ("deck_gun", "high_rise_pack"):
        if len(only := by_device.get(device, [])) == 1:
            yield from ((only[0], way) for way in vocabulary().concepts.get(device, ()))


def _without_article(said: list[str]) -> list[str]:
    return said[1:] if len(said) > 1 and said[0] in ("the", "a", "an") else said


def _number_ways(said: list[str]) -> list[list[str]]:
    """ "crosslay 1" is also "crosslay one"."""
    spoken = [w for word in said for w in (say(int(word)).split() if word.isdigit() and len(word) < 4 else [word])]
    digits = [str(number_values().get(word, word)) for word in said]
    return [list(way) for way in {tuple(said), tuple(spoken), tuple(digits)}]


@by_language
def number_values() -> dict[str, int]:
    """One to nineteen, by their words."""
    return {say(n): n for n in range(1, 20)}


def check_slang(slang: Iterable[tuple[str, str]]) -> None:
    """Raises SlangError naming the word when a department's word already means something else, or means nothing known.

    `slang`: (said, means) pairs of the rig file; `means` must be words that can be read.
    """
    known = vocabulary()
    for said, means in slang:
        heard = words_of(said)
        if not any(w.isalnum() for w in heard):
            raise SlangError(f"'{said}' has no word in it; write the word people say")
        if any(w.startswith("mayday") for w in heard):
            raise SlangError(f"'{said}' can't be slang: Mayday keeps its one meaning")
        taken = _concepts_of(known.tree, heard)
        if taken:
            raise SlangError(f"'{said}' already means {_plainly(taken[0])}; choose another word or leave it out")
        if all(w in number_words().words or w.isdigit() for w in heard):
            raise SlangError(f"'{said}' is a number; choose a word that isn't one")
        unknown = [w for w in words_of(means) if w.isalpha() and w not in known.words]
        if unknown:
            raise SlangError(f"'{said}' means '{means}', and '{unknown[0]}' isn't known; say it in words that are")


def _concepts_of(tree: Tree, said: Iterable[str]) -> tuple[str, ...]:
    node = tree
    for word in said:
        if word not in node:
            return ()
        node = node[word]
    found: tuple[str, ...] = node.get(END, ())
    return tuple(c for c in found if c not in ("skip", "free"))


def _plainly(concept: str) -> str:
    ways = vocabulary().concepts.get(concept, (concept,))
    return f"“{concept.split(':')[-1].replace('_', ' ')}” (like “{ways[0]}”)"
