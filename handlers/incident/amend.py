"""About the log itself: undo and correction. Both are events; they take effect from the original time.

They touch the same speaker's last command: what it logged is left out of the fold from its own time on, and a
correction logs the amended command at that time. The log keeps everything.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from grammar.commands import (
    AirReading,
    Assign,
    Benchmark,
    Command,
    Correction,
    Emergency,
    Entry,
    Evacuate,
    Exit,
    Join,
    LineOff,
    LineOn,
    Mayday,
    Par,
    PumpStatus,
    Rehab,
    Repeat,
    Strategy,
    Undo,
    WaterSource,
)
from handlers.desk import AT_THE_PUMP, WORKED_OUT, amend, events_of, work
from handlers.errors import Refusal
from handlers.events import (
    BenchmarkReported,
    EmergencyDeclared,
    EvacuationOrdered,
    EventBody,
    MaydayDeclared,
    Noted,
    Retracted,
    SourceChanged,
    StrategySet,
)
from handlers.history import BEFORE_ALL, STANDING, Doing, History, effective
from handlers.incident.describing import BENCHMARK_WORDS, describe, line_names
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.rights import is_guest, leads
from handlers.times import clock, unit_name
from handlers.words import Words

REPORTS = (
    Benchmark, Entry, Exit, Par, AirReading, Assign, Rehab, LineOn, LineOff, WaterSource, Mayday, Evacuate, Emergency,
    Strategy,
)  # fmt: skip
KEPT = "It is left out from its own time on; the log keeps it as taken back."
AFTER_CORRECTION = "What was said before the correction counts again."
TOLD_ALL = MaydayDeclared | EvacuationOrdered | EmergencyDeclared | StrategySet


class Amended(Answer, frozen=True):
    """Answer of `undo`: what was taken back, in words. A correction's answer is that of its amended command."""

    taken_back: tuple[str, ...]


class Repeated(Answer, frozen=True):
    """Answer of `repeat` where what was told can't be worked out anew; else that of what was asked."""


@amend.register
def undo(command: Undo, history: History, rig: Rig, said: Said) -> Outcome:
    """Take back the speaker's last command that logged something."""
    if code_taken_back(command, said) is not None:
        return Outcome(
            intent=command.intent,
            lead="Taken back: the join code. It lets nobody in.",
            answer=Amended(("the join code",)),
        )
    gone = _gone(command, history, said)
    bodies = [event.body for event in history.events if event.seq in gone]
    if not leads(history.scene, said) and any(isinstance(body, MaydayDeclared) for body in bodies):
        raise Refusal("A Mayday isn't taken back by “undo”: the officer or the driver says “mayday cleared”.")
    what = _described(history, gone, rig, said)
    text = f"Taken back: {'; '.join(what)}."
    return Outcome(
        intent=command.intent,
        lead=text,
        how=(AFTER_CORRECTION if any(_is_retraction(history, seq) for seq in gone) else KEPT,),
        spoken="Taken back.",
        answer=Amended(what),
        events=(Retracted(gone, why="undo"),),
        notices=_told(history, gone, text),
    )


def code_taken_back(command: Command, said: Said) -> str | None:
    """The join code that an undo takes back: the speaker's last words made it. (Out of the log: the shell ends it.)"""
    last = said.last_commands[-1] if said.last_commands else None
    bare = isinstance(command, Undo) and (command.benchmark, command.message) == (None, None)
    return last.code if bare and isinstance(last, Join) and last.make else None


def _gone(command: Undo, history: History, said: Said) -> tuple[int, ...]:
    """The events that are taken back."""
    if command.message is not None:
        return logged_by(command.message, history, opening=command.opening)
    if command.benchmark is not None:
        return _of_benchmark(command.benchmark, history, said)
    return _of_speaker(command.steps, history, said)


def logged_by(message: str, history: History, *, opening: bool = False) -> tuple[int, ...]:
    """What a message logged and still counts; `opening`: with the incident that it opened."""
    return tuple(
        event.seq
        for event in effective(history.events)
        if event.message == message
        and (opening or not (event.command == BEFORE_ALL or isinstance(event.body, STANDING)))
    )


