"""Finds an order to get out in whatever else is said: everybody's, or one to a company that is named.

`grammar.ordered_out` makes a reading of it, with what else was said.
"""

from __future__ import annotations

import itertools
import re
from typing import Any, NamedTuple

from grammar.commands import Context
from grammar.items import Item, floor_name
from grammar.lexicon import by_language
from grammar.patterns import Search, expression, search
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.tales import is_tale
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, wording_file

_MARK = re.compile(r" [.,;:!?\n] ")


class OrderOut(NamedTuple):
    """An order out, and what was said before and after it.

    Everybody's: no units, and the place that is to be left. `unclear`: it may be everybody's or these companies'.
    """

    place: str | None
    units: tuple[str, ...]
    before: str
    after: str
    unclear: bool = False


def order_out(text: str, context: Context, known: Names) -> OrderOut | None:
    """The order, whatever else is said; None where nothing is ordered."""
    words = spaced(text)
    return _everybodys(words, known) or _companys(words, known)


def held_off(text: str, known: Names) -> bool:
    """An order stands in the words, and what is around it makes something else of it: "be ready to evacuate"."""
    words = spaced(text)
    found = [(m, bool(bare)) for bare, w in enumerate(_orders("order", "bare")) for m in w.finditer(words)]
    return bool(found) and all(_otherwise(words, match, known, bare=bare) for match, bare in found)


def _everybodys(words: str, known: Names) -> OrderOut | None:
    denied = 0
    for bare, wordings in enumerate(_orders("order", "bare")):
        for match in wordings.finditer(words):
            if match.start() < denied:
                continue
            if not _otherwise(words, match, known, bare=bool(bare)):
                before, after = words[: match.start()], words[match.end() :]
                place = _place(words, match, known)
                return OrderOut(place, (), _without_place(before, known), _without_place(_past(after, known), known))
            denied = max(denied, match.end())
    return None


def _companys(words: str, known: Names) -> OrderOut | None:
    """ "Tell truck 4 to back out", "engine 9, get off the roof": to one company, or to two."""
    for unclear, wordings in enumerate(_orders("company", "unclear")):
        for match in wordings.finditer(words):
            units = tuple(str(i.value) for i in _tagged(match.group(), known) if i.kind == "unit")
            plain = units and not any(f" {one} " in f" {match.group()} " for one in _data()["said"]["everyone"])
            if plain and not _otherwise(words, match, known, bare=True, to_one=True):
                before, after = words[: match.start()], words[match.end() :]
                return OrderOut(None, units, before.strip(), after.strip(), bool(unclear))
    return None


def _otherwise(words: str, match: re.Match[str], known: Names, *, bare: bool, to_one: bool = False) -> bool:
    """Denied, asked, planned, told; other people; a company by itself, unless `to_one`."""
    around = _around()
    start, end, said = match.start(), match.end(), match.group()
    before = [m.end() for m in _MARK.finditer(words, 0, start)]
    clause = words[before[-1] if before else 0 : start].split()
    closing = _MARK.search(words, end - 1)
    after = words[end : closing.start() + 1 if closing else len(words)].strip()
    if bare and after and not any(f"{after} ".startswith(f"{one} ") for one in around["bare_after"]):
        return True
    if any(f" {one} " in words for one in around["others"]) or is_tale(words):
        return True
    clause = clause[max((k + 1 for k, w in enumerate(clause) if w in ("so", "and", "then")), default=0) :]
    near = " ".join(clause)
    if bare and any(f" {near}".endswith(f" {one}") for one in around["bare_before"]):
        return True
    if (
        any(word in clause[-_NEAR:] for word in around["not_before"])
        or clause[-1:] in (["no"], ["nobody"])
        or any(f" {one} " in f" {near} " for one in around["clause"])
    ):
        return True
    if any(re.search(rf"(?:^| ){expression(one, {})}$", near) for one in around["still"]):
        return True
    if (clause and clause[0] in around["asking"]) or (closing and closing.group().strip() == "?"):
        return True
    if any(re.match(rf"{expression(one, {})}(?: |$)", after) for one in around["after"]):
        return True
    if to_one:
        return False
    called = words[before[-2] if len(before) > 1 else 0 : before[-1] - 2].split() if before and not clause else []
    named = bool(_ONE.match(said)) and (_last_unit(clause, known) or _last_unit(called, known))
    behind = bool(_ONE.match(said)) and _only_unit(words[end:], known)
    return named or behind or bool(_ONE_OF.match(said) and _unit_in(after, known))


_NEAR = 3
"""Words right before it in which a "no" denies it."""
_ONE = re.compile(
    r"(?:get|back|pull|bail|evacuate|clear|abandon|bring|withdraw|come|move|leave|exit|vacate)\b"
    r"(?!.* (?:every|all|them|em|people|crews|guys))"
)
"""An order that a company may get by itself: "engine 9, back out"."""
_ONE_OF = re.compile(r"(?:get|pull|bring|evacuate|withdraw|order|call|back) ?$")


