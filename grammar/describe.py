"""Says in a few words what a command would do: the labels of a closed question's choices, in people's words."""

from __future__ import annotations

from grammar import commands as c
from grammar.items import floor_name
from grammar.saying import US, Sayer, inches

__all__ = ["describe", "inches", "lay_words", "several"]


def several(commands: tuple[c.Command, ...], wording: c.Wording = US) -> str:
    """A label for a whole reading."""
    return "; ".join(describe(command, wording) for command in commands) or "none of these"


def describe(command: c.Command, wording: c.Wording = US) -> str:
    """A label for one command: plain words, rounded numbers, no unit left out."""
    say = Sayer(wording)
    words = _pumping(command, say) or _water(command, say) or _incident(command, say) or _talk(command, say)
    return words or command.intent.replace("_", " ")


def lay_words(lay: c.SaidLay, wording: c.Wording = US) -> str:
    """A lay in words: "2 × 200 ft of 1¾ in, second floor"."""
    return Sayer(wording).lay(lay)


def _pumping(command: c.Command, say: Sayer) -> str | None:
    match command:
        case c.PumpPressure(lays=lays):
            return f"pressure for {say.lays(lays)}"
        case c.FlowAtPressure(lays=lays, pump_pressure_psi=psi):
            return f"flow at {say.psi(psi)} through {say.lays(lays)}"
        case c.LongestLay(lay=lay, pump_pressure_psi=psi):
            return f"longest lay of {say.lay(lay)}" + (f" at {say.psi(psi)}" if psi is not None else "")
        case c.TipForFlow(flow_gpm=flow):
            return f"tip for {say.gpm(flow)}"
        case c.Nozzle(nozzle=nozzle):
            return f"flow of a nozzle{say.nozzle(nozzle)}"
        case c.SupplyPressure():
            return _supply(command, say)
        case c.WhatIf(add=add, shut=shut):
            return f"what if {say.ref(shut)} is shut" if shut is not None else f"what if {say.lays(add)} is added"
        case c.Coefficient(hose_in=size):
            return "hose coefficient" + (f" of {say.size(size)}" if size is not None else "")
        case c.PumpStatus():
            return "what the pump is doing"
        case c.LineOn(ref=ref, lay=lay, held=held):
            return f"{say.ref(ref) if lay is None else say.lay(lay)} charged{', not flowing' if held else ''}"
        case c.LineOff(ref=ref, drained=drained):
            return f"{say.ref(ref)} {'drained' if drained else 'shut down'}"
        case c.Request(text=text):
            return f"tell the driver: “{text}”"
        case c.LineChange():
            return _change(command, say)
        case _:
            return None


def _supply(said: c.SupplyPressure, say: Sayer) -> str:
    words = "hose from the hydrant" if said.from_hydrant else "relay" if said.relay_engines else "supply"
    words += f" to {said.to_unit}" if said.to_unit else ""
    if said.relay_engines:
        words += f", {said.relay_engines} engines"
    if said.hose:
        words += f", {say.hose(said.hose)}"
    if said.flow_gpm is not None:
        words += f", {say.gpm(said.flow_gpm)}"
    return f"how far: {words}" if said.max_length else words


def _change(said: c.LineChange, say: Sayer) -> str:
    line = say.ref(said.ref)
    if said.full_open or said.flowing is not None:
        return f"{line} {'open in full' if said.full_open else 'flowing' if said.flowing else 'nozzle shut, charged'}"
    if said.add_lengths:
        return f"{said.add_lengths} length{'s' * (said.add_lengths > 1)} added to {line}"
    if said.add_ft is not None:
        return f"{say.feet(said.add_ft)} added to {line}"
    if said.burst:
        return f"burst length on {line}"
    if said.gate:
        to = say.gpm(said.gate_to_gpm) if said.gate_to_gpm is not None else ""
        to = say.psi(said.gate_to_psi) if said.gate_to_psi is not None else to
        return f"{line} gated down" + (f" to {to}" if to else "")
    if said.nozzle_psi_change is not None:
        return f"{said.nozzle_psi_change} pressure on {line}"
    if said.nozzle is not None:
        return f"{line}: nozzle changed{say.nozzle(said.nozzle)}"
    where = floor_name(said.floor) if said.floor is not None else said.place
    return f"{line} moved to {where}" if where else f"change {line}"


def _water(command: c.Command, say: Sayer) -> str | None:
    match command:
        case c.TankTime(flow_gpm=flow):
            return f"tank time at {say.gpm(flow)}" if flow else "tank time"
        case c.WaterSource():
            return _source(command, say)
        case c.Intake(intake_psi=psi, vacuum_inhg=vacuum):
            return f"intake vacuum {say.vacuum(vacuum)}" if vacuum is not None else f"intake {say.psi(psi)}"
        case c.SupplyExpected(unit=unit, minutes=minutes):
            words = f"supply coming from {unit}" if unit else "supply coming"
            return words + (f" in {minutes:g} min" if minutes is not None else "")
        case c.Hydrant(static_psi=static, residual_psi=residual):
            return f"hydrant: static {say.psi(static)}, residual {say.psi(residual)}"
        case c.HydrantFlow(pitot_psi=psi, outlet_in=outlet):
            return f"hydrant flow: pitot {say.psi(psi)}" + (f", outlet {say.size(outlet)}" if outlet else "")
        case c.NeededFlow(length_ft=length, width_ft=width, area_ft2=area):
            sides = f" of {say.feet(length)} by {say.feet(width)}" if length is not None and width is not None else ""
            sides = f" of {say.area(area)}" if area is not None else sides
            return f"needed fire flow{sides}"
        case c.Shuttle(flow_gpm=flow, compare=compare):
            words = "long lay, relay and shuttle compared" if compare else "tender shuttle"
            return words + (f" for {say.gpm(flow)}" if flow is not None else "")
        case c.Draft(lift_ft=lift):
            return "draft" + (f" with {say.feet(lift)} of lift" if lift is not None else "")
        case c.Fitting(from_end=one, to_end=two):
            return f"fittings from {one} to {two}"
        case c.Readiness(action=action, item=item):
            return f"daily check: {item or action}"
        case _:
            return None


