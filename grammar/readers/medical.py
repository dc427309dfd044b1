"""Reads the medical run: the arrest clock, oxygen, the hand-over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from grammar.commands import Arrest, Choice, HandOver, OxygenTime, Question
from grammar.readers.base import BAR, Candidate, Span, Take, reads
from grammar.readers.benchmarks import sentence
from grammar.readers.incident import marks

_ACTIONS: tuple[
    Literal[
        "pulses_back", "cpr_stopped", "compressor_change", "rhythm_check", "shock", "epinephrine", "drug", "cpr_started"
    ],
    ...,
] = (
    "pulses_back",
    "cpr_stopped",
    "compressor_change",
    "rhythm_check",
    "shock",
    "epinephrine",
    "drug",
    "cpr_started",
)
_NOT_DONE = "Not logged: that isn't reported as done."


@reads(*_ACTIONS, "shock_advised", "cpr_word")
def read_arrest(span: Span) -> Iterable[Candidate]:
    """ "CPR started", "epi given", "shock delivered 200 joules", "pulses back"."""
    if span.has("reminders", "snooze", "stop_reminder", "elapsed", "how_long", "interval") and not span.has(
        "cpr_stopped"
    ):
        return
    if span.has("shock_advised"):
        take = Take(span, *span.where("shock_advised", "shock", "not", "item_aed"))
        yield take.declining(_NOT_DONE, Arrest.intent, 0.03)
        return
    said = [i for i in range(span.lo, span.hi) if span.items[i].concepts & set(_ACTIONS)]
    if len({min(span.items[i].concepts & set(_ACTIONS)) for i in said}) > 1:
        return  # two things: each is read by itself
    for action in _ACTIONS:
        i = span.first(action)
        if i >= 0:
            yield from _done(span, action, i)
            return


def _done(span: Span, action: str, i: int) -> Iterator[Candidate]:
    take = Take(span, *span.where(action))
    joules = take.number("joules")
    if action == "shock" and joules is None:
        joules = take.number(None, low=50, high=400, whole=True)
    take.terms(
        "given",
        "started",
        "complete",
        "patient",
        "rhythm_word",
        "cpr_started",
        "cpr_word",
        "for_noise",
        "item_aed",
        "rhythm_check",
        "of_hose",
        "single",
        "move_to",
    )
    for k in span.kinds("num"):
        item = span.items[k]
        ordinal_dose = (
            item.form == "ordinal"
            or item.unit == "mg"
            or (item.unit is None and item.number <= 3 and action in ("epinephrine", "shock"))
        )
        if ordinal_dose or (action == "drug" and item.unit is None):
            take.mark(k)
    time = take.time()
    take.unit()
    stance = span.stance(i, *(k for k in span.where("given", "started", "complete")))
    drawing = list(span.where("readied"))
    if stance == "asked":
        take.mark(*marks(span), *drawing)
        yield take.declining("Nothing was logged: that is a question.", Arrest.intent, 0.08)
        return
    if (stance != "said" and not (stance == "ordered" and action == "cpr_started")) or drawing:
        take.mark(*marks(span), *drawing, *span.kinds("num"))
        yield take.declining(_NOT_DONE if stance != "hoped" else sentence(stance), Arrest.intent, 0.03)
        return
    take.mark(*marks(span))
    text = span.items[i].text
    cost = 0.0
    if (
        action == "epinephrine"
        and text in ("epi", "epinephrine", "adrenaline")
        and not span.has("given")
        and not span.kinds("num")
    ):
        cost = 0.25
    if action == "drug" and not span.has("given"):
        cost = 0.3
    if action == "shock" and text in ("shock",) and not span.has("given", "unit:joules") and joules is None:
        cost = 0.3
    if action == "cpr_started" and text == "cpr" and not span.has("started"):
        cost = 0.2
    if stance == "ordered":
        cost += 0.3
    if (
        span.context.incident_open
        and span.context.incident_kind == "fire"
        and action in ("shock", "rhythm_check", "compressor_change")
    ):
        cost += 0.1
    said = span.text() if action == "drug" or span.has("rhythm_word") else None
    yield take.reading(Arrest(action, joules, said, time), cost=cost)  # type: ignore[arg-type]


@reads("cpr_word")
def read_compressions_stopped(span: Span) -> Iterable[Candidate]:
    """ "compressions stopped"."""
    if not span.has("stopped"):
        return
    i = span.first("cpr_word")
    take = Take(span, i, *span.where("stopped"))
    time = take.time()
    if span.stance(i, span.first("stopped")) == "said":
        yield take.reading(Arrest("cpr_stopped", time=time))


@reads("pulse_word", "cpr_word")
def read_none(span: Span) -> Iterable[Candidate]:
    """ "No pulse", "no CPR": asked what is to be logged."""
    i = span.first("pulse_word", "cpr_word")
    if (
        not ({"no", "not", "still no", "without"} & {span.items[k].text for k in range(span.lo, i)})
        or span.stance(i) == "asked"
    ):
        return
    take = Take(span, i, *marks(span))
    take.free("still", "there", "we", "patient")
    if "pulse_word" in span.items[i].concepts:
        choices = (Choice("pulse check: no pulse", (Arrest("rhythm_check", text="no pulse"),)), Choice("no"))
        yield take.asking(Question("Log a pulse check, no pulse?", choices), Arrest.intent, 0.05)
    else:
        choices = (Choice("CPR stopped", (Arrest("cpr_stopped"),)), Choice("no"))
        yield take.asking(Question("Was CPR stopped?", choices), Arrest.intent, 0.05)


_LETTERS = ("d", "e", "m", "g", "h", "k", "a", "b", "c")


@reads("oxygen", "cylinder", "unit:lpm", "is:num")
def read_oxygen(span: Span) -> Iterable[Candidate]:
    """ "D bottle at 1500, 15 liters"."""
    letter, at = _cylinder(span)
    if letter is None and not span.has("oxygen") and not _psi_and_liters(span):
        return
    if span.kinds("line") or span.has("fitting") or any(span.items[i].unit == "gpm" for i in span.kinds("num")):
        return
    take = Take(span, *span.where("oxygen"))
    if at >= 0:
        take.mark(at)
    flow = take.number("lpm", "l", low=0.25, high=60)
    psi = take.number("psi", "bar", low=0, high=4000)
    if psi is None and span.context.units == "metric":
        bar = take.number(None, low=20, high=300, whole=True)
        psi = bar * BAR if bar is not None else None
    elif psi is None:
        psi = take.number(None, low=200, high=4000, whole=True)
    if flow is None:
        flow = take.number(None, low=0.25, high=25)
    take.terms(
        "flowing",
        "cylinder",
        "scba",
        "how_long",
        "last_word",
        "for_noise",
        "air_word",
        "unit:min",
        "tank",
        "of_hose",
        "air_calc",
        "breathing_rate",
        "item_oxygen",
        "tank_time",
    )
    for i in span.where("cylinder", "tank", "oxygen"):
        take.mark(i)
    command = OxygenTime(letter, psi, flow)
    if letter is not None and psi is not None and flow is not None:
        yield take.reading(command)
        return
    if letter is None and not span.has("oxygen") and not (psi is not None and flow is not None):
        return
    lacking, text = (
        ("cylinder", "Which cylinder: D, E, M, G or H?")
        if letter is None
        else ("gauge_psi", "What does its gauge read?")
        if psi is None
        else ("flow_lpm", "At how many liters a minute?")
    )
    cost = 0.2 if span.has("oxygen") or letter else 0.35
    yield take.asking(Question(text, (), command, lacking), OxygenTime.intent, cost)


def _cylinder(span: Span) -> tuple[str | None, int]:
    for i in range(span.lo, span.hi):
        words = span.items[i].text.split()
        if words[0] == "a":
            continue  # "a D cylinder"
        if span.items[i].text in ("d cylinder",):
            return "D", i
        letter = words[0] if len(words) == 1 else ""
        letter = {"dee": "d", "ee": "e", "em": "m", "jumbo": ""}.get(letter, letter)
        if letter not in _LETTERS:
            continue
        after = span.items[i + 1] if i + 1 < span.hi else None
        before = span.items[i - 1] if i > span.lo else None
        beside = after is not None and (
            after.text.split()[0] in ("tank", "bottle", "cylinder")
            or after.concepts & {"cylinder", "tank", "oxygen"}
            or after.text in ("tank", "bottle")
        )
        sized = (
            before is not None
            and (before.concepts & {"oxygen", "cylinder"} or before.text in ("in a", "size", "the"))
            and span.has("oxygen")
        )
        if (
            beside
            or sized
            or (span.has("oxygen") and letter in ("d", "e", "m", "g", "h") and span.items[i].kind != "unit")
        ):
            return letter.upper(), i
    return None, -1


def _psi_and_liters(span: Span) -> bool:
    units = {span.items[i].unit for i in span.kinds("num")}
    return span.context.incident_kind == "medical" and bool(units & {"lpm", "l"}) and bool(units & {"psi", None})


@reads("hand_over")
def read_hand_over(span: Span) -> Iterable[Candidate]:
    """ "hand over summary"."""
    take = Take(span, *span.where("hand_over"))
    take.terms("show", "patient", "order")
    if span.stance(span.first("hand_over")) in ("said", "ordered"):
        yield take.reading(HandOver())