def _last_unit(clause: list[str], known: Names) -> bool:
    """The clause ends with one company: it is spoken to; not where it speaks ("command from engine 9 …")."""
    while clause and clause[-1] in _around()["to_one"]:
        clause = clause[:-1]
    if "from" in clause:
        clause = clause[: clause.index("from")]  # "engine 9 from command"
    items = _tagged(" ".join(clause), known)
    units = [i for i in items if i.kind == "unit" and "crew:everyone" not in i.concepts]
    return bool(units) and items[-1] is units[-1] and "is" not in clause


def _only_unit(after: str, known: Names) -> bool:
    """ "Back out, engine 9": a company, and nothing else."""
    items = [item for item in _tagged(after, known) if item.kind != "sep"]
    return bool(items) and all(i.kind == "unit" and "crew:everyone" not in i.concepts for i in items)


def _unit_in(after: str, known: Names) -> bool:
    return any(item.kind == "unit" for item in _tagged(after, known)[:2])


def _place(words: str, match: re.Match[str], known: Names) -> str | None:
    """What is to be left, said with the order or in a clause beside it: "clear the second floor, everybody off"."""
    closing = _MARK.search(words, match.end() - 1)  # past a comma stands why, not what is left
    with_it = words[match.start() : closing.start() if closing else len(words)]
    beside = _orders("place")[0].search(words)
    for said in (with_it, words[beside.start() :] if beside is not None else ""):
        for item in _left(_tagged(said, known)):
            if item.kind in ("place", "floor") and item.value not in ("interior", "exterior"):
                return floor_name(item.value) if isinstance(item.value, int) else str(item.value)
    return None


def _past(after: str, known: Names) -> str:
    """Past what the order goes on with: "of the building", "the second floor", "get out get out"."""
    for again in (*_orders("order", "bare"), *_orders("order", "bare")):
        if match := again.match(f" {after.strip()} ", 1):
            after = after.strip()[match.end() - 1 :]
    items = _tagged(after, known)
    k = 0
    while k < len(items) and (
        items[k].kind in ("place", "floor") or items[k].text in _OF_WHAT or "building" in items[k].concepts
    ):
        k += 1
    rest = " ".join(after.split()[sum(len(item.text.split()) for item in items[:k]) :])
    closing = _MARK.search(f" {rest} ")
    attached = rest[: closing.start()] if closing else rest
    return rest if len(attached.split()) != 1 else rest[len(attached) :]


_OF_WHAT = frozenset(("of", "off", "the", "that", "this", "your", "now", "please", "right now", "immediately", "from"))


def _without_place(words: str, known: Names) -> str:
    """Without the clauses that only say what is to be left."""
    said = f" {_orders('place')[0].sub('', f' {words.strip()} ')} "
    ends = [0, *(m.end() - 1 for m in _MARK.finditer(said)), len(said)]
    kept = [said[lo:hi] for lo, hi in itertools.pairwise(ends) if not _only_place(said[lo:hi], known)]
    return "".join(kept).strip()


def only_called(words: str, known: Names) -> bool:
    """Who is called, or calls, and nothing more: "engine 9 to command"."""
    items = [item for item in _tagged(words, known) if item.kind != "sep"]
    return all(
        i.free or i.kind == "unit" or i.text in ("from", "to", "this is") or "command_word" in i.concepts for i in items
    )


def _only_place(words: str, known: Names) -> bool:
    items = [item for item in _tagged(words, known) if item.kind != "sep"]
    return bool(items) and all(item.free or item.kind in ("place", "floor") for item in items)


def _left(items: list[Item]) -> list[Item]:
    """Without a place of which something is told: "everybody out, roof's going" leaves the whole building."""
    told = ("is", "s", "are", "going", "gone", "coming", "sagging", "moving", "about", "starting", "failing")
    return [item for k, item in enumerate(items) if not (items[k + 1 : k + 2] and items[k + 1].text.split()[0] in told)]


def _tagged(words: str, known: Names) -> list[Any]:
    found = tokens(words)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


def _data() -> dict[str, Any]:
    return wording_file("orders_out")


def _around() -> dict[str, tuple[str, ...]]:
    around: dict[str, tuple[str, ...]] = _data()["around"]
    return around


_KINDS = ("order", "bare", "company", "unclear", "place")


@by_language
def _order_wordings() -> dict[str, Search]:
    data = _data()
    return {kind: search(data["wordings"][kind], data["said"]) for kind in _KINDS}


def _orders(*kinds: str) -> tuple[Search, ...]:
    return tuple(_order_wordings()[kind] for kind in kinds)
