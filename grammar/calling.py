"""Who calls whom before anything is said: "crosslay 1 to the engineer, …", "nozzle on crosslay 2 to pump, …"."""

from __future__ import annotations

from grammar.items import Item
from grammar.vocabulary import word_list

_REACH = 8
"""Most items of such an opening."""


def mark_caller(items: list[Item]) -> None:
    """A line that calls the pump is the caller, no lay: it gets the concept "caller"; what calls it says nothing."""
    if len(items) > 2 and items[1].kind == "sep" and items[0].text in word_list("called_pump"):
        items[0].kind, items[0].free, items[0].concepts = "word", True, frozenset()  # "engine, I need …"
    pause = next((k for k, item in enumerate(items[:_REACH]) if item.kind == "sep"), -1)
    if pause < 3 or pause == len(items) - 1:
        return
    opening = items[:pause]
    lines = [k for k, item in enumerate(opening) if item.kind == "line"]
    to = next((k for k, item in enumerate(opening) if item.text == "to"), -1)
    called = {word for item in opening[to + 1 :] for word in item.text.split()} if to > 0 else set()
    if len(lines) != 1 or lines[0] > to or not called or not called <= word_list("called_pump"):
        return
    if any(item.kind in ("num", "floor", "unit") for item in opening) or any(
        "ask_pressure" in i.concepts for i in items
    ):
        return
    for item in opening:
        if item.kind == "line":
            item.concepts |= {"caller"}
        else:
            item.kind, item.free, item.concepts = "word", True, frozenset()
