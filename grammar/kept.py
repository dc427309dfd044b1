"""A report with free words around it: what is understood is taken, the rest is kept as said and the reply says so.

Not where the rest denies, hopes, asks, counts people, names units or times, or reports something by itself: then the
whole is asked about, as before.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

import msgspec

from grammar.beside import (
    SUBJECTS,
    arrives,
    counts_allowed,
    is_count,
    items_of,
    leaves_out,
    misspelt,
    names_a_unit,
    reporting,
    told,
)
from grammar.calls import Call, past_the_call
from grammar.commands import (
    AirReading,
    Assign,
    Benchmark,
    Choice,
    ComingOut,
    Command,
    Context,
    Emergency,
    Entry,
    Exit,
    IncidentKind,
    Par,
    Question,
    Reading,
    Rehab,
    Report,
    Strategy,
    SupplyExpected,
    WaterSource,
)
from grammar.costs import TAKE
from grammar.describe import several
from grammar.doubt import around
from grammar.items import POLARITY, Item
from grammar.polarity import mark_polarity
from grammar.questions import calls, clauses
from grammar.spelling import spellings
from grammar.stretch import LOGGED
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

Read = Callable[[str], Reading]

_SURE = 0.85
"""Confidence of a report whose rest was kept."""
_LONGEST = 60
"""Most words of such a message."""
_LIKELY = 0.35
"""Below this a reading of the whole is no rival to what its clauses say."""
_SUBJECT = 4
"""Most words before a report that only say what it is of: "the barn's …"."""
_CUT = re.compile(r"[,;:.\n]+(?=\s|$)|\s-+\s")


class _Clause(NamedTuple):
    """What stands between two pauses: the commands that are sure, and the words that are kept."""

    commands: tuple[Command, ...]
    rest: str


def keep_rest(text: str, context: Context, known: Names, guessed: Reading, read: Read) -> Reading | None:
    """What was told in a message that couldn't be read as a whole, the rest kept as said; None where it isn't certain.

    `guessed`: how it was read as a whole; what that logs is never among the words kept. `read`: the reader, for a part
    of the message by itself.
    """
    if len(tokens(text)) > _LONGEST:
        return None
    if (urgent := _urgent(text, known, read)) is not None:
        return urgent
    call = past_the_call(text, items_of(text, known), known)
    if call is not None:
        again = read(call.said)
        if again.commands and again.confidence >= TAKE:
            return None if _whose(again.commands, call) else msgspec.structs.replace(again, text=text)
        again = msgspec.structs.replace(again, text=text)
        guessed = again if again.question is not None or again.intent is not None else guessed
    said = call.said if call is not None else text
    return _kept_of(text, said, call, context, known, guessed, read) or (
        again if call is not None and again.intent else None
    )


def _urgent(text: str, known: Names, read: Read) -> Reading | None:
    """Urgent traffic, announced by itself: what it is stays in its words, and nothing else is taken from them."""
    first = _CUT.split(text)[0].strip()
    said = read(first) if first != text.strip() else None
    if said is None or said.confidence < TAKE or len(said.commands) != 1:
        return None
    (command,) = said.commands
    if not isinstance(command, Emergency) or command.kind != "emergency_traffic":
        return None
    return Reading(text, (msgspec.structs.replace(command, text=text),), _SURE, intent=command.intent)


def _kept_of(
    text: str, said: str, call: Call | None, context: Context, known: Names, guessed: Reading, read: Read
) -> Reading | None:
    if _tells_or_asks(said, known):
        return None
    parts = [(words, _clause(words, context, known, read)) for words in _parted(said, known)]
    parts = [halves for one in parts for halves in _halved(*one, context, known, read)]
    sure = tuple(command for _, part in parts if part is not None for command in part.commands)
    reports = [command for command in sure if not isinstance(command, _NO_REPORT)]
    people = [command for command in reports if isinstance(command, _OF_PEOPLE)]
    if len(people) > 1 and any(isinstance(command, Par) and command.request for command in people):
        return None  # "engine 9 is out and has PAR"
    if not reports or _more_in(guessed, sure) or (call is not None and _whose(sure, call)):
        return None
    if any(part is not None and not part.commands and leaves_out(words, reports, known) for words, part in parts):
        return None
    taken = [_Clause((), words) if part is None and told(words, reports, known) else part for words, part in parts]
    unread = [words for (words, _), part in zip(parts, taken, strict=True) if part is None]
    if any(_doubted(words, known) for words in unread) or (unread and guessed.question is not None):
        return None
    parts_taken = [part for part in taken if part is not None]
    if not arrives(reports) and any(part.rest and _slipped(part.rest, known, read) for part in parts_taken):
        return None
    return _taken(text, parts_taken, unread, reports, context, known)


def _slipped(words: str, known: Names, read: Read) -> bool:
    """Misspelt perhaps, and put right it says something by itself: "truck 4 to the rof"."""
    items = items_of(words, known)
    strange = [item for item in items if item.kind == "word" and not item.free and item.form != "plain"]
    if any(item.text in words for item in strange) and any(item.kind in _TELLING for item in items):
        return True  # in small letters it may be a slip in what the company does
    said = spellings(tokens(words), known, False)
    others = (" ".join(one.words) for one in said[:_SPELLINGS] if any(one.costs))
    return any(read(other).intent not in (None, Report.intent) for other in others)


_TELLING = frozenset(("unit", "num", "floor"))
_SPELLINGS = 4
"""Spellings of what would be kept that are looked at."""


def _parted(said: str, known: Names) -> list[str]:
    """The clauses between pauses; a company named between pauses goes with what it tells or is told."""
    parts: list[str] = []
    alone = False
    for words in (part for raw in _CUT.split(said) if (part := raw.strip())):
        said_of = [item for item in items_of(words, known) if item.kind != "sep"]
        content = [item for item in said_of if not item.free or "arrived_word" in item.concepts]
        named = len(content) == 1 and content[0].kind == "unit"
        if alone or (named and parts):
            parts[-1] = f"{parts[-1]}, {words}"
        else:
            parts.append(words)
        alone = named and len(parts) == 1 and parts[0] == words
    return parts


_AND_FIRST = re.compile(r"^and\s+(?!then\b)", re.IGNORECASE)
_AND = re.compile(r",?\s+(?:and|but)\s+", re.IGNORECASE)


def _halved(
    words: str, read_as: _Clause | None, context: Context, known: Names, read: Read
) -> list[tuple[str, _Clause | None]]:
    """A clause that isn't read, parted at its "and" where nothing before it bears on what follows."""
    halves = _AND.split(words) if read_as is None else []
    items = items_of(_AND.split(words)[0], known)
    mark_polarity(items)
    if len(halves) != 2 or any((item.polarity | item.concepts) & POLARITY for item in items):
        return [(words, read_as)]
    both = [(half, _clause(half, context, known, read)) for half in halves]
    first, second = both[0][1], both[1][1]  # "one more room and the primary is done" is yet to come
    if first is None or not first.commands:
        return [(words, read_as)]
    if second is None:
        return both if halves[1].casefold().split()[0] in word_list("kept_orders") else [(words, read_as)]
    return both if second.commands or not _names_a_report(halves[1], known) else [(words, read_as)]


