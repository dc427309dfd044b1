"""Reads what the officer runs the incident with: how long, how things stand, strategy, evacuation, emergencies, the log."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from grammar.commands import (
    BenchmarkName,
    Elapsed,
    Emergency,
    Evacuate,
    IncidentKind,
    Question,
    Report,
    SendReport,
    Status,
    Strategy,
    Timer,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.benchmarks import RULES, sentence

_SINCE: tuple[tuple[tuple[str, ...], BenchmarkName], ...] = (
    (("dispatched", "dispatch_word"), "dispatched"),
    *((rule.subject, rule.benchmark) for rule in RULES if rule.benchmark != "dispatched"),
)


def marks(span: Span) -> list[int]:
    """Positions of the words that negate, hope, order or ask."""
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]


@reads("elapsed", "how_long", "since", "cpr_started")
def read_elapsed(span: Span) -> Iterable[Candidate]:
    """ "how long have we been here", "how long since water on the fire"."""
    if not span.has("elapsed") and not (
        span.has("how_long") and (span.has("since", "cpr_started") or len(span.content()) == 1)
    ):
        return
    if span.has("reminders", "stop_reminder", "interval", "snooze", "timer"):
        return
    take = Take(span, *span.where("elapsed", "how_long", "since"))
    text = " ".join(span.items[i].text for i in span.where("elapsed", "how_long", "since"))
    since: BenchmarkName | None = None
    if "since" in text or "ago" in text or span.has("since"):
        for subjects, benchmark in _SINCE:
            at = take.term(*subjects)
            if at >= 0:
                since = benchmark
                take.terms("complete", "in_place", "secured", "all_clear")
                break
    take.terms("cpr_started", "water_word", "dispatch_word")
    if any(span.items[i].kind == "num" for i in take.open()):
        return
    yield take.reading(Elapsed(since), cost=0.0 if span.has("elapsed") or since else 0.05)


_ABOUT = (
    ("inside_ask", "crews"), ("air_ask", "air"), ("ask_units", "units"), ("ask_benchmarks", "benchmarks"), ("ask_lines", "lines"),
    ("ask_water", "water"), ("ask_par", "par"), ("ask_reminders", "reminders"), ("ask_strategy", "strategy"), ("ask_supply", "water_supply"),
    ("ask_crews", "crews"), ("ask_rit", "rit_in_place"),
)  # fmt: skip


@reads("board", *(concept for concept, _ in _ABOUT))
def read_status(span: Span) -> Iterable[Candidate]:
    """ "status", "who's inside", "line status", "air status"."""
    for concept, about in _ABOUT:
        if span.has(concept):
            take = Take(span, *span.where(concept, "board"))
            unit = take.unit()
            take.terms("air_word", "for_noise", "line", "hope", "par", "entry", "on_scene", "establishing")
            yield take.reading(Status(about, unit), cost=0.0)
            return
    take = Take(span, *span.where("board"))
    take.terms("show", "order")
    unit = take.unit()
    unread = [i for i in take.open() if span.items[i].kind in ("word", "term") and not span.items[i].free]
    if not span.kinds("num", "line") and not span.has("lost_psi"):
        yield take.reading(Status(unit=unit), cost=(0.02 if unit is None else 0.15) + 0.2 * len(unread))


@reads("air_firm", "air_word")
def read_air_asked(span: Span) -> Iterable[Candidate]:
    """ "how's engine 9's air"."""
    i = span.first("air_firm")
    if i < 0 or span.kinds("num") or span.stance(i) != "asked" or span.has("air_calc", "air_ask"):
        return
    take = Take(span, i)
    unit = take.unit()
    take.terms("air_word", "air_firm", "establishing", "board")
    if unit is not None:
        yield take.reading(Status("air", unit), cost=0.05)


@reads("defensive", "offensive")
def read_strategy(span: Span) -> Iterable[Candidate]:
    """ "going defensive"."""
    i = span.first("defensive", "offensive")
    strategy: Literal["offensive", "defensive"] = "defensive" if "defensive" in span.items[i].concepts else "offensive"
    if span.has("defensive") and span.has("offensive"):
        strategy = "defensive" if max(span.where("defensive")) > max(span.where("offensive")) else "offensive"
    take = Take(span, *span.where("defensive", "offensive"))
    take.unit()
    take.terms("strategy_word", "replaced", "for_noise", "move_to", "establishing", "entry", "incident_fire")
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*marks(span))
        yield take.reading(Status(about="strategy"), cost=0.05)
    elif stance == "said" or (stance == "ordered"):
        take.mark(*marks(span))
        yield take.reading(Strategy(strategy), cost=0.0 if stance == "said" else 0.15)
    else:
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Strategy.intent, 0.03)


@reads("crew:everyone")
def read_everyone_out(span: Span) -> Iterable[Candidate]:
    """ "all crews out of the building" is an order; "everyone is out" says which crew it doesn't say of."""
    i = next(
        (k for k in span.where("exit") if span.items[k].text.split()[-1] in ("out", "building", "structure", "house")),
        -1,
    )
    first = span.first("crew:everyone")
    if i < first or span.has("evacuate", "evacuate_over"):
        return
    take = Take(span, i, *span.where("crew:everyone", "exit", "building", "move_to"))
    told = any(
        w in ("is", "are", "has", "have", "all")
        for k in range(first, i + 1)
        for w in span.items[k].text.split()
        if k > first or w != "all"
    )
    place = take.place()
    stance = span.stance(i)
    if told or stance not in ("said", "ordered"):
        take.mark(*marks(span))
        yield take.declining("Say which crew is out, like “engine 9 is out”.", Evacuate.intent, 0.05)
    else:
        take.mark(*marks(span))
        yield take.reading(Evacuate(place), cost=0.02)


