"""A report with free words around it: what is understood is taken, the rest is kept as said and the reply says so.

Not where the rest denies, hopes, asks, counts people, names units or times, or reports something by itself: then the
whole is asked about, as before.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal, NamedTuple

from grammar.commands import Benchmark, Choice, Command, Context, Question, Reading, Report
from grammar.describe import several
from grammar.items import Item
from grammar.lexicon import by_language
from grammar.polarity import mark_polarity
from grammar.questions import clauses
from grammar.readers.benchmarks import RULES
from grammar.spelling import spellings
from grammar.stretch import LOGGED
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

Read = Callable[[str], Reading]

_TAKE = 0.8
_SURE = 0.85
"""Confidence of a report whose rest was kept."""
_LONGEST = 40
"""Most words of such a message."""
_SUBJECT = 4
"""Most words before a report that only say what it is of: "the barn's …"."""
_CUT = re.compile(r"[,;:.\n]+(?=\s|$)|\s-+\s")


class _Clause(NamedTuple):
    """What stands between two pauses: the commands that are sure, and the words that are kept."""

    commands: tuple[Command, ...]
    rest: str


def keep_rest(text: str, context: Context, known: Names, guessed: Reading, read: Read) -> Reading | None:
    """The report in a message that couldn't be read as a whole, its rest kept as said; None where that isn't certain.

    `guessed`: how it was read as a whole; what that logs is never among the words kept. `read`: the reader, for a part
    of the message by itself.
    """
    if len(tokens(text)) > _LONGEST or not _names_a_report(text, known) or _tells_or_asks(text, known):
        return None
    parts: list[_Clause] = []
    unread: list[str] = []
    for words in (part for raw in _CUT.split(text) if (part := raw.strip())):
        clause = _clause(words, context, known, read)
        if clause is not None:
            parts.append(clause)
        elif guessed.question is not None or _doubted(words, known):
            return None
        else:
            unread.append(words)
    commands = tuple(command for part in parts for command in part.commands)
    reports = [command for command in commands if isinstance(command, Benchmark)]
    if not reports or _more_in(guessed, commands):
        return None
    rest = ", ".join(part.rest for part in parts if part.rest)
    if unread:
        return _without(text, commands, rest, unread, context)
    counted = any(item.kind == "num" for item in _items(rest, known))
    if not rest or (counted and not _counts_allowed(reports)) or _too_little(parts, known):
        return None
    kind: Literal["size_up", "note"] = (
        "size_up" if any(report.benchmark == "on_scene" for report in reports) else "note"
    )
    kept = Report(kind, rest, reports[0].unit)
    return Reading(text, (*commands, kept), _SURE, intent=commands[0].intent, assumed=(f"kept as said: “{rest}”",))


def _without(text: str, commands: tuple[Command, ...], rest: str, unread: list[str], context: Context) -> Reading:
    """The report is certain, but what else was said may report something too: asked, and the rest is named."""
    left = ", ".join(unread)
    kept = Report("note", ", ".join(part for part in (rest, left) if part))
    asked = f"Log “{several(commands, context.wording)}”? Not read: “{left}”: say that by itself."
    question = Question(asked, (Choice("log it", (*commands, kept)), Choice("no")))
    return Reading(text, confidence=0.5, question=question, intent=commands[0].intent)


def _doubted(words: str, known: Names) -> bool:
    """It denies, hopes or asks: that may be meant of the report beside it."""
    items = _items(words, known)
    return mark_polarity(items) or any(item.polarity or item.polarity_mark for item in items)


def _too_little(parts: list[_Clause], known: Names) -> bool:
    """A word or two before the report that mean nothing here: they may be another report, misspelt."""
    for part in parts:
        if part.commands:
            return False
        content = [item for item in _items(part.rest, known) if not item.free and item.kind != "sep"]
        if len(tokens(part.rest)) < 4 and all(item.kind == "word" for item in content):
            return True
    return False


def _more_in(guessed: Reading, commands: tuple[Command, ...]) -> bool:
    """A likely reading of the whole logs something besides, which would be lost among the words kept."""
    likely = [*(choice.commands for choice in guessed.question.choices)] if guessed.question else []
    likely += [rival.commands for rival in guessed.rivals]
    taken = {_deed(command) for command in commands}
    return any(
        isinstance(c, LOGGED) and not isinstance(c, Report) and _deed(c) not in taken for some in likely for c in some
    )


def _deed(command: Command) -> object:
    return command.benchmark if isinstance(command, Benchmark) else type(command)


def _counts_allowed(reports: list[Benchmark]) -> bool:
    """On arrival and with a patient, numbers describe what is seen: "two cars, one pinned"."""
    return any(report.benchmark in ("on_scene", "patient_contact") for report in reports)


def _items(text: str, known: Names) -> list[Item]:
    found = tokens(text)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


def _tells_or_asks(text: str, known: Names) -> bool:
    items = _items(text, known)
    return mark_polarity(items) or any("tale" in item.polarity | item.concepts for item in items)


def _clause(words: str, context: Context, known: Names, read: Read) -> _Clause | None:
    """One clause: read for sure, or a report with words before or after it, or kept whole; None: neither is certain."""
    whole = read(words)
    if whole.commands and whole.confidence >= _TAKE and all(map(_may_stand_beside, whole.commands)):
        kept = [c.text for c in whole.commands if isinstance(c, Report) and c.kind in ("size_up", "note")]
        return _Clause(tuple(c for c in whole.commands if not isinstance(c, Report) or not kept), words if kept else "")
    if _harmless(words, known, read):
        return _Clause((), words)
    return _report_within(words, known, read) if _names_a_report(words, known) else None


_SUBJECTS = frozenset(subject for rule in RULES for subject in rule.subject)


def _names_a_report(words: str, known: Names) -> bool:
    return any(not item.concepts.isdisjoint(_SUBJECTS) for item in _items(words, known))


def _may_stand_beside(command: Command) -> bool:
    return isinstance(command, Benchmark | Report)


def _report_within(words: str, known: Names, read: Read) -> _Clause | None:
    """The longest beginning, or the longest end, that is a report for sure, the other words being harmless."""
    said = words.split()
    for k in range(len(said) - 1, 0, -1):
        head, tail = " ".join(said[:k]), " ".join(said[k:])
        whole = said[k - 1].casefold() not in word_list("reader_govern") | word_list("polarity_determiners")
        if whole and _a_tail(tail, known) and (found := _sure_report(head, read)) and _harmless(tail, known, read):
            return _Clause((found,), tail)
    for k in range(1, min(len(said) - 1, _SUBJECT) + 1):
        head, tail = " ".join(said[:k]), " ".join(said[k:])
        if (found := _sure_report(tail, read)) is not None and _is_what_burns(head, known):
            return _Clause((found,), words)
    return None


def _a_tail(words: str, known: Names) -> bool:
    """Words of their own, not the end of the report's own phrase: "… from the neighbor's hose"."""
    items = _items(words, known)
    content = [item for item in items if not item.free and item.kind != "sep"]
    known_words = all(item.kind != "word" or item.form == "plain" for item in content)
    return len(content) > 1 and not items[0].free and known_words and not _misspelt(words, known)


