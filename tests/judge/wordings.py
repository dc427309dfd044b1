"""Picks a plain wording for every head and its slots: the shortest of the bank that the rules read for certain."""

from __future__ import annotations

import json
import random
import re
from pathlib import Path

from grammar.bank import Way, bank, draw
from grammar.judge.heads import head
from grammar.judge.rewriting import key
from grammar.judge.words import DECIDING
from grammar.reader import considered
from tests.grammar.corpus.loader import contexts
from tests.judge.data import same, split_of

_SLOT = re.compile(r"<([a-z_]+?)\d?(?::\d)?(?:=[a-z_]+)?>")


def undecided(way: Way) -> bool:
    """The wording itself says something that neither heads nor slots tell: "a little more", "the first line"."""
    return any(
        not isinstance(value, bool) and value != "same" and field not in DECIDING
        for _, sets in way.means or ()
        for field, value in sets.items()
    )


def name_of(way: Way, seed: int) -> str:
    """The name of the wording that a way could be."""
    commands = draw(way, random.Random(f"{seed} {way.wording}")).commands
    assert commands
    return key([head(command) for command in commands], _SLOT.findall(way.wording))


def wordings(seed: int = 1) -> dict[str, str]:
    """The wordings by their names; none for what another way with the same heads and slots says differently."""
    train = [way for way in bank() if split_of(way) == "train" and way.means]
    unclear = {name_of(way, seed) for way in train if undecided(way)}
    out: dict[str, str] = {}
    for way in sorted(train, key=lambda way: (len(way.wording.split()), way.wording)):
        name = name_of(way, seed)
        if name in out or name in unclear or undecided(way):
            continue
        rng = random.Random(f"{seed} {way.wording}")
        says = [draw(way, rng) for _ in range(3)]
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
