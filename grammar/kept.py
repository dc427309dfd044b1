"""A report with free words around it: what is understood is taken, the rest is kept as said and the reply says so.

Not where the rest denies, hopes, asks, counts people, names units or times, or reports something by itself: then the
whole is asked about, as before.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from msgspec.structs import replace

from grammar import commands as c
from grammar.beside import SUBJECTS, arrives, counts_allowed, is_count, items_of, leaves_out, misspelt, reporting, told
from grammar.calls import Call, past_the_call
from grammar.commands import Benchmark, Choice, Command, Context, Emergency, Question, Reading, Report
from grammar.confidence import ASKED, KEPT, LIKELY_TOO
from grammar.costs import TAKE
from grammar.describe import several
from grammar.doubt import around
from grammar.items import Item
from grammar.polarity import mark_polarity
from grammar.questions import calls, clauses
from grammar.spelling import spellings
from grammar.stretch import LOGGED
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

Read = Callable[[str], Reading]

_LONGEST = 60
"""Most words of such a message."""
_SUBJECT = 4
"""Most words before a report that only say what it is of: "the barn's …"."""
_SPELLINGS = 4
"""Spellings of what would be kept that are looked at."""
_CUT = re.compile(r"[,;:.\n]+(?=\s|$)|\s-+\s")
_OF_PEOPLE = (c.Par, c.Entry, c.Exit, c.ComingOut, c.AirReading, c.Rehab)
_NO_REPORT = (Report, c.IncidentKind, c.WaterSource, c.SupplyExpected)
"""What alone makes no message whose rest is kept."""
_BESIDE = (Benchmark, c.Strategy, c.Assign, c.Par, c.Entry, c.Exit, c.ComingOut, c.Rehab, *_NO_REPORT)
"""What is taken beside other reports of one message, each clause read for sure."""


class _Clause(NamedTuple):
    """What stands between two pauses: the commands that are sure, and the words that are kept."""

    commands: tuple[Command, ...]
    rest: str


class _Part(NamedTuple):
    """The words between two pauses, and what they are; None: neither read nor kept for sure."""

    words: str
    clause: _Clause | None


def keep_rest(text: str, context: Context, known: Names, guessed: Reading, read: Read) -> Reading | None:
    """What was told in a message that couldn't be read as a whole, the rest kept as said; None where it isn't certain.

    `guessed`: how it was read as a whole; what that logs is never among the words kept. `read`: the reader, for a part
    of the message by itself.
    """
    if len(tokens(text)) > _LONGEST:
        return None
    if (urgent := _urgent(text, read)) is not None:
        return urgent
    call = past_the_call(text, items_of(text, known), known)
    if call is None:
        return _Keeper(text, context, known, read).keep(text, guessed, None)
    again = read(call.said)
    if again.commands and again.confidence >= TAKE:
        return None if _whose(again.commands, call) else replace(again, text=text)
    guessed = again if again.question is not None or again.intent is not None else guessed
    kept = _Keeper(text, context, known, read).keep(call.said, guessed, call)
    return kept or (replace(again, text=text) if again.intent else None)


def _urgent(text: str, read: Read) -> Reading | None:
    """Urgent traffic, announced by itself: what it is stays in its words, and nothing else is taken from them."""
    first = _CUT.split(text)[0].strip()
    found = _sure(read(first), (Emergency,)) if first != text.strip() else None
    if not isinstance(found, Emergency) or found.kind != "emergency_traffic":
        return None
    return Reading(text, (replace(found, text=text),), KEPT, intent=found.intent)


def _whose(commands: Sequence[Command], call: Call) -> bool:
    """Somebody else who goes by no company's name calls, and whose count or way it is isn't said."""
    return not call.unit and any(isinstance(one, _OF_PEOPLE) and one.unit is None for one in commands)


def _sure(reading: Reading, kinds: tuple[type[Command], ...] = (Benchmark,)) -> Command | None:
    """The one command that it is for sure."""
    one = reading.commands[0] if len(reading.commands) == 1 and reading.confidence >= TAKE else None
    return one if isinstance(one, kinds) and not reading.assumed else None


class _Keeper(NamedTuple):
    """One message, and what reads its parts."""

    text: str
    context: Context
    known: Names
    read: Read

    def keep(self, said: str, guessed: Reading, call: Call | None) -> Reading | None:
        """What was told in `said`, the rest kept."""
        items = items_of(said, self.known)
        if mark_polarity(items) or any("tale" in item.polarity | item.concepts for item in items):
            return None
        parts = [half for words in self._parted(said) for half in self._halved(_Part(words, self._clause(words)))]
        sure = [command for part in parts if part.clause for command in part.clause.commands]
        reports = [command for command in sure if not isinstance(command, _NO_REPORT)]
        if not reports or _more_in(guessed, sure) or (call is not None and _whose(sure, call)):
            return None
        if any(self._leaves_out(part, reports) for part in parts):
            return None
        taken = [self._told(part, reports) for part in parts]
        unread = [part.words for part in taken if part.clause is None]
        if any(map(self._doubted, unread)) or (unread and guessed.question is not None):
            return None
        kept = [part.clause for part in taken if part.clause is not None]
        if not arrives(reports) and any(self._slipped(part.rest) for part in kept):
            return None
        return self._taken(kept, unread, reports)

    def _leaves_out(self, part: _Part, reports: Sequence[Command]) -> bool:
        kept = part.clause is not None and not part.clause.commands
        return kept and leaves_out(part.words, reports, self.known)

    def _told(self, part: _Part, reports: Sequence[Command]) -> _Part:
        """What only describes, hopes or orders is kept."""
        kept = part.clause is None and told(part.words, reports, self.known)
        return part._replace(clause=_Clause((), part.words)) if kept else part

    def _doubted(self, words: str) -> bool:
        """It denies, hopes or asks: that may be meant of the report beside it."""
        items = items_of(words, self.known)
        return mark_polarity(items) or any(item.polarity or item.polarity_mark for item in items)

    def _slipped(self, words: str) -> bool:
        """Misspelt perhaps, and put right it says something by itself: "truck 4 to the rof"."""
        items = items_of(words, self.known)
        small = any(
            item.kind == "word" and not item.free and item.form != "plain" and item.text in words for item in items
        )
        if small and any(item.kind in ("unit", "num", "floor") for item in items):
            return True  # in small letters it may be a slip in what the company does
        said = spellings(tokens(words), self.known, False) if words else []
        others = (" ".join(one.words) for one in said[:_SPELLINGS] if any(one.costs))
        return any(self.read(other).intent not in (None, Report.intent) for other in others)

    def _parted(self, said: str) -> list[str]:
        """The clauses between pauses; a company named between pauses goes with what it tells or is told."""
        parts: list[str] = []
        alone = False
        for words in (part for raw in _CUT.split(said) if (part := raw.strip())):
            items = [item for item in items_of(words, self.known) if item.kind != "sep"]
            content = [item for item in items if not item.free or "arrived_word" in item.concepts]
            named = len(content) == 1 and content[0].kind == "unit"
            if parts and (alone or named):
                parts[-1] = f"{parts[-1]}, {words}"
            else:
                parts.append(words)
            alone = named and len(parts) == 1 and parts[0] == words
        return parts

    def _halved(self, part: _Part) -> list[_Part]:
        """A clause that isn't read, parted at its "and" where nothing before it bears on what follows."""
        halves = _AND.split(part.words) if part.clause is None else []
        if len(halves) != 2 or self._doubted(halves[0]):
            return [part]
        first, second = (_Part(half, self._clause(half)) for half in halves)
        if first.clause is None or not first.clause.commands:
            return [part]  # "one more room and the primary is done" is yet to come
        if second.clause is None:
            ordered = second.words.casefold().split()[0] in word_list("kept_orders")
            return [first, second] if ordered else [part]
        return [first, second] if second.clause.commands or not self._names_a_report(second.words) else [part]

    def _taken(self, parts: list[_Clause], unread: list[str], reports: Sequence[Command]) -> Reading | None:
        commands = self._by_whom(parts)
        rest = ", ".join(part.rest for part in parts if part.rest and not self._only_calls(part.rest))
        if unread:
            return self._without(commands, rest, ", ".join(unread))
        if not rest:
            return Reading(self.text, commands, KEPT, intent=commands[0].intent) if len(parts) > 1 else None
        counted = not counts_allowed(reports) and any(is_count(part.rest, self.known) for part in parts)
        if counted or self._too_little(parts) or self._says_whose(rest, reports):
            return None
        kind: Literal["size_up", "note"] = "size_up" if arrives(reports) else "note"
        unit = next((unit for report in reports if (unit := getattr(report, "unit", None))), None)
        kept = (*commands, Report(kind, rest, unit))
        return Reading(self.text, kept, KEPT, intent=kept[0].intent, assumed=(f"kept as said: “{rest}”",))

    def _says_whose(self, rest: str, reports: Sequence[Command]) -> bool:
        """Nobody is named with a crew's report, and a company is in the words that would be kept."""
        nobodys = any(isinstance(one, _OF_PEOPLE) and one.unit is None for one in reports)
        return nobodys and any(item.kind == "unit" for item in items_of(rest, self.known))

    def _by_whom(self, parts: list[_Clause]) -> tuple[Command, ...]:
        """The commands; a company that was spoken of right before is the one that arrives: "truck 4's up the drive, on
        scene"."""
        unit: str | None = None
        commands: list[Command] = []
        for part in parts:
            for command in part.commands:
                mark = command if isinstance(command, Benchmark) and command.unit is None else None
                own = mark is not None and mark.benchmark in word_list("kept_of_a_unit")
                if own and _deed(command) in {_deed(one) for one in commands if getattr(one, "unit", None)}:
                    continue  # "truck 4 pulling up, we're on scene"
                commands.append(replace(mark, unit=unit) if mark and own and unit else command)
            named = [] if part.commands else [item for item in items_of(part.rest, self.known) if not item.free]
            unit = str(named[0].value) if named and named[0].kind == "unit" else None
        return tuple(commands)

    def _without(self, commands: tuple[Command, ...], rest: str, left: str) -> Reading:
        """The report is certain, but what else was said may report something too: asked, and the rest is named."""
        kept = Report("note", ", ".join(part for part in (rest, left) if part))
        asked = f"Log “{several(commands, self.context.wording)}”? Not read: “{left}”: say that by itself."
        question = Question(asked, (Choice("log it", (*commands, kept)), Choice("no")))
        return Reading(self.text, confidence=ASKED, question=question, intent=commands[0].intent)

    def _only_calls(self, words: str) -> bool:
        """Who speaks to whom, and nothing else: "attack to command"."""
        said = around("who") | word_list("kept_called")
        return all(i.kind == "sep" or i.free or calls(i) or i.text in said for i in items_of(words, self.known))

    def _too_little(self, parts: list[_Clause]) -> bool:
        """A word or two before the report that mean nothing here: they may be another report, misspelt."""
        for part in parts:
            said = tokens(part.rest)
            if part.commands or not said:
                return False
            content = [item for item in items_of(part.rest, self.known) if not item.free and item.kind != "sep"]
            if len(said) < 4 and all(item.kind == "word" for item in content):
                return True
        return False

    def _clause(self, words: str) -> _Clause | None:
        """One clause: read for sure, or a report with words before or after it, or kept whole; None: neither is
        certain."""
        whole = self.read(_AND_FIRST.sub("", words))
        if whole.commands and whole.confidence >= TAKE and all(isinstance(one, _BESIDE) for one in whole.commands):
            kept = [one for one in whole.commands if isinstance(one, Report) and one.kind in ("size_up", "note")]
            told_of = tuple(one for one in whole.commands if not isinstance(one, Report) or not kept)
            return _Clause(told_of, words if kept else "")
        if self._harmless(words):
            return _Clause((), words)
        return self._report_within(words) if self._names_a_report(words) else None

    def _names_a_report(self, words: str) -> bool:
        telling = SUBJECTS | word_list("kept_reports")
        return any(item.concepts & telling for item in items_of(words, self.known))

    def _report_within(self, words: str) -> _Clause | None:
        """The longest beginning, or the longest end, that is a report for sure, the other words being harmless."""
        said = words.split()
        for k in range(len(said) - 1, 0, -1):
            head, tail = " ".join(said[:k]), " ".join(said[k:])
            found = self._before(head, tail, said[k - 1].casefold(), said[k].casefold())
            if found is not None:
                return _Clause((found,), tail)
        for k in range(1, min(len(said) - 1, _SUBJECT) + 1):
            found = _sure(self.read(" ".join(said[k:])))
            if found is not None and self._is_what_burns(" ".join(said[:k])):
                return _Clause((found,), words)
        return None

    def _before(self, head: str, tail: str, last: str, first: str) -> Command | None:
        """What the words before are for sure, where those behind may be kept."""
        found = None
        if last not in word_list("reader_govern") | word_list("polarity_determiners") and self._a_tail(tail):
            found = _sure(self.read(head))
        if found is not None and self._harmless(tail) and not leaves_out(tail, [found], self.known):
            return found
        if first.endswith("ing") and self._harmless(tail):
            return _sure(
                self.read(head), (c.Exit, c.Entry, c.Assign)
            )  # "engine 17's guys are back outside swapping cylinders"
        found = _sure(self.read(head)) if first in word_list("kept_seen_with") else None
        seen = found is not None and arrives([found]) and told(tail, [found], self.known)
        return found if seen else None  # "on scene with smoke out the gable vents"

    def _a_tail(self, words: str) -> bool:
        """Words of their own, not the end of the report's own phrase: "… from the neighbor's hose"."""
        items = items_of(words, self.known)
        content = [item for item in items if not item.free and item.kind != "sep"]
        known = all(item.kind != "word" or item.form == "plain" for item in content)
        return len(content) > 1 and not items[0].free and known and not misspelt(words, self.known)

    def _is_what_burns(self, words: str) -> bool:
        """ "The barn is": a thing that burns, and nothing else."""
        items = [item for item in items_of(words, self.known) if item.kind != "sep" and not item.free]
        burning = word_list("kept_burning")
        burns = all(i.kind == "place" or i.text in burning or i.concepts & _WHAT_BURNS for i in items)
        return bool(items) and burns and not misspelt(words, self.known)

    def _harmless(self, words: str) -> bool:
        """Words that only describe: nothing denied, hoped, asked or counted of people, and no report by itself."""
        items = items_of(words, self.known)
        mark_polarity(items)
        plain = _without_plain_denials(items)
        counted = word_list("kept_counted")
        heard = {*words.casefold().split(), *(word for item in plain for word in item.text.split())}
        ordered = words.casefold().split()[0] in word_list("kept_orders")
        if ordered or counted & heard or not all(map(_describes, plain)):
            return False
        content = [item for item in plain if not item.free]
        if len(content) < 3 and any(item.kind == "word" and item.form != "plain" for item in content):
            return False  # too little to tell a strange word from a misspelt report
        reading = self.read(words)
        if reading.intent == "pump_pressure" and not reading.commands:
            return not any(item.kind == "num" for item in plain)  # "setting up the ladder pipe"
        return reading.intent in (None, Report.intent, "needed_flow", "incident_kind")


