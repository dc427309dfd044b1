"""Random sentences of the language, each with the command and the values it was drawn from where its frame says them.

sample(random.Random(1), Names())        # Phrase("arrest", "epi in two minutes ago", Arrest("epinephrine", …))
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Any, NamedTuple

from grammar.commands import Command, SaidTime
from grammar.frames import Frame, build
from grammar.patterns import Node
from grammar.phrases import DIGITS, Names, clock_times, names_said, patterns, said_trees
from grammar.slots import Slot
from grammar.spoken import clock_wordings, say, wordings
from grammar.vocabulary import vocabulary


@dataclass(frozen=True, slots=True)
class Phrase:
    """One random sentence, the group of patterns it comes from (mostly an intent), and its meaning, where known."""

    intent: str
    words: str
    command: Command | None = None


class _Said(NamedTuple):
    group: str
    frame: Frame | None
    tree: Node
    weight: int


def groups() -> tuple[str, ...]:
    """Names of all groups of patterns."""
    return tuple(dict.fromkeys((*patterns().sentences, *(f.command.intent for f, _ in patterns().frames))))


_PLAIN = Names()


def sample(rng: Random, names: Names = _PLAIN, intent: str | None = None) -> Phrase:
    """A random sentence (of one group, when named); round numbers and short forms come more often."""
    choices = [_Said(group, None, tree, weight) for group, (weight, tree) in patterns().sentences.items()]
    choices += [_Said(frame.command.intent, frame, tree, 1) for frame, tree in patterns().frames]
    choices = [one for one in choices if intent in (None, one.group)]
    chosen = rng.choices(choices, [one.weight for one in choices])[0]
    drawer = _Drawer(rng, names)
    words: list[str] | None = None
    while not words:
        drawer.values.clear()
        words = drawer.draw(chosen.tree)
    command = None
    if chosen.frame is not None:
        slots = chosen.frame.slots.items()
        kept = {field: " ".join(words) for field, slot in slots if slot.kind == "said" and not slot.named}
        command = build(chosen.frame, {**chosen.frame.defaults, **chosen.frame.sets, **kept, **drawer.values})
    if rng.random() < 0.2:
        words = [*(drawer.draw(("rule", "carrier")) or []), *words]
    if rng.random() < 0.1:
        words = [*words, *(drawer.draw(("rule", "tail")) or [])]
    return Phrase(chosen.group, " ".join(words), command)


class _Drawer:
    """Draws words of a tree, and notes the values of the slots among them."""

    def __init__(self, rng: Random, names: Names) -> None:
        self.rng = rng
        self.names = names
        self.said = names_said(names)
        self.values: dict[str, Any] = {}

    def draw(self, node: Node) -> list[str] | None:
        """Random words of a tree; None when it needs a name that the rig doesn't have."""
        kind, *parts = node
        if kind == "word":
            return [parts[0]]
        if kind == "rule":
            return self._rule(parts[0])
        if kind == "slot":
            return self._slot(parts[0], parts[1])
        if kind == "maybe":
            return (self.draw(parts[0]) or []) if self.rng.random() < 0.4 else []
        if kind == "any":
            return self.draw(self.rng.choice(parts))
        words: list[str] = []
        for part in parts:
            drawn = self.draw(part)
            if drawn is None:
                return None
            words += drawn
        return words

    def _rule(self, name: str) -> list[str] | None:
        data = patterns()
        if name in data.rules:
            return self.draw(data.rules[name])
        if name in data.numbers:
            return self._number(name)[0]
        if name == "clock_time":
            return self.rng.choice(clock_times()).split()
        if name == "digits":
            return [self.rng.choice(DIGITS) for _ in range(4)]
        return self.rng.choice(self.said[name]).split() if self.said[name] else None

    def _number(self, name: str) -> tuple[list[str], int]:
        numbers = patterns().numbers[name]
        pool = numbers.common if self.rng.random() < 0.75 else numbers.values
        value = pool[int(len(pool) * self.rng.random() ** numbers.skew)]
        ways = wordings(value)
        return ways[min(int(self.rng.expovariate(1.0)), len(ways) - 1)].split(), value

    def _slot(self, field: str, slot: Slot) -> list[str] | None:
        match slot.kind:
            case "number":
                words, value = self._number(slot.draw or "")
                self.values[field] = value if slot.whole else float(value)
                return words
            case "choice":
                value, terms = self.rng.choice(list(slot.choices.items()))
                self.values[field] = value
                return self.draw(("any", *said_trees(terms[:1])))
            case "rest":
                self.values[field] = self.rng.choice(slot.examples)
                return str(self.values[field]).split()
            case "topic":
                self.values[field] = self.rng.choice([t.name for t in vocabulary().topics if " " not in t.name])
                return str(self.values[field]).split()
            case "unit":
                kind, said = self.rng.choice(list(_drawn()["units"].items()))
                number = self.rng.randint(1, 60)
                self.values[field] = f"{kind} {number}"
                return [*said.split(), *say(number).split()]
            case "place":
                return self._place(field)
            case "time":
                return self._time(field)
            case _:
                raise ValueError(f"slot {slot.name}: values of kind {slot.kind} can't be drawn")

    def _place(self, field: str) -> list[str]:
        self.values[field], said = self.rng.choice(list(_drawn()["places"].items()))
        return str(said).split()

    def _time(self, field: str) -> list[str]:
        if self.rng.random() < 0.5 or "at" not in _drawn():
            minutes = self.rng.randint(2, 30)
            self.values[field] = SaidTime(ago_s=60.0 * minutes)
            return str(_drawn()["ago"]).format(minutes=say(minutes)).split()
        hour, minute = self.rng.randint(10, 23), self.rng.randint(10, 59)
        self.values[field] = SaidTime(hour=hour, minute=minute)
        return str(_drawn()["at"]).format(clock=self.rng.choice(clock_wordings(hour, minute))).split()


def _drawn() -> dict[str, Any]:
    """How units, places and times are said in drawn sentences."""
    drawn: dict[str, Any] = patterns().drawn
    return drawn
