"""Folding a patient's care: the arrest clock, doses and shocks as they were reported."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from msgspec.structs import replace

from handlers.events import ArrestAction, Event, OxygenNoted
from handlers.scene import ArrestClock, Scene

RESTARTS_TWO_MINUTES = frozenset({"cpr_started", "shock", "rhythm_check", "compressor_change"})


def _arrest(scene: Scene, body: ArrestAction, event: Event) -> Scene:
    clock = scene.arrest or ArrestClock(started_at=event.at, last_check_at=event.at)
    ended = clock.stopped_at is not None or clock.pulses_at is not None
    if body.action == "cpr_started" and ended:
        clock = replace(clock, started_at=event.at, stopped_at=None, pulses_at=None, pauses=())
    elif body.action == "cpr_started":
        clock = replace(clock, pauses=_resumed(clock, event.at))
    clock = replace(clock, patient=clock.patient or body.patient)
    if body.action in RESTARTS_TWO_MINUTES:
        clock = replace(clock, last_check_at=event.at)
    match body.action:
        case "epinephrine":
            clock = replace(clock, doses=(*clock.doses, event.at))
        case "shock":
            clock = replace(clock, shocks=(*clock.shocks, event.at), joules=(*clock.joules, body.joules))
        case "rhythm_check":
            told = (event.at, body.text) if body.text else None
            clock = replace(clock, rhythms=(*clock.rhythms, told) if told else clock.rhythms)
        case "compressor_change":
            clock = replace(clock, changes=(*clock.changes, event.at))
        case "cpr_paused":
            clock = replace(clock, pauses=(*_resumed(clock, event.at), (event.at, None)))
        case "pulses_back":
            clock = replace(clock, pulses_at=event.at)
        case "cpr_stopped":
            clock = replace(clock, stopped_at=event.at)
        case "drug":
            return scene
    return replace(scene, arrest=clock)


def _resumed(clock: ArrestClock, at: datetime) -> tuple[tuple[datetime, datetime | None], ...]:
    """Its pauses, an open one ended."""
    return tuple((begun, until or at) for begun, until in clock.pauses)


def _oxygen(scene: Scene, body: OxygenNoted, event: Event) -> Scene:
    return scene


APPLY: dict[type, Callable[..., Scene]] = {ArrestAction: _arrest, OxygenNoted: _oxygen}
