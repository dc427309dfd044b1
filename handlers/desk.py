"""The desk: each command finds its handler here, and the commands of a message are worked out one after the other.

A handler is a pure function `(command, scene, rig, said) -> Outcome`, registered with `@handle.register` by the
command's type. The few commands that are about the log itself (undo, correction) register with `@amend.register` and
get the `History` in place of the scene. `handlers/__init__.py` imports them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import singledispatch
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from grammar.commands import Choice, Command, Question
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import (
    Event,
    EventBody,
    HydrantRead,
    IncidentOpened,
    IntakeRead,
    LineChanged,
    LineOpened,
    LineShut,
    NeededFlowSet,
    Noted,
    OxygenNoted,
    PumpReady,
    ReadinessAnswered,
    ReadinessFinished,
    ReadinessStarted,
    RoleTaken,
    SourceChanged,
    SupplyAnnounced,
    TankRead,
    UnitJoined,
)
from handlers.folding.water import settled
from handlers.history import BEFORE_ALL, History
from handlers.out_of_incident import answered_only
from handlers.outcome import Dated, Outcome, Said
from handlers.rig import BOOK, Rig
from handlers.rights import offered, why_not
from handlers.scene import Scene
from handlers.times import unit_name
from handlers.water.state import with_state
from handlers.words import Words

T = TypeVar("T")
CAUTION = (
    "An aid only: department procedures, the pump's gauges and the incident commander decide. "
    "It isn't a radio, a Mayday call or accountability."
)
NOT_OPEN = "No incident is open, so that isn't logged: report “on scene” or charge a line first."
OF_THE_DAY = RoleTaken | ReadinessStarted | ReadinessAnswered | ReadinessFinished | Noted
"""What is logged out of any incident too."""
WORKED_OUT = HydrantRead | NeededFlowSet | OxygenNoted
"""What is worth answering out of any incident, and not logged there."""
AT_THE_PUMP = (LineOpened, LineShut, LineChanged, SourceChanged, TankRead, IntakeRead, SupplyAnnounced)


@singledispatch
def handle(command: Command, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Work a command out against the scene.

    Args:
        command: what was said.
        scene: the incident as it stands at `said.at` (an empty scene outside one).
        rig: the speaker's company's rig file.
        said: who, where and when.
    """
    raise NotImplementedError(f"no handler for {type(command).__name__}")


@singledispatch
def amend(command: Command, history: History, rig: Rig, said: Said) -> Outcome:
    """Work out a command that is about the log itself."""
    raise NotImplementedError(f"no handler for {type(command).__name__}")


def own_unit(rig: Rig) -> str:
    """The key of the rig's own company: "Engine 12" → "engine 12"."""
    return rig.name.casefold()


class Answered(Struct, frozen=True):
    """What the commands of a message come to."""

    outcomes: list[Outcome]
    """One for each, in order."""
    logs: tuple[History, ...]
    """The log that they were answered in with what they add to it, and that of an incident which one of them opens:
    `History.unwritten` is what the record is to hold."""


def answer(
    commands: Sequence[Command],
    history: History,
    rig: Rig,
    said: Said,
    *,
    incident: str = "",
    logged_at: datetime | None = None,
    first: int = 0,
) -> Answered:
    """Work a message's commands out in order, each seeing the events of those before it.

    `history` isn't changed. A closed incident (or an empty history) is left behind by the first outcome that opens one:
    its events hold an `IncidentOpened`, and they start a log of their own, which has no id yet.

    Args:
        incident: the id of `history`.
        logged_at: when the events are logged; None = when the message was sent.
        first: the number of the first command in its message.
    """
    said = replace(said, unit=said.unit or own_unit(rig), company=said.company or own_unit(rig))
    trial = history.copy()
    logs = [trial]
    outcomes = []
    for number, command in enumerate(commands, first):
        if _leaves_behind(command, trial, rig, said):
            trial, incident = History(), ""
            logs.append(trial)
        outcome = work(command, trial, rig, said)
        if trial.scene.closed_at is not None:
            outcome = replace(outcome, opens=False)
        elif trial.scene.opened_at is None and not outcome.opens and said.live:
            outcome = _out_of_any(outcome)
        outcome = _opened(outcome, trial.scene, rig, said)
        pump = trial.scene.pump(said.unit)
        for event in events_of(
            outcome, number, said, first_seq=trial.last_seq + 1, incident=incident, logged_at=logged_at
        ):
            trial.add(event)
        after = trial.scene.pump(said.unit)
        outcome = with_state(outcome, settled(pump, said.at), settled(after, said.at), rig, said)
        outcomes.append(_told_of_the_books_tank(_told_as_borrowed(outcome, rig, said), rig))
        if not said.live:
            trial = _with_tank(trial, rig, said)
    outcomes = _caution_last(outcomes)
    return Answered(outcomes if said.live else [answered_only(outcome) for outcome in outcomes], tuple(logs))


