"""Reads a message: splits it into commands, lets all readings compete, and takes the best only when it is clearly that.

`read(words, context)` never raises and never looks anything up. When the best reading is not good enough, or another
one that means something else is nearly as good, it asks one closed question; nonsense is declined in one sentence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.commands import (
    AirReading,
    ComingOut,
    Context,
    Emergency,
    Evacuate,
    Mayday,
    Par,
    Reading,
    Strategy,
    WaterSource,
)
from grammar.items import Item
from grammar.kept import keep_rest
from grammar.lexicon import ENGLISH, Pack, sentence, speaking
from grammar.overheard import ask_about
from grammar.polarity import mark_polarity
from grammar.readers.answers import read_free_answer
from grammar.readers.check import read_fault
from grammar.readers.every import MODULES
from grammar.readers.first import first_of_all
from grammar.readers.lengths import in_feet
from grammar.readers.lunar import answers_no_part, news_of_mayday, read_more_of_mayday
from grammar.readers.orders_out import order_out
from grammar.readers.sizes import take_in_units
from grammar.spelling import Spelling, spellings
from grammar.splitting import MATTERS, Part, split
from grammar.tagger import segmentations
from grammar.text import LONGEST, tokens
from grammar.verdict import TAKE, decide, unsure
from grammar.vocabulary import Names, names, vocabulary, word_list

_WAYS = 3
"""Most spellings and groupings of one message that are read."""


_SOME, _MANY = 12, 22
"""A message of more items is read in one way only, as it is spelled; of some, in one way as it may have been heard."""


_HOPELESS = 0.22


_SURE = -math.log(0.8)


_WORDS = 120
"""Most words that are read at once."""


class Guess(NamedTuple):
    """One of a recogniser's guesses: its words and how likely it is, 0..1."""

    words: str
    score: float


def read(words: str | Sequence[Guess], context: Context, language: Pack = ENGLISH) -> Reading:
    """What the words mean in this context.

    `words`: a typed message, or a recogniser's guesses, likeliest first. `language`: what they are said in. Never
    raises. See `Reading` for what comes back.
    """
    with speaking(language):
        return _read(words, context)


def _read(words: str | Sequence[Guess], context: Context) -> Reading:
    guesses = [Guess(words, 1.0)] if isinstance(words, str) else list(words)
    if not guesses or not guesses[0].words.strip():
        return Reading("", declined=sentence("nothing_said"), ignored=False)
    text = guesses[0].words
    if any(len(g.words) > LONGEST for g in guesses):
        return _too_long(text, context)
    special = first_of_all(text, context)
    if special is not None:
        return special
    if len(tokens(text)) > _WORDS:
        return _too_long(text, context)
    known = names(context)
    reading = _with_order_out(_competed(guesses, context, known), text, context, known)
    if unsure(reading):
        plain = replace(context, asked=None, last=())
        reading = (
            keep_rest(text, context, known, reading, lambda part: _competed([Guess(part, 1.0)], plain, known))
            or reading
        )
    reading = _in_mayday(reading, text, context, known)
    reading = _of_one_unit(reading)
    reading = read_fault(text, context, reading) or reading
    return (ask_about(text, context, known) or reading) if reading.ignored else reading


def _competed(guesses: Sequence[Guess], context: Context, known: Names) -> Reading:
    """All readings of the guesses, and what is done with the best."""
    top = max(g.score for g in guesses) or 1.0
    found: list[tuple[Part, str]] = []
    for guess in guesses[:5]:
        penalty = -0.5 * math.log(max(guess.score, 1e-6) / top)
        found.extend((_dearer(part, penalty), guess.words) for part in _parts(guess.words, context, known))
    found.sort(key=lambda f: f[0].cost)
    return decide(guesses[0].words, found, context)


def _in_mayday(reading: Reading, text: str, context: Context, known: Names) -> Reading:
    """In an open Mayday what else wasn't read may be a part of it, news of it, or the answer to what was asked."""
    if context.mayday_open and not reading.commands:
        more = read_more_of_mayday(text, context, known) or news_of_mayday(text, context, known)
        if more is not None:
            return more
        if context.asked is not None and context.asked.fills is not None and answers_no_part(text, context, known):
            return reading
    return read_free_answer(text, context, reading) or reading


