"""Why a reading is held back: `python -m tests.grammar.doubts [--bank] [--corpus] [--wild FILE …] [--show CAUSE …]`.

Reads the wording bank (never its held-out tenth), the corpus and sets of messages, and counts the messages that are
asked about though their best reading is the one that is due, by what holds it back; and beside them what the same
causes hold back rightly (the best reading is another one), since every loosening is weighed against those. Of a set of
messages (a JSON list of {text, intent, …}) only the intent is compared.

`--costs`: the recipe behind the table in `grammar/doubt.py`. Of the messages whose best reading leaves one word of a
kind unread and nothing else, the share s that is read right; its cost is the one at which 95 % is just taken:
ln(s) · ln(0.8) / ln(0.95). Kinds that less than twenty messages show keep their cost.
"""

from __future__ import annotations

import argparse
import json
import math
import random
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from grammar.bank import draw, ways
from grammar.commands import Command, Context
from grammar.costs import TAKE
from grammar.doubt import around, bearing, turns
from grammar.items import Item
from grammar.reader import Guess, read, warm, weighed
from grammar.splitting import Part
from grammar.vocabulary import names
from tests.grammar.corpus.loader import canonical, cases, contexts

_LOOSE = ("text", "remark", "task", "nature", "address")


class Message(NamedTuple):
    """A message and what is due: commands, an intent, or nothing (None)."""

    where: str
    text: str
    context: Context
    commands: tuple[Command, ...] | None
    intent: str | None = None


class Held(NamedTuple):
    """A message that wasn't answered: the cause, and whether its best reading was the right one."""

    cause: str
    right: bool
    message: Message
    best: Part


def messages(bank: bool, corpus: bool, wild: list[str]) -> Iterator[Message]:
    """Every message of the sources chosen."""
    if bank:
        rng = random.Random(1)
        for way in ways(False):
            said = draw(way, rng)
            yield Message(way.where, said.words, contexts()[way.context], said.commands)
    if corpus:
        for case in cases():
            yield Message(case.where, case.expected.say, case.context, case.expected.expect)
    for name in wild:
        for number, row in enumerate(json.loads(Path(name).read_text(encoding="utf-8")), start=1):
            if row.get("intent") and "expect" not in row:
                yield Message(f"{Path(name).stem}:{number}", row["text"], contexts()["fire"], None, row["intent"])


def held(message: Message) -> Held | None:
    """What holds the message back; None where it is answered, or its best reading isn't a command."""
    reading = read(message.text, message.context)
    if reading.commands:
        return None
    found = weighed([Guess(message.text, 1.0)], message.context, names(message.context))
    best = found[0][0] if found else None
    if best is None or not best.commands or any(p.question for p in best.pieces):
        return None
    return Held(_cause(best, [part for part, _ in found[1:]]), _right(message, best), message, best)


def costs(sources: Iterator[Message]) -> Iterator[tuple[str, int, float, float]]:
    """Kind, messages, share read right, cost by the recipe."""
    count: dict[str, Counter[bool]] = defaultdict(Counter)
    for message in sources:
        found = weighed([Guess(message.text, 1.0)], message.context, names(message.context))
        best = found[0][0] if found else None
        if best is None or not best.commands:
            continue
        left: list[tuple[str, Item]] = [(bearing(p.commands), item) for p in best.pieces for item in p.over]
        left += [("apart" if u.apart else "unread", item) for u in best.unread for item in u.items if not item.free]
        if len(left) == 1:
            count[f"{left[0][0]}: {_kind(left[0][1])}"][_right(message, best)] += 1
    for kind, by in count.items():
        share = (by[True] + 0.5) / (by.total() + 1)
        yield kind, by.total(), share, -math.log(share) * math.log(TAKE) / math.log(0.95)


def _right(message: Message, best: Part) -> bool:
    if message.intent is not None:
        return best.commands[0].intent == message.intent
    if not message.commands:
        return False
    plain = [canonical(commands, message.context, _LOOSE) for commands in (best.commands, message.commands)]
    return bool(plain[0] == plain[1])


def _cause(best: Part, rivals: list[Part]) -> str:
    if math.exp(-best.worst) >= TAKE:
        near = min(rivals, key=lambda part: part.cost, default=None)
        return f"rival: {_rival(best, near)}" if near is not None else "asked by another rule"
    left = [(bearing(p.commands), item, "beside") for p in best.pieces for item in p.over]
    apart = [("", item, "apart" if u.apart else "unread") for u in best.unread for item in u.items if not item.free]
    if not left and not apart:
        return "unsure of itself, or misspelt"
    bears, item, how = max([*left, *apart], key=lambda one: _rank(one[1]))
    more = " and more" if len(left) + len(apart) > 1 else ""
    return f"{how}{f' ({bears})' if bears else ''}: {_kind(item)}{more}"


def _rival(best: Part, rival: Part) -> str:
    if not rival.commands:
        return "asks" if any(p.question for p in rival.pieces) else "declines"
    if [c.intent for c in rival.commands] == [c.intent for c in best.commands]:
        return "another value"
    return "more commands" if len(rival.commands) > len(best.commands) else "another command"


_RANKS = (
    "free words",
    "idle word",
    "plain word",
    "strange word",
    "turning word",
    "term",
    "order or hope",
    "name",
    "number",
    "denial",
)


def _rank(item: Item) -> int:
    return _RANKS.index(_kind(item))


def _kind(item: Item) -> str:
    if item.kind == "num":
        return "number"
    if item.kind not in ("word", "term"):
        return "name"
    if "not" in item.concepts:
        return "denial"
    if item.polarity_mark:
        return "order or hope"
    if any(item.text in around(name) for name in ("idle", "scenery", "passing")):
        return "idle word"
    if turns(item):
        return "turning word"
    return "term" if item.kind == "term" else "plain word" if item.form == "plain" else "strange word"


def main() -> None:
    parser = argparse.ArgumentParser(description="Say what holds readings back.")
    parser.add_argument("--bank", action="store_true")
    parser.add_argument("--corpus", action="store_true")
    parser.add_argument("--wild", nargs="*", default=[], help="sets of messages, JSON")
    parser.add_argument("--show", nargs="*", default=[], help="causes whose messages are shown, by how they begin")
    parser.add_argument("--costs", action="store_true", help="what the recipe makes of each kind of unread word")
    options = parser.parse_args()
    warm()
    if options.costs:
        for kind, n, share, cost in sorted(costs(messages(options.bank, options.corpus, options.wild))):
            print(f"{kind:34}{n:>6}{share:>9.1%}{cost:>8.2f}")
        return
    count: dict[str, Counter[bool]] = defaultdict(Counter)
    for message in messages(options.bank, options.corpus, options.wild):
        one = held(message)
        if one is None:
            continue
        count[one.cause][one.right] += 1
        if any(one.cause.startswith(cause) for cause in options.show):
            print(
                "right" if one.right else "other", message.where, repr(message.text), f"{one.best.worst:.2f}", one.cause
            )
    print(f"{'held back by':46}{'needlessly':>12}{'rightly':>10}")
    for cause, by in sorted(count.items(), key=lambda entry: -entry[1][True]):
        print(f"{cause:46}{by[True]:>12}{by[False]:>10}")
    print(f"{'all':46}{sum(c[True] for c in count.values()):>12}{sum(c[False] for c in count.values()):>10}")


if __name__ == "__main__":
    main()
