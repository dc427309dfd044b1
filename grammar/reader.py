"""Reads a message: splits it into commands, lets all readings compete, and takes the best only when it is clearly that.

`read(words, context)` never raises and never looks anything up. When the best reading is not good enough, or another
one that means something else is nearly as good, it asks one closed question; nonsense is declined in one sentence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from msgspec.structs import replace

from grammar.calling import mark_caller
from grammar.can_report import can_report
from grammar.commands import (
    AirReading,
    Benchmark,
    Command,
    Context,
    Evacuate,
    Mayday,
    Par,
    Reading,
)
from grammar.costs import GUESSED, HOPELESS, MATTERS, NEVER, TAKE
from grammar.items import Item
from grammar.judge.active import active
from grammar.judge.settle import settle
from grammar.kept import keep_rest
from grammar.lexicon import ENGLISH, Pack, sentence, speaking
from grammar.named import keep_names
from grammar.ordered_out import with_order_out
from grammar.overheard import ask_about
from grammar.own_unit import name_speakers
from grammar.polarity import mark_polarity
from grammar.readers.answers import read_free_answer
from grammar.readers.check import read_fault
from grammar.readers.dispatch import bare_dispatch
from grammar.readers.every import MODULES
from grammar.readers.first import first_of_all
from grammar.readers.lengths import in_feet, listed, same_hose
from grammar.readers.lunar import answers_no_part, news_of_mayday, read_more_of_mayday
from grammar.readers.mayday import beside_clearing
from grammar.readers.pointed import take_pointed
from grammar.readers.sizes import take_in_units
from grammar.scribe import note_of_patient, read_care, tells_of_patient
from grammar.spelling import Spelling, spellings
from grammar.splitting import Part, split
from grammar.tagger import likeliest, segmentations
from grammar.text import LONGEST, tokens
from grammar.undone import named_as_undone
from grammar.verdict import decide, unsure
from grammar.vocabulary import Names, names, vocabulary

_WAYS = 3
"""Most spellings and groupings of one message that are read."""


_SOME, _MANY = 12, 22
"""A message of more items is read in one way only, as it is spelled; of some, in one way as it may have been heard."""


_TAKEN = -math.log(TAKE)
"""Most that a reading may cost that is taken."""


_LEAST = 10**-6
"""Least likely guess."""


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
        reading, found = considered(words, context)
        network = active()
        if network is None or language is not ENGLISH or not found:
            return reading
        return settle(reading, found, context, network, unsure(reading), partial(considered, context=context))


def considered(words: str | Sequence[Guess], context: Context) -> tuple[Reading, list[tuple[Part, str]]]:
    """What the rules alone read, and every reading of the whole message that they weighed, cheapest first.

    None was weighed of an alarm, of care and of what is too long: those the rules read by themselves.
    """
    found: list[tuple[Part, str]] = []
    return _read(words, context, found), found


def _read(words: str | Sequence[Guess], context: Context, found: list[tuple[Part, str]]) -> Reading:
    guesses = [Guess(words, 1)] if isinstance(words, str) else list(words)
    if not guesses or not guesses[0].words.strip():
        return Reading("", declined=sentence("nothing_said"), ignored=False)
    text = guesses[0].words
    if any(len(g.words) > LONGEST for g in guesses):
        return _too_long(text, context)
    special = first_of_all(text, context)
    if special is not None and special.question is not None and tells_of_patient(text):
        special = None
    if special is not None:
        return _with_the_rest(special, text, context)
    if len(tokens(text)) > _WORDS:
        return _too_long(text, context)
    known = names(context)
    alone: dict[str, Reading] = {}

    def by_itself(part: str) -> Reading:
        """A part of the message; read once, whoever asks."""
        if part not in alone:
            alone[part] = _alone(part, context, known)
        return alone[part]

    care = read_care(text, context, by_itself)
    if care is not None:
        return care
    found.extend(weighed(guesses, context, known))
    reading = decide(text, found, context)
    undone = named_as_undone(reading, text, context, by_itself)
    if undone is not None:
        return undone
    ordered = with_order_out(reading, text, context, known, by_itself)
    asked_whose = ordered is not reading and ordered.question is not None
    reading = can_report(text, known, ordered, by_itself)
    if unsure(reading) and not asked_whose:
        kept = keep_rest(text, context, known, reading, by_itself)
        if kept is None or not kept.commands:
            kept = keep_names(text, known, by_itself) or kept
        reading = kept or reading
    reading = _in_mayday(reading, text, context, known)
    reading = _of_one_unit(reading)
    reading = read_fault(text, context, reading) or reading
    if not reading.commands and unsure(reading):
        reading = bare_dispatch(text, context, known) or reading
    if not reading.commands and reading.question is None and not (context.group and not context.addressed):
        reading = (note_of_patient(text, context) if reading.intent is None else None) or reading
    return (ask_about(text, context, known) or reading) if reading.ignored else reading


def _with_the_rest(special: Reading, text: str, context: Context) -> Reading:
    """With what is reported beside "Mayday cleared": "… engine 9 is out"."""
    if not any(isinstance(command, Mayday) and command.cleared for command in special.commands):
        return special
    commands, notes = special.commands, special.assumed
    for words in beside_clearing(text):
        rest = _read(words, context, []) if len(words.split()) > 1 else None
        if rest is None or _only_unit(words, context):
            continue
        order = any(isinstance(command, Evacuate) for command in rest.commands)
        if order and words.casefold().startswith("all "):
            notes += (f"not taken: “{words}” tells it or orders it; to order it say “everybody out”",)
            continue
        told = [command for command in rest.commands if not isinstance(command, Mayday)]
        taken = told if _calls_for_par(words, context) else [c for c in told if not _is_anybodys_par(c)]
        if taken != told:
            notes += (f"not taken: “{words}”; log a PAR by unit and number, ask for one by itself",)
            if not taken:
                continue
        commands += tuple(taken)
        if rest.question is not None:
            notes += (f"not taken, say it by itself: {rest.question.text}",)
        elif not rest.commands:
            notes += (f"not read: “{words}”",)
    return replace(special, commands=commands, assumed=notes)


def _is_anybodys_par(command: Command) -> bool:
    """A PAR of no company and no number: "all accounted for" is never logged so."""
    return isinstance(command, Par) and command.unit is None and command.count is None


def _calls_for_par(words: str, context: Context) -> bool:
    """ "PAR check"; "PAR on all units" beside a cleared Mayday tells of one."""
    return any("par_request" in item.concepts for item in _items(words, context))


def _items(words: str, context: Context) -> list[Item]:
    known = names(context)
    return segmentations(spellings(tokens(words), known, False)[0], known)[0][1]


def _only_unit(words: str, context: Context) -> bool:
    """Whose Mayday it was: "engine 9's …"."""
    items = _items(words, context)
    return all(item.kind == "unit" or item.free or item.text == "s" for item in items)


def _competed(guesses: Sequence[Guess], context: Context, known: Names) -> Reading:
    """What is done with the best reading of the guesses."""
    return decide(guesses[0].words, weighed(guesses, context, known), context)


def weighed(guesses: Sequence[Guess], context: Context, known: Names) -> list[tuple[Part, str]]:
    """The likeliest readings of the guesses, cheapest first, each with the words that were read so."""
    top = max(g.score for g in guesses) or 1
    found: list[tuple[Part, str]] = []
    for guess in guesses[:5]:
        penalty = -GUESSED * math.log(max(guess.score, _LEAST) / top)
        found.extend((_dearer(part, penalty), guess.words) for part in _parts(guess.words, context, known))
    found.sort(key=lambda f: f[0].cost)
    return found


def _in_mayday(reading: Reading, text: str, context: Context, known: Names) -> Reading:
    """In an open Mayday what else wasn't read may be a part of it, news of it, or the answer to what was asked."""
    if context.mayday_open and not reading.commands:
        more = read_more_of_mayday(text, context, known) or news_of_mayday(text, context, known)
        if more is not None:
            return more
        if context.asked is not None and context.asked.fills is not None and answers_no_part(text, context, known):
            return reading
    return read_free_answer(text, context, reading) or reading


