"""About the talk: help, yes and no, spoken answers on and off, the report on request."""

from __future__ import annotations

from grammar.commands import Confirm, Help, SendReport, Talk
from handlers.desk import CAUTION, handle
from handlers.errors import Refusal
from handlers.outcome import Answer, Outcome, Picture, Said
from handlers.rig import Rig
from handlers.scene import Scene

TOPICS = {
    "pumping": "two lines, 200 feet, 1.75, second floor · crosslay one · 250 feet of deuce and a half",
    "lines": "crosslay one charged · shut the second line · add 100 feet to crosslay one · what if I add the rear line",
    "water": "how long will the tank last · on the hydrant · half a tank · engine 9 four minutes out · lost water",
    "benchmarks": "on scene · water on the fire · all clear on the second floor · under control at 14:12",
    "people": "engine 9 on scene with four · engine 12 entering with 4,500 · PAR · engine 9 PAR of 4 · mayday",
    "clocks": "how long have we been here · remind me in five minutes · snooze five · elapsed every 15 minutes",
    "medical": "CPR started · epinephrine given · D cylinder 1,500 psi at 10 liters",
    "record": "status · undo · correction, 250 feet · say again · send the report",
}
"""Examples by topic; the words for each are the grammar's."""


class Nothing(Answer, frozen=True):
    """Answer of what only concerns the talk."""


@handle.register
def ask_for_help(command: Help, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """What can be said: every topic's examples, or one topic's."""
    topic = command.topic if command.topic in TOPICS else None
    told = [f"{name.capitalize()}: {TOPICS[name]}." for name in ([topic] if topic else TOPICS)]
    return Outcome(
        intent=command.intent, lead="You can say, for example:", how=tuple(told), answer=Nothing(), cautions=(CAUTION,)
    )


@handle.register
def confirm(command: Confirm, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A yes or no: what a question's button or answer stands for has been handled before it comes here."""
    if command.yes:
        raise Refusal("Yes to what? Say it whole.")
    return Outcome(intent=command.intent, lead="Nothing done.", answer=Nothing())


@handle.register
def talk(command: Talk, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Spoken answers on or off."""
    return Outcome(intent=command.intent, lead=f"Spoken answers {'on' if command.on else 'off'}.", answer=Nothing())


@handle.register
def send_report(command: SendReport, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The record of the incident, or the daily check's."""
    if not command.readiness and scene.opened_at is None:
        raise Refusal("No incident in this room's log: there is no record to send.")
    form = command.form or "pdf"
    return Outcome(
        intent=command.intent,
        lead="The daily check's record." if command.readiness else f"The record, {form.upper()}.",
        answer=Nothing(),
        picture=Picture("readiness" if command.readiness else "report", form),
    )
