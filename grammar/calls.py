"""Who is called, and who calls, before anything is said: "attack to command, …", "county from chief 7, …".

What is said goes on behind it. Of those who are named only a company or crew says something: it is whose report it is,
or who is told what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from grammar.items import Item
from grammar.text import Token, tokens
from grammar.vocabulary import Names, word_list

_MOST = 8
"""Most words of a call."""


class Call(NamedTuple):
    """A message without its call: its words, with the company that calls or is called before them."""

    said: str
    unit: str


def past_the_call(text: str, items: list[Item], known: Names) -> Call | None:
    """The message behind a call at its beginning; None where it begins with none."""
    found = tokens(text)
    if not items or items[-1].end != len(found):
        return None  # words were parted or joined: where each stands isn't known
    end = _ends(text, items, found)
    if end == 0 or end >= len(items):
        return None
    units = [text[found[i.start].start : found[i.end - 1].end] for i in items[:end] if i.kind == "unit"]
    begins = next((i.start for i in items[end:] if i.kind != "sep"), None)
    if begins is None or len(units) > 1:
        return None
    said = text[found[begins].start :]
    return Call(f"{units[0]}, {said}" if units else said, units[0] if units else "")


def _ends(text: str, items: list[Item], found: Sequence[Token]) -> int:
    """Where the call ends, 0 for none: at a pause, or behind "… to command"."""
    pause = next((k for k, item in enumerate(items) if item.kind == "sep"), len(items))
    if pause and _is_call(text, items[:pause], found):
        more = pause + 1
        later = next((k for k in range(more, len(items)) if items[k].kind == "sep"), len(items))
        if later < len(items) and _only_called(text, items[more:later], found) and items[pause].value == ",":
            return later + 1  # "Alder Bay, Kestrel, …"
        return more
    for k in range(1, min(pause, _MOST)):
        if items[k].text in _JOINS and _only_called(text, items[:k], found):
            room = next((j for j in range(k + 1, min(k + _NAMED, len(items))) if _room(items[j])), None)
            if room is not None and all(items[j].kind in ("word", "street") for j in range(k + 1, room)):
                return room + 1
    named = next((k for k, item in enumerate(items) if item.kind == "unit"), 0)
    if 0 < named < pause and _only_names(text, items[:named], found):
        return named  # "Alder Bay engine 12 on scene"
    if items and items[0].text in _JOINS and len(items) > 2 and _room(items[1]):
        return 2 if pause > _MOST else 0
    return 0


_NAMED = 4
"""Within so many words after "to" the room's own word stands: "to Kestrel command"."""


def _only_names(text: str, items: list[Item], found: Sequence[Token]) -> bool:
    return all(_written_as_a_name(text, item, found) for item in items) and any(i.form != "plain" for i in items)


_JOINS = frozenset(("to", "from"))


def _room(item: Item) -> bool:
    """Command, dispatch and the like: nobody is sent there."""
    return "command_word" in item.concepts or item.text in word_list("calls_rooms")


def _is_call(text: str, items: list[Item], found: Sequence[Token]) -> bool:
    said = [item for item in items if item.text not in _JOINS]
    return 0 < len(items) <= _MOST and _only_called(text, said, found)


def _only_called(text: str, items: list[Item], found: Sequence[Token]) -> bool:
    """Nothing but names: companies, crews, who is called by what they are, what is written as a name."""
    called = False
    names = {item.start for item in items if _written_as_a_name(text, item, found)}
    names = names if any(i.start in names and i.form != "plain" for i in items) else set()
    for k, item in enumerate(items):
        after = items[k + 1] if k + 1 < len(items) else None
        if item.kind in ("unit", "person") or _room(item) or item.text in word_list("polarity_called"):
            called = True
        elif item.kind == "place" and "floor" not in item.concepts:
            called = called or bool(item.concepts & {"place:interior", "place:roof"}) or item.text.startswith("div")
        elif item.start in names or (
            item.kind in ("word", "street") and after is not None and "command_word" in after.concepts
        ):
            called = True
        elif not (item.concepts & _TASKS) and item.text not in _SMALL:
            return False
        else:
            called = called or bool(item.concepts & _TASKS)
    return called


_SMALL = frozenset(("the", "ok", "okay", "copy", "all", "hey", "uh", "um", "report", "this is", "on", "actual"))
_TASKS = frozenset(("task_attack", "task_search", "task_vent", "task_backup", "crew_word"))
"""Crews that go by what they do."""


def _written_as_a_name(text: str, item: Item, found: Sequence[Token]) -> bool:
    """An unknown word with a capital, where not all are: "Alder Bay, …"."""
    written = text[found[item.start].start : found[item.end - 1].end]
    return item.kind in ("word", "street") and written.istitle() and not text.isupper()