def _misspelt(words: str, known: Names) -> bool:
    """A word had to be put right to be read."""
    return any(spellings(tokens(words), known, False)[0].costs)


def _sure_report(words: str, read: Read) -> Benchmark | None:
    reading = read(words)
    if reading.confidence < _TAKE or len(reading.commands) != 1 or reading.assumed:
        return None
    return reading.commands[0] if isinstance(reading.commands[0], Benchmark) else None


def _is_what_burns(words: str, known: Names) -> bool:
    """ "The barn is": a thing that burns, and nothing else."""
    items = [item for item in _items(words, known) if item.kind != "sep" and not item.free]
    if _misspelt(words, known):
        return False
    return bool(items) and all(
        item.kind == "place"
        or item.text in word_list("kept_burning")
        or not item.concepts.isdisjoint(("building", "incident_fire", "fire_word"))
        for item in items
    )


@by_language
def _reporting() -> frozenset[str]:
    return frozenset(one for one in word_list("strong") if one != "floor" and not one.startswith("unit:"))


_NOT_KEPT = frozenset(("unit", "line", "family", "time", "badtime", "person"))


def _harmless(words: str, known: Names, read: Read) -> bool:
    """Words that only describe: nothing denied, hoped, asked or counted of people, and no report by itself."""
    items = _items(words, known)
    mark_polarity(items)
    plain = _without_plain_denials(items)
    if any(item.polarity or item.polarity_mark for item in plain):
        return False
    for item in plain:
        if item.kind in _NOT_KEPT or (item.kind == "num" and item.unit in ("gpm", "psi", "gal", "min", "s", "percent")):
            return False
        if not item.concepts.isdisjoint(_reporting()):
            return False
        if not item.free and item.concepts & word_list("kept_people"):
            return False
    said = words.casefold().split()
    heard = {word for item in plain for word in item.text.split()}
    if said[0] in word_list("kept_orders") or word_list("kept_counted") & {*said, *heard}:
        return False
    content = [item for item in plain if not item.free]
    if len(content) < 3 and any(item.kind == "word" and item.form != "plain" for item in content):
        return False  # too little to tell a strange word from a misspelt report
    reading = read(words)
    if reading.intent == "pump_pressure" and not reading.commands:
        return not any(item.kind == "num" for item in plain)  # "setting up the ladder pipe"
    return reading.intent in (None, Report.intent, "needed_flow", "incident_kind")


def _without_plain_denials(items: list[Item]) -> list[Item]:
    """Leaves out "nobody hurt", "nothing found": they deny nothing that was reported."""
    kept: list[Item] = []
    for lo, hi in clauses(items):
        clause = [item for item in items[lo:hi] if item.kind != "sep"]
        said = " ".join(item.text for item in clause)
        if not any(said == way or said.startswith(f"{way} ") for way in word_list("kept_denials")):
            kept += clause
    return kept