@reads("evacuate", "evacuate_over")
def read_evacuate(span: Span) -> Iterable[Candidate]:
    """ "everybody out", "evacuate the second floor", "evacuation order lifted"."""
    over = span.first("evacuate_over")
    i = over if over >= 0 else span.first("evacuate")
    take = Take(span, i)
    take.terms("evacuate", "evacuate_over", "building", "exit", "for_noise", "crew_word")
    take.mark(*[k for k in span.kinds("unit") if "crew:everyone" in span.items[k].concepts])
    if (
        span.kinds("unit")
        and take.unit() is not None
        and span.items[i].text in ("back out", "withdraw", "pull out", "abandon", "get out")
    ):
        take.cost += 0.3
    place = take.place()
    take.terms("place:interior", "place:exterior")
    stance = span.stance(i)
    if over >= 0 and stance in ("said", "ordered", "denied"):
        take.mark(*marks(span))
        yield take.reading(Evacuate(place, over=True), cost=0.02)
    elif stance in ("said", "ordered"):
        if any("bystanders" in item.concepts for item in span.items):
            return
        take.mark(*(k for k in marks(span) if "not" not in span.items[k].concepts))
        yield take.reading(Evacuate(place), cost=0.0)
    else:
        take.mark(*marks(span))
        take.unit()
        yield take.declining(
            "No evacuation was logged: " + ("that is a question." if stance == "asked" else "that doesn't order one."),
            Evacuate.intent,
            0.05,
        )


_EMERGENCIES: tuple[Literal["emergency_traffic", "collapse", "flashover", "missing_member", "downed_member"], ...] = (
    "downed_member", "missing_member", "collapse", "flashover", "emergency_traffic",
)  # fmt: skip
_SAID_MORE = 2
"""Words beside the event that change nothing; more of them make it doubtful."""


