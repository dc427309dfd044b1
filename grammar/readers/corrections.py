"""Reads corrections of what was said just before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.amend import amendments
from grammar.commands import (
    Choice,
    Command,
    Correction,
    PumpPressure,
    Question,
    Undo,
    Wording,
)
from grammar.describe import several
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.stretch import LOGGED, left_over, stretch
from grammar.vocabulary import word_list

replace = msgspec.structs.replace


@reads("correction", "no", "undo", "not")
def read_correction(span: Span) -> Iterable[Candidate]:
    """ "correction, two fifty", "make that 250 feet", "no, I said fifteen", "residual's 60, sorry"."""
    last = span.context.last
    lo, opener = _after_opener(span)
    late = opener < 0 and span.items[span.hi - 1].text in word_list("corrections_late")
    if opener < 0 and not late:
        return
    hi = span.hi - 1 if late else span.hi
    while hi > lo and span.items[hi - 1].kind == "sep":
        hi -= 1
    explained = Take(span, *range(span.lo, lo), *range(hi, span.hi))
    firm = _firm(span, lo) or late
    if not any(not span.items[k].free and span.items[k].kind != "sep" for k in range(lo, hi)):
        if firm and "correction" in span.items[span.lo].text:
            yield explained.asking(_what_is_right(last, span.context.wording), Correction.intent, 0.1)
        return
    if not last:
        if firm:
            yield explained.asking(
                Question("What should be corrected? Nothing of yours was logged just before.", ()),
                Correction.intent,
                0.3,
            )
        return
    inner = Span(span.items, lo, hi, span.context, span.said)
    yield from _amended(span, inner, explained, firm)


def _after_opener(span: Span) -> tuple[int, int]:
    """Past the words that open a correction: (where what is right begins, the opener's place or -1)."""
    k = span.lo
    opener = -1
    while k < span.hi:
        item = span.items[k]
        opens = bool(item.concepts & {"correction"}) or (
            item.text in ("no", "nope", "wrong", "sorry", "scratch that", "not that", "belay that") and opener < 0
        )
        if opens:
            opener = k
        elif not (
            item.kind == "sep"
            or (
                opener >= 0
                and item.text in ("i", "said", "it", "was", "is", "that", "to", "at", "should be", "be", "actually")
                and item.free
            )
            or (opener < 0 and item.free and k < span.lo + 2)
        ):
            break
        k += 1
    return k, opener


def _firm(span: Span, lo: int) -> bool:
    """It can only be a correction: not merely a "no"."""
    texts = [span.items[k].text for k in range(span.lo, lo)]
    return any(t not in ("no", "nope", ",", "not that", "it", "is") for t in texts) or ("no" in texts and "," in texts)


def _amended(span: Span, inner: Span, explained: Take, firm: bool) -> Iterator[Candidate]:
    last = span.context.last
    base = 0.0 if firm else 0.2
    items = span.items
    denied = _denied_tail(inner)
    found = False
    for index in range(len(last) - 1, -1, -1):
        for command, cost, used in amendments(inner, last[index]):
            full = used | denied
            amended = (*last[:index], command, *last[index + 1 :])
            rest = left_over(items, inner.lo, inner.hi, full)
            if rest < 0.8:
                found = True
                yield explained.reading(Correction(amended), cost=base + cost + rest + 0.04)._replace(used=_all(span))
        if found:
            break
    for candidate in stretch(span.said, items, inner.lo, inner.hi, span.context):
        if len(candidate.commands) == 1 and not isinstance(candidate.commands[0], Correction | Undo):
            kind = type(candidate.commands[0]) is type(last[-1])
            if isinstance(candidate.commands[0], PumpPressure) and not isinstance(last[-1], PumpPressure):
                continue
            cost = base + candidate.cost + (0.06 if kind else 0.3)
            if (
                isinstance(candidate.commands[0], PumpPressure)
                and isinstance(last[-1], PumpPressure)
                and len(candidate.commands[0].lays) < len(last[-1].lays)
            ):
                continue  # one of several lines: which, and what of the rest?
            command = _merged(last[-1], candidate.commands[0]) if kind else candidate.commands[0]
            yield explained.reading(Correction((*last[:-1], command)), cost=cost)._replace(used=_all(span))
    if firm and not found and inner.kinds("num"):
        question = _what_is_right(last, span.context.wording)
        yield explained.asking(question, Correction.intent, 0.5)._replace(used=_all(span))


def _merged(old: Command, new: Command) -> Command:
    """What was said anew, over what was said before."""
    if isinstance(new, PumpPressure):
        return new
    said = {f: getattr(new, f) for f in new.__struct_fields__ if getattr(new, f) not in (None, False, ())}
    return replace(old, **said)


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


@reads("no", "not", "undo", "correction")
def read_denied(span: Span) -> Iterable[Candidate]:
    """ "No it isn't", "belay that, it isn't" after a report: is it to be taken back?"""
    if not denies_last(span):
        return
    logged = [command for command in span.context.last if isinstance(command, LOGGED)]
    whole = Take(span, *range(span.lo, span.hi))
    if not logged:
        why = "Nothing of yours was logged just before. Say what isn’t so."
        yield whole.declining(why, Undo.intent, 0.05)
        return
    what = several(tuple(logged), span.context.wording)
    choices = (Choice("take it back", (Undo(),)), Choice("leave it"))
    yield whole.asking(Question(f"Take back “{what}”?", choices), Undo.intent)


@reads("is:time")
def read_time_put_right(span: Span) -> Iterable[Candidate]:
    """ "that was at fourteen ten" after a report."""
    last = span.context.last[-1] if span.context.last else None
    if (
        last is None
        or "time" not in last.__struct_fields__
        or span.items[span.lo].text not in ("that", "it", "was", "that was")
    ):
        return
    take = Take(span)
    time = take.time()
    if not [i for i in take.open() if not span.items[i].free and span.items[i].kind != "sep"]:
        yield take.reading(Correction((*span.context.last[:-1], replace(last, time=time))), cost=0.1)


def _denied_tail(span: Span) -> int:
    """ "third floor not second": what it isn't explains itself."""
    mask = 0
    for i in range(span.lo, span.hi):
        if span.items[i].text == "not" or "not" in span.items[i].polarity:
            mask |= 1 << i
    return mask


def _all(span: Span) -> int:
    mask = 0
    for i in range(span.lo, span.hi):
        mask |= 1 << i
    return mask


def _what_is_right(last: tuple[Command, ...], wording: Wording) -> Question:
    what = f" (last: {several(last, wording)})" if last else ""
    return Question(f"What should it be? Say it with its unit{what}.", (), last[-1] if last else None, "correction")
