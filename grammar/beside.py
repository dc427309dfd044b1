"""What is told beside a report: words that only describe, hope or order something, and report nothing themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from grammar.commands import Assign, Benchmark, Command
from grammar.items import POLARITY, Item
from grammar.lexicon import by_language
from grammar.polarity import mark_polarity
from grammar.readers.benchmarks import RULES
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

SUBJECTS = frozenset(subject for rule in RULES for subject in rule.subject)


def are(reports: Sequence[Command], name: str) -> bool:
    """One of them is a benchmark of the language's list."""
    return any(isinstance(report, Benchmark) and report.benchmark in word_list(name) for report in reports)


def arrives(reports: Sequence[Command]) -> bool:
    """What else is said on arrival is what is seen, done and wanted there."""
    return are(reports, "beside_arrival")


def counts_allowed(reports: Sequence[Command]) -> bool:
    """Numbers describe what is seen, or who stands by: "two cars, one pinned", "RIT's set up, four of us"."""
    return arrives(reports) or are(reports, "beside_counted")


class _Manner(NamedTuple):
    """How a clause is said: what somebody is told to do, what is being done, and what marks it."""

    ordered: bool
    planned: bool
    marks: set[str]
    first: str


def _manner(words: str, items: list[Item]) -> _Manner:
    marks = {mark for item in items for mark in (item.polarity | item.concepts) & POLARITY}
    said = words.casefold().split()
    doing = said[1] if said[0] in word_list("beside_then") and len(said) > 1 else said[0]
    to_do = said[0] in word_list("kept_orders") or (
        items[0].kind == "unit" and len(items) > 1 and items[1].text in word_list("people_told")
    )
    one_word = sum(1 for item in items if _tells(item)) < 2 and _tells(items[0])  # "stop"
    ordered = marks <= {"order"} and bool(marks or to_do) and not one_word
    return _Manner(ordered, doing.endswith("ing") and not items[0].polarity_mark, marks, said[0])


def _tells(item: Item) -> bool:
    return item.kind != "sep" and not item.free and not item.polarity_mark


def told(words: str, reports: Sequence[Command], known: Names) -> bool:
    """Words with a subject of their own that only describe, hope or order something: nothing is reported by them.

    On arrival anything of the kind; else what somebody is told to do.
    """
    items = items_of(words, known)
    if not items or mark_polarity(items):
        return False
    ordered, planned, marks, first = _manner(words, items)
    arrival = arrives(reports)
    own = ordered or planned or first in word_list("benchmarks_still") or (arrival and first in word_list("beside_no"))
    if sum(map(_tells, items)) < (1 if own else 2) or first in word_list("beside_or"):
        return False
    if _reports_itself(words, items, known, reports, ordered and items[0].kind == "unit"):  # "ladder 4 come in with me"
        return False
    kinds = {item.kind for item in items}
    where = bool(kinds & {"place", "floor"})
    sent = ordered and where and "unit" not in kinds and not any(isinstance(report, Assign) for report in reports)
    if arrival or sent:
        return not sent  # "on scene, take the roof": who arrives is assigned
    knocked = _only_knocked(reports)
    allowed = {"order", "hope"} if planned or knocked else {"order"}  # "good knock, still chasing it in the walls"
    return marks <= allowed and not (where and are(reports, "beside_everywhere")) and not _but(first, reports)


def _only_knocked(reports: Sequence[Command]) -> bool:
    return all(isinstance(r, Benchmark) and r.benchmark == "knocked_down" for r in reports)


def _but(first: str, reports: Sequence[Command]) -> bool:
    still = first in word_list("benchmarks_still")
    return first in word_list("kept_but") and not (still and _only_knocked(reports))


def leaves_out(words: str, reports: Sequence[Command], known: Names) -> bool:
    """ "Primary complete, still checking the attic": what was kept may be what isn't done yet. "Or close to it"."""
    first = words.casefold().split()[0]
    if first in word_list("benchmarks_still") | word_list("beside_or"):
        return first in word_list("beside_or") or not _only_knocked(reports)
    where = any(item.kind in ("place", "floor") for item in items_of(words, known))
    part = first in word_list("kept_but") or (where and first.endswith("ing"))
    return part and are(reports, "beside_everywhere")


def _of_people(items: list[Item], terms: frozenset[str]) -> bool:
    return any(not item.free and item.concepts & terms - {"no", "not"} for item in items)


def _reports_itself(words: str, items: list[Item], known: Names, reports: Sequence[Command], going_in: bool) -> bool:
    """Words that report or count something by themselves, or may be that, misspelt."""
    arrival = arrives(reports)
    lines = any(item.kind in ("line", "family", "time", "badtime") for item in items)
    of_a_line = any(item.kind in ("line", "family") or item.concepts & word_list("beside_hose") for item in items)
    people = word_list("kept_people") - (frozenset() if of_a_line else word_list("beside_of_a_line"))
    people -= {"entry"} if going_in else set()
    others = any("bystanders" in item.concepts for item in items)
    if (not arrival and (lines or is_count(words, known))) or (not others and _of_people(items, people)):
        return True
    telling = reporting() | {"command_word"} | (frozenset() if arrival else SUBJECTS)
    purpose = next((k for k, item in enumerate(items) if item.text in word_list("beside_for")), None)
    if any(item.concepts & telling and not item.concepts & {"floor", "floors_down"} for item in items[:purpose]):
        return True  # but for "below grade", "a two story": where something is, and how high
    return sum(not item.free and item.kind != "sep" for item in items) < 3 and misspelt(words, known)


def is_count(words: str, known: Names) -> bool:
    """A number of something; bottles that were used count nobody."""
    items = items_of(words, known)
    return any(
        item.kind == "num"
        and not (k and items[k - 1].text in word_list("where_on"))
        and not any(after.concepts & {"scba", "cylinder"} for after in items[k + 1 : k + 2])
        for k, item in enumerate(items)
    )


def items_of(text: str, known: Names) -> list[Item]:
    """The words, put right and tagged in their likeliest way."""
    found = tokens(text)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


def misspelt(words: str, known: Names) -> bool:
    """A word had to be put right to be read."""
    return any(spellings(tokens(words), known, False)[0].costs)


@by_language
def reporting() -> frozenset[str]:
    """Terms that report or order something by themselves."""
    return frozenset(one for one in word_list("strong") if one != "floor" and not one.startswith("unit:"))
