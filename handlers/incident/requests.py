"""What the crew asks of the pump is told to the driver, with a button for when it is done; it changes nothing."""

from __future__ import annotations

from grammar.commands import Choice, LineChange, LineOff, LineOn, Question, Request
from handlers.desk import handle
from handlers.events import Noted
from handlers.outcome import Notice, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import unit_name


@handle.register
def request(command: Request, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Told to the driver of the speaker's company; the tank, the lines and their pressures stay as they are."""
    by = f"the {said.role}" if said.role not in (None, "unit", "guest") else said.name or unit_name(said.unit)
    done = Choice(_done(command), command.wants)
    question = Question("When it is done:", (done, Choice("Not now"))) if command.wants else None
    told = Notice(
        to=("driver",),
        kind="notice",
        name="request",
        text=f"{by[:1].upper()}{by[1:]} asks: “{command.text}”. Nothing was changed.",
        spoken=f"{by} asks: {command.text}",
        question=question,
    )
    to_self = said.role == "driver" or said.everyone_here
    return Outcome(
        intent=command.intent,
        lead=f"“{command.text}”: a request, told to the driver. Nothing was changed.",
        spoken="Told to the driver.",
        events=(Noted(kind="request", text=command.text),),
        notices=(told,),
        follow_up=question if to_self and said.live else None,
    )


def _done(command: Request) -> str:
    """What the button says."""
    first = command.wants[0] if command.wants else None
    if isinstance(first, LineOn):
        return "Charged"
    if isinstance(first, LineOff):
        return "Shut"
    if isinstance(first, LineChange) and first.nozzle_psi_change is not None:
        return f"{first.nozzle_psi_change.capitalize()} given"
    return "Done"
