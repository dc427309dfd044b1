"""A conditions-actions-needs report is kept whole; what it reports by itself is logged too."""

from __future__ import annotations

import re
from collections.abc import Callable

from grammar.beside import items_of
from grammar.commands import Benchmark, Command, Par, Reading, Report
from grammar.costs import TAKE
from grammar.items import Item
from grammar.polarity import mark_polarity
from grammar.vocabulary import Names

_PART = re.compile(
    r"[,;:.\n]+(?=\s|$)|\s-+\s"
    r"|\b(?:conditions|condition|actions|action|(?:no )?needs)\b|\band\b"
    r"|(?=\bwe(?:'ve|'re| have| are| got)\b)",
    re.IGNORECASE,
)
_NAMED = re.compile(r"\bCAN\b(?!\s+(?:you|we|I)\b)")
"""Written in capitals it is no auxiliary."""
_SURE = 0.85


def can_report(text: str, known: Names, reading: Reading, read: Callable[[str], Reading]) -> Reading:
    """The reading; of a message that is such a report, the report in its words and each benchmark or PAR in it."""
    items = items_of(text, known)
    if not _is_one(text, items, reading) or mark_polarity(items):
        return reading
    parts = [part for raw in _PART.split(text) if (part := raw.strip(" ,.;:"))]
    if len(parts) < 2:
        return reading
    unit = next(
        (str(item.value) for item in items if item.kind == "unit" and "crew:everyone" not in item.concepts), None
    )
    found: list[Command] = []
    for part in (part for part in parts if " " in part):  # "actions overhaul" says what they do, not that it is begun
        one = read(part)
        if one.confidence >= TAKE and part != text:
            found += [
                c
                for c in one.commands
                if isinstance(c, Benchmark) or (isinstance(c, Par) and c.count is not None and c.unit is not None)
            ]
    whole = [c for c in reading.commands if isinstance(c, Par) and c.count is not None]
    found += [] if any(isinstance(c, Par) for c in found) else whole
    taken = tuple(dict.fromkeys(command for command in found))
    kept = next((c for c in reading.commands if isinstance(c, Report) and c.kind == "can"), Report("can", text, unit))
    return Reading(text, (*taken, kept), _SURE, intent=(taken[0] if taken else kept).intent)


def _is_one(text: str, items: list[Item], reading: Reading) -> bool:
    """It names itself so, or its parts: conditions, and actions or needs."""
    concepts = {concept for item in items for concept in item.concepts}
    named = any("can_report" in item.concepts and item.text != "can" for item in items)
    named = named or (bool(_NAMED.search(text)) and not text.isupper())
    parts = "conditions" in concepts and not concepts.isdisjoint({"actions", "needs_word"})
    kept = any(isinstance(c, Report) and c.kind == "can" for c in reading.commands)
    wanted = reading.declined is not None and reading.intent == Report.intent
    return (named or parts or kept) and not wanted
