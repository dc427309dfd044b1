"""What is told beside a report: words that only describe, hope or order something, and report nothing themselves."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.commands import Assign, Benchmark, Command
from grammar.items import POLARITY, Item
from grammar.lexicon import by_language
from grammar.polarity import mark_polarity
from grammar.readers.benchmarks import RULES
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names, word_list


def arrives(reports: Sequence[Command]) -> bool:
    """What else is said on arrival is what is seen, done and wanted there."""
    return any(isinstance(report, Benchmark) and report.benchmark in _ARRIVAL for report in reports)


_ARRIVAL = ("on_scene", "size_up", "command_established")


def told(words: str, reports: Sequence[Command], known: Names) -> bool:
    """Words with a subject of their own that only describe, hope or order something: nothing is reported by them.

    On arrival anything of the kind; else what somebody is told to do.
    """
    items = items_of(words, known)
    if not items:
        return False
    asks = mark_polarity(items)
    marks = {mark for item in items for mark in (item.polarity | item.concepts) & POLARITY}
    content = [item for item in items if item.kind != "sep" and not item.free and not item.polarity_mark]
    first = words.casefold().split()
    doing = first[1] if first[0] == "then" and len(first) > 1 else first[0]
    planned = doing.endswith("ing") and not items[0].polarity_mark
    to_do = first[0] in word_list("kept_orders") or (
        items[0].kind == "unit" and len(items) > 1 and items[1].text in word_list("people_told")
    )
    ordered = marks <= {"order"} and (bool(marks) or to_do)
    if counts_allowed(reports) and all(i.free or i.kind == "num" for i in items) and first[-1] == "us" and not marks:
        return True  # "RIT's set up, four of us"
    ordered = ordered and not (len(content) < 2 and not items[0].free and not items[0].polarity_mark)  # "stop"
    own = ordered or planned or (arrives(reports) and first[0] in ("no", "nobody", "nothing")) or first[0] == "still"
    if asks or len(content) < (1 if own else 2):
        return False
    if planned and first[0] == "then" and not marks - {"hope"}:
        return True
    if _elsewhere(items, marks, reports):
        return True
    going_in = ordered and items[0].kind == "unit"  # "ladder 4 come in with me"
    if first[0] == "or" or _reports_itself(words, items, known, arrives(reports), going_in):
        return False
    named = any(item.kind == "unit" for item in items)
    where = any(item.kind in ("place", "floor") for item in items)
    if ordered and where and not named and not any(isinstance(report, Assign) for report in reports):
        return False  # "on scene, take the roof": who arrives is assigned
    if arrives(reports):
        return True
    left_out = where and _searched(reports)
    knocked = all(isinstance(r, Benchmark) and r.benchmark == "knocked_down" for r in reports)
    allowed = {"order", "hope"} if planned or knocked else {"order"}  # "good knock, still chasing it in the walls"
    but = first[0] in word_list("kept_but") and not (knocked and first[0] == "still")
    return marks <= allowed and not left_out and not but


def leaves_out(words: str, reports: Sequence[Command], known: Names) -> bool:
    """ "Primary complete, still checking the attic": what was kept may be what isn't done yet."""
    first = words.casefold().split()[0]
    if first == "or":
        return True  # "or close to it"
    if first == "still":
        return not all(isinstance(r, Benchmark) and r.benchmark == "knocked_down" for r in reports)
    where = any(item.kind in ("place", "floor") for item in items_of(words, known))
    return _searched(reports) and (first in word_list("kept_but") or (where and first.endswith("ing")))