def _taken(
    text: str, parts: list[_Clause], unread: list[str], reports: Sequence[Command], context: Context, known: Names
) -> Reading | None:
    commands = _by_whom(parts, known)
    rest = ", ".join(part.rest for part in parts if part.rest and not _only_calls(part.rest, known))
    if unread:
        return _without(text, commands, rest, unread, context)
    if not rest:
        return Reading(text, commands, _SURE, intent=commands[0].intent) if len(parts) > 1 else None
    if any(isinstance(c, _OF_PEOPLE) and c.unit is None for c in reports) and names_a_unit(rest, known):
        return None  # whose they are may be said there
    counted = any(is_count(part.rest, known) for part in parts)
    if (counted and not counts_allowed(reports)) or _too_little(parts, known):
        return None
    kind: Literal["size_up", "note"] = "size_up" if arrives(reports) else "note"
    unit = next((unit for report in reports if (unit := getattr(report, "unit", None))), None)
    kept = Report(kind, rest, unit)
    return Reading(text, (*commands, kept), _SURE, intent=commands[0].intent, assumed=(f"kept as said: “{rest}”",))


_OF_A_UNIT = ("on_scene", "en_route", "available", "returning", "in_quarters")
"""What a company reports of itself."""


def _by_whom(parts: list[_Clause], known: Names) -> tuple[Command, ...]:
    """The commands; a company that was spoken of right before is the one that arrives: "truck 4's up the drive, on
    scene"."""
    unit: str | None = None
    commands: list[Command] = []
    for part in parts:
        for command in part.commands:
            own = isinstance(command, Benchmark) and command.benchmark in _OF_A_UNIT and command.unit is None
            if own and _deed(command) in {_deed(c) for c in commands if getattr(c, "unit", None)}:
                continue  # "truck 4 pulling up, we're on scene"
            commands.append(msgspec.structs.replace(command, unit=unit) if own and unit else command)
        first = (
            next((item for item in items_of(part.rest, known) if not item.free), None) if not part.commands else None
        )
        unit = str(first.value) if first is not None and first.kind == "unit" else None
    return tuple(commands)


