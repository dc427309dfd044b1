"""Who speaks of themselves: the own unit by its bare number ("12's on scene"), or by names ("Delgado and I")."""

from __future__ import annotations

from grammar.doubt import OWN
from grammar.items import Item
from grammar.vocabulary import word_list

_OF_A_UNIT = frozenset(
    (
        "on_scene",
        "en_route",
        "available",
        "returning",
        "in_quarters",
        "command_established",
        "arrived_word",
        "establishing",
    )
)
_OF_ITSELF = _OF_A_UNIT | frozenset(
    (
        "on_hydrant",
        "par",
        "rehab",
        "accounted",
        "ready_for_water",
        "with_crew",
        "command_word",
        "hydrant_word",
        "entry",
        "exit",
        "coming_out",
    )
)
"""What a unit reports of itself as "12's …"."""
_IS = ("is", "are", "s", "got", "has")


def name_speakers(items: list[Item], own: str | None) -> None:
    """Marks the own unit's bare number as that unit, and people named with the speaker as the speaker."""
    _and_i(items)
    number = own.rpartition(" ")[2] if own else ""
    for k, item in enumerate(items):
        if item.kind == "unit" and number and item.value == f"pumper {number}":
            item.value = own
        if item.kind == "unit" and item.value == own:
            item.form = OWN
        own_number = item.kind == "num" and number.isdigit() and item.unit is None and item.value == float(number)
        if own_number and (_called_between(items, k) or _of_an_officer(items, k) or _told_of_itself(items, k)):
            item.kind, item.value, item.unit = "unit", own, None


def _and_i(items: list[Item]) -> None:
    """ "Delgado and I are going in": we are."""
    for k in range(len(items) - 2):
        name, joins, me = items[k : k + 3]
        if name.text in ("me", "myself"):  # "me and Ochoa"
            name, me = me, name
        if name.kind in ("word", "person") and joins.text == "and" and me.text in ("i", "i am", "me", "myself"):
            name.free = joins.free = True
            name.kind, joins.concepts = "word", frozenset()
            me.text = "we"


def _begins(items: list[Item], k: int) -> bool:
    """Nothing of its clause stands before it."""
    while k and items[k - 1].free and items[k - 1].kind != "sep" and "and" not in items[k - 1].concepts:
        k -= 1
    return k == 0 or items[k - 1].kind == "sep" or "and" in items[k - 1].concepts


def _of_an_officer(items: list[Item], k: int) -> bool:
    """ "Captain 12 is Harbor command", "captain on 12"."""
    officer = k - 2 if k > 1 and items[k - 1].text == "on" else k - 1
    return k > 0 and items[officer].text in word_list("reader_officers") and _begins(items, officer)


_HAILS = frozenset(
    ("ok", "okay", "alright", "all right", "so", "copy", "copy that", "hey", "roger", "yeah", "well", "uh")
)


def _told_of_itself(items: list[Item], k: int) -> bool:
    before = items[k - 1] if k else None
    hailed = all(i.text in _HAILS for i in items[:k])
    if before is not None and before.kind != "sep" and "and" not in before.concepts and not hailed:
        return False
    said = items[k + 1 : k + 6]
    after = [i for i in said if (not i.free or "arrived_word" in i.concepts) and i.text not in _IS]
    its = "plural" in items[k].concepts or bool(said and said[0].text in ("has", "is"))
    if its and any("command_word" in item.concepts for item in _clause(said)):
        return True  # "12 has Larkspur command"
    of_itself = _OF_ITSELF if its else _OF_A_UNIT
    counts = bool(after) and after[0].kind == "num" and any(i.concepts & {"par", "accounted"} for i in items)
    return counts or (bool(after) and not after[0].concepts.isdisjoint(of_itself))


def _clause(items: list[Item]) -> list[Item]:
    end = next((k for k, item in enumerate(items) if item.kind == "sep"), len(items))
    return items[:end]


def _called_between(items: list[Item], k: int) -> bool:
    """The number stands alone between pauses, and nothing else of the message tells of hose, flow or pressure."""
    before = k > 0 and items[k - 1].kind == "sep"
    alone = (before or k == 0) and (k + 1 == len(items) or items[k + 1].kind == "sep") and len(items) > 1
    numbers = [i for i in items if i.kind in ("num", "line", "family")]
    return alone and numbers == [items[k]] and not any(i.concepts & _PUMPED for i in items)


_PUMPED = frozenset(
    (
        "line",
        "static",
        "residual",
        "flowing",
        "nozzle",
        "tip",
        "ask_pressure",
        "intake_gauge",
        "cylinder",
        "lowest_word",
    )
)