@reads(*_EMERGENCIES, "emergency_over")
def read_emergency(span: Span) -> Iterable[Candidate]:
    """ "emergency traffic", "roof collapse", "missing firefighter", "emergency traffic is clear"."""
    over = span.first("emergency_over")
    if over >= 0:
        kind = (
            "missing_member"
            if any(w in span.items[over].text for w in ("member", "firefighter", "accounted"))
            else "emergency_traffic"
        )
        take = Take(span, over)
        take.terms("emergency_over", *_EMERGENCIES, "order", "resume_reminder")
        unit = take.unit()
        if span.stance(over) in ("said", "ordered"):
            yield take.reading(Emergency(kind, unit, span.text(), over=True))  # type: ignore[arg-type]
        return
    for kind_ in _EMERGENCIES:
        i = span.first(kind_)
        if i < 0:
            continue
        take = Take(span, *span.where(kind_))
        unit = take.unit()
        take.place()
        prepared = any(span.items[k].text in ("for", "of") for k in (i - 1, i - 2) if k >= 0 and span.items[k].free)
        watching = list(span.where("watched"))
        stance = span.stance(i)
        if stance == "asked":
            take.mark(*marks(span))
            yield take.declining("Logged nothing: that is a question.", Emergency.intent, 0.1)
            return
        if (stance in ("denied", "hoped") and kind_ != "missing_member") or watching or prepared:
            take.mark(*marks(span), *watching)
            yield take.declining("No emergency was logged: that doesn't report one.", Emergency.intent, 0.05)
            return
        if (
            stance == "denied"
            and kind_ == "missing_member"
            and span.items[i].text.split()[0] not in ("cant", "can", "lost", "no", "unaccounted", "not", "missing")
        ):
            take.mark(*marks(span))
            yield take.declining("No emergency was logged: that doesn't report one.", Emergency.intent, 0.05)
            return
        take.mark(*marks(span))
        rest = [k for k in take.open() if span.items[k].kind in ("word", "term", "num", "place", "floor")]
        unsure = [k for k in rest if not span.items[k].free and span.items[k].kind == "word"]
        take.mark(*rest)
        cost = 0.0 if kind_ == "emergency_traffic" else 0.25 * max(0, len(unsure) - _SAID_MORE)
        if kind_ in ("collapse", "flashover") and any(span.items[k].concepts & {"set_to", "in_place"} for k in rest):
            cost += 0.5
        if kind_ == "emergency_traffic" and span.items[i].text in ("urgent", "priority") and len(span.content()) > 1:
            cost = 0.15
        if kind_ == "missing_member" and span.items[i].text in (
            "cant find",
            "can not find",
            "missing one",
            "lost contact with",
            "no answer from",
            "not answering",
            "cannot find",
            "unaccounted for",
        ):
            cost = 0.12 if unit or span.has("people_word") else 0.8
        yield take.reading(Emergency(kind_, unit, span.text()), cost=cost)
        return


# -------------------------------------------------------------------------------------------------------------------- the log

_REPORTS: tuple[tuple[str, str], ...] = (
    ("victim_removed", "victim_removed"), ("victim_found", "victim_found"), ("fire_out", "fire_out"), ("cancel_incoming", "cancel_incoming"),
    ("alarm_level", "alarm"), ("transfer_of_command", "transfer_of_command"), ("rit_deployed", "rit_deployed"),
)  # fmt: skip


@reads(*(concept for concept, _ in _REPORTS), "rit")
def read_report(span: Span) -> Iterable[Candidate]:
    """ "victim found on the second floor", "second alarm", "fire's out", "RIT deployed"."""
    for concept, kind in _REPORTS:
        i = span.first(concept)
        if i >= 0:
            yield from _report(span, kind, (i,), concept)
            return
    i, j = span.first("rit"), span.first("deployed")
    if i >= 0 and j >= 0:
        yield from _report(span, "rit_deployed", (i, j), "rit")


