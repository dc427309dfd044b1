"""Reads the pump's source: on the hydrant, on the tank, lost water, trouble, the intake gauge."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    Choice,
    Intake,
    Question,
    Status,
    WaterSource,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.vocabulary import word_list

Source = Literal["tank", "hydrant", "draft", "relay", "nurse"]


_SOURCES: tuple[tuple[str, Source], ...] = (
    ("on_hydrant", "hydrant"),
    ("on_draft", "draft"),
    ("on_nurse", "nurse"),
    ("on_relay", "relay"),
    ("on_tank", "tank"),
)


@reads("on_hydrant", "on_draft", "on_nurse", "on_relay", "on_tank")
def read_source(span: Span) -> Iterable[Candidate]:
    """ "on the hydrant" — the only report that stops the tank clock (convention 3)."""
    for concept, source in _SOURCES:
        i = span.first(concept)
        if i < 0 or (source == "tank" and span.has("how_long", "tank_time", "off_hydrant", "on_hydrant")):
            continue
        take = Take(span, i)
        if span.items[i].text in _BESIDE and any(k < i for k in span_before(span)):
            take.cost += 0.6  # "600 gpm from the tank": no report
        if any(span.items[k].text.split()[-1] in ("were", "was") for k in (i - 1, i - 2) if k >= 0) or span.items[
            i
        ].text.split()[0] in ("were", "was"):
            take.cost += 0.6  # were, and are no longer?
        take.terms(concept, "hydrant_word", "tank", "for_noise", "supply_word", "water_word", "relay", "feed", "tender")
        take.terms("changed_over")
        if source in ("relay", "nurse"):
            take.unit()
            if (
                source == "relay"
                and span.items[i].text in ("water from", "supplied by", "fed by", "feeding us")
                and not span.kinds("unit")
            ):
                continue
        stance = span.stance(i)
        if stance == "asked":
            take.mark(*still_to_come(span))
            yield take.reading(Status(about="water"), cost=0.05)
        elif stance == "said":
            yield take.reading(
                WaterSource(source), cost=0.02 if source == "draft" and span.items[i].text == "drafting" else 0.0
            )
        else:
            yield not_yet(take, stance)


@reads("hydrant_word", "supply_word", "feed")
def read_supply_charged(span: Span) -> Iterable[Candidate]:
    """ "Hydrant charged", "supply line charged": asked; only "on the hydrant" stops the tank clock."""
    at = span.first("hydrant_word", "supply_word", "feed")
    charged = span.first("charge", "charged_state")
    if charged < 0 or span.kinds("line", "num", "family") or span.stance(at, charged) != "said":
        return
    take = Take(span, at, charged)
    take.terms("feed", "supply_word", "line", "hydrant_word", "of_hose", "rem_supply")
    choices = (Choice("on the hydrant", (WaterSource("hydrant"),)), Choice("not yet"))
    yield take.asking(Question("Is the pump on the hydrant now?", choices), WaterSource.intent, 0.03)


_BESIDE = ("from the tank", "tank water", "off the tank")


def span_before(span: Span) -> list[int]:
    """Numbers and lines said before, also in another part of the message."""
    return [k for k, item in enumerate(span.items[: span.hi]) if item.kind in ("num", "line", "family")]


def still_to_come(span: Span) -> list[int]:
    return [
        k
        for k in range(span.lo, span.hi)
        if span.items[k].polarity_mark or (span.items[k].kind == "num" and span.items[k].unit in ("min", "s"))
    ]


def not_yet(take: Take, stance: str) -> Candidate:
    take.mark(*still_to_come(take.span))
    what = "that says it isn't so." if stance == "denied" else "that is still to come. Say it when it is."
    return take.declining(f"The water source stays as it is: {what}", WaterSource.intent, 0.03)


@reads("off_hydrant", "off_supply", "lost_supply", "leaving_hydrant")
def read_lost(span: Span) -> Iterable[Candidate]:
    """ "lost water", "hydrant's dead", "coming off the hydrant"."""
    i = span.first("lost_supply", "off_hydrant", "off_supply", "leaving_hydrant")
    lost = "lost_supply" in span.items[i].concepts
    if not lost and span.items[i].text.startswith("off") and _drawn_from(span, i):
        return
    take = Take(span, *span.where("leaving_hydrant"), i)
    if lost and (named := [k for k in span.kinds("line", "family") if k < i]):
        take.mark(*named)
        take.terms("lost_supply", "water_word", "establishing", "supply_established", "for_noise")
        choices = (Choice("the pump lost its supply", (WaterSource("tank", lost=True),)), Choice("only that line"))
        yield take.asking(
            Question("Did the pump lose its supply, or only that line?", choices), WaterSource.intent, 0.02
        )
        return
    take.terms(
        "lost_supply",
        "off_hydrant",
        "leaving_hydrant",
        "hydrant_word",
        "on_tank",
        "tank",
        "move_to",
        "burst",
        "feed",
        "water_word",
        "flow_on",
    )
    text = span.items[i].text
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*still_to_come(span))
        yield take.reading(Status(about="water"), cost=0.05)
        return
    if (
        lost
        and span.items[i].text in ("no water", "losing water", "losing the hydrant")
        and len(span.content()) > 1
        and span.has("water_on_fire")
    ):
        return
    if stance in ("denied", "hoped"):
        yield not_yet(take, stance)
        return
    meant = not lost and _own_act(span)
    if not lost and not meant:
        take.mark(*(k for k in take.open() if span.items[k].text in word_list("off_by_others")), span.first("on_end"))
    cost = 0.0 if text not in ("no water", "supply is lost", "losing water") else 0.1
    if span.context.source == "tank" and not lost:
        cost += 0.1
    unsaid = not lost and not meant and "off_supply" in span.items[i].concepts
    yield take.reading(WaterSource("tank", lost=not meant and not unsaid, meant=meant), cost=cost)


def _drawn_from(span: Span, i: int) -> bool:
    """ "Filling the tank off the hydrant", "getting water off the plug": from it, and nobody leaves it."""
    before = [item for item in span.items[:i] if not item.free or item.kind == "sep"]
    if not before or before[-1].kind in ("sep", "unit"):
        return False
    return not before[-1].concepts.isdisjoint(("topping_off", "refilled", "tank", "water_word", "feed"))


def _own_act(span: Span) -> bool:
    """ "Shut down the hydrant", "disconnected": done by who says it; "somebody shut the hydrant" is a loss."""
    at = span.first("leaving_hydrant")
    if at < 0:
        return False
    around = {word for item in span.items[span.lo : span.hi] for word in item.text.split()}
    return around.isdisjoint(word_list("off_by_others") - set(span.items[at].text.split()))


_TROUBLES: tuple[Literal["lost_prime", "cavitating", "overheating"], ...] = ("lost_prime", "cavitating", "overheating")


@reads(*_TROUBLES)
def read_trouble(span: Span) -> Iterable[Candidate]:
    """ "lost my prime", "pump's cavitating"."""
    if span.has("prime_help"):
        return
    for trouble in _TROUBLES:
        i = span.first(trouble)
        if i < 0:
            continue
        take = Take(span, *span.where(trouble))
        take.terms("pump_word", "off_hydrant", "lost_supply", "cavitating")
        stance = span.stance(i)
        if stance == "said":
            yield take.reading(WaterSource(trouble=trouble))
        elif stance in ("denied", "hoped"):
            yield not_yet(take, stance)


@reads("intake_gauge")
def read_intake(span: Span) -> Iterable[Candidate]:
    """ "intake's at 30", "I've got 60 on the intake"."""
    at = span.first("intake_gauge")
    take = Take(span, at)
    if span.has("was_at", "started") and span.has("is_at"):
        return
    take.terms(
        "intake_gauge",
        "intake_at",
        "dropped_to",
        "for_noise",
        "residual",
        "air_word",
        "move_to",
        "shut",
        "gauge_word",
        "supply_word",
        "ask_pressure",
        "carries",
        "stands_by",
    )
    vacuum = take.number("inhg")
    if vacuum is None and span.has("vacuum"):
        vacuum = take.number("in", None, low=0, high=30)
    take.terms("vacuum")
    if vacuum is not None:
        yield take.reading(Intake(0.0, vacuum_inhg=vacuum), cost=0.05)
        return
    psi = take.number_near(at, "psi", "bar", "kpa", None, low=-30, high=300, reach=4)
    before = [i for i in span.kinds("num") if i < at and take.taken(i) and span.items[i].unit is None]
    if before and not span.items[at].text.startswith(("on", "at")):
        take.cost += 0.5  # "three inlet"
    stance = span.stance(at)
    if psi is not None and _by_how_much(span, at):
        yield take.asking(
            Question("What does the intake gauge read now?", (), Intake(0.0), "intake_psi"), Intake.intent, 0.05
        )
    elif stance == "asked" and psi is None:
        yield take.reading(Status(about="water"), cost=0.1)
    elif psi is None:
        if not span.kinds("num", "line"):
            yield take.asking(
                Question("What does the intake gauge read?", (), Intake(0.0), "intake_psi"), Intake.intent, 0.15
            )
    elif stance in ("denied", "hoped"):
        yield not_yet(take, stance)
    else:
        yield take.reading(Intake(psi))


def _by_how_much(span: Span, at: int) -> bool:
    """ "Intake dropped 20", "we lost 20 on the intake": by how much it changed, not what it reads.

    "Dropped to 20" reads it; "from 60 to 30" is asked.
    """
    first = span.lo - 1 if span.lo and span.items[span.lo - 1].kind != "sep" else span.lo
    said = [word for k in range(first, span.hi) for word in span.items[k].text.split()]
    if "from" in said and "to" in said:
        return True
    return not {*word_list("source_fell")}.isdisjoint(said) and "to" not in said and "at" not in said
