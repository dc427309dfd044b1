"""Sentences with what they mean, from the wording bank, the corpus and opened sets of messages, for training.

    python -m tests.judge data --to FOLDER [--wild SET.json …] [--leave-out SET.json …] [--seed 1]

A row is a message with its words tagged, the heads that it carries (a command and its deciding fields, with a stance),
and proposals in words with 1 (what it means) or 0: among them what the rules proposed. Splits are by fixed hashes:
"test" (the bank's held-out tenth, and sets left out) is never read here, "fit" is for `fit` alone.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import multiprocessing
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from grammar import commands as c
from grammar.bank import Said, Way, bank, draw
from grammar.commands import Command, Context
from grammar.judge.candidates import proposed
from grammar.judge.heads import head
from grammar.judge.words import said
from grammar.reader import considered, warm
from tests.grammar.corpus.loader import canonical, cases, contexts
from tests.judge import wild
from tests.judge.noise import Word, renamed, spoil, tagged, wanted
from tests.judge.wrongs import wrongs

LOOSE = ("text", "remark", "task", "nature", "address")
QUERIES = ("PumpPressure", "Status", "Elapsed", "Help", "TankTime", "Repeat", "Par")
DRAWS, READ = 12, 2
"""Sentences a way; those of them that the rules read too."""


class Row(msgspec.Struct, omit_defaults=True):
    """One message as it is trained on."""

    words: list[Word]
    heads: list[tuple[str, str]] | None
    pairs: list[tuple[str, int]]
    nothing: bool = False
    """Heads are known only to be reported by none."""


def byte(text: str, salt: str) -> int:
    """A fixed number 0..255 for a text."""
    return hashlib.sha256((salt + text).encode()).digest()[0]


def split_of(way: Way) -> str:
    """test, fit or train."""
    if way.held_out:
        return "test"
    return "fit" if byte(way.wording, "fit") < 26 else "train"


def case_split(text: str) -> str:
    """A message of the corpus or of a set: fit or train."""
    return "fit" if byte(text, "fit") < 40 else "train"


# --------------------------------------------------------------------------------------------------------------- rules


def rules_say(text: str, context: Context) -> list[tuple[Command, ...]]:
    """What the rules propose for a message."""
    reading, found = considered(text, context)
    return [one.commands for one in proposed(reading, found)]


def same(one: tuple[Command, ...], other: tuple[Command, ...], context: Context) -> bool:
    """They mean the same, but for words that are only kept."""
    return bool(canonical(one, context, LOOSE) == canonical(other, context, LOOSE))


def heads_of(commands: tuple[Command, ...]) -> list[tuple[str, str]]:
    """The heads of what was said, each with its stance."""
    out = []
    for command in commands:
        name = type(command).__name__
        stance = "asked" if name in ASKED else "ordered" if name in ("Evacuate", "Request") else "reported"
        out.append((head(command), stance))
        if isinstance(command, c.Status) and command.about:
            out.append((head(c.Benchmark(command.about)), "asked"))  # type: ignore[arg-type]
    return out


ASKED = frozenset(
    kind.__name__
    for kind in (
        c.PumpPressure,
        c.FlowAtPressure,
        c.LongestLay,
        c.TipForFlow,
        c.Nozzle,
        c.SupplyPressure,
        c.PumpStatus,
        c.WhatIf,
        c.TankTime,
        c.NeededFlow,
        c.Shuttle,
        c.Draft,
        c.Fitting,
        c.Elapsed,
        c.Status,
        c.AirTime,
        c.OxygenTime,
        c.Help,
        c.Repeat,
        c.PumpChart,
        c.ShowPicture,
        c.HandOver,
        c.SendReport,
    )
)
"""Commands that are asked."""


# ---------------------------------------------------------------------------------------------------------------- bank


class Drawn(NamedTuple):
    """A drawn sentence with its words tagged."""

    said: Said
    words: list[Word]
    context: Context


def drawn(way: Way, rng: random.Random) -> Drawn:
    """A sentence of a way; names that the wording itself holds are slots too."""
    one = draw(way, rng)
    spans = list(one.slots)
    for _, sets in way.means or ():
        for key in ("unit", "place"):
            value = str(sets.get(key, ""))
            at = one.words.lower().find(value) if value and value != "same" else -1
            if at >= 0:
                spans.append((at, at + len(value), key))
    rest = "C" if way.means else ""
    return Drawn(one, tagged(one.words, tuple(spans), rest), contexts()[way.context])


def text_of(words: list[Word]) -> str:
    return " ".join(word.text for word in words)


def bank_rows(ways: list[Way], meanings: list[tuple[Command, ...]], seed: int) -> Iterator[Row]:
    """Rows of these ways."""
    for way in ways:
        rng = random.Random(f"{seed} {way.where} {way.wording}")
        draws = DRAWS if way.means is None or "<" not in way.wording else DRAWS + 4
        for n in range(draws):
            one = drawn(way, rng)
            words = one.words
            if n and rng.random() < 0.3:
                words = renamed(words, rng)
            if n and _bare_lay(one.said) and rng.random() < 0.4:
                words = wanted(words, rng)
            words = words if n == 0 else spoil(words, rng, rng.choice((0.7, 1.0, 1.6)))
            yield from _row(one, words, meanings, rng, n < READ or (way.means is not None and not way.means))
        if way.means and len(way.means) == 1 and way.means[0][0] is c.Benchmark and rng.random() < 0.5:
            yield from stance_rows(drawn(way, rng), rng)
        if way.means and rng.random() < 0.8:
            yield from joined_rows(way, ways, rng)


def _bare_lay(one: Said) -> bool:
    """Only lays are asked for: a question beside them says it again."""
    return bool(one.commands) and all(isinstance(command, c.PumpPressure) for command in one.commands or ())


def _row(
    one: Drawn, words: list[Word], meanings: list[tuple[Command, ...]], rng: random.Random, by_rules: bool
) -> Iterator[Row]:
    commands, text = one.said.commands, text_of(words)
    found = rules_say(text, one.context) if by_rules else []
    if not commands:
        pairs = [(said(f), 0) for f in found if commands == () or not {type(x).__name__ for x in f} <= {*QUERIES}]
        pairs += [(said(other), 0) for other in rng.sample(meanings, 2)]
        if commands is None:
            pairs.append((said(()), 1))
        yield Row(words, None if commands == () else [], unique(pairs), nothing=commands is None)
        return
    pairs = [(said(commands), 1)]
    pairs += [(said(f), int(same(f, commands, one.context))) for f in found]
    for wrong in wrongs(commands, rng, meanings, 3):
        pairs.append((said(wrong), int(same(wrong, commands, one.context))))
    if rng.random() < 0.3:
        pairs.append((said(()), 0))
    yield Row(words, heads_of(commands), unique(pairs))
    slots = [k for k, w in enumerate(words) if w.tag not in ("C", "O", "")]
    if len(words) > 4 and slots and rng.random() < 0.06:  # the end is cut, and a number with it
        cut = words[: slots[-1]]
        if len(cut) > 1:
            yield Row(cut, None, [(said(commands), 0)])


def unique(pairs: list[tuple[str, int]]) -> list[tuple[str, int]]:
    """Each proposal once; right where it is right in any of its forms."""
    best: dict[str, int] = {}
    for words, right in pairs:
        best[words] = max(right, best.get(words, 0))
    return [*best.items()]


_STANCED: dict[str, tuple[str, ...]] = {
    "asked": (
        "is it true that {S}",
        "{S}?",
        "has {S} been called",
        "any chance {S}",
        "anyone know if {S}",
        "do we show {S}",
        "did we get {S} or no",
        "was that {S}",
        "who called {S}",
        "did you copy {S}",
        "do you have {S} logged",
    ),
    "denied": (
        "not {S}",
        "negative, not {S}",
        "no, not {S} yet",
        "it's not the case that {S}",
        "scratch that, not {S}",
        "nobody has said {S}",
        "{S}, not yet",
        "don't put down {S}",
        "that's a no on {S}",
        "still no {S}",
        "never mind {S}",
    ),
    "hoped": (
        "hoping for {S}",
        "should have {S} in a few",
        "will call {S} when it is",
        "looking for {S} soon",
        "{S} coming up",
        "let me know when it's {S}",
        "if we get {S} we can switch out",
        "as soon as it's {S} tell me",
        "might be {S} shortly",
        "expect {S} in two minutes",
        "almost {S}",
        "trying to get {S}",
        "before {S} nobody moves",
        "wait till {S}",
        "about to have {S}",
        "getting ready for {S}",
        "we're going to need {S}",
        "next up {S}",
        "in a minute {S}",
        "close to {S}",
        "once it's {S} call me",
        "need somebody to get {S}",
        "plan is {S}",
        "working toward {S}",
        "would like {S}",
        "{S} in five",
    ),
    "quoted": (
        "the other crew was told {S} on the other channel",
        "dispatch asked what {S} means",
        "how do you say {S} in the log",
        "in the drill we called {S}",
        "yesterday we had {S}",
        "training only: {S}",
        "my brother said {S}",
        "they wrote {S} in the book",
        "example: {S}",
        "for example {S}",
        "say something like {S}",
        "like when you say {S}",
        "at the academy they say {S}",
        "last week at that barn, {S}",
        "the PD says {S}",
        "heard on the scanner {S}",
        "the word {S} goes on the form",
        "if you type {S} it logs it",
        "in the book it says {S}",
        "on the other job {S}",
    ),
}
_STANCES_OF = (
    "Benchmark",
    "Arrest",
    "WaterSource",
    "LineOn",
    "LineOff",
    "Entry",
    "Exit",
    "Evacuate",
    "Strategy",
    "Par",
    "Mayday",
    "Emergency",
)


def more_stances(ways: list[Way], seed: int) -> Iterator[Row]:
    """Every report and order of the bank asked, denied, hoped and quoted, some as they stand beside them."""
    for way in ways:
        if not way.means or len(way.means) != 1 or way.means[0][0].__name__ not in _STANCES_OF:
            continue
        rng = random.Random(f"{seed} stance {way.where} {way.wording}")
        for _ in range(4):
            yield from stance_rows(drawn(way, rng), rng)


def stance_rows(one: Drawn, rng: random.Random) -> Iterator[Row]:
    """What is asked, denied, hoped, quoted reports nothing."""
    assert one.said.commands
    stance = rng.choice([*_STANCED])
    before, after = rng.choice(_STANCED[stance]).split("{S}")
    words = [Word(w, "C") for w in before.split()] + one.words
    if after.strip():
        words += [Word(w, "C") for w in after.split()]
        words = words if after[0] == " " else [*words[:-1]]
    pairs = [(said(one.said.commands), 0)] + ([(said(()), 1)] if stance != "asked" else [])
    yield Row(spoil(words, rng, 0.7), [(h, stance) for h, _ in heads_of(one.said.commands)], pairs)


def joined_rows(way: Way, ways: list[Way], rng: random.Random) -> Iterator[Row]:
    """Two things in one message."""
    near = [w for w in rng.sample(ways, min(len(ways), 60)) if w.means and w.context == way.context]
    if not near:
        return
    one, two = drawn(way, rng), drawn(rng.choice(near), rng)
    between = rng.choice((",", ".", ",", " and", "", ", then", ";", " also", " and then"))
    words = [*one.words[:-1], Word(one.words[-1].text + between[:1].strip(), one.words[-1].tag)]
    words += [Word(w, "O") for w in between[1:].split()]
    words += two.words
    assert one.said.commands
    assert two.said.commands
    both = (*one.said.commands, *two.said.commands)
    pairs = [(said(both), 1), (said(one.said.commands), 0), (said(two.said.commands), 0)]
    pairs += [(said(wrong), 0) for wrong in wrongs(both, rng, [both], 2)]
    yield Row(spoil(words, rng, 0.6), heads_of(both), unique(pairs))


# ------------------------------------------------------------------------------------------------------ corpus and sets


def corpus_rows(seed: int, meanings: list[tuple[Command, ...]]) -> Iterator[Row]:
    """The corpus, three times: as it stands and spoiled; follow-ups on an open question are left out."""
    for case in cases():
        expected = case.expected
        if case_split(expected.say) == "fit" or case.context.asked is not None:
            continue
        rng = random.Random(f"{seed} {case.where}")
        lists = (() if expected.expect is None else (expected.expect,)) + expected.or_
        for n in range(3):
            words = tagged(expected.say, (), "")
            words = words if n == 0 or len(words) < 2 else spoil(words, rng)
            found = rules_say(text_of(words), case.context) if n < 2 else []
            pairs = [(said(f), int(any(same(f, due, case.context) for due in lists))) for f in found]
            pairs += [(said(due), 1) for due in lists]
            for due in lists[:1]:
                pairs += [
                    (said(w), int(any(same(w, d, case.context) for d in lists))) for w in wrongs(due, rng, meanings, 3)
                ]
            if not lists and (expected.decline or expected.ignore):
                pairs.append((said(()), 1))
            yield Row(
                words,
                heads_of(lists[0]) if lists else None,
                unique(pairs),
                nothing=not lists and (expected.decline or expected.ignore),
            )


def wild_rows(paths: list[Path], seed: int, meanings: list[tuple[Command, ...]]) -> Iterator[Row]:
    """Opened sets of messages: what the rules propose is right where its answer is."""
    for path in paths:
        for message in wild.messages(path):
            if case_split(message.text) == "fit":
                continue
            rng = random.Random(f"{seed} {message.text}")
            for n in range(6):
                words = tagged(message.text, (), "")
                words = words if n == 0 else spoil(words, rng)
                pairs: list[tuple[str, int]] = []
                heads = None
                for commands in rules_say(text_of(words), wild.context()):
                    right = wild.right(message, commands)
                    if right is None:
                        continue
                    pairs.append((said(commands), int(right)))
                    if right and n == 0:
                        heads = heads_of(commands)
                    if right:
                        pairs += [
                            (said(w), 0) for w in wrongs(commands, rng, meanings, 2) if not wild.right(message, w)
                        ]
                if message.nothing:
                    pairs.append((said(()), 1))
                if pairs:
                    yield Row(words, heads, unique(pairs))


# ----------------------------------------------------------------------------------------------------------------- all


def _part(job: tuple[str, Any, int]) -> list[bytes]:
    kind, what, seed = job
    warm()
    rng = random.Random(seed)
    meanings = [m for w in bank() if split_of(w) == "train" and w.means and (m := draw(w, rng).commands)]
    if kind == "bank":
        train = [way for way in bank() if split_of(way) == "train"]
        first, step = what
        mine = train[first::step]
        rows = bank_rows(mine, meanings, seed)
    elif kind == "stances":
        rows = more_stances([way for way in bank() if split_of(way) == "train"], seed)
    elif kind == "corpus":
        rows = corpus_rows(seed, meanings)
    else:
        rows = wild_rows(what, seed, meanings)
    return [msgspec.json.encode(row) for row in rows]


def make(to: Path, wild_sets: list[Path], seed: int, workers: int, slice_of: int = 1) -> dict[str, int]:
    """Writes bank.jsonl.gz, corpus.jsonl.gz and a file a set; `slice_of` n takes an n-th of the bank, for trying out.

    Returns the number of rows of each.
    """
    step = 32
    jobs: list[tuple[str, tuple[str, Any, int]]] = [(kind, (kind, None, seed)) for kind in ("stances", "corpus")]
    jobs += [(path.stem, ("wild", [path], seed)) for path in wild_sets]
    jobs += [("bank", ("bank", (k, step * slice_of), seed)) for k in range(step)]
    to.mkdir(parents=True, exist_ok=True)
    count: dict[str, int] = {}
    with multiprocessing.Pool(workers) as pool:
        for (name, _), part in zip(jobs, pool.imap(_part, [job for _, job in jobs]), strict=True):
            with gzip.open(to / f"{name}.jsonl.gz", "ab" if name in count else "wb", 5) as out:
                out.writelines(row + b"\n" for row in part)
            count[name] = count.get(name, 0) + len(part)
    (to / "data.json").write_text(json.dumps({"rows": count, "seed": seed}))
    return count
