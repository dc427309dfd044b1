"""A conditions-actions-needs report is kept whole; what it reports by itself is logged too."""

from __future__ import annotations

import re
from collections.abc import Callable

from grammar.beside import items_of
from grammar.commands import Benchmark, Command, Par, Reading, Report
from grammar.confidence import KEPT
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


def can_report(text: str, known: Names, reading: Reading, read: Callable[[str], Reading]) -> Reading:
    """The reading; of a message that is such a report, the report in its words and each benchmark or PAR in it."""
    items = items_of(text, known)
    if not _is_one(text, items, reading) or mark_polarity(items):
        return reading
    parts = [part for raw in _PART.split(text) if " " in (part := raw.strip(" ,.;:"))]
    # a single word, "actions overhaul", says what they do, not that it is begun
    found = [c for part in parts if part != text and (one := read(part)).confidence >= TAKE for c in one.commands]
    pars: list[Command] = [c for c in found if isinstance(c, Par) and c.unit is not None] or [*reading.commands]
    counted = [c for c in pars if isinstance(c, Par) and c.count is not None]
    taken: dict[Command, None] = dict.fromkeys([*(c for c in found if isinstance(c, Benchmark)), *counted])
    unit = next((str(i.value) for i in items if i.kind == "unit" and "crew:everyone" not in i.concepts), None)
    kept = next((c for c in reading.commands if isinstance(c, Report) and c.kind == "can"), Report("can", text, unit))
    commands: tuple[Command, ...] = (*taken, kept)
    return Reading(text, commands, KEPT, intent=commands[0].intent)


def _is_one(text: str, items: list[Item], reading: Reading) -> bool:
    """It names itself so, or its parts: conditions, and actions or needs."""
    concepts = {concept for item in items for concept in item.concepts}
    named = any("can_report" in item.concepts and item.text != "can" for item in items)
    named = named or (bool(_NAMED.search(text)) and not text.isupper())
    parts = "conditions" in concepts and not concepts.isdisjoint({"actions", "needs_word"})
    kept = any(isinstance(c, Report) and c.kind == "can" for c in reading.commands)
    wanted = reading.declined is not None and reading.intent == Report.intent
    return (named or parts or kept) and not wanted
