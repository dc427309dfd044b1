"""Folding the people: crews inside and their gauges, PAR, rehab, orders to everyone, Mayday."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec.structs import replace

from handlers.events import (
    AirRead,
    CrewComingOut,
    CrewEntered,
    CrewLeft,
    EmergencyDeclared,
    EmergencyOver,
    EvacuationLifted,
    EvacuationOrdered,
    Event,
    MaydayCleared,
    MaydayDeclared,
    MaydayDetail,
    ParAnswered,
    ParRequested,
    RehabChanged,
    StrategySet,
)
from handlers.folding.companies import seen_on_scene
from handlers.scene import Crew, Gauge, MaydayState, ParCheck, Scene, Spell

LUNAR = ("location", "unit", "name", "assignment", "air", "resources")


def _with_crew(scene: Scene, key: str, **changes: Any) -> Scene:
    crew = scene.crews.get(key) or Crew(crew=key)
    return replace(scene, crews={**scene.crews, key: replace(crew, **changes)})


def _entered(scene: Scene, body: CrewEntered, event: Event) -> Scene:
    before = scene.crews.get(body.crew) or Crew(crew=body.crew)
    scene = _with_crew(
        scene,
        body.crew,
        count=body.count if body.count is not None else before.count,
        entered_at=event.at,
        left_at=None,
        place=body.place,
        task=body.task or before.task,
        gauges=() if body.gauge_psi is None else (Gauge(event.at, body.gauge_psi),),
        cylinder_psi=body.cylinder_psi,
        rated_min=body.rated_min,
        entries=before.entries + 1,
        rehab_since=None,
        alarm_at=None,
        coming_out_at=None,
        told_out_at=None,
    )
    return seen_on_scene(scene, event.unit, event.at)


def _air(scene: Scene, body: AirRead, event: Event) -> Scene:
    crew = scene.crews.get(body.crew) or Crew(crew=body.crew)
    return _with_crew(
        scene,
        body.crew,
        gauges=crew.gauges if body.gauge_psi is None else (*crew.gauges, Gauge(event.at, body.gauge_psi)),
        alarm_at=event.at if body.low_air_alarm else crew.alarm_at,
    )


def _left(scene: Scene, body: CrewLeft, event: Event) -> Scene:
    """A crew comes out. When fewer came out than went in, the rest count as inside and its clocks go on."""
    crew = scene.crews.get(body.crew) or Crew(crew=body.crew)
    if crew.count and body.count and body.count < crew.count:
        return _with_crew(scene, body.crew, count=crew.count - body.count)
    inside_s = (event.at - crew.entered_at).total_seconds() if crew.entered_at and crew.inside else 0.0
    gauges = crew.gauges if body.gauge_psi is None else (*crew.gauges, Gauge(event.at, body.gauge_psi))
    spells = crew.spells
    if crew.inside and crew.entered_at is not None:
        low = crew.alarm_at is not None
        spells = (*spells, Spell(crew.entered_at, event.at, gauges, crew.cylinder_psi, crew.rated_min, low))
    return _with_crew(
        scene,
        body.crew,
        left_at=event.at,
        worked_s=crew.worked_s + inside_s,
        gauges=gauges,
        coming_out_at=None,
        told_out_at=None,
        spells=spells,
    )


def _coming_out(scene: Scene, body: CrewComingOut, event: Event) -> Scene:
    """On the way out: inside until it is out."""
    crew = scene.crews.get(body.crew)
    if crew is None or not crew.inside:
        return scene
    gauges = crew.gauges if body.gauge_psi is None else (*crew.gauges, Gauge(event.at, body.gauge_psi))
    if body.ordered:
        return _with_crew(scene, body.crew, told_out_at=event.at, gauges=gauges)
    return _with_crew(scene, body.crew, coming_out_at=crew.coming_out_at or event.at, gauges=gauges)


def _rehab(scene: Scene, body: RehabChanged, event: Event) -> Scene:
    if body.back:
        rehabs = scene.crews[body.crew].rehabs if body.crew in scene.crews else 0
        return _with_crew(scene, body.crew, rehab_since=None, worked_s=0.0, entries=0, spells=(), rehabs=rehabs + 1)
    return _with_crew(scene, body.crew, rehab_since=event.at)


def _par_requested(scene: Scene, body: ParRequested, event: Event) -> Scene:
    """A new PAR; or, where only units of the last one are asked again, that one with their answers awaited anew."""
    check = scene.par
    asked = tuple(body.expected.items())
    if (
        check is not None
        and len(body.expected) < len(check.expected)
        and body.expected.keys() <= dict(check.expected).keys()
    ):
        expected = tuple((unit, body.expected.get(unit) or count) for unit, count in check.expected)
        kept = tuple(answer for answer in check.answered if answer[0] not in body.expected)
        return replace(scene, par=ParCheck(at=event.at, why=check.why, expected=expected, answered=kept))
    return replace(scene, par=ParCheck(at=event.at, why=body.why, expected=asked))


def _par_answered(scene: Scene, body: ParAnswered, event: Event) -> Scene:
    check = scene.par or ParCheck(at=event.at, why="reported")
    missing = max(1, body.missing) if body.no_par else body.missing
    answer = (body.unit, body.count, missing, event.at)
    return replace(scene, par=replace(check, answered=(*check.answered, answer)))


def _strategy(scene: Scene, body: StrategySet, event: Event) -> Scene:
    return replace(scene, strategy=body.strategy, strategy_at=event.at)


def _evacuate(scene: Scene, body: EvacuationOrdered, event: Event) -> Scene:
    return replace(scene, evacuation_at=event.at)


def _evacuation_over(scene: Scene, body: EvacuationLifted, event: Event) -> Scene:
    return replace(scene, evacuation_at=None)


def _emergency(scene: Scene, body: EmergencyDeclared, event: Event) -> Scene:
    return replace(scene, emergencies=(*scene.emergencies, (body.kind, event.at)))


def _emergency_over(scene: Scene, body: EmergencyOver, event: Event) -> Scene:
    return replace(scene, emergencies=tuple(one for one in scene.emergencies if one[0] != body.kind))


def _mayday(scene: Scene, body: MaydayDeclared, event: Event) -> Scene:
    if scene.mayday_open:
        return _mayday_more(scene, body, event)
    parts = {part: getattr(body, part) for part in LUNAR}
    return replace(scene, mayday=MaydayState(at=event.at, text=body.text, **parts))


def _mayday_more(scene: Scene, body: MaydayDetail | MaydayDeclared, event: Event) -> Scene:
    if scene.mayday is None:
        return replace(scene, mayday=MaydayState(at=event.at, text=body.text))
    return replace(scene, mayday=scene.mayday.with_parts({part: getattr(body, part) for part in LUNAR}))


def _mayday_cleared(scene: Scene, body: MaydayCleared, event: Event) -> Scene:
    if scene.mayday is None:
        return scene
    return replace(scene, mayday=replace(scene.mayday, cleared_at=event.at))


APPLY: dict[type, Callable[..., Scene]] = {
    CrewEntered: _entered,
    AirRead: _air,
    CrewLeft: _left,
    CrewComingOut: _coming_out,
    RehabChanged: _rehab,
    ParRequested: _par_requested,
    ParAnswered: _par_answered,
    StrategySet: _strategy,
    EvacuationOrdered: _evacuate,
    EvacuationLifted: _evacuation_over,
    EmergencyDeclared: _emergency,
    EmergencyOver: _emergency_over,
    MaydayDeclared: _mayday,
    MaydayDetail: _mayday_more,
    MaydayCleared: _mayday_cleared,
}
