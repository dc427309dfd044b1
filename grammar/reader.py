"""Reads a message: splits it into commands, lets all readings compete, and takes the best only when it is clearly that.

`read(words, context)` never raises and never looks anything up. When the best reading is not good enough, or another one that
means something else is nearly as good, it asks one closed question; nonsense is declined in one sentence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from grammar.commands import Choice, Command, Context, Mayday, PumpPressure, Question, Reading, Report, Rival
from grammar.describe import several
from grammar.items import Item
from grammar.polarity import mark_polarity
from grammar.readers.base import TRIGGERS, Candidate
from grammar.readers.every import MODULES
from grammar.readers.first import first_of_all
from grammar.spelling import Spelling, spellings
from grammar.stretch import KEEP, STRONG, residue, stretch
from grammar.tagger import segmentations
from grammar.text import LONGEST, tokens
from grammar.vocabulary import Names, names, vocabulary, word_list

TAKE = 0.7
"""Least confidence at which a reading is taken."""
ASK = 0.25
"""Least confidence at which it is worth a question."""
_SHARP = 14.0
"""How much a runner-up that means something else must be dearer: at a gap of 0.16 the best is nine times likelier."""
_OVERHEARD = 0.25
"""Most left unexplained at which something said in a group, not to the bot, is more than chatter."""
_COMMAND = 0.08
"""What one more command costs: fewer commands that explain as much are likelier."""
_CUTS = 14
_WAYS = 6
"""Most spellings and groupings of one message that are read."""
_HOPELESS = 0.3
_MATTERS = 0.45
"""A reading this much dearer than another changes nothing any more."""
_SURE = -math.log(0.8)
_WORDS = 120
"""Most words that are read at once."""


replace = msgspec.structs.replace


class Guess(NamedTuple):
    """One of a recogniser's guesses: its words and how likely it is, 0..1."""

    words: str
    score: float


class Part(NamedTuple):
    """A way to read the first items of a message: its pieces and their costs."""

    cost: float
    worst: float
    pieces: tuple[Candidate, ...]
    unread: tuple[str, ...]

    @property
    def commands(self) -> tuple[Command, ...]:
        return tuple(command for piece in self.pieces for command in piece.commands)


def read(words: str | Sequence[Guess], context: Context) -> Reading:
    """What the words mean in this context.

    `words`: a typed message, or a recogniser's guesses, likeliest first. Never raises. See `Reading` for what comes back.
    """
    guesses = [Guess(words, 1.0)] if isinstance(words, str) else list(words)
    if not guesses or not guesses[0].words.strip():
        return Reading("", declined="Nothing was said.", ignored=False)
    text = guesses[0].words
    if any(len(g.words) > LONGEST for g in guesses):
        return _too_long(text, context)
    special = first_of_all(text, context)
    if special is not None:
        return special
    if len(tokens(text)) > _WORDS:
        return _too_long(text, context)
    known = names(context)
    top = max(g.score for g in guesses) or 1.0
    found: list[tuple[Part, str]] = []
    for guess in guesses[:5]:
        penalty = -0.5 * math.log(max(guess.score, 1e-6) / top)
        found.extend((_dearer(part, penalty), guess.words) for part in _parts(guess.words, context, known))
    found.sort(key=lambda f: f[0].cost)
    return _decide(text, found, context)


def _too_long(text: str, context: Context) -> Reading:
    """Nothing this long is a command; only a Mayday is still caught in it."""
    at = _MAYDAY.search(text)
    if at is not None:
        special = first_of_all(text[max(0, at.start() - 200) : at.start() + 400], context)
        if special is not None and special.intent == Mayday.intent:
            return special
    if context.group and not context.addressed:
        return Reading(text[:LONGEST], ignored=True)
    return Reading(
        text[:LONGEST],
        declined=f"That is too long to read at once: {_WORDS} words at most. Say it in shorter messages.",
    )


_MAYDAY = re.compile(r"may\s?day", re.IGNORECASE)


def _dearer(part: Part, penalty: float) -> Part:
    return part._replace(cost=part.cost + penalty, worst=part.worst + penalty)


