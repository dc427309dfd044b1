"""Reads who has command, and the name that it goes by: "Juniper command"."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Benchmark, Status
from grammar.costs import HARDLY
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.where import NAME, is_road
from grammar.vocabulary import word_list


def written_name(span: Span, k: int) -> bool:
    """A name: one of the incident's, a word that means nothing, or one that is written as a name."""
    item = span.items[k]
    if item.free or item.kind not in ("word", "street", "person", "place", "term"):
        return False
    strange = item.kind != "term" and (item.kind != "word" or item.form != "plain")
    return strange or (item.text.title() in span.said and not span.said.istitle())


def _of_a_name(span: Span, k: int) -> bool:
    return written_name(span, k) or span.items[k].text in word_list("benchmarks_roads")


def command_name(span: Span, i: int) -> range:
    """The words before "command" that are its name: "Kiln Street command"."""
    first = i
    while first > span.lo and i - first < NAME and _of_a_name(span, first - 1):
        first -= 1
    return range(first, i) if any(written_name(span, k) for k in range(first, i)) else range(i, i)


def named_after(span: Span, i: int) -> range:
    """ "Terminating Ridgeline command": the name behind it."""
    k = i + 1
    while k < span.hi and k - i <= NAME and (_of_a_name(span, k) or is_road(span.items[k])):
        k += 1
    return range(i + 1, k + 1 if k < span.hi and "command_word" in span.items[k].concepts else i + 1)


def commander(take: Take, i: int) -> str | None:
    """Who has command now: not the one that it is taken from."""
    span = take.span
    from_whom = (k for k in span.kinds("unit") if k > i and span.items[k - 1].text in word_list("benchmarks_from"))
    take.mark(*from_whom)
    take.terms("face_to_face")
    return take.unit()


@reads("command_word")
def read_named_command(span: Span) -> Iterable[Candidate]:
    """ "I'll have Juniper command", "engine 12's Harbor command", "Juniper command established"."""
    for i in span.where("command_word"):
        name = command_name(span, i)
        opener = name.start - 1
        takes = opener >= span.lo and _takes_command(span, opener)
        gets = not takes and i + 1 < span.hi and "establishing" in span.items[i + 1].concepts
        by = opener if takes else i
        if not name or not (takes or gets) or span.items[by].polarity & {"not", "hope", "cond", "tale"}:
            continue
        take = Take(span, *name, i, *([i + 1] if gets else []))
        take.mark(*([opener] if takes and span.items[opener].kind != "unit" else []))
        take.free(*word_list("commanders_idle"))
        take.terms("establishing", "for_noise")
        unit, time = commander(take, i), take.time()
        if "ask" in span.items[i].polarity:
            yield take.reading(Status(about="command_established", unit=unit), cost=HARDLY)
            continue
        place = take.place()
        take.terms("whereabouts")
        said = " ".join(span.items[k].text for k in (*name, i))
        yield take.reading(Benchmark("command_established", unit, place, time, remark=said), cost=HARDLY)


def _takes_command(span: Span, k: int) -> bool:
    """Who is said to have it, or a verb of having or taking it."""
    item = span.items[k]
    if item.kind == "unit":
        return "'s" in span.said.lower() and item.text.endswith(" s")
    return bool(item.concepts & {"establishing", "for_noise"}) or item.text in word_list("benchmarks_took")