_AND_FIRST = re.compile(r"^and\s+(?!then\b)", re.IGNORECASE)
_AND = re.compile(r",?\s+(?:and|but)\s+", re.IGNORECASE)
_WHAT_BURNS = frozenset(("building", "incident_fire", "fire_word"))
_NOT_KEPT = frozenset(("unit", "line", "family", "time", "badtime", "person"))
_MEASURED = ("gpm", "psi", "gal", "min", "s", "percent")


def _describes(item: Item) -> bool:
    """It marks nothing, and names nobody and nothing that is reported or counted."""
    if item.polarity or item.polarity_mark or item.kind in _NOT_KEPT:
        return False
    measured = item.kind == "num" and item.unit in _MEASURED
    people = not item.free and bool(item.concepts & word_list("kept_people"))
    return not (measured or people or item.concepts & (reporting() | {"command_word", "par_request"}))


def _without_plain_denials(items: list[Item]) -> list[Item]:
    """Leaves out "nobody hurt", "nothing found": they deny nothing that was reported."""
    kept: list[Item] = []
    for lo, hi in clauses(items):
        clause = [item for item in items[lo:hi] if item.kind != "sep"]
        said = " ".join(item.text for item in clause)
        if not any(said == way or said.startswith(f"{way} ") for way in word_list("kept_denials")):
            kept += clause
    return kept


def _more_in(guessed: Reading, commands: Sequence[Command]) -> bool:
    """A likely reading of the whole logs something besides, which would be lost among the words kept."""
    if guessed.confidence < LIKELY_TOO:
        return False
    choices = guessed.question.choices if guessed.question else ()
    likely = (*(choice.commands for choice in choices), *(rival.commands for rival in guessed.rivals))
    taken = {_deed(command) for command in commands}
    logged = (one for some in likely for one in some if isinstance(one, LOGGED) and not isinstance(one, Report))
    return any(_deed(one) not in taken for one in logged)


def _deed(command: Command) -> object:
    return command.benchmark if isinstance(command, Benchmark) else type(command)
