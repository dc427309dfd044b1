"""The help: what can be said, by topic, with this rig's own lines and unit in the examples."""

from __future__ import annotations

from grammar.commands import Context
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
    return "\n".join((*lines, f"More on one of them: “help {fitting[0].name}”."))


def _examples(topic: Topic, context: Context) -> list[str]:
    line = context.rig_lines[0].names[0] if context.rig_lines else "crosslay one"
    unit = context.own_unit or "engine 12"
    said = (topic.metric if context.units == "metric" else ()) or topic.examples
    return [example.replace("{line}", line).replace("{unit}", unit) for example in said]