def _caution_last(outcomes: list[Outcome]) -> list[Outcome]:
    """The caution of an opened incident stands under all that is answered."""
    if not any(CAUTION in outcome.cautions for outcome in outcomes[:-1]):
        return outcomes
    bare = [replace(o, cautions=tuple(text for text in o.cautions if text != CAUTION)) for o in outcomes]
    return [*bare[:-1], replace(bare[-1], cautions=(*bare[-1].cautions, CAUTION))]


_BY_THE_RIG = frozenset(
    ("pump_pressure", "flow_at_pressure", "supply_pressure", "longest_lay", "what_if", "pumping", "line_on",
     "line_change", "tank_time", "water_source")
)  # fmt: skip
"""Intents whose answers rest on the company's rig file."""


def _told_as_borrowed(outcome: Outcome, rig: Rig, said: Said) -> Outcome:
    """An answer for a company without a rig file says what stands in for it."""
    if not rig.borrowed or outcome.intent not in _BY_THE_RIG or not outcome.answer_json:
        return outcome
    words = Words.of(rig)
    told = (
        f"{unit_name(said.unit)} has no rig file here: the book's coefficients and losses, a tank of "
        f"{words.gal(rig.tank.capacity_gal)} and a pump of {words.gpm(rig.pump.rated_gpm)} as {rig.name}'s"
    )
    return replace(outcome, assumed=(*outcome.assumed, told))


def _told_of_the_books_tank(outcome: Outcome, rig: Rig) -> Outcome:
    """A time of the tank by the book's tank says so: the rig's own stands in no file."""
    if rig.borrowed or rig.states("tank.capacity_gal") or outcome.answer_json.get("tank_s") is None:
        return outcome
    if outcome.intent not in _BY_THE_RIG - {"tank_time"}:
        return outcome
    return replace(outcome, assumed=(*outcome.assumed, f"tank {Words.of(rig).gal(rig.tank.capacity_gal)} ({BOOK})"))


def _out_of_any(outcome: Outcome) -> Outcome:
    """An outcome out of any incident: what is only worked out is answered, what would be logged there is refused."""
    bodies = [dated.body for dated in _dated(outcome)]
    if all(isinstance(body, WORKED_OUT) for body in bodies):
        return replace(outcome, events=())
    if all(isinstance(body, OF_THE_DAY) for body in bodies):
        return outcome
    return Outcome(intent=outcome.intent, refused=NOT_OPEN)


def _leaves_behind(command: Command, history: History, rig: Rig, said: Said) -> bool:
    """Whether a command begins an incident of its own: a dispatch does; what else happened before the last one's close
    belongs to that.
    """
    if history.scene.open or not history.events or amends(command):
        return False
    fresh = work(command, History(), rig, said)
    closed, told = history.scene.closed_at, list(_dated(fresh))
    dispatched = any(isinstance(dated.body, IncidentOpened) for dated in told)
    return fresh.opens and (closed is None or dispatched or all((dated.at or said.at) > closed for dated in told))


def amends(command: Command) -> bool:
    """Whether a command is about the log itself."""
    return amend.dispatch(type(command)) is not amend.dispatch(object)


