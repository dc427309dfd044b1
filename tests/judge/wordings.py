"""Picks a plain wording for every head and set of slots: the shortest of the bank that the rules read right for certain."""

from __future__ import annotations

import json
import random
import re
from pathlib import Path

from grammar.bank import bank, draw
from grammar.judge.heads import head
from grammar.judge.rewriting import key
from grammar.reader import considered
from tests.grammar.corpus.loader import contexts
from tests.judge.data import same, split_of

_SLOT = re.compile(r"<([a-z_]+?)\d?(?::\d)?(?:=[a-z_]+)?>")
_NAMED = ("unit", "place", "name", "count", "staffing")


def wordings(seed: int = 1) -> dict[str, str]:
    """The wordings by their names."""
    out: dict[str, str] = {}
    for way in sorted(bank(), key=lambda way: (len(way.wording.split()), way.wording)):
        if split_of(way) != "train" or not way.means:
            continue
        rng = random.Random(f"{seed} {way.wording}")
        says = [draw(way, rng) for _ in range(3)]
        assert says[0].commands
        slots = _SLOT.findall(way.wording)
        if any(value not in (True, False) for _, sets in way.means for field, value in sets.items() if field in _NAMED):
            continue  # a name that the wording itself holds would be everybody's
        name = key([head(command) for command in says[0].commands], slots)
        if name in out:
            continue
        context = contexts()[way.context]
        readings = [(considered(one.words, context)[0], one) for one in says]
        if all(
            r.commands and r.confidence > 0.9 and same(r.commands, one.commands or (), context) for r, one in readings
        ):
            out[name] = _SLOT.sub(r"<\1>", way.wording)
    return out


def write(to: Path) -> int:
    """Writes wordings.json; returns how many."""
    found = wordings()
    to.write_text(json.dumps(dict(sorted(found.items())), indent=0) + "\n", encoding="utf-8")
    return len(found)
