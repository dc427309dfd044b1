"""Who speaks of themselves: the own unit by its bare number ("12's on scene"), or by names ("Delgado and I")."""

from __future__ import annotations

from grammar.doubt import OWN
from grammar.items import Item
from grammar.vocabulary import word_list


def name_speakers(items: list[Item], own: str | None) -> None:
    """Marks the own unit's bare number as that unit, and people named with the speaker as the speaker."""
    _and_i(items)
    if len(items) > 1 and items[0].text in word_list("own_rooms") and items[1].kind == "unit":
        items[0].free = True  # "county, engine 12 …", without the pause
    if len(items) > 1 and items[-1].text in word_list("own_rooms"):
        items[-1].free = True
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
    """ "Delgado and I are going in", "me and Ochoa": we are."""
    us = word_list("own_me")
    for name, joins, me in zip(items, items[1:], items[2:], strict=False):
        if name.text in us - {"i"}:
            name, me = me, name
        if name.kind in ("word", "person") and "and" in joins.concepts and me.text in us:
            name.free = joins.free = True
            name.kind, joins.concepts = "word", frozenset()
            me.text = "we"


def _begins(items: list[Item], k: int) -> bool:
    """Nothing of its clause stands before it."""
    while k and items[k - 1].free and not _parts(items[k - 1]):
        k -= 1
    return k == 0 or _parts(items[k - 1])


def _parts(item: Item) -> bool:
    return item.kind == "sep" or "and" in item.concepts


def _of_an_officer(items: list[Item], k: int) -> bool:
    """ "Captain 12 is Harbor command", "captain on 12"."""
    officer = k - 2 if k > 1 and items[k - 1].text in word_list("where_on") else k - 1
    return k > 0 and items[officer].text in word_list("reader_officers") and _begins(items, officer)


def _told_of_itself(items: list[Item], k: int) -> bool:
    """ "12's on scene", "12 has Larkspur command", "12, PAR 4"."""
    hailed = all(item.text in word_list("own_hails") for item in items[:k])
    if k and not _parts(items[k - 1]) and not hailed:
        return False
    said = items[k + 1 : k + 6]
    after = [i for i in said if (not i.free or "arrived_word" in i.concepts) and i.text not in word_list("own_is")]
    its = "plural" in items[k].concepts or bool(said and said[0].text in word_list("own_has"))
    end = next((n for n, item in enumerate(said) if item.kind == "sep"), len(said))
    if its and any("command_word" in item.concepts for item in said[:end]):
        return True
    of_itself = word_list("own_of_a_unit") | (word_list("own_of_itself") if its else frozenset())
    counts = after[:1] and after[0].kind == "num" and any(i.concepts & {"par", "accounted"} for i in items)
    return bool(counts or (after and after[0].concepts & of_itself))


def _called_between(items: list[Item], k: int) -> bool:
    """The number stands alone between pauses, and nothing else of the message tells of hose, flow or pressure."""
    ends = {"sep" if not 0 <= n < len(items) else items[n].kind for n in (k - 1, k + 1)}
    numbers = [i for i in items if i.kind in ("num", "line", "family")]
    alone = ends == {"sep"} and len(items) > 1 and numbers == [items[k]]
    return alone and not any(i.concepts & word_list("own_pumped") for i in items)
