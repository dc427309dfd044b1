"""Supply hose among said lays: without a nozzle its pressure is a supply pressure (convention 15)."""

from __future__ import annotations

from grammar.commands import (
    Choice,
    Command,
    Context,
    PumpPressure,
    Question,
    SaidHose,
    SaidLay,
    SaidLine,
    SaidNozzle,
    SupplyPressure,
)
from grammar.saying import Sayer

LARGE_IN = 3.9
"""Hose of 4 in and more is supply hose (common practice); 100 mm hose is 3.94 in."""


def is_supply(context: Context, size: float) -> bool:
    """The rig carries this size as supply, or it is of 4 in and up."""
    return size >= LARGE_IN or any(abs(size - carried) <= 0.03 * carried for carried in context.supply_in)


def ldh_in(context: Context) -> float:
    """ "LDH": the largest that the rig carries; the usual 5 in where its file names none."""
    large = [size for size in context.supply_in or context.hose_in if size >= LARGE_IN]
    return max(large, default=5.0) if context.supply_in else min(max(large, default=5.0), 5.0)


def supply_line(context: Context, lay: SaidLay, said: bool = False) -> SaidLine | None:
    """The one line of a lay that is nothing but supply hose; None where a nozzle or a device was said.

    `said`: it was called a supply line, whatever its size.
    """
    if len(lay.lines) != 1 or lay.feed or lay.split is not None:
        return None
    line = lay.lines[0]
    bare = line.name is None and line.device is None and line.foam_percent is None
    if not bare or SaidNozzle(flow_gpm=line.nozzle.flow_gpm, flow_is_total=line.nozzle.flow_is_total) != line.nozzle:
        return None
    sizes = [hose.hose_in for hose in line.hose]
    return line if sizes and all(size is not None and (said or is_supply(context, size)) for size in sizes) else None


def supply_pressure(line: SaidLine, *, friction: bool, each: bool = False) -> SupplyPressure:
    """The supply pressure that such a line asks for; a flow after a count is all its lines', unless `each` was said."""
    hose = tuple(SaidHose(h.hose_in, h.length_ft, max(h.parallel, line.count), h.beside) for h in line.hose)
    flow = line.nozzle.flow_gpm
    return SupplyPressure(
        hose=hose,
        flow_gpm=flow * line.count if each and flow is not None else flow,
        rise_ft=line.rise_ft,
        floor=line.floor,
        friction=friction,
    )


def parted(context: Context, command: PumpPressure, said: bool = False, each: bool = False) -> tuple[Command, ...]:
    """A pump's lays with the supply hose among them taken out as what it is."""
    supply = [(lay, supply_line(context, lay, said and len(command.lays) == 1)) for lay in command.lays]
    attack = tuple(lay for lay, line in supply if line is None)
    laid = tuple(supply_pressure(line, friction=command.friction, each=each) for _, line in supply if line is not None)
    if not laid:
        return (command,)
    rest = PumpPressure(attack, command.intake_psi, command.picture, command.friction)
    return (*((rest,) if attack else ()), *laid)


def each_or_all(context: Context, command: PumpPressure) -> Question | None:
    """ "Two 5 inch lines at 1,000 gpm": through both, or through each?"""
    for lay in command.lays:
        line = supply_line(context, lay)
        if line is None or line.count < 2 or line.nozzle.flow_gpm is None or line.nozzle.flow_is_total:
            continue
        total = supply_pressure(line, friction=command.friction)
        each = supply_pressure(line, friction=command.friction, each=True)
        gpm = Sayer(context.wording).gpm(line.nozzle.flow_gpm)
        choices = (Choice(f"{gpm} in all", (total,)), Choice(f"{gpm} each", (each,)))
        return Question(f"Is {gpm} the total, or each line's?", choices)
    return None