def _parts(text: str, context: Context, known: Names) -> list[Part]:
    """The best ways to read one text, cheapest first."""
    found = tokens(text)
    first = spellings(found, known, False)
    parts = _read_spellings(text, first, context, known, ())
    if not parts or parts[0].worst > _SURE:
        read_already = {s.words for s in first}
        second = [s for s in spellings(found, known, True) if s.words not in read_already]
        parts = sorted(parts + _read_spellings(text, second, context, known, parts), key=lambda p: p.cost)
    return parts[:12]


def _read_spellings(
    text: str, spelled: Sequence[Spelling], context: Context, known: Names, rivals: Sequence[Part]
) -> list[Part]:
    """Reads the likeliest ways to spell and cut the words, until the rest can't win any more."""
    ways: list[tuple[float, list[Item]]] = []
    for spelling in spelled:
        cuts = segmentations(spelling, known)
        ways.extend((sum(spelling.costs) + cost - cuts[0][0], items) for cost, items in cuts)
    ways.sort(key=lambda w: w[0])
    parts: list[Part] = []
    best = min((p.cost for p in rivals), default=9.0)
    for extra, items in ways[:_WAYS]:
        if extra > best + _HOPELESS:
            break
        copies = [item.again() for item in items]
        mark_polarity(copies)
        limit = best + _MATTERS - extra
        parts.extend(_dearer(part, extra) for part in _split(text, copies, context, limit))
        best = min([best, *(p.cost for p in parts)])
    parts.sort(key=lambda p: p.cost)
    return parts


# ----------------------------------------------------------------------------------------------------- several commands in one


def _split(text: str, items: list[Item], context: Context, limit: float) -> list[Part]:
    """The cheapest ways to cut the items into stretches and read each; none that is dearer than `limit`."""
    if not items:
        return []
    cuts = _cuts(items)
    whole = stretch(text, items, 0, len(items), context)
    if whole:
        limit = min(limit, whole[0].cost + _COMMAND + _MATTERS)
    best: dict[int, list[Part]] = {0: [Part(0.0, 0.0, (), ())]}
    for b in range(1, len(cuts)):
        ends: list[Part] = []
        for a in range(b):
            starts = [start for start in best.get(cuts[a], ()) if start.cost <= limit]
            if not starts:
                continue
            all_of_it = a == 0 and b == len(cuts) - 1
            readings = whole if all_of_it else stretch(text, items, cuts[a], cuts[b], context)
            for start in starts:
                ends.extend(_joined(start, r) for r in readings)
                if b - a == 1:
                    ends.append(_unread(start, items, cuts[a], cuts[b]))
        best[cuts[b]] = _distinct(ends)
    return [p for p in best[cuts[-1]] if p.pieces]


def _joined(start: Part, piece: Candidate) -> Part:
    if not piece.commands and piece.question is None and piece.declined is None:  # only filler
        return start._replace(cost=start.cost + piece.cost)
    if piece.commands and all(command in start.commands for command in piece.commands):
        return start._replace(cost=start.cost + piece.cost, worst=max(start.worst, piece.cost))  # said twice over
    merged = _one_question(start, piece)
    if merged is not None:
        return merged
    return Part(start.cost + piece.cost + _COMMAND, max(start.worst, piece.cost), (*start.pieces, piece), start.unread)


def _one_question(start: Part, piece: Candidate) -> Part | None:
    """Two lays asked for one after the other are one pump's pressure: the highest governs."""
    last = start.pieces[-1] if start.pieces else None
    if last is None or len(last.commands) != 1 or len(piece.commands) != 1:
        return None
    one, two = last.commands[0], piece.commands[0]
    if not isinstance(one, PumpPressure) or not isinstance(two, PumpPressure):
        return None
    both = PumpPressure((*one.lays, *two.lays), one.intake_psi or two.intake_psi, one.picture or two.picture)
    joined = last._replace(commands=(both,), cost=last.cost + piece.cost, used=last.used | piece.used)
    pieces = (*start.pieces[:-1], joined)
    return Part(start.cost + piece.cost + _COMMAND, max(start.worst, piece.cost), pieces, start.unread)


