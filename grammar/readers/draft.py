"""Reads drafting and fittings."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Draft, Fitting, Question
from grammar.readers.base import Candidate, Span, Take, in_unit, reads


@reads("draft_word", "max_lift", "lift_word", "prime_help")
def read_draft(span: Span) -> Iterable[Candidate]:
    """ "how high can I draft", "can I draft 15 feet", "max lift at 5000 feet"."""
    if span.has("prime_help"):
        for trouble in ("lost_prime", "cavitating"):
            if span.has(trouble) or (trouble == "lost_prime" and span.has("lose_prime")):
                take = Take(span, *span.where("prime_help", trouble, "lose_prime", "cond", "hope"))
                yield take.reading(Draft(checklist=trouble), cost=0.03)
    if not span.has("draft_word", "max_lift", "lift_word") or span.has("lost_prime", "lost_supply", "supply_loss"):
        return
    take = Take(span, *span.where("draft_word", "max_lift", "lift_word"))
    gpm = take.number("gpm", "lpm")
    altitude = suction = suction_in = water_f = lift = None
    water_f = take.number("deg_f")
    for i in span.kinds("num"):
        item = span.items[i]
        if take.taken(i):
            continue
        stop = next((k for k in range(i + 1, span.hi) if span.items[k].kind in ("num", "sep")), span.hi)
        near = set().union(*(span.items[k].concepts for k in range(i + 1, min(i + 4, stop))))
        if item.unit == "in" and near & {"suction_hose", "draft_word"}:
            suction_in = item.number
            take.mark(i)
        elif item.unit in ("ft", "m"):
            feet = in_unit(item, "ft") or 0.0
            if near & {"altitude", "elevation"} or feet > 500:
                altitude = feet
            elif near & {"suction_hose"} and lift is not None and "unit:in" not in near:
                suction = feet
            elif lift is None:
                lift = feet
            else:
                suction = feet
            take.mark(i)
    take.terms(
        "altitude",
        "elevation",
        "suction_hose",
        "water_temp",
        "for_noise",
        "hope",
        "portable_tank",
        "tank",
        "can_add",
        "of_hose",
        "up",
        "down",
        "ask_flow",
        "longest",
        "order",
        "flowing",
        "water_word",
    )
    if lift is None and altitude is None and not span.has("max_lift"):
        return
    if span.stance(span.first("draft_word", "max_lift", "lift_word")) == "denied":
        return
    yield take.reading(
        Draft(lift, altitude, water_f, suction, suction_in, gpm), cost=0.0 if lift is None or lift >= 0 else 0.6
    )


@reads("fitting", "storz", "male", "female", "thread")
def read_fitting(span: Span) -> Iterable[Candidate]:
    """ "five inch storz to two and a half male"."""
    ends = []
    take = Take(span)
    for i in span.kinds("num"):
        item = span.items[i]
        if item.form == "ordinal" or item.unit not in (None, "in") or item.number > 8:
            continue
        kinds: list[str] = []
        for k in range(i + 1, min(i + 4, span.hi)):
            kind = next(
                (c for c in ("storz", "male", "female", "thread", "camlock") if c in span.items[k].concepts), None
            )
            if kind is None:
                if span.items[k].free and not kinds and span.items[k].text not in ("to", "into"):
                    continue
                break
            kinds.append(span.items[k].text if kind == "thread" else kind)
            take.mark(k)
        if kinds:
            take.mark(i)
            ends.append(f"{item.number:g} {' '.join(kinds)}")
    take.terms("fitting", "into", "for_noise", "line", "order", "hope", "dropped_to")
    if len(ends) == 2:
        yield take.reading(Fitting(ends[0], ends[1]))
    elif span.has("fitting") and (ends or span.has("storz", "male", "female")):
        yield take.asking(
            Question("From which end to which end? Say it like “5 inch storz to 2½ male”.", (), None, None),
            Fitting.intent,
            0.3,
        )