def _of_speaker(steps: int, history: History, said: Said) -> tuple[int, ...]:
    """What the speaker's last commands logged. After a report that was asked back or refused, no other is taken."""
    reported = any(isinstance(command, REPORTS) for command in said.last_commands)
    if reported and steps == 1 and all(event.message != said.last_message for event in history.events):
        raise Refusal(
            "Your last report wasn't logged: nothing is taken back. One before it by its name: “undo on scene”."
        )
    doings = history.doings(said.who)[: max(1, steps)]
    if not doings:
        raise Refusal("Nothing of yours is left in this incident's log to take back.")
    return tuple(seq for doing in doings for seq in doing.events)


def _of_benchmark(benchmark: str, history: History, said: Said) -> tuple[int, ...]:
    """The last report of a benchmark that counts, whoever made it; a guest takes back what its own company reported."""
    for event in reversed(effective(history.events)):
        if isinstance(event.body, BenchmarkReported) and event.body.benchmark == benchmark:
            if is_guest(said) and not leads(history.scene, said) and event.unit != said.unit:
                raise Refusal(f"{unit_name(event.unit)} reported that: it takes it back itself, or who leads does.")
            return (event.seq,)
    raise Refusal(f"“{BENCHMARK_WORDS[benchmark]}” isn't logged in this incident: nothing to take back.")


@amend.register
def correction(command: Correction, history: History, rig: Rig, said: Said) -> Outcome:
    """The amended command in place of the last one, at its own time; what logged nothing is just asked anew."""
    if not command.amended:
        raise Refusal("Correct what? Say the whole thing again.")
    doings = _last_doings(command.amended, history, said)
    gone = tuple(seq for doing in doings for seq in doing.events if not _is_retraction(history, seq))
    at = min((doing.at for doing in doings), default=said.at)
    times = {doing.command: doing.at for doing in doings}
    then = History(event for event in history.events if event.seq not in gone and event.at <= at) if gone else history
    events: list[EventBody | Dated] = [Dated(Retracted(gone, why="correction"), at=at)] if gone else []
    parts = []
    for number, amended in enumerate(command.amended):
        told = said
        if gone and not _stated_anew(amended, said):
            amended, told = _then(amended), replace(said, at=times.get(number, at))
        part = work(amended, then, rig, told)
        if part.refused is not None or part.question is not None:
            return _asked_back(part)
        then = then.copy()
        for event in events_of(part, number, told, first_seq=max(then.last_seq, history.last_seq) + 1):
            then.add(event)
        events += [replace(dated, at=dated.at or told.at) for dated in (_dated(body) for body in part.events)]
        parts.append(part)
    return replace(
        parts[0],
        intent=command.intent,
        lead="\n".join(_corrected(part, part.lead, bool(gone)) for part in parts),
        how=tuple(line for part in parts for line in part.how),
        spoken=" ".join(_corrected(part, part.spoken or part.lead, bool(gone)) for part in parts),
        events=tuple(events),
        opens=parts[0].opens and not gone,
        notices=tuple(
            replace(notice, text=f"Corrected: {notice.text}", spoken="") for part in parts for notice in part.notices
        ),
    )


def _corrected(part: Outcome, text: str, replaced: bool) -> str:
    """ "Corrected: …", but for a benchmark that stays as it was: nothing was replaced and nothing logged."""
    return f"Corrected: {text}" if replaced or part.events or part.intent != Benchmark.intent else text


def _last_doings(amended: Sequence[Command], history: History, said: Said) -> list[Doing]:
    """What the speaker's last message logged; where only some of its commands are amended, what those logged."""
    doings = history.doings(said.who)
    doings = [doing for doing in doings if doing.message == said.last_message] if said.last_message else doings[:1]
    if len(amended) >= len(said.last_commands):
        return doings
    kinds = {type(command) for command in amended}
    return [
        doing
        for doing in doings
        if doing.command >= len(said.last_commands) or type(said.last_commands[doing.command]) in kinds
    ]


def _is_retraction(history: History, seq: int) -> bool:
    return any(event.seq == seq and isinstance(event.body, Retracted) for event in history.events)


