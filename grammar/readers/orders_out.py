"""Finds an order to get out in whatever else is said: everybody's, or one to a company that is named.

`grammar.ordered_out` makes a reading of it, with what else was said.
"""

from __future__ import annotations

import itertools
import re
from typing import Any, NamedTuple

from grammar.around_wording import MARK, Near, ends, near, something_else
from grammar.commands import Context
from grammar.items import Item, floor_name
from grammar.lexicon import by_language
from grammar.patterns import Search, expression, search
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.tales import is_tale
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, wording_file


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
    here = near(words, match.start(), match.end())
    joined = max((k + 1 for k, w in enumerate(here.before) if w in around["joins"]), default=0)
    here = here._replace(before=here.before[joined:])
    behind = f"{here.after} "
    goes_on = bare and here.after and not any(behind.startswith(f"{one} ") for one in around["bare_after"])
    own = bare and ends(here.clause, around["bare_before"])
    if goes_on or own or something_else(here, around) or is_tale(words) or here.before[-1:] in (["no"], ["nobody"]):
        return True
    if any(re.search(rf"(?:^| ){expression(one, {})}$", here.clause) for one in around["still"]):
        return True
    asked = here.before[:1] and here.before[0] in around["asking"]
    return bool(asked) or here.mark == "?" or (not to_one and _of_one(here, words[match.end() :], known))


_ONE = re.compile(
    r"(?:get|back|pull|bail|evacuate|clear|abandon|bring|withdraw|come|move|leave|exit|vacate)\b"
    r"(?!.* (?:every|all|them|em|people|crews|guys))"
)
"""An order that a company may get by itself: "engine 9, back out"."""
_ONE_OF = re.compile(r"(?:get|pull|bring|evacuate|withdraw|order|call|back) ?$")


def _of_one(here: Near, behind: str, known: Names) -> bool:
    """One company gets it: it is called before or behind it."""
    said = here.said.strip()
    if _ONE_OF.match(said) and any(item.kind == "unit" for item in _tagged(here.after, known)[:2]):
        return True
    after = [item for item in _tagged(behind, known) if item.kind != "sep"]
    only = bool(after) and all(map(_is_company, after))  # "back out, engine 9"
    return bool(_ONE.match(said)) and (only or _last_unit(here.before, known) or _last_unit(here.called, known))


def _is_company(item: Item) -> bool:
    return item.kind == "unit" and "crew:everyone" not in item.concepts


def _last_unit(clause: list[str], known: Names) -> bool:
    """The clause ends with one company: it is spoken to; not where it speaks ("command from engine 9 …")."""
    while clause and clause[-1] in _around()["to_one"]:
        clause = clause[:-1]
    if "from" in clause:
        clause = clause[: clause.index("from")]  # "engine 9 from command"
    items = _tagged(" ".join(clause), known)
    return bool(items) and _is_company(items[-1]) and "is" not in clause


def _place(words: str, match: re.Match[str], known: Names) -> str | None:
    """What is to be left, said with the order or in a clause beside it: "clear the second floor, everybody off"."""
    closing = MARK.search(words, match.end() - 1)  # past a comma stands why, not what is left
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
    k = next((k for k, item in enumerate(items) if not _is_left(item)), len(items))
    rest = " ".join(after.split()[sum(len(item.text.split()) for item in items[:k]) :])
    closing = MARK.search(f" {rest} ")
    attached = rest[: closing.start()] if closing else rest
    return rest if len(attached.split()) != 1 else rest[len(attached) :]


def _is_left(item: Item) -> bool:
    return item.kind in ("place", "floor") or item.text in _around()["of_what"] or "building" in item.concepts


def _without_place(words: str, known: Names) -> str:
    """Without the clauses that only say what is to be left."""
    said = f" {_orders('place')[0].sub('', f' {words.strip()} ')} "
    ends = [0, *(m.end() - 1 for m in MARK.finditer(said)), len(said)]
    kept = [said[lo:hi] for lo, hi in itertools.pairwise(ends) if not _only_place(said[lo:hi], known)]
    return "".join(kept).strip()


def only_called(words: str, known: Names) -> bool:
    """Who is called, or calls, and nothing more: "engine 9 to command"."""
    items = [item for item in _tagged(words, known) if item.kind != "sep"]
    call = _around()["call"]
    return all(i.free or i.kind == "unit" or i.text in call or "command_word" in i.concepts for i in items)


def _only_place(words: str, known: Names) -> bool:
    items = [item for item in _tagged(words, known) if item.kind != "sep"]
    return bool(items) and all(item.free or item.kind in ("place", "floor") for item in items)


def _left(items: list[Item]) -> list[Item]:
    """Without a place of which something is told: "everybody out, roof's going" leaves the whole building."""
    told = _around()["going"]
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
