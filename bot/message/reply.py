"""One message worked out: read, handled, and put into the words that a person is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

import msgspec

from bot.message.aloud import asked_aloud, limits_aloud, said_back
from bot.message.context import wording
from grammar.commands import Command, Context, Help, Question, Reading, Undo, Wording
from handlers.history import BEFORE_ALL, History, effective
from handlers.outcome import Outcome, Picture, Said
from handlers.rig import Rig

if TYPE_CHECKING:
    from handlers.desk import Answered

CORRECTION = "Correction: "
Status = Literal["answered", "asked", "declined", "ignored"]


class Handled(msgspec.Struct, frozen=True):
    """What a message came to."""

    text: str
    """What was typed or heard."""
    reading: Reading
    outcomes: tuple[Outcome, ...] = ()
    """One for each command, in order."""
    heard: str = ""
    """The line that reads back what was heard ("" for typed words)."""
    note: str = ""
    """The last line of the reply (the demonstration rig)."""
    units: Wording = Wording()
    """The rig's."""
    taken_back: tuple[Outcome, ...] = ()
    """What the first half of this message had logged, taken back."""
    corrects: bool = False
    """It takes the place of the answer to its first half."""
    logs: tuple[History, ...] = ()
    """The logs that its events are added to (see handlers.desk.Answered)."""

    @property
    def numbered(self) -> tuple[tuple[int, Outcome], ...]:
        """Every outcome with the number of its command; what was taken back comes first and has none."""
        return (*((BEFORE_ALL, outcome) for outcome in self.taken_back), *enumerate(self.outcomes))

    @property
    def question(self) -> Question | None:
        """The closed question asked back instead of an answer."""
        if self.reading.question is not None:
            return self.reading.question
        if any(_answered(outcome) for outcome in self.outcomes):
            return None
        return next((outcome.question for outcome in self.outcomes if outcome.question is not None), None)

    @property
    def to_ask(self) -> Question | None:
        """Any question that the reply ends with: asked back, or a follow-up after an answer."""
        asked = [outcome.question or outcome.follow_up for outcome in self.outcomes]
        return self.reading.question or next((question for question in reversed(asked) if question is not None), None)

    @property
    def refused(self) -> str | None:
        """Why nothing was answered."""
        if self.reading.declined is not None:
            return self.reading.declined
        if self.question is not None or any(_answered(outcome) for outcome in self.outcomes):
            return None
        return next((outcome.refused for outcome in self.outcomes if outcome.refused is not None), None)

    @property
    def status(self) -> Status:
        if self.reading.ignored:
            return "ignored"
        if self.question is not None:
            return "asked"
        return "declined" if self.refused is not None else "answered"

    @property
    def top(self) -> Outcome | None:
        """The outcome that stands at the top of the JSON: a benchmark's, else the first."""
        benchmarks = (outcome for outcome in self.outcomes if outcome.intent == "benchmark")
        return next(benchmarks, self.outcomes[0] if self.outcomes else None)

    @property
    def intent(self) -> str | None:
        return self.top.intent if self.top is not None else self.reading.intent

    @property
    def answer(self) -> dict[str, Any]:
        return self.top.answer_json if self.top is not None else {}

    @property
    def assumed(self) -> tuple[str, ...]:
        from_outcomes = (text for outcome in self.outcomes for text in outcome.assumed)
        return tuple(dict.fromkeys((*self.reading.assumed, *from_outcomes)))

    @property
    def cautions(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(text for outcome in self.outcomes for text in outcome.cautions))

    @property
    def picture(self) -> Picture | None:
        return next((outcome.picture for outcome in self.outcomes if outcome.picture is not None), None)

    @property
    def silent(self) -> bool:
        """Nothing is shown for it."""
        return self.reading.ignored or (bool(self.outcomes) and all(outcome.silent for outcome in self.outcomes))

    @property
    def reply(self) -> str:
        """What a person is shown."""
        if self.silent:
            return ""
        if self.reading.question is not None:
            parts = [self.reading.question.text]
        elif self.reading.declined is not None:
            parts = [self.reading.declined]
        else:
            parts = [outcome.reply for outcome in self.outcomes if not outcome.silent]
            if self.reading.assumed:
                parts.append("Read as: " + "; ".join(self.reading.assumed) + ".")
        note = self.note if self.outcomes else ""
        if self.corrects:
            parts = [f"{CORRECTION}{parts[0]}", *parts[1:], *(outcome.lead for outcome in self.taken_back)]
        return "\n".join(part for part in (self.heard, *parts, note) if part)

    @property
    def spoken(self) -> str:
        """The reply in its short form for speaking."""
        asked = self.reading.question
        if not self.outcomes and not self.corrects and (asked is None or not self.reply):
            return self.reply
        heard = self.heard if not self.outcomes and not self.corrects else ""
        said = [heard, asked_aloud(asked) if asked else self.reading.declined or ""]
        said += map(self._aloud, range(len(self.outcomes)))
        if not any(outcome.events for outcome in self.outcomes):
            said += [outcome.lead for outcome in self.taken_back]
        return (CORRECTION if self.corrects else "") + " ".join(text for text in said if text)

    def _aloud(self, number: int) -> str:
        """One outcome for the ear; after an answer's number comes what it is for."""
        outcome = self.outcomes[number]
        if outcome.refused or outcome.question is not None:
            return outcome.refused or (asked_aloud(outcome.question) if outcome.question is not None else "")
        text = outcome.spoken or outcome.lead
        commands = self.reading.commands
        if number < len(commands):
            text = said_back(text, commands[number], outcome.answer_json, self.units)
        follow = outcome.follow_up.text if outcome.follow_up is not None else ""
        more = (limits_aloud(outcome.cautions), follow if follow.endswith("?") else "")
        return " ".join(part for part in (text, *more) if part)


