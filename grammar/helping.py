"""The help: what can be said, by topic, with this rig's own lines and unit in the examples.

The examples stand with the frames and patterns that say them; a frame's own first wording is one where it names none.
"""

from __future__ import annotations

from collections.abc import Iterator

from grammar.commands import Context
from grammar.frames import Frame
from grammar.lexicon import by_language, sentence
from grammar.patterns import Node
from grammar.phrases import Examples, patterns, slot_tree
from grammar.slots import Slot
from grammar.vocabulary import Topic, vocabulary

_ALWAYS = "always"


def help_text(topic: str | None, context: Context) -> str:
    """One topic's help with all its examples; without a topic (or with an unknown one) a line for every topic.

    `context` gives the names that stand in the examples and the kind of incident.
    """
    topics = vocabulary().topics
    chosen = next((one for one in topics if one.name == topic), None)
    if chosen is not None:
        return "\n".join((chosen.about, *(f"• {example}" for example in _examples(chosen, context))))
    fitting = [one for one in topics if _ALWAYS in one.when or context.incident_kind in one.when]
    lines = [f"{one.name.capitalize()}: “{_examples(one, context)[0]}”" for one in fitting]
    return "\n".join((*lines, sentence("more_help", topic=fitting[0].name)))


def _examples(topic: Topic, context: Context) -> list[str]:
    line = context.rig_lines[0].names[0] if context.rig_lines else "crosslay one"
    unit = context.own_unit or "engine 12"
    said = examples(topic.name, metric=context.units == "metric")
    return [example.replace("{line}", line).replace("{unit}", unit) for example in said]


@by_language
def examples(topic: str, metric: bool = False) -> tuple[str, ...]:
    """What is said of a topic: {line} stands for a line of the rig, {unit} for the own unit."""
    leads = next((one.leads for one in vocabulary().topics if one.name == topic), "")
    said = sorted(said_of(topic, metric), key=lambda one: one[0] != leads)
    return tuple(dict.fromkeys(example for _, example in said))


def said_of(topic: str, metric: bool) -> Iterator[tuple[str, str]]:
    """The examples of a topic, each with the group of patterns, or the frame's intent, that says it."""
    for group, (usual, in_metric) in patterns().helped.items():
        yield from ((group, example) for example in _in(topic, usual, in_metric, metric))
    for frame, tree in patterns().frames:
        usual = {frame.help: (plain_wording(frame, tree),)} if isinstance(frame.help, str) else frame.help
        yield from ((frame.command.intent, example) for example in _in(topic, usual, frame.metric, metric))


def _in(topic: str, usual: Examples, in_metric: Examples, metric: bool) -> tuple[str, ...]:
    return tuple((metric and in_metric.get(topic)) or usual.get(topic, ()))


def plain_wording(frame: Frame, tree: Node) -> str:
    """A frame's first wording at its plainest, with what its slots may hold: "shock delivered at 200"."""
    kind, *parts = tree
    return " ".join(_plain(parts[0] if kind == "any" else tree))


def _plain(node: Node) -> Iterator[str]:
    """The first of alternatives; what may be left out only where it holds a slot."""
    kind, *parts = node
    match kind:
        case "word":
            yield parts[0]
        case "rule":
            rule = patterns().rules.get(parts[0])
            yield from _plain(rule) if rule is not None else ()
        case "slot":
            yield from _plain_value(parts[1])
        case "maybe":
            yield from _plain(parts[0]) if _has_slot(parts[0]) else ()
        case "any":
            yield from _plain(parts[0])
        case _:
            for part in parts:
                yield from _plain(part)


def _plain_value(slot: Slot) -> Iterator[str]:
    number = patterns().numbers.get(slot.draw or "")
    if number is not None:
        yield str(number.typical)
    else:
        yield from _plain(slot_tree(slot))


def _has_slot(node: Node) -> bool:
    """It holds a value worth an example: a place, a unit and a time may stand beside anything."""
    if node[0] == "slot":
        return node[2].kind in ("number", "choice", "rest")
    return any(_has_slot(part) for part in node[1:] if isinstance(part, tuple))
