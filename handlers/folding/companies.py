"""Folding the incident itself: opened and closed, its companies and roles, and the benchmarks that were reported."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from msgspec.structs import replace

from handlers.events import (
    BenchmarkReported,
    Event,
    IncidentClosed,
    IncidentOpened,
    KindSet,
    Noted,
    Retracted,
    RoleTaken,
    UnitAssigned,
    UnitJoined,
    UnitLeft,
)
from handlers.scene import Company, Scene, Stamp

ON_SCENE_ONLY = frozenset(
    {
        "size_up",
        "command_established",
        "two_out_in_place",
        "rit_in_place",
        "water_supply",
        "water_on_fire",
        "primary_search_started",
        "primary_search_complete",
        "ventilation",
        "knocked_down",
        "under_control",
        "utilities_secured",
        "secondary_search_complete",
        "extrication_complete",
        "overhaul",
        "suppression_complete",
        "loss_stopped",
        "patient_contact",
    }
)
"""Benchmarks that only a company on the scene can report: the latest that it can have arrived."""

GONE = frozenset({"available", "returning", "in_quarters"})


def with_company(scene: Scene, unit: str, **changes: Any) -> Scene:
    """The scene with a company added or changed; None changes nothing."""
    company = scene.companies.get(unit) or Company(unit=unit)
    told = {key: value for key, value in changes.items() if value is not None}
    return replace(scene, companies={**scene.companies, unit: replace(company, **told)})


def seen_on_scene(scene: Scene, unit: str, at: datetime) -> Scene:
    """A company did something that is only done on the scene: it was there at the latest now."""
    if not unit:
        return scene
    company = scene.companies.get(unit)
    if company is not None and company.seen_at is not None:
        return scene
    return with_company(scene, unit, seen_at=at)


def _opened(scene: Scene, body: IncidentOpened, event: Event) -> Scene:
    scene = replace(
        scene,
        kind=body.kind,
        nature=body.nature or scene.nature,
        address=body.address or scene.address,
        dispatch_text=body.text or scene.dispatch_text,
        opened_at=scene.opened_at or event.at,
    )
    for unit in body.units:
        scene = with_company(scene, unit, dispatched_at=event.at)
    return scene


def _closed(scene: Scene, body: IncidentClosed, event: Event) -> Scene:
    return replace(scene, closed_at=event.at)


def _kind(scene: Scene, body: KindSet, event: Event) -> Scene:
    return replace(scene, kind=body.kind)


def _joined(scene: Scene, body: UnitJoined, event: Event) -> Scene:
    scene = with_company(scene, body.unit, staffing=body.staffing, task=body.task)
    if scene.companies[body.unit].left_at is None:
        return scene
    back = replace(scene.companies[body.unit], left_at=None)
    return replace(scene, companies={**scene.companies, body.unit: back})


def _left(scene: Scene, body: UnitLeft, event: Event) -> Scene:
    return with_company(scene, body.unit, left_at=event.at)


def _role(scene: Scene, body: RoleTaken, event: Event) -> Scene:
    return replace(scene, roles={**scene.roles, body.person: (body.role, body.unit)})


def _benchmark(scene: Scene, body: BenchmarkReported, event: Event) -> Scene:
    stamp = Stamp(
        benchmark=body.benchmark,
        at=event.at,
        unit=body.unit,
        place=body.place,
        remark=body.remark,
        who=event.who,
        role=event.role,
        seq=event.seq,
        logged_at=event.logged_at,
    )
    scene = replace(scene, stamps=(*scene.stamps, stamp))
    unit = body.unit or event.unit
    if body.benchmark in ON_SCENE_ONLY:
        return seen_on_scene(scene, unit, event.at)
    if not unit:
        return scene
    if body.benchmark in GONE:
        return with_company(scene, unit, left_at=event.at)
    company = scene.companies.get(unit) or Company(unit=unit)
    match body.benchmark:
        case "dispatched":
            return with_company(scene, unit, dispatched_at=company.dispatched_at or event.at)
        case "en_route":
            return with_company(scene, unit, en_route_at=company.en_route_at or event.at)
        case "on_scene":
            return with_company(scene, unit, on_scene_at=company.on_scene_at or event.at)
    return scene


def _assigned(scene: Scene, body: UnitAssigned, event: Event) -> Scene:
    return with_company(scene, body.unit, place=body.place, task=body.task, staffing=body.staffing)


def _noted(scene: Scene, body: Noted, event: Event) -> Scene:
    return scene


def _retracted(scene: Scene, body: Retracted, event: Event) -> Scene:
    """The fold has left out what was taken back; the scene only knows that reminders must be told anew."""
    return replace(scene, amended=(*scene.amended, event.logged_at))


APPLY: dict[type, Callable[..., Scene]] = {
    IncidentOpened: _opened,
    IncidentClosed: _closed,
    KindSet: _kind,
    UnitJoined: _joined,
    UnitLeft: _left,
    RoleTaken: _role,
    BenchmarkReported: _benchmark,
    UnitAssigned: _assigned,
    Noted: _noted,
    Retracted: _retracted,
}
