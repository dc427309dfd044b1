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
    pause = _pause(items, 0)
    if 0 < pause <= _MOST and _only_called(text, [i for i in items[:pause] if i.text not in _joins()], found):
        later = _pause(items, pause + 1)
        again = later < len(items) and items[pause].value == "," and _only_called(text, items[pause + 1 : later], found)
        return (later if again else pause) + 1  # "Alder Bay, Kestrel, …"
    joins = (k for k in range(1, min(pause, _MOST)) if items[k].text in _joins())
    if room := next((end for k in joins if _only_called(text, items[:k], found) and (end := _to_room(items, k))), 0):
        return room
    named = next((k for k, item in enumerate(items) if item.kind == "unit"), 0)
    if 0 < named < pause and _only_names(text, items[:named], found):
        return named  # "Alder Bay engine 12 on scene"
    joined = items[0].text in _joins() and len(items) > 2 and _room(items[1]) and pause > _MOST
    return 2 if joined else 0


def _pause(items: list[Item], lo: int) -> int:
    return next((k for k in range(lo, len(items)) if items[k].kind == "sep"), len(items))


def _to_room(items: list[Item], k: int) -> int:
    """Behind the room that is called after "to": "to Kestrel command"; 0 for none."""
    room = next((j for j in range(k + 1, min(k + _NAMED, len(items))) if _room(items[j])), 0)
    return room + 1 if room and all(items[j].kind in ("word", "street") for j in range(k + 1, room)) else 0


_NAMED = 4
"""Within so many words after "to" the room's own word stands: "to Kestrel command"."""


def _only_names(text: str, items: list[Item], found: Sequence[Token]) -> bool:
    return all(_written_as_a_name(text, item, found) for item in items) and any(i.form != "plain" for i in items)


def _joins() -> frozenset[str]:
    return word_list("par_called")


def _room(item: Item) -> bool:
    """Command, dispatch and the like: nobody is sent there."""
    return "command_word" in item.concepts or item.text in word_list("calls_rooms")


def _only_called(text: str, items: list[Item], found: Sequence[Token]) -> bool:
    """Nothing but names: companies, crews, who is called by what they are, what is written as a name."""
    written = [item.start for item in items if _written_as_a_name(text, item, found)]
    names = written if any(i.start in written and i.form != "plain" for i in items) else []
    called = [
        item.start in names or _calls(item) or (item.kind in ("word", "street") and _command(items[k + 1 : k + 2]))
        for k, item in enumerate(items)
    ]
    small = all(
        named or item.text in word_list("calls_small") or (item.kind == "place" and "floor" not in item.concepts)
        for item, named in zip(items, called, strict=True)
    )
    return small and any(called)


def _command(after: list[Item]) -> bool:
    return any("command_word" in item.concepts for item in after)


def _calls(item: Item) -> bool:
    """A company, a person, a crew by its task or its place, a room."""
    if item.kind == "place":
        inside = item.concepts & {"place:interior", "place:roof"} or item.text.startswith("div")
        return bool(inside) and "floor" not in item.concepts
    named = item.kind in ("unit", "person") or item.text in word_list("polarity_called")
    return named or _room(item) or bool(item.concepts & word_list("calls_tasks"))


def _written_as_a_name(text: str, item: Item, found: Sequence[Token]) -> bool:
    """An unknown word with a capital, where not all are: "Alder Bay, …"."""
    written = text[found[item.start].start : found[item.end - 1].end]
    return item.kind in ("word", "street") and written.istitle() and not text.isupper()
