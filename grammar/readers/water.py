"""Reads what a hydrant can give: static and residual, a pitot reading."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from grammar.commands import (
    Choice,
    Hydrant,
    HydrantFlow,
    Question,
)
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.vocabulary import word_list

replace = msgspec.structs.replace


_AT_LEAST_PSI = 20
"""The residual that a hydrant's available flow is told for (NFPA 291)."""


@reads("static", "residual", "drop_percent", "hydrant_word", "was_at")
def read_hydrant(span: Span) -> Iterable[Candidate]:
    """ "static 70, residual 62", "hydrant dropped from 70 to 62, flowing 500"."""
    if span.has("pitot"):
        return
    labels = {"static": span.first("static"), "residual": span.first("residual")}
    take = Take(span, *(i for i in labels.values() if i >= 0))
    second = bool(take.terms("second_hydrant"))
    if labels["static"] < 0 and labels["residual"] < 0 and _gauge_fell(span):
        labels = {"static": span.first("was_at", "started"), "residual": span.first("is_at", "dropped_to")}
        take.mark(*labels.values(), *span.where("intake_gauge", "is_at"))
    flow = take.number("gpm", "lpm")
    if flow is None and span.first("flowing") >= 0:
        flow = take.number_near(span.first("flowing"), "gpm", None, low=100, high=5000)
    static, residual = _gauges(span, take, labels)
    dropped = span.first("dropped_to", "lost_psi")
    fell = dropped >= 0 and span.items[dropped].text.split()[0] in word_list("water_fell")
    if static is not None and residual is None and fell and dropped > labels["static"]:
        residual = take.number_near(dropped, "psi", "bar", "kpa", None, low=0, high=300)
        take.mark(dropped)
    if static is None and residual is None and dropped >= 0 and span.has("hydrant_word"):
        two = [i for i in span.kinds("num") if not take.taken(i) and in_unit(span.items[i], "psi", None) is not None]
        if len(two) == 2:
            static, residual = (in_unit(span.items[i], "psi", None) for i in two)
            take.mark(*two)
    take.terms(
        "hydrant_word",
        "drop_percent",
        "dropped_to",
        "flowing",
        "for_noise",
        "from_hydrant",
        "lost_psi",
        "another",
        "can_add",
        "hope",
        "line",
        "water_left",
        "ask_flow",
        "shut",
        "off_hydrant",
        "was_at",
        "is_at",
        "each",
        "single",
        "flow_on",
        "coefficient",
        "flow_test_word",
        "good_for",
    )
    only = [
        i
        for i in span.kinds("num")
        if span.items[i].number == 1 and i + 1 < span.hi and "line" in span.items[i + 1].concepts
    ]
    take.mark(*only)  # "with the one line going"
    if span.has("flow_on"):
        take.mark(*span.kinds("line", "family"))
    if span.has("good_for"):
        take.mark(*(i for i in span.kinds("num") if span.items[i].number == _AT_LEAST_PSI))
    if static is not None or residual is not None:
        last = max(
            i
            for i in range(span.lo, span.hi)
            if take.taken(i) and (span.items[i].kind == "num" or span.items[i].concepts & {"static", "residual"})
        )
        take.used &= ~sum(1 << i for i in span.where("hydrant_word") if i > last)
        hydrant = Hydrant(static, residual, flow, second)
        if static is None or residual is None:
            lacking = "static" if static is None else "residual"
            if span.has("intake_gauge") or (
                residual is not None and not span.has("static", "hydrant_word") and span.context.source == "hydrant"
            ):
                take.cost += 0.1
            yield take.asking(Question(f"And the {lacking}?", (), hydrant, f"{lacking}_psi"), Hydrant.intent, 0.1)
        else:
            yield take.reading(hydrant)
    elif span.has("drop_percent") and span.has("hydrant_word", "from_hydrant", "off_hydrant"):
        yield take.reading(Hydrant(flow_gpm=flow), cost=0.1)
    elif span.has("hydrant_word") and len(span.kinds("num")) == 2 and not span.kinds("street", "unit"):
        one, two_ = (in_unit(span.items[i], "psi", None) for i in span.kinds("num"))
        if one is not None and two_ is not None and 20 <= two_ <= one <= 200:
            take.mark(*span.kinds("num"))
            command = Hydrant(one, two_)
            yield take.asking(
                Question(f"Static {one:g}, residual {two_:g}?", (Choice("yes", (command,)), Choice("no"))),
                Hydrant.intent,
                0.1,
            )


