"""Finds an order that everybody get out, in whatever else is said: its reason before or after it is kept as said."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from grammar.commands import Context, Evacuate
from grammar.items import Item, floor_name
from grammar.lexicon import by_language
from grammar.patterns import expression, search
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, wording_file

_MARK = re.compile(r" [.,;:!?\n] ")
_BESIDE = frozenset(
    (
        "so",
        "and",
        "then",
        "because",
        "since",
        "cause",
        ",",
        "now",
        "please",
        "go",
        "just",
        "lets",
        "let",
        "us",
        "i",
        "we",
        "want",
    )
)
"""Words between an order and its reason that belong to neither."""


class OrderOut(NamedTuple):
    """The order with the place that is to be left, and what was said before and after it."""

    command: Evacuate
    before: str
    after: str


def order_out(text: str, context: Context, known: Names) -> OrderOut | None:
    """The order, whatever else is said; None where nothing is ordered."""
    words = spaced(text)
    denied = 0
    for bare, wordings in enumerate(_orders()):
        for match in wordings.finditer(words):
            if match.start() < denied:
                continue
            if not _otherwise(words, match, known, bare=bool(bare)):
                return OrderOut(
                    _order(words, match, known), words[: match.start()].strip(), words[match.end() :].strip()
                )
            denied = max(denied, match.end())
    return None


def _otherwise(words: str, match: re.Match[str], known: Names, *, bare: bool) -> bool:
    """Denied, asked, planned, told; other people; a company by itself."""
    around = _around()
    start, end, said = match.start(), match.end(), match.group()
    before = [m.end() for m in _MARK.finditer(words, 0, start)]
    clause = words[before[-1] if before else 0 : start].split()
    closing = _MARK.search(words, end - 1)
    after = words[end : closing.start() + 1 if closing else len(words)].strip()
    if bare and after and not any(f"{after} ".startswith(f"{one} ") for one in around["bare_after"]):
        return True
    if any(f" {one} " in words for one in (*around["others"], *around["story"])):
        return True
    clause = clause[max((k + 1 for k, w in enumerate(clause) if w in ("so", "and", "then")), default=0) :]
    near = " ".join(clause)
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
    named = bool(_ONE.match(said)) and _last_unit(clause, known)
    return named or bool(_ONE_OF.match(said) and _unit_in(after, known))


_NEAR = 3
"""Words right before it in which a "no" denies it."""
_ONE = re.compile(
    r"(?:get|back|pull|bail|evacuate|clear|abandon|bring|withdraw)\b(?!.* (?:every|all|them|em|people|crews|guys))"
)
"""An order that a company may get by itself: "engine 9, back out"."""
_ONE_OF = re.compile(r"(?:get|pull|bring) ?$")


def _last_unit(clause: list[str], known: Names) -> bool:
    """The clause ends with one company: it is spoken to; not where it speaks ("command from engine 9 …")."""
    items = _tagged(" ".join(clause), known)
    units = [i for i in items if i.kind == "unit" and "crew:everyone" not in i.concepts]
    return bool(units) and items[-1] is units[-1] and not {"from", "is"}.intersection(clause)


def _unit_in(after: str, known: Names) -> bool:
    return any(item.kind == "unit" for item in _tagged(after, known)[:2])


def _order(words: str, match: re.Match[str], known: Names) -> Evacuate:
    closing = _MARK.search(words, match.end() - 1)  # past a comma stands why, not what is left
    after = words[match.start() : closing.start() if closing else len(words)]
    place = next(
        (
            floor_name(i.value) if i.kind == "floor" and isinstance(i.value, int) else str(i.value)
            for i in _left(_tagged(after, known))
            if i.kind in ("place", "floor") and i.value not in ("interior", "exterior")
        ),
        None,
    )
    return Evacuate(place, text=_reason(words, match))


def _left(items: list[Item]) -> list[Item]:
    """Without a place of which something is told: "everybody out, roof's going" leaves the whole building."""
    told = ("is", "s", "are", "going", "gone", "coming", "sagging", "moving", "about", "starting", "failing")
    return [item for k, item in enumerate(items) if not (items[k + 1 : k + 2] and items[k + 1].text.split()[0] in told)]


def _reason(words: str, match: re.Match[str]) -> str | None:
    """What else was said, before the order or else after it."""
    before = words[: match.start()].split()
    while before and before[-1] in _BESIDE:
        before.pop()
    return " ".join(before).replace(" ,", ",").strip(" .,;:") or None


def _tagged(words: str, known: Names) -> list[Any]:
    found = tokens(words)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


def _data() -> dict[str, Any]:
    return wording_file("orders_out")


def _around() -> dict[str, tuple[str, ...]]:
    around: dict[str, tuple[str, ...]] = _data()["around"]
    return around


@by_language
def _orders() -> tuple[re.Pattern[str], ...]:
    data = _data()
    return tuple(search(data["wordings"][kind], data["said"]) for kind in ("order", "bare"))