def _report(span: Span, kind: str, at: tuple[int, ...], concept: str) -> Iterator[Candidate]:
    take = Take(span, *at)
    take.terms(concept, "deployed", "exit", "building", "people_word", "for_noise")
    unit = take.unit()
    place = take.place()
    count = None
    if kind in ("victim_found", "victim_removed"):
        count = take.number(None, low=1, high=20, whole=True)
        count = _said_count(span, at[0]) if count is None else count
        take.terms("place:bedroom", "place:rear")
        place = place or take.place()
    elif kind == "alarm":
        for k in span.kinds("num"):
            take.mark(k)
    stance = span.stance(*at)
    orders = kind in ("alarm", "cancel_incoming", "transfer_of_command", "rit_deployed")
    if stance == "asked" or stance == "denied" or (stance in ("hoped", "ordered") and not orders):
        take.mark(*marks(span))
        if stance == "asked":
            yield take.declining("Nothing was logged: that is a question.", Report.intent, 0.1)
        else:
            yield take.declining(sentence(stance), Report.intent, 0.04)
        return
    if stance == "hoped" and kind != "alarm":
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Report.intent, 0.06)
        return
    take.mark(*marks(span))
    cost = 0.0 if span.items[at[0]].text not in ("victim", "all hands") else 0.3
    yield take.reading(Report(kind, span.text(), unit, place, int(count) if count is not None else None), cost=cost)  # type: ignore[arg-type]


def _said_count(span: Span, i: int) -> int | None:
    for word, number in (("two", 2), ("one", 1), ("three", 3), ("2", 2), ("3", 3)):
        if word in span.items[i].text.split():
            return number if number > 1 else None
    return None


@reads("can_report", "conditions")
def read_can(span: Span) -> Iterable[Candidate]:
    """A conditions-actions-needs report is kept whole."""
    if (
        not (span.has("conditions") and span.has("actions", "needs_word"))
        and span.items[span.first("can_report", "conditions")].text == "can"
    ):
        return
    if not span.has("conditions") and not any(span.items[i].text != "can" for i in span.where("can_report")):
        return
    if span.first("conditions", "can_report") > span.lo + 4:
        return
    take = Take(span, *range(span.lo, span.hi))
    unit = Take(span).unit()
    yield take.reading(
        Report("can", span.text(), unit), cost=0.0 if span.has("actions") or span.has("can_report") else 0.25
    )


@reads("note", "size_up", "showing")
def read_note(span: Span) -> Iterable[Candidate]:
    """ "note: …" goes into the log whole; so does what is seen on arrival."""
    i = span.first("note")
    if i == span.lo and not span.has("showing") and span.hi > i + 1:
        take = Take(span, *range(span.lo, span.hi))
        plain = span.items[i].text != "log" or span.items[i + 1].value == ":"
        yield take.reading(Report("note", span.text()), cost=0.05 if plain else 0.4)
        return
    up = span.first("size_up")
    if up == span.lo and span.hi - up > 2 and span.has("building", "showing", "stories"):
        take = Take(span, *range(span.lo, span.hi))
        yield take.reading(Report("size_up", span.text()), cost=0.05)
        return
    if span.has("showing"):
        yield from _size_up(span)


@reads("building", "stories", "floor")
def read_building(span: Span) -> Iterable[Candidate]:
    """ "two story house, smoke showing from the alpha side": what is seen, kept in its words."""
    if not span.has("showing"):
        yield from _size_up(span)


_SEEN = (
    "showing",
    "building",
    "stories",
    "floor",
    "wide",
    "tall",
    "long_dim",
    "involved",
    "fully_involved",
    "exposure",
    "incident_fire",
    "entry",
    "fire_word",
    "occupancy_combustible",
    "up",
    "on_end",
    "place:roof",
    "water_word",
)