def _whose(commands: tuple[Command, ...], call: Call) -> bool:
    """Somebody else who goes by no company's name calls, and whose count or way it is isn't said."""
    if call.unit:
        return False
    return any(isinstance(c, _OF_PEOPLE) and c.unit is None for c in commands)


_OF_PEOPLE = (Par, Entry, Exit, ComingOut, AirReading, Rehab)


_NO_REPORT = (Report, IncidentKind, WaterSource, SupplyExpected)
"""What alone makes no message whose rest is kept."""


def _without(text: str, commands: tuple[Command, ...], rest: str, unread: list[str], context: Context) -> Reading:
    """The report is certain, but what else was said may report something too: asked, and the rest is named."""
    left = ", ".join(unread)
    kept = Report("note", ", ".join(part for part in (rest, left) if part))
    asked = f"Log “{several(commands, context.wording)}”? Not read: “{left}”: say that by itself."
    question = Question(asked, (Choice("log it", (*commands, kept)), Choice("no")))
    return Reading(text, confidence=0.5, question=question, intent=commands[0].intent)


def _doubted(words: str, known: Names) -> bool:
    """It denies, hopes or asks: that may be meant of the report beside it."""
    items = items_of(words, known)
    return mark_polarity(items) or any(item.polarity or item.polarity_mark for item in items)


def _only_calls(words: str, known: Names) -> bool:
    """Who speaks to whom, and nothing else: "attack to command"."""
    items = [item for item in items_of(words, known) if item.kind != "sep" and item.text not in ("to", "two")]
    return all(item.free or calls(item) or item.text in around("who") for item in items)


def _too_little(parts: list[_Clause], known: Names) -> bool:
    """A word or two before the report that mean nothing here: they may be another report, misspelt."""
    for part in parts:
        if part.commands:
            return False
        content = [item for item in items_of(part.rest, known) if not item.free and item.kind != "sep"]
        if tokens(part.rest) and tokens(part.rest)[0].text in word_list("kept_heard"):
            continue
        if len(tokens(part.rest)) < 4 and all(item.kind == "word" for item in content):
            return True
    return False


def _more_in(guessed: Reading, commands: tuple[Command, ...]) -> bool:
    """A likely reading of the whole logs something besides, which would be lost among the words kept."""
    if guessed.confidence < _LIKELY:
        return False
    likely = [*(choice.commands for choice in guessed.question.choices)] if guessed.question else []
    likely += [rival.commands for rival in guessed.rivals]
    taken = {_deed(command) for command in commands}
    return any(
        isinstance(c, LOGGED) and not isinstance(c, Report) and _deed(c) not in taken for some in likely for c in some
    )


def _deed(command: Command) -> object:
    return command.benchmark if isinstance(command, Benchmark) else type(command)


def _tells_or_asks(text: str, known: Names) -> bool:
    items = items_of(text, known)
    return mark_polarity(items) or any("tale" in item.polarity | item.concepts for item in items)


def _clause(words: str, context: Context, known: Names, read: Read) -> _Clause | None:
    """One clause: read for sure, or a report with words before or after it, or kept whole; None: neither is certain."""
    whole = read(_AND_FIRST.sub("", words))
    if whole.commands and whole.confidence >= TAKE and all(map(_may_stand_beside, whole.commands)):
        kept = [c.text for c in whole.commands if isinstance(c, Report) and c.kind in ("size_up", "note")]
        return _Clause(tuple(c for c in whole.commands if not isinstance(c, Report) or not kept), words if kept else "")
    if _harmless(words, known, read):
        return _Clause((), words)
    return _report_within(words, known, read) if _names_a_report(words, known) else None


