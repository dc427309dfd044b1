"""Reads corrections of what was said just before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.amend import amendments
from grammar.commands import Choice, Command, Correction, PumpPressure, Question, Undo, Wording
from grammar.costs import DOUBTFUL, FAIR, LIKELY, UNLIKELY, UNSURE
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
    hi = next(k for k in range(span.hi - late, lo - 1, -1) if k == lo or span.items[k - 1].kind != "sep")
    explained = Take(span, *range(span.lo, lo), *range(hi, span.hi))
    firm = late or _firm(span, lo)
    if all(span.items[k].free or span.items[k].kind == "sep" for k in range(lo, hi)):
        if firm and "correction" in span.items[span.lo].text:
            yield explained.asking(_what_is_right(last, span.context.wording), Correction.intent, FAIR)
    elif last:
        yield from _amended(span, Span(span.items, lo, hi, span.context, span.said), explained, firm)
    elif firm:
        asked = "What should be corrected? Nothing of yours was logged just before."
        yield explained.asking(Question(asked, ()), Correction.intent, UNSURE)


def _after_opener(span: Span) -> tuple[int, int]:
    """Past the words that open a correction: (where what is right begins, the opener's place or -1)."""
    opener = -1
    for k in range(span.lo, span.hi):
        item = span.items[k]
        if "correction" in item.concepts or (opener < 0 and item.text in word_list("corrections_open")):
            opener = k
            continue
        leads = item.text in word_list("corrections_lead") if opener >= 0 else k < span.lo + 2
        if item.kind != "sep" and not (item.free and leads):
            return k, opener
    return span.hi, opener


def _firm(span: Span, lo: int) -> bool:
    """It can only be a correction: not merely a "no"."""
    texts = {item.text for item in span.items[span.lo : lo]}
    return not texts <= word_list("corrections_weak") or {"no", ","} <= texts


def _amended(span: Span, inner: Span, explained: Take, firm: bool) -> Iterator[Candidate]:
    last = span.context.last
    base = explained.cost + (0 if firm else FAIR + FAIR)
    whole = (1 << span.hi) - (1 << span.lo)
    found = False
    for command, cost in _of_the_last(inner, last):
        found = True
        yield explained.reading(Correction(command), cost=base + cost + LIKELY)._replace(used=whole)
    for candidate in stretch(span.said, span.items, inner.lo, inner.hi, span.context):
        one = candidate.commands[0] if len(candidate.commands) == 1 else None
        if one is None or isinstance(one, Correction | Undo) or not _in_place_of(one, last[-1]):
            continue
        kind = type(one) is type(last[-1])
        right = (*last[:-1], _merged(last[-1], one) if kind else one)
        cost = base + candidate.cost + (LIKELY if kind else UNSURE)
        yield explained.reading(Correction(right), cost=cost)._replace(used=whole)
    if firm and not found and inner.has("is:num"):
        question = _what_is_right(last, span.context.wording)
        yield explained.asking(question, Correction.intent, DOUBTFUL)._replace(used=whole)


def _of_the_last(inner: Span, last: tuple[Command, ...]) -> Iterator[tuple[tuple[Command, ...], float]]:
    """The last commands with one of them amended, the latest that can be; "third floor not second": what it isn't
    explains itself."""
    denied = sum(1 << i for i in range(inner.lo, inner.hi) if "not" in {inner.items[i].text, *inner.items[i].polarity})
    for index in range(len(last) - 1, -1, -1):
        found = False
        for command, cost, used in amendments(inner, last[index]):
            rest = left_over(inner.items, inner.lo, inner.hi, used | denied)
            if rest < UNLIKELY:
                found = True
                yield (*last[:index], command, *last[index + 1 :]), cost + rest
        if found:
            return


def _in_place_of(new: Command, old: Command) -> bool:
    """A lay stands only for a lay, and for no more lines than it has: which, and what of the rest?"""
    if not isinstance(new, PumpPressure):
        return True
    return isinstance(old, PumpPressure) and len(new.lays) >= len(old.lays)


def _merged(old: Command, new: Command) -> Command:
    """What was said anew, over what was said before."""
    if isinstance(new, PumpPressure):
        return new
    said = {f: getattr(new, f) for f in new.__struct_fields__ if getattr(new, f) not in (None, False, ())}
    return replace(old, **said)


def denies_last(span: Span) -> bool:
    """Nothing is said but that it isn't so: after "no", "belay that" or by itself."""
    said = [w for item in span.items[span.lo : span.hi] if item.kind != "sep" for w in item.text.split()]
    persons = word_list("polarity_persons")
    start = next((k for k, word in enumerate(said[:-1]) if word in persons), 0)
    while len(said) > start + 1 and said[start] in word_list("corrections_it") and said[start + 1] in persons:
        start += 1  # "belay that, it is not" begins with its second "it"
    opener, rest = " ".join(said[:start]), said[start:]
    opener = opener.removesuffix(" that").removesuffix(" it")
    if len(rest) < 3 or rest[1] not in word_list("polarity_aux") or rest[2] not in word_list("corrections_wrong"):
        return False
    return opener in word_list("corrections_openers") and word_list("corrections_tails").issuperset(rest[3:])


@reads("no", "not", "undo", "correction")
def read_denied(span: Span) -> Iterable[Candidate]:
    """ "No it isn't", "belay that, it isn't" after a report: is it to be taken back?"""
    if not denies_last(span):
        return
    logged = [command for command in span.context.last if isinstance(command, LOGGED)]
    whole = Take(span, *range(span.lo, span.hi))
    if not logged:
        why = "Nothing of yours was logged just before. Say what isn’t so."
        yield whole.declining(why, Undo.intent, LIKELY)
        return
    what = several(tuple(logged), span.context.wording)
    choices = (Choice("take it back", (Undo(),)), Choice("leave it"))
    yield whole.asking(Question(f"Take back “{what}”?", choices), Undo.intent)


@reads("is:time")
def read_time_put_right(span: Span) -> Iterable[Candidate]:
    """ "that was at fourteen ten" after a report."""
    last = span.context.last[-1:]
    if last and "time" in last[0].__struct_fields__ and span.items[span.lo].text in word_list("corrections_that"):
        take = Take(span)
        time = take.time()
        if all(take.taken(i) for i in span.content()):
            yield take.reading(Correction((*span.context.last[:-1], replace(last[0], time=time))), cost=FAIR)


def _what_is_right(last: tuple[Command, ...], wording: Wording) -> Question:
    what = f" (last: {several(last, wording)})" if last else ""
    return Question(f"What should it be? Say it with its unit{what}.", (), last[-1] if last else None, "correction")
