"""Reads talk about the talk: undo, say again, help, spoken answers."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from grammar.commands import (
    Help,
    Repeat,
    Talk,
    Undo,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.vocabulary import vocabulary, word_list

replace = msgspec.structs.replace


@reads("undo")
def read_undo(span: Span) -> Iterable[Candidate]:
    """ "undo the last two", "cancel that"."""
    i = span.first("undo")
    if i > span.lo and any(k < i for k in span.content()):
        return
    if denies_last(span):
        return
    take = Take(span, *span.where("undo", "last_one"))
    steps = take.number(None, low=1, high=10, whole=True)
    if steps is None and any(span.items[k].text == "both" for k in range(span.lo, span.hi)):
        steps = 2.0
        take.terms("both")
    take.terms("undo", "last_one", "not", "order", "swap", "line")
    last = span.context.last[-1] if span.context.last else None
    rest = [k for k in take.open() if not span.items[k].free and span.items[k].kind != "sep"]
    if rest and last is not None:
        said = {str(v).replace("_", " ") for v in msgspec.structs.astuple(last) if isinstance(v, str)}
        if span.stance(i) == "said" and any(
            concept.replace("_", " ") in said for k in rest for concept in span.items[k].concepts
        ):
            take.mark(*rest)
            take.cost += 0.15
    yield take.reading(Undo(int(steps or 1)), cost=0.02)


def denies_last(span: Span) -> bool:
    """Nothing is said but that it isn't so: after "no", "belay that" or by itself."""
    words = [w for k in range(span.lo, span.hi) if span.items[k].kind != "sep" for w in span.items[k].text.split()]
    start = next((k for k, word in enumerate(words) if word in word_list("polarity_persons") and k + 1 < len(words)), 0)
    opener = " ".join(words[:start])
    if opener.endswith((" that", " it")):  # "belay that, it is not" begins with its second "it"
        opener = opener.rsplit(" ", 1)[0]
    said = words[start:]
    while len(said) > 1 and said[0] in ("that", "it") and said[1] in word_list("polarity_persons"):
        said = said[1:]
    if len(said) < 3 or said[1] not in word_list("polarity_aux") or said[2] not in ("not", "wrong"):
        return False
    return opener in word_list("corrections_openers") and {*said[3:]} <= word_list("corrections_tails")


@reads("not", "order")
def read_cancel_named(span: Span) -> Iterable[Candidate]:
    """ "cancel water on the fire" after it was logged."""
    first = span.items[span.lo]
    last = span.context.last[-1] if span.context.last else None
    if first.text not in ("cancel", "scratch", "disregard", "delete", "remove") or last is None or span.has("undo"):
        return
    said = {v for v in msgspec.structs.astuple(last) if isinstance(v, str)}
    named = [k for k in range(span.lo + 1, span.hi) if span.items[k].concepts & said or span.items[k].value in said]
    if named:
        yield Take(span, span.lo, *named).reading(Undo(), cost=0.0)


@reads("repeat")
def read_repeat(span: Span) -> Iterable[Candidate]:
    """ "say again"."""
    take = Take(span, *span.where("repeat"))
    take.unit()
    yield take.reading(Repeat(), cost=0.0)


@reads("help")
def read_help(span: Span) -> Iterable[Candidate]:
    """ "help", "help hydrant"."""
    i = span.first("help")
    take = Take(span, *span.where("help"))
    words = [w for k in range(i + 1, span.hi) if span.items[k].kind != "sep" for w in span.items[k].text.split()]
    topic = find_topic(" ".join(words)) if span.items[i].text.startswith(("help", "how do")) else None
    if topic is not None:
        take.mark(*range(i, span.hi))
        yield take.reading(Help(topic), cost=0.02 if span.items[i].text != "how do i" else 0.1)
    elif span.items[i].text == "help" and [
        k for k in take.open() if not span.items[k].free and span.items[k].kind != "sep"
    ]:
        yield take.reading(Help(), cost=0.1)
    elif span.items[i].text not in ("how do i", "options", "commands", "help with", "help on", "help about"):
        yield take.reading(Help())


def find_topic(words: str) -> str | None:
    """The help topic that the words name."""
    said = words.split()
    for topic in vocabulary().topics:
        for name in (topic.name, *topic.also):
            if name in said or f"{name}s" in said or (" " in name and name in words):
                return topic.name
    return None


@reads("talk_on", "talk_off")
def read_talk(span: Span) -> Iterable[Candidate]:
    """ "talk to me", "stop talking"."""
    i = span.first("talk_on", "talk_off")
    take = Take(span, i, *span.where("not"))
    if not span.has("reminders") and (span.lo == 0 or len(span.items[i].text.split()) > 1):
        yield take.reading(Talk(on="talk_on" in span.items[i].concepts and span.stance(i) != "denied"))


_OPENERS = ("correction", "no", "undo")