def _names_a_report(words: str, known: Names) -> bool:
    return any(not item.concepts.isdisjoint(SUBJECTS | word_list("kept_reports")) for item in items_of(words, known))


def _may_stand_beside(command: Command) -> bool:
    if isinstance(command, Par) and command.count is None and not command.request:
        return False
    return isinstance(command, _BESIDE)


_BESIDE = (
    Benchmark,
    Report,
    Strategy,
    Assign,
    IncidentKind,
    Par,
    Entry,
    Exit,
    ComingOut,
    Rehab,
    WaterSource,
    SupplyExpected,
)
"""What is taken beside other reports of one message, each clause read for sure."""


def _report_within(words: str, known: Names, read: Read) -> _Clause | None:
    """The longest beginning, or the longest end, that is a report for sure, the other words being harmless."""
    said = words.split()
    for k in range(len(said) - 1, 0, -1):
        head, tail = " ".join(said[:k]), " ".join(said[k:])
        whole = said[k - 1].casefold() not in word_list("reader_govern") | word_list("polarity_determiners")
        found = _sure_report(head, read) if whole and _a_tail(tail, known) else None
        if found and _harmless(tail, known, read) and not leaves_out(tail, [found], known):
            return _Clause((found,), tail)
        doing = said[k].casefold().endswith("ing") and _harmless(tail, known, read)
        if doing and (found := _sure_report(head, read, (Exit, Entry, Assign))):
            return _Clause((found,), tail)  # "engine 17's guys are back outside swapping cylinders"
        seen = said[k].casefold() in _SEEN_WITH and (found := _sure_report(head, read)) and arrives([found])
        if seen and found is not None and told(tail, [found], known):
            return _Clause((found,), tail)  # "on scene with smoke out the gable vents"
    for k in range(1, min(len(said) - 1, _SUBJECT) + 1):
        head, tail = " ".join(said[:k]), " ".join(said[k:])
        if (found := _sure_report(tail, read)) is not None and _is_what_burns(head, known):
            return _Clause((found,), words)
    return None


_SEEN_WITH = frozenset(("with", "of", "on", "at", "to", "from", "in", "for"))


def _a_tail(words: str, known: Names) -> bool:
    """Words of their own, not the end of the report's own phrase: "… from the neighbor's hose"."""
    items = items_of(words, known)
    content = [item for item in items if not item.free and item.kind != "sep"]
    known_words = all(item.kind != "word" or item.form == "plain" for item in content)
    return len(content) > 1 and not items[0].free and known_words and not misspelt(words, known)


def _sure_report(words: str, read: Read, kinds: tuple[type[Command], ...] = (Benchmark,)) -> Command | None:
    reading = read(words)
    if reading.confidence < TAKE or len(reading.commands) != 1 or reading.assumed:
        return None
    return reading.commands[0] if isinstance(reading.commands[0], kinds) else None


def _is_what_burns(words: str, known: Names) -> bool:
    """ "The barn is": a thing that burns, and nothing else."""
    items = [item for item in items_of(words, known) if item.kind != "sep" and not item.free]
    if misspelt(words, known):
        return False
    return bool(items) and all(
        item.kind == "place"
        or item.text in word_list("kept_burning")
        or not item.concepts.isdisjoint(("building", "incident_fire", "fire_word"))
        for item in items
    )


_NOT_KEPT = frozenset(("unit", "line", "family", "time", "badtime", "person"))


def _harmless(words: str, known: Names, read: Read) -> bool:
    """Words that only describe: nothing denied, hoped, asked or counted of people, and no report by itself."""
    items = items_of(words, known)
    mark_polarity(items)
    plain = _without_plain_denials(items)
    if any(item.polarity or item.polarity_mark for item in plain):
        return False
    for item in plain:
        if item.kind in _NOT_KEPT or (item.kind == "num" and item.unit in ("gpm", "psi", "gal", "min", "s", "percent")):
            return False
        if not item.concepts.isdisjoint(reporting() | {"command_word", "par_request"}):
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