def with_choices(text: str, labels: Iterable[str]) -> str:
    """A text that people read where there are no buttons: a question's choices stand under it, by number."""
    choices = "   ".join(f"[{number}] {label}" for number, label in enumerate(labels, start=1))
    return f"{text}\n{choices}" if choices else text


def printed(handled: Handled) -> str:
    """The reply with the choices of what it asks."""
    asked = handled.to_ask
    return with_choices(handled.reply, [choice.label for choice in asked.choices] if asked else ())


def _answered(outcome: Outcome) -> bool:
    return outcome.question is None and outcome.refused is None


def demonstration_note(rig: Rig) -> str:
    """The last line of a reply that rests on the demonstration rig."""
    if not rig.demonstration:
        return ""
    return f"Demonstration rig: {rig.department}, {rig.name}. Name your own with --rig FILE or CROSSLAY_RIG."


def work_out(text: str, context: Context, history: History, rig: Rig, said: Said) -> Handled:
    """Read a message and handle what it holds."""
    from bot.message.read import read

    return answer_reading(read(text, context), history, rig, said)


def answer_reading(
    reading: Reading,
    history: History,
    rig: Rig,
    said: Said,
    *,
    heard: str = "",
    incident: str = "",
    logged_at: datetime | None = None,
) -> Handled:
    """Handle the commands of a reading, in order; `incident` is the id of `history`."""
    from handlers.desk import answer

    answered = answer(reading.commands, history, rig, said, incident=incident, logged_at=logged_at)
    outcomes = tuple(answered.outcomes)
    helped = next((command for command in reading.commands if isinstance(command, Help)), None)
    if helped is not None:
        outcomes = tuple(_with_help(outcome, helped, history, rig, said) for outcome in outcomes)
    note = demonstration_note(rig)
    return Handled(reading.text, reading, outcomes, heard, note, wording(rig), logs=answered.logs)


def whole_in_place_of(message: str) -> Callable[..., Handled]:
    """As `answer_reading`, for a reading that is the whole of what `message` was the first half of: what that logged
    is taken back first; where nothing else is in it, with the incident that it opened.
    """

    def answer_whole(
        reading: Reading,
        history: History,
        rig: Rig,
        said: Said,
        *,
        heard: str = "",
        incident: str = "",
        logged_at: datetime | None = None,
    ) -> Handled:
        half = f"{said.room}/{message}"
        without = partial(_without, half, history, rig, said, incident, logged_at)
        gone = without()
        handled = answer_reading(reading, gone.logs[0], rig, said, heard=heard, incident=incident, logged_at=logged_at)
        alone = {event.message for event in effective(history.events)} == {half}
        if gone.outcomes and alone and not any(outcome.events for outcome in handled.outcomes):
            gone = without(opening=True)
            handled = msgspec.structs.replace(handled, logs=gone.logs)
        return msgspec.structs.replace(handled, taken_back=tuple(gone.outcomes), corrects=True)

    return answer_whole


def _without(
    message: str,
    history: History,
    rig: Rig,
    said: Said,
    incident: str,
    logged_at: datetime | None,
    *,
    opening: bool = False,
) -> Answered:
    """What a message logged taken back, and the log as it is then."""
    from handlers.desk import answer
    from handlers.incident.amend import logged_by

    taken_back = (Undo(message=message, opening=opening),) if logged_by(message, history, opening=opening) else ()
    return answer(taken_back, history, rig, said, incident=incident, logged_at=logged_at, first=BEFORE_ALL)


def _with_help(outcome: Outcome, command: Help, history: History, rig: Rig, said: Said) -> Outcome:
    """The help's words, with this rig's lines and unit in its examples."""
    if outcome.intent != Help.intent:
        return outcome
    from bot.message.context import rig_lines
    from grammar.helping import help_text

    context = Context(units=rig.units, rig_lines=rig_lines(rig), own_unit=said.unit, incident_kind=history.scene.kind)
    return msgspec.structs.replace(outcome, how=tuple(help_text(command.topic, context).splitlines()))


def chosen(question: Question, place: int) -> tuple[str, tuple[Command, ...]] | None:
    """The label and the commands of a question's choice; None when it has no such choice."""
    if place >= len(question.choices):
        return None
    return question.choices[place].label, question.choices[place].commands


def correctable(commands: Sequence[Command]) -> tuple[Command, ...]:
    """What a later correction or follow-up can touch: talk about the talk, and looking at the scene, don't push
    out what was said before.
    """
    from grammar.commands import Confirm, Correction, Elapsed, KeepRecordings, PumpStatus, Repeat, Status, Talk, Undo

    found: list[Command] = []
    for command in commands:
        if isinstance(command, Correction):
            found.extend(command.amended)
        elif not isinstance(
            command, Confirm | Elapsed | Help | KeepRecordings | PumpStatus | Repeat | Status | Talk | Undo
        ):
            found.append(command)
    return tuple(found)