def _size_up(span: Span) -> Iterator[Candidate]:
    first = next((i for i in span.content() if span.items[i].kind != "unit"), -1)
    if first < 0 or not (
        span.items[first].concepts & {"showing", "building", "incident_fire"}
        or span.items[first].kind in ("num", "floor")
    ):
        return
    if span.has("needed_flow", "involved", "line", "unit:ft", "unit:in", "unit:gpm", "needs_word") or any(
        span.items[i].unit for i in span.kinds("num")
    ):
        return
    if not span.has("showing", "stories", "floor", "exposure") and not span.kinds("floor", "num"):
        return
    if span.items[first].kind in ("num", "floor") and not span.has("building", "showing"):
        return
    if span.kinds("num") and not span.has("building", "showing", "stories"):
        return
    take = Take(span)
    take.terms(*_SEEN)
    take.mark(*span.kinds("place", "floor"))
    unit = take.unit()
    for i in span.kinds("num"):
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if after & {"stories", "building", "exposure", "floor"} and span.items[i].number <= 60:
            take.mark(i)
    stance = span.stance(first)
    if stance == "said":
        yield take.reading(Report("size_up", span.text(), unit), cost=0.06)


@reads("incident_fire", "incident_medical")
def read_kind(span: Span) -> Iterable[Candidate]:
    """ "this is a medical run", "structure fire"."""
    i = span.first("incident_fire", "incident_medical")
    kind: Literal["fire", "medical"] = "fire" if "incident_fire" in span.items[i].concepts else "medical"
    take = Take(span, *span.where("incident_fire", "incident_medical"))
    take.unit()
    if span.stance(i) == "said":
        yield take.reading(IncidentKind(kind), cost=0.05)


# ------------------------------------------------------------------------------------------------------- reports and the timer


@reads("send_report", "report_word")
def read_send_report(span: Span) -> Iterable[Candidate]:
    """ "send the report as pdf", "readiness report"."""
    forms = {"pdf": "pdf", "csv": "csv", "png": "png", "json": "json", "picture": "png", "spreadsheet": "csv"}
    take = Take(span, *span.where("send_report", "report_word"))
    form = None
    for i in range(span.lo, span.hi):
        if span.items[i].text in forms:
            form = forms[span.items[i].text]
            take.mark(i)
    readiness = bool(take.terms("readiness_status", "readiness_start"))
    if not span.has("send_report") and form is None and not readiness:
        return
    take.terms("show", "order")
    if span.stance(span.first("send_report", "report_word")) in ("said", "ordered"):
        yield take.reading(SendReport(form, readiness))  # type: ignore[arg-type]


@reads("timer")
def read_timer(span: Span) -> Iterable[Candidate]:
    """ "remind me in five minutes to check the roof"."""
    at = span.first("timer")
    take = Take(span, *span.where("timer", "set_to", "for_noise"))
    minutes = take.number("min", "s", "hr", low=0)
    if minutes is None:
        if not span.kinds("num") or span.items[span.hi - 1].kind == "num":
            take.mark(*span.content())
            yield take.asking(Question("In how many minutes?", (), Timer(0), "minutes"), Timer.intent, 0.15)
        return
    if span.has("interval", "reminders") and any(span.items[i].text == "every" for i in range(span.lo, span.hi)):
        return
    later = max(i for i in range(span.lo, span.hi) if take.taken(i)) + 1
    text = _what_for(span, later) if later < span.hi else None
    take.mark(*range(later, span.hi))  # what it is about is kept as said
    number = next(i for i in span.kinds("num") if take.taken(i))
    if text is None and number > at + 1:
        text = _what_for(span, at + 1, number)
        take.mark(*range(at, number))
    yield take.reading(Timer(minutes, text))


def _what_for(span: Span, lo: int, hi: int | None = None) -> str | None:
    words = [span.items[i].text for i in range(lo, span.hi if hi is None else hi) if span.items[i].kind != "sep"]
    while words and words[-1] in ("in", "for", "of", "a", "about"):
        words = words[:-1]
    while words and words[0] in ("to", "that", "about", "for", "in", "to the"):
        words = words[1:]
    return " ".join(words) or None