def _source(said: c.WaterSource, say: Sayer) -> str:
    if said.trouble:
        return {"lost_prime": "prime lost", "cavitating": "pump cavitating", "overheating": "pump overheating"}[
            said.trouble
        ]
    if said.refilled:
        return "tank refilled"
    if said.topping_off:
        return "topping off the tank"
    if said.lost:
        return "water supply lost"
    if said.tank_fraction is not None:
        return f"tank at {said.tank_fraction:.0%}"
    if said.tank_gal is not None:
        return f"{say.gal(said.tank_gal)} in the tank"
    return {
        "tank": "on tank water",
        "hydrant": "on the hydrant",
        "draft": "drafting",
        "relay": "supplied in a relay",
        "nurse": "supplied by a tender",
    }[said.source or "tank"]


_EMERGENCIES = {
    "emergency_traffic": "emergency traffic",
    "collapse": "collapse",
    "flashover": "flashover",
    "missing_member": "member missing",
    "downed_member": "member down",
}
_REPORTS = {"can": "conditions, actions, needs", "alarm": "another alarm", "note": "a note", "size_up": "size-up"}
_ARREST = {
    "cpr_started": "CPR started",
    "cpr_stopped": "CPR stopped",
    "epinephrine": "epinephrine given",
    "shock": "shock delivered",
    "rhythm_check": "rhythm checked",
    "compressor_change": "compressors changed",
    "pulses_back": "pulses back",
    "drug": "drug given",
}


def _incident(command: c.Command, say: Sayer) -> str | None:
    match command:
        case c.Benchmark():
            return _benchmark(command)
        case c.Status(about=about):
            return f"how it stands: {about.replace('_', ' ')}" if about else "how things stand"
        case c.Elapsed():
            return "time so far"
        case c.Par():
            return _par(command)
        case c.Entry(unit=unit):
            return f"{unit or 'the crew'} going in"
        case c.Exit(unit=unit):
            return f"{unit or 'the crew'} out"
        case c.ComingOut(unit=unit, ordered=ordered):
            return f"{unit or 'the crew'} {'told to come out' if ordered else 'coming out'}"
        case c.AirReading(gauge_psi=psi, unit=unit):
            whose = f", {unit}" if unit else ""
            return f"low-air alarm{whose}" if psi is None else f"air at {say.gauge(psi)}{whose}"
        case c.AirTime():
            return "air time"
        case c.Assign(unit=unit, place=place, task=task):
            return f"{unit} assigned" + "".join(f", {part}" for part in (place, task) if part)
        case c.Rehab(unit=unit, back=back):
            return f"{unit or 'the crew'} {'back from' if back else 'to'} rehab"
        case c.Evacuate(over=over):
            return "evacuation over" if over else "everybody out: evacuate"
        case c.Strategy(strategy=strategy):
            return f"going {strategy}"
        case c.Emergency(kind=kind, unit=unit):
            return _EMERGENCIES[kind] + (f", {unit}" if unit else "")
        case c.Mayday(cleared=cleared):
            return "Mayday cleared" if cleared else "Mayday"
        case c.Report(kind=kind):
            return f"for the log: {_REPORTS.get(kind, kind.replace('_', ' '))}"
        case c.Arrest(action=action):
            return _ARREST[action]
        case c.OxygenTime(cylinder=cylinder):
            return "oxygen time" + (f", {cylinder} cylinder" if cylinder else "")
        case _:
            return None


_BENCHMARKS = {"rit_in_place": "RIT in place", "command_established": "command established"}


def _benchmark(said: c.Benchmark) -> str:
    words = [said.unit or "", _BENCHMARKS.get(said.benchmark, said.benchmark.replace("_", " "))]
    if said.place:
        words.append(f"({said.place})")
    if said.time is not None and said.time.hour is not None:
        words.append(f"at {said.time.hour:02d}:{said.time.minute or 0:02d}")
    return " ".join(w for w in words if w)


def _par(said: c.Par) -> str:
    whose = f"{said.unit} " if said.unit else ""
    if said.request:
        return f"ask {said.unit or 'everyone'} for a PAR"
    if said.no_par:
        return f"{whose}no PAR"
    missing = f", {said.missing} missing" if said.missing else ""
    return f"{whose}PAR of {said.count if said.count is not None else '?'}{missing}"


def _talk(command: c.Command, say: Sayer) -> str | None:
    match command:
        case c.Correction(amended=amended):
            return f"correct to {several(amended, say.wording)}"
        case c.Undo(benchmark=benchmark) if benchmark is not None:
            return f"take “{benchmark.replace('_', ' ')}” back"
        case c.Undo():
            return "take the last one back"
        case c.ReminderChange(action=action, name=name):
            return f"{action} {(name or 'all').replace('_', ' ')} reminders"
        case c.Timer(minutes=minutes):
            return f"remind in {minutes:g} min"
        case c.SetRole(role=role):
            return f"you are the {role}"
        case c.Restore(item=item):
            return f"{item} made ready" if item else "getting ready again"
        case c.Confirm(yes=yes):
            return "yes" if yes else "no"
        case _:
            return None
