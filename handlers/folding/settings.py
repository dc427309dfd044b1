"""Folding what people change about reminders, their own timers, the daily check, and what is made ready after the
fire.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec.structs import replace

from handlers.events import (
    Event,
    ReadinessAnswered,
    ReadinessFinished,
    ReadinessStarted,
    ReminderInterval,
    ReminderResumed,
    ReminderSnoozed,
    ReminderStopped,
    Restored,
    TimerSet,
)
from handlers.scene import Check, OwnTimer, Scene, Setting


def _with_setting(scene: Scene, name: str, **changes: Any) -> Scene:
    setting = scene.settings.get(name) or Setting(name=name)
    return replace(scene, settings={**scene.settings, name: replace(setting, **changes)})


def _snoozed(scene: Scene, body: ReminderSnoozed, event: Event) -> Scene:
    return _with_setting(scene, body.name, snoozed_at=event.at, snoozed_until=body.until)


def _stopped(scene: Scene, body: ReminderStopped, event: Event) -> Scene:
    return _with_setting(scene, body.name, stopped_at=event.at)


def _resumed(scene: Scene, body: ReminderResumed, event: Event) -> Scene:
    return _with_setting(scene, body.name, stopped_at=None, snoozed_at=None, snoozed_until=None)


def _interval(scene: Scene, body: ReminderInterval, event: Event) -> Scene:
    return _with_setting(scene, body.name, minutes=body.minutes, minutes_at=event.at, stopped_at=None)


def _timer(scene: Scene, body: TimerSet, event: Event) -> Scene:
    timer = OwnTimer(
        label=body.label,
        due_at=body.due_at,
        seq=event.seq,
        who=event.who,
        role=event.role,
        set_at=event.at,
        room=event.room,
    )
    return replace(scene, timers=(*scene.timers, timer))


def _check_started(scene: Scene, body: ReadinessStarted, event: Event) -> Scene:
    return replace(scene, readiness_items=body.items, readiness=(), readiness_finished_at=None)


def _check_answered(scene: Scene, body: ReadinessAnswered, event: Event) -> Scene:
    check = Check(item=body.item, ok=body.ok, at=event.at, value=body.value, remark=body.remark)
    others = tuple(one for one in scene.readiness if one.item != body.item)
    return replace(scene, readiness=(*others, check))


def _check_finished(scene: Scene, body: ReadinessFinished, event: Event) -> Scene:
    return replace(scene, readiness_finished_at=event.at)


def _restored(scene: Scene, body: Restored, event: Event) -> Scene:
    return scene if body.item in scene.restored else replace(scene, restored=(*scene.restored, body.item))


APPLY: dict[type, Callable[..., Scene]] = {
    ReminderSnoozed: _snoozed,
    ReminderStopped: _stopped,
    ReminderResumed: _resumed,
    ReminderInterval: _interval,
    TimerSet: _timer,
    ReadinessStarted: _check_started,
    ReadinessAnswered: _check_answered,
    ReadinessFinished: _check_finished,
    Restored: _restored,
}