def _gauge_fell(span: Span) -> bool:
    """ "Started at 90 on the intake, now it's at 50, can I take another": the hydrant's drop."""
    return (
        span.has("was_at", "started")
        and span.has("is_at", "dropped_to")
        and span.has("can_add", "another", "drop_percent")
    )


def _gauges(span: Span, take: Take, labels: dict[str, int]) -> tuple[float | None, float | None]:
    """Static and residual: each the number beside its label, before or after as the sentence goes."""
    nums = [
        i
        for i in span.kinds("num")
        if not take.taken(i)
        and in_unit(span.items[i], "psi", "bar", "kpa", None) is not None
        and span.items[i].form != "ordinal"
    ]
    placed = {name: i for name, i in labels.items() if i >= 0}
    if not placed or not nums:
        return None, None
    leading = nums[0] < min(placed.values())
    values: dict[str, float | None] = {"static": None, "residual": None}
    for name, i in placed.items():
        before = [k for k in nums if k < i and not take.taken(k)]
        after = [k for k in nums if k > i and not take.taken(k)]
        pick = before[-1] if leading and before else after[0] if after else before[-1] if before else None
        if pick is not None and abs(pick - i) <= 4:
            take.mark(pick)
            values[name] = in_unit(span.items[pick], "psi", "bar", "kpa", None)
    return values["static"], values["residual"]


_OUTLETS = (("outlet_smooth", 0.9), ("outlet_square", 0.8), ("outlet_projecting", 0.7))
"""Coefficients by the outlet's shape: NFPA 291 (2022), 4.8.2."""


@reads("pitot")
def read_pitot(span: Span) -> Iterable[Candidate]:
    """ "pitot 40 on the two and a half, coefficient .9"."""
    at = span.first("pitot")
    take = Take(span, at)
    labels = {"static": span.first("static"), "residual": span.first("residual")}
    take.mark(*(i for i in labels.values() if i >= 0))
    coefficient = None
    c = span.first("coeff_word", "coefficient")
    if c >= 0:
        take.mark(c)
        coefficient = take.number_near(c, None, low=0.3, high=1)
    for concept, value in _OUTLETS:
        if take.term(concept) >= 0 and coefficient is None:
            coefficient = value
    outlet = None
    for i in span.kinds("num"):
        item = span.items[i]
        near_outlet = any("outlet" in span.items[k].concepts for k in range(max(i - 2, span.lo), min(i + 2, span.hi)))
        if (
            not take.taken(i)
            and item.number <= 6
            and item.form != "ordinal"
            and (item.unit == "in" or (item.unit is None and (item.form in ("mixed", "decimal") or near_outlet)))
        ):
            take.mark(i)
            outlet = item.number
            break
    told = not any(i >= 0 for i in labels.values())
    pitot = take.number("psi", "bar", "kpa", low=0, high=200) if told else None
    if pitot is None:
        pitot = take.number_near(at, "psi", "bar", "kpa", None, low=0, high=200)
    static, residual = _gauges(span, take, labels)
    take.terms(
        "pitot",
        "outlet",
        "for_noise",
        "hydrant_word",
        "flow_test_word",
        "lost_psi",
        "air_word",
        "ask_flow",
        "coefficient",
    )
    if pitot is None:
        yield take.asking(
            Question("What does the pitot gauge read?", (), HydrantFlow(0.0, outlet), "pitot_psi"),
            HydrantFlow.intent,
            0.15,
        )
    else:
        yield take.reading(HydrantFlow(pitot, outlet, coefficient, static, residual))
