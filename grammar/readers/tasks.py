"""What a crew is sent to do: the trade's tasks and how they are named (language/people.toml)."""

from __future__ import annotations

from grammar.lexicon import ENGLISH, language, speaking
from grammar.readers.base import Take
from grammar.vocabulary import word_list

with speaking(ENGLISH):  # how the log names a task is the same in every language
    TASKS: tuple[tuple[str, str], ...] = tuple(language()["tasks"]["named"].items())
    _DONE_AS: dict[str, str] = dict(language()["tasks"]["done_as"])


def task_said(take: Take) -> str | None:
    """Takes what is to be done, in its own words where they say more."""
    for concept, name in TASKS:
        at = take.term(concept)
        if at >= 0:
            text = take.span.items[at].text
            take.terms(concept)
            return text if text in word_list("tasks_kept") else name
    return None


def done_as(task: str | None) -> str | None:
    """What is reported when it is done: "did truck 4 get the utilities" asks for that."""
    return _DONE_AS.get(task or "")
