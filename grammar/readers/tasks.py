"""What a crew is sent to do: the trade's tasks and how they are named."""

from __future__ import annotations

from grammar.readers.base import Take

TASKS = (
    ("task_search", "search"),
    ("task_vent", "ventilate"),
    ("task_rit", "rit"),
    ("task_utilities", "utilities"),
    ("task_supply", "supply"),
    ("task_exposure", "exposures"),
    ("task_overhaul", "overhaul"),
    ("task_backup", "backup"),
    ("task_attack", "attack"),
    ("task_stage", "staging"),
    ("task_ladders", "ladders"),
    ("task_medical", "medical"),
    ("task_safety", "safety"),
    ("task_entry", "forcible entry"),
    ("task_operations", "operations"),
    ("task_accountability", "accountability"),
    ("task_command_post", "command post"),
    ("task_structure", "structure protection"),
)


def task_said(take: Take) -> str | None:
    """Takes what is to be done, in its own words where they say more."""
    for concept, name in TASKS:
        at = take.term(concept)
        if at >= 0:
            text = take.span.items[at].text
            take.terms(concept)
            return (
                text
                if text in ("primary search", "secondary search", "vertical ventilation", "ventilate", "fire attack")
                else name
            )
    return None
