"""An order to get out beside whatever else is said: the order first, what is reported with it, the rest its reason."""

from __future__ import annotations

import re
from collections.abc import Callable

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.commands import (
    Assign,
    Benchmark,
    Choice,
    ComingOut,
    Command,
    Context,
    Emergency,
    Entry,
    Evacuate,
    Exit,
    Par,
    Question,
    Reading,
    Rehab,
    Report,
    Status,
    Strategy,
    WaterSource,
)
from grammar.confidence import ASKED, KEPT
from grammar.costs import TAKE
from grammar.readers.orders_out import OrderOut, held_off, only_called, order_out
from grammar.spelling import spellings
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

Read = Callable[[str], Reading]
_BESIDE = (Benchmark, Emergency, Strategy, WaterSource, Par)
"""What is taken beside an order to get out."""
_MARK = re.compile(r" [.,;:!?\n] |^[.,;:!?\n] | [.,;:!?\n]$")


def with_order_out(reading: Reading, text: str, context: Context, known: Names, read: Read) -> Reading:
    """The reading with the order to get out that the words hold: it comes first, unasked.

    `read`: the reader, for a part of the message by itself.
    """
    meant = _put_right(text, known)
    order = order_out(text, context, known) or order_out(meant, context, known)
    has = any(isinstance(command, Evacuate) for command in reading.commands)
    if order is None or (has and _lifted(reading)):
        return reading
    beside, why = _beside(order, known, read)
    given = Evacuate(order.place, text=why)
    if not order.units and not has and held_off(meant, known):  # "be eeady to evacuate"
        choices = (Choice("evacuate everyone", (given, *beside)), Choice("no"))
        asked = Question("Is that an order to evacuate?", choices)
        return Reading(text, question=asked, confidence=ASKED, intent=Evacuate.intent)
    if order.units:
        told = tuple(ComingOut(unit, ordered=True) for unit in order.units)
        return (
            _asked(order, text, beside, given, told) if order.unclear else _companys(reading, text, beside, why, told)
        )
    if has:
        filled = tuple(_filled(c, given) if isinstance(c, Evacuate) else c for c in reading.commands)
        kinds = {type(command) for command in filled}
        return replace(reading, commands=(*filled, *(c for c in dict.fromkeys(beside) if type(c) not in kinds)))
    rest = [c for c in (*reading.commands, *beside) if not isinstance(c, ComingOut) and c != Status("crews")]
    return Reading(text, (given, *dict.fromkeys(rest)), KEPT, intent=Evacuate.intent)


def _lifted(reading: Reading) -> bool:
    return any(isinstance(command, Evacuate) and command.over for command in reading.commands)


def _filled(said: Evacuate, more: Evacuate) -> Evacuate:
    return replace(said, place=more.place, text=said.text or more.text)


def _beside(order: OrderOut, known: Names, read: Read) -> tuple[list[Command], str | None]:
    """What stands around the order: what reports something by itself, and why it was ordered, as said."""
    commands: list[Command] = []
    why: list[str] = []
    for part in (order.before, order.after):
        for words in _MARK.split(f" {part} "):
            bare = _without_idle(words)
            if not bare or only_called(bare, known):
                continue
            one = read(bare)
            kinds = (*_BESIDE, Assign, Rehab, Entry) if order.units else _BESIDE
            taken = [c for c in one.commands if isinstance(c, kinds)] if one.confidence >= TAKE else []
            commands += taken
            if not _by_itself(one):
                why.append(bare)
    return commands, ", ".join(why) or None


def _by_itself(one: Reading) -> bool:
    """It was taken, answered or declined for what it is: no reason."""
    if one.commands and one.confidence >= TAKE:
        return not any(isinstance(command, Emergency | Report) for command in one.commands)
    return one.declined is not None and one.intent is not None


def _without_idle(words: str) -> str:
    """Without what belongs to neither: "so", "tell everyone to"."""
    said = words.split()
    while said and said[-1] in word_list("ordered_idle"):
        said.pop()
    while said and said[0] in word_list("ordered_openers"):
        said.pop(0)
    return " ".join(said)


def _companys(
    reading: Reading, text: str, beside: list[Command], why: str | None, told: tuple[ComingOut, ...]
) -> Reading:
    """One company's: told to come out, still inside."""
    if any(isinstance(command, ComingOut) for command in reading.commands):
        return reading
    units = {one.unit for one in told}
    rest = [
        command
        for command in (*reading.commands, *beside)
        if not isinstance(command, Evacuate) and not (isinstance(command, Exit) and command.unit in units)
    ]
    kept = (Report("note", why),) if why else ()
    return Reading(text, (*told, *dict.fromkeys(rest), *kept), KEPT, intent=ComingOut.intent)


def _asked(order: OrderOut, text: str, beside: list[Command], given: Evacuate, told: tuple[ComingOut, ...]) -> Reading:
    """ "Engine 9, evacuate": who says it, or who is told?"""
    names = " and ".join(order.units)
    choices = (Choice("evacuate everyone", (given, *beside)), Choice(f"{names} only", (*told, *beside)))
    question = Question(f"Is everyone to get out, or {names} only?", choices)
    return Reading(text, question=question, confidence=ASKED, intent=Evacuate.intent)


def _put_right(text: str, known: Names) -> str:
    """With slips of a single letter put right: "evrybody out"."""
    said = [token.text for token in tokens(text)]
    meant = spellings(tokens(text), known, False)[0].words if said else ()
    if len(said) != len(meant):
        return text
    return " ".join(b if OSA.distance(a, b) <= 1 else a for a, b in zip(said, meant, strict=True))