def _elsewhere(items: list[Item], marks: set[str], reports: Sequence[Command]) -> bool:
    """Another benchmark than the reported ones is denied or hoped; or one of them is said again, part by part."""
    named = {rule.benchmark for item in items for rule in RULES if item.concepts & {*rule.subject}}
    reported = {report.benchmark for report in reports if isinstance(report, Benchmark)}
    around = {item.kind for item in items} & {"unit", "num", "line", "person", "time"}
    people = any(not item.free and item.concepts & word_list("kept_people") - {"no", "not"} for item in items)
    if not named or around or people:
        return False
    return named <= reported if not marks else named.isdisjoint(reported) and bool(marks & {"not", "hope"})


def _searched(reports: Sequence[Command]) -> bool:
    """Done everywhere, or all but a part: "primary complete, check the basement"."""
    return any(isinstance(r, Benchmark) and r.benchmark in _EVERYWHERE for r in reports)


_EVERYWHERE = (
    "primary_search_complete",
    "secondary_search_complete",
    "overhaul",
    "utilities_secured",
    "suppression_complete",
)


def _reports_itself(words: str, items: list[Item], known: Names, arrival: bool, going_in: bool) -> bool:
    """Words that report or count something by themselves, or may be that, misspelt."""
    if any(item.kind in ("line", "family", "time", "badtime") and not arrival for item in items):
        return True
    others = any("bystanders" in item.concepts for item in items)
    people = word_list("kept_people") - {"no", "not"} - (_OF_A_LINE if not _names_a_line(items) else frozenset())
    people -= {"entry"} if going_in else set()
    if not others and any(not item.free and item.concepts & people for item in items):
        return True
    telling = reporting() | {"command_word"} | (frozenset() if arrival else SUBJECTS)
    purpose = next((k for k, item in enumerate(items) if item.text == "for"), len(items))  # "… for overhaul"
    if any(not item.concepts.isdisjoint(telling) and not _seen(item) for item in items[:purpose]):
        return True
    if is_count(words, known) and not arrival:
        return True
    content = [item for item in items if not item.free and item.kind != "sep"]
    return len(content) < 3 and misspelt(words, known)


_OF_A_LINE = frozenset(("open", "shut"))


def _names_a_line(items: list[Item]) -> bool:
    """What is opened or shut is a line, not a wall."""
    hose = frozenset(("line", "nozzle", "hydrant_word", "deck_gun", "monitor", "aerial", "standpipe", "of_hose", "gas"))
    return any(item.kind in ("line", "family") or item.concepts & hose for item in items)


def _seen(item: Item) -> bool:
    """ "Below grade", "a two story": where something is, and how high."""
    return bool(item.concepts & {"floor", "floors_down"})


def names_a_unit(words: str, known: Names) -> bool:
    """A company or crew is named."""
    return any(item.kind == "unit" for item in items_of(words, known))


def is_count(words: str, known: Names) -> bool:
    """A number of something; bottles that were used count nobody."""
    items = items_of(words, known)
    after = [*items[1:], None][: len(items)]
    before = ["", *(item.text for item in items)][: len(items)]
    return any(
        item.kind == "num" and b != "on" and not (n is not None and n.concepts & {"scba", "cylinder"})
        for item, b, n in zip(items, before, after, strict=True)
    )


def counts_allowed(reports: Sequence[Command]) -> bool:
    """Numbers describe what is seen, or who stands by: "two cars, one pinned", "RIT's set up, four of us"."""
    return any(
        isinstance(r, Benchmark) and r.benchmark in (*_ARRIVAL, "patient_contact", "rit_in_place", "two_out_in_place")
        for r in reports
    )


def items_of(text: str, known: Names) -> list[Item]:
    """The words, put right and tagged in their likeliest way."""
    found = tokens(text)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


SUBJECTS = frozenset(subject for rule in RULES for subject in rule.subject)


def misspelt(words: str, known: Names) -> bool:
    """A word had to be put right to be read."""
    return any(spellings(tokens(words), known, False)[0].costs)


@by_language
def reporting() -> frozenset[str]:
    """Terms that report or order something by themselves."""
    return frozenset(one for one in word_list("strong") if one != "floor" and not one.startswith("unit:"))