def _opened(outcome: Outcome, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The outcome with what must stand in the log before it; one that opens an incident carries the caution, once."""
    standing = tuple(_standing(outcome, scene, rig, said))
    opens = outcome.opens and not scene.open and said.live
    cautions = (*outcome.cautions, CAUTION) if opens else outcome.cautions
    events = tuple(
        replace(dated, at=dated.at or said.at, unit=dated.unit or said.unit)
        for dated in (*map(_as_dated, standing), *map(_as_dated, outcome.events))
    )
    return replace(outcome, events=events, standing=len(standing), cautions=cautions)


def work(command: Command, history: History, rig: Rig, said: Said) -> Outcome:
    """One command's outcome; what our errors say becomes a refusal or a question."""
    if (why := why_not(command, history.scene, said)) is not None:
        return Outcome(intent=command.intent, refused=why)
    try:
        outcome = amend(command, history, rig, said) if amends(command) else handle(command, history.scene, rig, said)
        return _within_rights(outcome, history.scene, said)
    except NeedsAnswer as needed:
        return Outcome(intent=command.intent, question=question_for(needed, command))
    except Refusal as refusal:
        return Outcome(intent=command.intent, refused=refusal.message)


def question_for(error: NeedsAnswer, command: Command) -> Question:
    """The question that a handler's `NeedsAnswer` stands for, with a whole command behind each choice."""
    choices = tuple(Choice(label, (exchange(command, error.part, completed),)) for label, completed in error.options)
    return Question(error.message, choices, fills=command, slot=error.slot)


def exchange(thing: T, old: object, new: object) -> T:
    """The same tree of structs and tuples with one of its parts (the very object) exchanged."""
    if thing is old:
        return new  # type: ignore[return-value]
    if isinstance(thing, tuple):
        return tuple(exchange(item, old, new) for item in thing)  # type: ignore[return-value]
    if isinstance(thing, Struct):
        fields = {name: getattr(thing, name) for name in thing.__struct_fields__}
        turned = {name: exchange(value, old, new) for name, value in fields.items()}
        changed = {name: value for name, value in turned.items() if value is not fields[name]}
        return replace(thing, **changed) if changed else thing
    return thing


def _within_rights(outcome: Outcome, scene: Scene, said: Said) -> Outcome:
    """Nothing is offered that would be refused."""
    question = offered(outcome.question, scene, said)
    if outcome.question is not None and question is None:
        refused = (why_not(what, scene, said) for choice in outcome.question.choices for what in choice.commands)
        return Outcome(intent=outcome.intent, refused=next(why for why in refused if why is not None))
    return replace(outcome, question=question, follow_up=offered(outcome.follow_up, scene, said))


def events_of(
    outcome: Outcome,
    command: int,
    said: Said,
    *,
    first_seq: int,
    incident: str = "",
    logged_at: datetime | None = None,
) -> list[Event]:
    """An outcome's events in their envelopes, numbered from `first_seq`.

    Args:
        command: which command of the message it was, counted from 0.
        incident: the incident's id.
        logged_at: when they are logged; None = when the message was sent.
    """
    return [
        Event(
            incident=incident,
            seq=first_seq + number,
            at=dated.at or said.at,
            logged_at=logged_at or said.at,
            who=said.who,
            unit=dated.unit or said.unit,
            room=said.room,
            message=said.message,
            command=command if number >= outcome.standing else BEFORE_ALL,
            body=dated.body,
            role=said.role,
        )
        for number, dated in enumerate(_dated(outcome))
    ]


def _dated(outcome: Outcome) -> Iterator[Dated]:
    return map(_as_dated, outcome.events)


def _as_dated(event: EventBody | Dated) -> Dated:
    return event if isinstance(event, Dated) else Dated(event)


def _standing(outcome: Outcome, scene: Scene, rig: Rig, said: Said) -> Iterator[EventBody | Dated]:
    """What must be in the log before an outcome's own events: the incident, the speaker's company, its pump."""
    opening = outcome.opens and not scene.open
    if not outcome.events or not (opening or scene.open):
        return
    bodies = [dated.body for dated in _dated(outcome)]
    at = min((dated.at or said.at for dated in _dated(outcome)), default=said.at)
    own = said.unit == own_unit(rig)
    if opening and not any(isinstance(body, IncidentOpened) for body in bodies):
        yield Dated(IncidentOpened(), at=at)
    if said.unit not in scene.companies and not any(
        isinstance(body, UnitJoined) and body.unit == said.unit for body in bodies
    ):
        yield Dated(UnitJoined(unit=said.unit, staffing=len(rig.crew) or None if own else None), at=at)
    if said.unit not in scene.pumps and (opening or any(isinstance(body, AT_THE_PUMP) for body in bodies)):
        yield Dated(_ready(said, rig), at=at)


def _ready(said: Said, rig: Rig) -> PumpReady:
    """The speaker's pump with a full tank, as its rig has it."""
    tank = rig.tank
    return PumpReady(said.unit, tank_gal=tank.capacity_gal, usable_gal=tank.usable_gal, to_pump_gpm=tank.to_pump_gpm)


def _with_tank(trial: History, rig: Rig, said: Said) -> History:
    """Out of any incident: what a message says of the tank is used in what it asks after that."""
    bodies = [event.body for event in trial.events]
    if not any(isinstance(body, AT_THE_PUMP) for body in bodies) or any(isinstance(b, PumpReady) for b in bodies):
        return trial
    ready = Outcome(intent="", events=(_ready(said, rig),))
    return History([*events_of(ready, 0, said, first_seq=0), *trial.events])