def _with_order_out(reading: Reading, text: str, context: Context, known: Names) -> Reading:
    """The reading, and the order to get out with it where the words hold one that it lacks: it comes first, unasked."""
    if any(isinstance(command, Evacuate) for command in reading.commands):
        return reading
    order = order_out(text, context, known) or order_out(_put_right(text, known), context, known)
    if order is None:
        return reading
    rest = reading.commands
    if not rest:  # what stands around the order may report something by itself
        beside = [_read(words, context) for words in (order.before, order.after) if len(words) < len(text) and words]
        rest = tuple(c for one in beside if one.confidence >= TAKE for c in one.commands if isinstance(c, _BESIDE))
    rest = tuple(command for command in rest if not isinstance(command, ComingOut))
    return Reading(text, (order.command, *rest), _ORDERED_OUT, intent=Evacuate.intent)


def _put_right(text: str, known: Names) -> str:
    """With slips of a single letter put right: "evrybody out"."""
    said = [token.text for token in tokens(text)]
    meant = spellings(tokens(text), known, False)[0].words if said else ()
    if len(said) != len(meant):
        return text
    return " ".join(b if OSA.distance(a, b) <= 1 else a for a, b in zip(said, meant, strict=True))


_ORDERED_OUT = 0.85
"""Confidence of an order to get out beside words that were not read: it goes out, and its words with it."""
_BESIDE = (Emergency, Strategy, WaterSource, Par)
"""What is taken beside an order to get out."""


def _of_one_unit(reading: Reading) -> Reading:
    """Where one company is named, its air is meant, not the speaker's: "engine 9 is out, low on air"."""
    units = {getattr(command, "unit", None) for command in reading.commands} - {None}
    if len(units) != 1 or not any(isinstance(c, AirReading) and c.unit is None for c in reading.commands):
        return reading
    (unit,) = units
    commands = tuple(replace(c, unit=unit) if isinstance(c, AirReading) else c for c in reading.commands)
    return replace(reading, commands=commands)


def _too_long(text: str, context: Context) -> Reading:
    """Nothing this long is a command; only a Mayday is still caught in it."""
    at = _MAYDAY.search(text)
    if at is not None:
        special = first_of_all(text[max(0, at.start() - 200) : at.start() + 400], context)
        if special is not None and special.intent == Mayday.intent:
            return special
    if context.group and not context.addressed:
        return Reading(text[:LONGEST], ignored=True)
    return Reading(text[:LONGEST], declined=sentence("too_long", most=_WORDS))


_MAYDAY = re.compile(r"may\s?day", re.IGNORECASE)


def _dearer(part: Part, penalty: float) -> Part:
    return part._replace(cost=part.cost + penalty, worst=part.worst + penalty)


def _parts(text: str, context: Context, known: Names) -> list[Part]:
    """The best ways to read one text, cheapest first."""
    found = tokens(text)
    first = spellings(found, known, False)
    parts = _read_spellings(text, first, context, known, ())
    if len(found) <= _MANY and (not parts or parts[0].worst > _SURE):
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
    many = len(ways[0][1]) if ways else 0
    for extra, items in ways[: _WAYS if many <= (_SOME if rivals else _MANY) else 1]:
        if extra > best + _HOPELESS:
            break
        copies = [item.again() for item in items]
        _name_own_unit(copies, context.own_unit)
        mark_polarity(copies)
        take_in_units(copies, context)
        copies = in_feet(copies, context)
        limit = best + MATTERS - extra
        parts.extend(_dearer(part, extra) for part in split(text, copies, context, limit))
        best = min([best, *(p.cost for p in parts)])
    parts.sort(key=lambda p: p.cost)
    return parts


def _name_own_unit(items: list[Item], own: str | None) -> None:
    """ "12's on scene" of engine 12: its bare number, right before what a unit reports of itself."""
    number = own.rpartition(" ")[2] if own else ""
    for k, item in enumerate(items):
        begins = k == 0 or items[k - 1].kind == "sep" or "and" in items[k - 1].concepts
        own_number = item.kind == "num" and number.isdigit() and item.unit is None and item.value == float(number)
        if not begins or not own_number:
            continue
        after = [i for i in items[k + 1 : k + 6] if not i.free and i.text not in ("is", "are", "s", "got", "has")]
        of_itself = (
            word_list("units_own") | word_list("units_itself")
            if "plural" in item.concepts or (items[k + 1 : k + 2] and items[k + 1].text == "has")
            else word_list("units_own")
        )
        counts = bool(after) and after[0].kind == "num" and any(i.concepts & {"par", "accounted"} for i in items)
        if counts or (after and not after[0].concepts.isdisjoint(of_itself)):
            item.kind, item.value, item.unit = "unit", own, None


assert MODULES  # their import registers the readers


def warm() -> None:
    """Loads the vocabulary, so that the first message is as quick as the rest."""
    vocabulary()
