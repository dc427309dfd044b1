"""Reads what keeps incident and rig in order: reminders, roles, join codes, the daily check, getting ready again."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

from grammar.commands import Confirm, Join, Question, ReminderChange
from grammar.readers.base import Candidate, Span, Take, reads

# ------------------------------------------------------------------------------------------------------------ reminders

_NAMES = (
    ("rem_par", "par_due"),
    ("rem_rehab", "rehab_due"),
    ("rem_supply", "supply_missing"),
    ("rem_rit", "rit_missing"),
    ("rem_tank", "tank"),
    ("rem_mayday", "mayday_clock"),
    ("rem_air", "turnaround"),
    ("rem_control", "control_check"),
    ("rem_epi", "epi_window"),
    ("rem_rhythm", "rhythm_check"),
    ("rem_elapsed", "elapsed"),
)


@reads("snooze", "stop_reminder", "resume_reminder", "interval", "reminders", "timer")
def read_reminder(span: Span) -> Iterable[Candidate]:
    """ "snooze par ten minutes", "stop the reminders", "elapsed time every 5 minutes"."""
    named = [(concept, name) for concept, name in _NAMES if span.has(concept)]
    of_reminders = span.has("reminders") or any(
        "remind" in span.items[i].text
        for concept in ("stop_reminder", *(c for c, _ in named))
        for i in span.where(concept)
    )
    action: Literal["snooze", "stop", "resume", "interval"] | None = None
    every = [i for i in span.where("interval") if span.items[i].text != "each"]
    every += [i for concept, _ in named for i in span.where(concept) if "interval" in span.items[i].text]
    minutes_there = [i for i in span.kinds("num") if span.items[i].unit in ("min", "s", "hr", None)]
    take = Take(span)
    if every and (named or span.has("reminders", "timer")) and minutes_there:
        action = "interval"
        take.mark(*every)
        take.terms("timer")
    elif span.has("snooze") and (
        span.items[span.first("snooze")].text not in ("give me", "later") or named or span.has("reminders")
    ):
        action = "snooze"
        take.terms("snooze")
    elif span.has("stop_reminder") and (of_reminders or _only(span, "stop_reminder", "rem_elapsed", "rem_mayday")):
        action = "stop"
    elif span.has("resume_reminder") and of_reminders:
        action = "resume"
    if action is None:
        return
    said = span.first("snooze", "stop_reminder", "resume_reminder")
    if said >= 0 and action != "interval" and span.stance(said) in ("asked", "hoped"):
        return
    if (
        span.has("stop_reminder")
        and span.has("resume_reminder")
        and action == "stop"
        and any("back on" in span.items[i].text for i in span.where("resume_reminder"))
    ):
        action = "resume"
    take.terms("stop_reminder", "resume_reminder", "reminders", "order", "not", "hope", "shut", "open", "set_to")
    minutes = take.number("min", "s", "hr", low=0)
    if minutes is None and action in ("interval", "snooze"):
        minutes = take.number(None, low=1, high=120)
    name = named[0][1] if named else None
    take.terms(*(concept for concept, _ in _NAMES))
    if action == "stop" and name is None and minutes is not None:
        name, minutes = "elapsed", None
    if action == "stop" and minutes is not None:
        action = "snooze"  # "PAR reminders off for ten minutes"
    if action == "interval" and name is None:
        name = "elapsed"
    if minutes is not None and minutes <= 0:
        yield take.declining("Say how many minutes, above zero.", ReminderChange.intent, 0.05)
        return
    if action == "interval" and minutes is None:
        yield take.asking(
            Question("Every how many minutes?", (), ReminderChange("interval", name), "minutes"),
            ReminderChange.intent,
            0.1,
        )
        return
    yield take.reading(ReminderChange(action, name, minutes if action != "stop" else None))


def _only(span: Span, *concepts: str) -> bool:
    """Nothing is said besides: "stop elapsed"."""
    said = [span.items[i].concepts for i in span.content()]
    return len(said) > 1 and all(not one.isdisjoint(concepts) for one in said)


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
