"""Asking for a picture: the pressure profile of the last lay that was asked for, and the rig's pump chart."""

from __future__ import annotations

from grammar.commands import FlowAtPressure, LineOn, PumpChart, PumpPressure, SaidLay, ShowPicture
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.outcome import Outcome, Picture, Said
from handlers.pumping.pressure import work_out
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.words import Words


@handle.register
def _show(command: ShowPicture, scene: Scene, rig: Rig, said: Said) -> Outcome:
    lays = _last_lays(said)
    if not lays:
        raise Refusal("Ask for a pressure first, then “show me” draws it from pump to nozzle.")
    worked = work_out(lays, rig)
    if not worked.lines:
        raise Refusal("There is nothing to draw: that is pumped at one pressure by rule.")
    return Outcome(
        intent=command.intent,
        lead=f"{Words.of(rig).psi(worked.pump_psi)} from pump to nozzle",
        picture=Picture("profile", command=PumpPressure(lays=lays, picture=True)),
    )


def _last_lays(said: Said) -> tuple[SaidLay, ...]:
    for command in reversed(said.last_commands):
        if isinstance(command, PumpPressure | FlowAtPressure):
            return command.lays
        if isinstance(command, LineOn) and command.lay is not None:
            return (command.lay,)
    return ()


@handle.register
def _chart(command: PumpChart, scene: Scene, rig: Rig, said: Said) -> Outcome:
    if not any(line.nozzle for line in rig.line.values()):
        raise Refusal("The rig file has no line with a nozzle, so there is nothing to chart: add a [line.…] table.")
    return Outcome(
        intent=command.intent,
        lead=f"Pump chart of {rig.name}",
        how=("Each line by floors; `crosslay chart --to FILE` makes it as PNG or PDF for the panel.",),
        picture=Picture("chart"),
    )