def _unread(start: Part, items: list[Item], lo: int, hi: int) -> Part:
    cost = sum(residue(item) for item in items[lo:hi])
    if cost == 0:
        return start
    attached = (lo > 0 and not _breaks(items[lo - 1])) or (hi < len(items) and not _breaks(items[hi - 1]))
    strong = any(not item.concepts.isdisjoint(STRONG) for item in items[lo:hi])
    odd = any(item.kind == "word" and item.form != "plain" and not item.free for item in items[lo:hi])
    weight = 1.6 if attached or strong else 1.1 if odd else 0.6
    said = " ".join(i.text for i in items[lo:hi] if i.kind != "sep")
    return Part(start.cost + cost, start.worst + weight * cost, start.pieces, (*start.unread, said))


def _breaks(item: Item) -> bool:
    return item.kind == "sep" or "and" in item.concepts


def _distinct(parts: list[Part]) -> list[Part]:
    parts.sort(key=lambda p: p.cost)
    kept: list[Part] = []
    for part in parts:
        if len(kept) >= KEEP:
            break
        if not any(k.pieces == part.pieces or (k.commands and k.commands == part.commands) for k in kept):
            kept.append(part)
    return kept


_LAYISH_KINDS = frozenset(("num", "line", "family", "floor"))
_LAYISH = frozenset(
    [
        "line",
        "legs",
        "wye",
        "manifold",
        "siamese",
        "feed",
        "into",
        "on_end",
        "tip",
        "smooth_bore",
        "fog",
        "cellar",
        "piercing",
        "nozzle",
        "nozzle_psi",
        "each",
        "total",
        "through",
        "deck_gun",
        "monitor",
        "aerial",
        "standpipe",
        "sprinkler",
        "eductor",
        "high_rise_pack",
        "booster",
        "ldh",
        "big_line",
        "of_hose",
        "up",
        "down",
        "elevation",
        "foam",
        "crosslay",
        "by",
    ]
)


def _layish(item: Item) -> bool:
    return item.kind in _LAYISH_KINDS or not item.concepts.isdisjoint(_LAYISH)


def _cuts(items: list[Item]) -> list[int]:
    """Where one command may end and the next begin."""
    places: dict[int, int] = {}
    for k in range(1, len(items)):
        item, before = items[k], items[k - 1]
        if item.kind == "sep":
            continue
        if before.kind == "sep":
            solid = _solid_before(items, k - 1)
            if before.value in ".;!?\n" or not (_layish(item) and solid is not None and _layish(solid)):
                places[k] = 0
        elif "and" in before.concepts and before.kind == "term":
            solid = _solid_before(items, k - 1)
            if not (_layish(item) and solid is not None and _layish(solid)):
                places[k] = 1
        elif (
            item.text == "with"
            and not _layish(before)
            and any("intake_gauge" in i.concepts for i in items[k + 2 : k + 4])
        ):
            places[k] = 2
        elif item.kind == "unit" or (not item.free and item.concepts & TRIGGERS and not _layish(item)):
            if (
                before.kind != "unit"
                and not before.polarity_mark
                and not (item.kind == "unit" and before.text in word_list("reader_govern"))
            ):
                places[k] = 2
        elif _layish(item) != _layish(before) and not before.free and not item.free:
            places[k] = 3
    chosen = sorted(sorted(places, key=lambda k: places[k])[:_CUTS])
    return [0, *chosen, len(items)]


def _solid_before(items: list[Item], k: int) -> Item | None:
    while k >= 0 and (items[k].kind == "sep" or items[k].free):
        k -= 1
    return items[k] if k >= 0 else None


# --------------------------------------------------------------------------------------------------------------------- verdict