def _alone(part: str, context: Context, known: Names) -> Reading:
    """A part of the message by itself: no answer, nothing carried on."""
    return _competed([Guess(part, 1)], replace(context, asked=None, last=()), known)


def _of_one_unit(reading: Reading) -> Reading:
    """Where one company is named, its air is meant, not the speaker's: "engine 9 is out, low on air".

    Who arrives and tells of command has it: "engine 9 on scene, establishing Harbor command".
    """
    arrived = {c.unit for c in reading.commands if isinstance(c, Benchmark) and c.benchmark == "on_scene"} - {None}
    if len(arrived) == 1:
        (unit,) = arrived
        reading = replace(reading, commands=tuple(_commanded(c, unit) for c in reading.commands))
    units = {getattr(command, "unit", None) for command in reading.commands} - {None}
    if len(units) != 1 or not any(isinstance(c, AirReading) and c.unit is None for c in reading.commands):
        return reading
    (unit,) = units
    commands = tuple(replace(c, unit=unit) if isinstance(c, AirReading) else c for c in reading.commands)
    return replace(reading, commands=commands)


def _commanded(command: Command, unit: str | None) -> Command:
    if not isinstance(command, Benchmark) or command.benchmark != "command_established" or command.unit is not None:
        return command
    return replace(command, unit=unit)


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
    if len(found) <= _MANY and (not parts or parts[0].worst > _TAKEN):
        read_already = {s.words for s in first}
        second = [s for s in spellings(found, known, True) if s.words not in read_already]
        parts = sorted(parts + _read_spellings(text, second, context, known, parts), key=lambda p: p.cost)
    return parts[:12]


def _read_spellings(
    text: str, spelled: Sequence[Spelling], context: Context, known: Names, rivals: Sequence[Part]
) -> list[Part]:
    """Reads the likeliest ways to spell and cut the words, until the rest can't win any more."""
    parts: list[Part] = []
    best = min((p.cost for p in rivals), default=NEVER)
    left = _WAYS
    for extra, items in likeliest(spelled, known):
        if left == _WAYS and len(items) > (_SOME if rivals else _MANY):
            left = 1
        if extra > best + HOPELESS:
            break
        name_speakers(items, context.own_unit)
        mark_caller(items)
        mark_polarity(items)
        take_in_units(items, context)
        take_pointed(items, context)
        limit = best + MATTERS - extra
        found = split(text, in_feet(listed(same_hose(items)), context), context, limit)
        parts.extend(_dearer(part, extra) for part in found)
        best = min([best, *(p.cost for p in parts)])
        left -= 1
        if not left:
            break
    parts.sort(key=lambda p: p.cost)
    return parts


assert MODULES  # their import registers the readers


def warm() -> None:
    """Loads the vocabulary, so that the first message is as quick as the rest."""
    vocabulary()