def _stated_anew(command: Command, said: Said) -> bool:
    """A time that came with the correction counts from now; one that was said before, from then."""
    time = getattr(command, "time", None)
    return time is not None and all(time != getattr(before, "time", None) for before in said.last_commands)


def _then(command: Command) -> Command:
    """A command without its stated time, which is known from what it logged."""
    return replace(command, time=None) if getattr(command, "time", None) is not None else command


def _asked_back(part: Outcome) -> Outcome:
    """A question on the way keeps the correction: its choices amend, they don't add."""
    if part.question is None:
        return replace(part, intent=Correction.intent)
    choices = tuple(
        replace(choice, commands=(Correction(choice.commands),)) if choice.commands else choice
        for choice in part.question.choices
    )
    question = replace(part.question, choices=choices, fills=None, slot=None)
    return replace(part, intent=Correction.intent, question=question)


def _dated(body: EventBody | Dated) -> Dated:
    return body if isinstance(body, Dated) else Dated(body)


def _described(history: History, gone: tuple[int, ...], rig: Rig, said: Said) -> tuple[str, ...]:
    """What is taken back, each with its time."""
    events = [
        event
        for event in history.events
        if event.seq in gone and event.command != BEFORE_ALL and not isinstance(event.body, Retracted)
    ]
    names = line_names(history.events)
    told = [
        f"{describe(event.body, said.tz, Words.of(rig), names.get(event.unit))}, {clock(event.at, said.tz)}"
        for event in events
    ]
    if any(_is_retraction(history, seq) for seq in gone):
        told.append("the correction")
    return tuple(told)


def _told(history: History, gone: tuple[int, ...], text: str) -> tuple[Notice, ...]:
    """Who heard of it hears that it is taken back."""
    bodies = [event.body for event in history.events if event.seq in gone]
    if any(isinstance(body, TOLD_ALL) or (isinstance(body, SourceChanged) and body.lost) for body in bodies):
        return (Notice(("all",), "alert", "taken_back", text),)
    if any(isinstance(body, BenchmarkReported | Noted) for body in bodies):
        return (Notice(("crew",), "notice", "taken_back", text),)
    return ()


@amend.register
def repeat(command: Repeat, history: History, rig: Rig, said: Said) -> Outcome:
    """Say again: what was asked is worked out as of now; what was logged stands, with when that was told."""
    if not said.last_reply:
        raise Refusal("There is nothing to repeat yet.")
    logged = [event.body for event in history.events if said.last_told and event.message == said.last_told_in]
    if not all(isinstance(body, WORKED_OUT) for body in logged):
        return _as_told(command, history, rig, said, at_the_pump=any(isinstance(b, AT_THE_PUMP) for b in logged))
    parts = [work(one, history, rig, said) for one in said.last_told]
    if not parts or any(part.refused or part.question for part in parts):
        return Outcome(intent=command.intent, lead=said.last_reply, answer=Repeated())
    return _joined(command, parts)


def _as_told(command: Repeat, history: History, rig: Rig, said: Said, *, at_the_pump: bool) -> Outcome:
    """What was logged, with its time; after a change at the pump how that stands now."""
    lead, *rest = said.last_reply.splitlines()
    if said.last_told_at is not None:
        lead = f"Told at {clock(said.last_told_at, said.tz)}: {lead}"
    if at_the_pump:
        now = work(PumpStatus(), history, rig, said)
        rest = [f"Now: {now.reply}"] if now.refused is None else []
    return Outcome(intent=command.intent, lead=lead, how=tuple(rest), answer=Repeated())


def _joined(command: Repeat, parts: Sequence[Outcome]) -> Outcome:
    """The answers of a message's commands as one."""
    first, *rest = parts
    return replace(
        first,
        intent=command.intent,
        how=(*first.how, *(line for part in rest for line in (part.lead, *part.how))),
        spoken=" ".join(part.spoken or part.lead for part in parts),
        assumed=tuple(dict.fromkeys(text for part in parts for text in part.assumed)),
        cautions=tuple(dict.fromkeys(text for part in parts for text in part.cautions)),
        notices=(),
        events=(),
    )