def _decide(text: str, found: list[tuple[Part, str]], context: Context) -> Reading:
    if not found:
        return _nothing(text, context, None)
    best, words = found[0]
    rivals = _rivals(best, found)
    quality = math.exp(-best.worst)
    gap = min((part.cost - best.cost for part, _ in rivals), default=9.0)
    confidence = round(quality / (1 + math.exp(-_SHARP * gap) if gap < 2 else 1), 4)
    others = tuple(Rival(part.commands, round(math.exp(-part.worst), 4)) for part, _ in rivals[:3] if part.commands)
    intent = next((p.intent for p in best.pieces if p.intent), None)
    overheard = context.group and not context.addressed
    left = sum(p.left for p in best.pieces) + 0.3 * len(best.unread)
    if confidence < ASK or (overheard and (left > _OVERHEARD or quality < 0.4)):
        return _nothing(text, context, intent if confidence >= ASK else None)
    asked = next((p for p in best.pieces if p.question is not None), None)
    if asked is not None and asked.question is not None:
        question = _whole_question(asked, best)
        return Reading(text, confidence=confidence, question=question, rivals=others, intent=asked.intent)
    if confidence < TAKE and overheard and len(text.split()) < 3:
        return Reading(text, ignored=True)
    if confidence < TAKE:
        return _doubtful(text, best, rivals, confidence, others, intent)
    declined = [p.declined for p in best.pieces if p.declined is not None]
    if not best.commands:
        return Reading(text, confidence=confidence, declined=declined[0] if declined else None, intent=intent)
    notes = [n for p in best.pieces for n in p.notes] + declined
    notes += [f"not read: “{u}”" for u in best.unread]
    if words != text:
        notes.append(f"heard as “{words}”")
    return Reading(text, best.commands, confidence, others, intent=best.commands[0].intent, assumed=tuple(notes))


def _rivals(best: Part, found: list[tuple[Part, str]]) -> list[tuple[Part, str]]:
    """Other readings that mean something else."""
    out = []
    for part, words in found[1:]:
        if _essence(part) != _essence(best) and not _fragments(part, best):
            out.append((part, words))
    return out


def _essence(part: Part) -> tuple[object, ...]:
    """What a reading does, without the words it keeps."""
    if not part.commands:
        return ("nothing", *(p.question.text for p in part.pieces if p.question is not None))
    bare = tuple(
        replace(c, text="" if isinstance(c, Report) else None) if "text" in c.__struct_fields__ else c
        for c in part.commands
    )
    return (*bare, *(p.question.text for p in part.pieces if p.question is not None))


def _fragments(part: Part, best: Part) -> bool:
    """The same commands in more and smaller pieces."""
    if len(part.commands) <= len(best.commands) or not best.commands:
        return False
    return {c.intent for c in part.commands} == {c.intent for c in best.commands}


def _whole_question(asked: Candidate, best: Part) -> Question:
    """The question, its choices standing for the message's other commands too."""
    assert asked.question is not None
    if len(best.pieces) == 1:
        return asked.question
    k = best.pieces.index(asked)
    before = tuple(c for p in best.pieces[:k] for c in p.commands)
    after = tuple(c for p in best.pieces[k + 1 :] for c in p.commands)
    choices = tuple(
        Choice(ch.label, (*before, *ch.commands, *after) if ch.commands else ()) for ch in asked.question.choices
    )
    return Question(asked.question.text, choices, asked.question.fills, asked.question.slot)


def _doubtful(
    text: str,
    best: Part,
    rivals: list[tuple[Part, str]],
    confidence: float,
    others: tuple[Rival, ...],
    intent: str | None,
) -> Reading:
    """Not sure enough: one closed question."""
    if not best.commands:
        declined = next((p.declined for p in best.pieces if p.declined is not None), None)
        return Reading(text, confidence=confidence, declined=declined, intent=intent, rivals=others)
    close = [part for part, _ in rivals if part.commands and part.cost < best.cost + 0.6][:2]
    choices = [Choice(several(part.commands), part.commands) for part in (best, *close)]
    labels = {c.label for c in choices}
    if close and len(labels) == len(choices):
        question = Question("Which is meant?", (*choices, Choice("none of these")))
    else:
        left = f" (not read: “{best.unread[0]}”)" if best.unread else ""
        question = Question(f"Did you mean: {choices[0].label}?{left}", (Choice("yes", best.commands), Choice("no")))
    return Reading(text, confidence=confidence, question=question, rivals=others, intent=intent)


def _nothing(text: str, context: Context, intent: str | None) -> Reading:
    if context.group and not context.addressed:
        return Reading(text, ignored=True)
    return Reading(text, declined="Not understood. Say it in other words, or “help”.", intent=intent)


assert MODULES  # their import registers the readers


def warm() -> None:
    """Loads the vocabulary, so that the first message is as quick as the rest."""
    vocabulary()
