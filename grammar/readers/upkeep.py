"""Reads what keeps incident and rig in order: reminders, roles, join codes, the daily check, getting ready again."""

from __future__ import annotations

import re
from collections.abc import Iterable

from grammar.commands import Confirm, Join
from grammar.readers.base import Candidate, Span, Take, reads

# ---------------------------------------------------------------------------------------------------- roles, join codes

_CODE = re.compile(
    r"(?:ing)?(?:\s+(?:the|incident|with|using|by|in|code))*[\s:#]+(?P<code>(?=[a-z0-9]{4,8}\b)(?=[a-z0-9]*\d)[a-z0-9]+)\b"
)


@reads("join_code")
def read_join(span: Span) -> Iterable[Candidate]:
    """ "join code for engine 9", "join 4F7K2"."""
    at = span.first("join_code")
    text = span.items[at].text
    if text == "code" and not any(span.items[i].text in ("for", "join", "to join") for i in range(span.lo, span.hi)):
        return
    take = Take(span, *span.where("join_code"))
    unit = take.unit()
    take.terms("order", "show", "remind_to")
    match = _CODE.match(span.said.lower().split("join", 1)[-1]) if "join" in span.said.lower() else None
    if match is not None and unit is None:
        take.mark(*range(span.lo, span.hi))
        yield take.reading(Join(code=match["code"].upper()), cost=0.05)
    else:
        make = "code" in " ".join(span.items[i].text for i in span.where("join_code"))
        yield take.reading(
            Join(unit=unit, make=make), cost=0.0 if "code" in text or (span.has("join_code") and unit) else 0.2
        )


@reads("yes", "no")
def read_confirm(span: Span) -> Iterable[Candidate]:
    """A bare yes or no; only where something was asked."""
    if span.context.asked is None or span.context.readiness_item is not None:
        return
    yes, no = span.first("yes"), span.first("no", "not")
    if no >= 0 and all(i in (*span.where("no", "not"),) for i in span.content()):
        yield Take(span, *span.where("no", "not")).reading(Confirm(False), cost=0.02)
    elif yes >= 0 and no < 0 and all("yes" in span.items[i].concepts for i in span.content()):
        yield Take(span, *span.where("yes")).reading(Confirm(True), cost=0.02)
