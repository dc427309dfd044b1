"""Lines on and off: a verb puts a line on, and from then it counts as flowing until it is shut (convention 1)."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from grammar.commands import LineChange, LineOff, LineOn, LineRef, PumpPressure, SaidLay
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import LineChanged, LineOpened, LineShut, WorkingLine
from handlers.outcome import Outcome, Said
from handlers.pumping import limits
from handlers.pumping.gates import SAME_PSI
from handlers.pumping.panel import how
from handlers.pumping.pressure import fill_gal
from handlers.pumping.working_lines import (
    as_it_lies,
    at_split,
    flow_of,
    flowing,
    laid_over,
    meant,
    named_line,
    opening,
    ref_to,
    same_discharge,
    settled_discharge,
)
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import listed
from handlers.words import Words

COUNTS = "Counts as flowing from now until you say it is shut."
NO_FLOW = "Pressure with nothing flowing heats the pump: recirculate (common practice)."
HELD = "Nothing counts as flowing from it until you say “flowing”."


@handle.register
def line_on(command: LineOn, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A line is charged: it fills its hose and counts as flowing."""
    pump = scene.pump(said.unit)
    lay, before = _what_to_open(command, pump, rig)
    asked = just_asked(command, said)
    if asked is not None and (before is None or before in pump.shut or lay == before.lay):
        lay = asked
    if before is not None and before in pump.lines:
        if command.held:
            shut = handle(LineChange(ref=ref_to(before), flowing=False), scene, rig, said)
            return replace(shut, intent=command.intent)
        return _on_already(before, lay, pump, rig)
    new = opening(lay, pump.opened + 1, rig)
    lines = new.lines
    assumed = list(new.worked.assumed)
    if lay is asked:
        assumed.insert(0, f"{lines[0].label} as you just asked for it{as_it_lies(lines[0], rig)}")
    if before is not None and not before.drained:
        lines, still_full = _filled_before(lines, before)
        assumed.append(still_full)
    if command.held:
        lines = tuple(replace(line, held=True) for line in lines)
    after = replace(pump, lines=(*pump.lines, *lines))
    what = f"{listed(counted([line.label for line in lines]))} {'charged, not flowing' if command.held else 'on'}"
    return Outcome(
        intent=command.intent,
        lead=lead_of(what, after, rig),
        how=(*how(new.worked, rig), *gating(after, rig), HELD if command.held else COUNTS),
        spoken=spoken_of(what, after, rig),
        assumed=tuple(assumed),
        cautions=(*new.worked.cautions, *pump_cautions(after, rig)),
        events=tuple(LineOpened(line) for line in lines),
        opens=True,
    )


def _filled_before(lines: tuple[WorkingLine, ...], before: WorkingLine) -> tuple[tuple[WorkingLine, ...], str]:
    """The lines with what their hose still takes: it is full from before, only what was added to it is filled."""
    hose = before.lay.lines[0].hose if before.lay is not None else ()
    feed = before.lay.feed if before.lay is not None else ()
    rest = fill_gal((*feed, *hose)) if before.lay is not None else before.fill_gal
    filled = []
    for line in lines:
        filled.append(replace(line, fill_gal=max(0.0, line.fill_gal - rest)))
        rest = max(0.0, rest - line.fill_gal)
    return tuple(filled), f"{before.label}: its hose is still full from before"


def _what_to_open(command: LineOn, pump: Pump, rig: Rig) -> tuple[SaidLay, WorkingLine | None]:
    """The lay to put on, and the line of this incident that it is already (on or shut), if it is one."""
    if command.lay is not None:
        names = {line.name for line in command.lay.lines}
        name = names.pop() if len(names) == 1 else None
        known = _known(LineRef(name=name), pump) if name else None
        bare = command.lay == named_line(name) if name else False
        return (known.lay if known is not None and known.lay and bare else command.lay), known
    ref = command.ref or LineRef()
    known = _known(ref, pump)
    if known is not None and known.lay is not None:
        return known.lay, known
    if ref.name is not None:
        carried = rig.line.get(ref.name)
        if carried is not None and carried.kind == "supply":
            raise Refusal(f"The {carried.name} feeds the pump: say “on the hydrant” when its water is in.")
        return named_line(ref.name), None
    raise _which_to_charge(command, pump, rig)


def just_asked(command: LineOn, said: Said) -> SaidLay | None:
    """How a line lies by the pressure that the same speaker has just asked for it, where it is named bare now."""
    name = command.ref.name if command.ref is not None else None
    if command.lay is not None:
        names = {line.name for line in command.lay.lines}
        name = names.pop() if len(names) == 1 else None
        if name is None or command.lay != named_line(name):
            return None
    if name is None:
        return None
    for asked in reversed(said.last_commands):
        lays = asked.lays if isinstance(asked, PumpPressure) else ()
        found = [lay for lay in lays if len(lay.lines) == 1 and lay.lines[0].name == name and lay != named_line(name)]
        if len(found) == 1:
            return found[0]
    return None


def _known(ref: LineRef, pump: Pump) -> WorkingLine | None:
    """A line of this incident that is meant for sure: one that is on, else the last that was shut."""
    on = meant(ref, pump)
    if len(on) == 1 and ref != LineRef():
        return on[0]
    shut = [line for line in pump.shut if ref.seq == line.number or (ref.name is not None and ref.name == line.name)]
    return shut[-1] if shut and not on else None


def _which_to_charge(command: LineOn, pump: Pump, rig: Rig) -> NeedsAnswer:
    on = {line.name for line in pump.lines}
    carried = [line for line in rig.line.values() if line.kind in ("handline", "gun") and line.key not in on]
    options = tuple((line.name.capitalize(), LineOn(ref=LineRef(name=line.key))) for line in carried)
    return NeedsAnswer("Charge which line?", part=command, options=options)


def _on_already(line: WorkingLine, lay: SaidLay, pump: Pump, rig: Rig) -> Outcome:
    """Said of a line that is on: nothing new, unless it lies differently now."""
    if line.lay is not None and lay != line.lay:
        wanted = laid_over(line.lay.lines[0], lay.lines[0])
        return changed(line, replace(line.lay, lines=(wanted,)), "changed", pump, rig, LineOn.intent)
    words = Words.of(rig)
    text = f"{line.label} is on already: {words.psi(line.pressure_psi)}, {flow_of(line, words)}."
    return Outcome(intent=LineOn.intent, lead=text, how=(HELD if line.held else "Say “shut” when it is shut.",))


def changed(
    line: WorkingLine, lay: SaidLay, what: str, pump: Pump, rig: Rig, intent: str, fill: float = 0.0
) -> Outcome:
    """A working line that lies differently from now on: its discharge worked out anew."""
    sharing = (replace(line, lay=lay), *same_discharge(pump, line))
    after_lines, worked = settled_discharge(tuple(sorted(sharing, key=lambda one: one.number)), rig)
    after = with_lines(pump, after_lines)
    new = next(one for one in after_lines if one.number == line.number)
    words = Words.of(rig)
    text = f"{new.label} {what}: {words.psi(new.pressure_psi)}, {flow_of(new, words)}"
    gated = f"Still gated to {words.gpm(new.flow_gpm)}; wide open it would be:"
    return Outcome(
        intent=intent,
        lead=lead_of(text, after, rig) if len(after.lines) > 1 else f"{text}.",
        how=(*((gated,) if new.gated else ()), *how(worked, rig), *gating(after, rig)),
        assumed=worked.assumed,
        cautions=(*worked.cautions, *pump_cautions(after, rig)),
        events=tuple(
            LineChanged(one, added_fill_gal=fill if one.number == line.number else 0.0, why=what) for one in after_lines
        ),
    )


def with_lines(pump: Pump, changed_lines: tuple[WorkingLine, ...]) -> Pump:
    """The pump with some of its lines exchanged, by number."""
    by_number = {line.number: line for line in changed_lines}
    return replace(pump, lines=tuple(by_number.get(line.number, line) for line in pump.lines))


def pump_psi(pump: Pump) -> float:
    """The pressure that the pump is to give: the highest line governs; 0 when nothing is on."""
    return max((line.pressure_psi for line in pump.lines), default=0.0)


def lead_of(what: str, pump: Pump, rig: Rig) -> str:
    """The pump's pressure and total flow first, then what happened: "170 psi, 150 gpm: crosslay 1 on."."""
    words = Words.of(rig)
    if not pump.lines:
        return f"{what}. Nothing flowing."
    return f"{words.psi(pump_psi(pump))}, {flowing(pump, words)}: {what}."


def spoken_of(what: str, pump: Pump, rig: Rig) -> str:
    """The same for the ear, with what must be gated: "1 7 0, Crosslay 1 on. 150 gallons."."""
    words = Words.of(rig)
    if not pump.lines:
        return lead_of(what, pump, rig)
    flow = words.gpm_said(pump.flow_gpm) if pump.flow_gpm > 0 else "Nothing flowing"
    numbers = f"{words.psi_said(pump_psi(pump))}, {what}. {flow}."
    return " ".join((numbers, *_gating_unsaid(what, pump, rig)))


def _gating_unsaid(what: str, pump: Pump, rig: Rig) -> tuple[str, ...]:
    """What must be gated, unless that one line is what was just gated so: "crosslay 1 gated to 75 psi, 100 gpm"."""
    governs, gates = _gates(pump, rig)
    said = [gate for gate in gates if what.replace(" gated to ", " to ").startswith(gate)]
    return (f"{governs} governs.",) if gates and said == gates else gating(pump, rig)


def gating(pump: Pump, rig: Rig) -> tuple[str, ...]:
    """Which lines to gate down, when several with different pressures are on."""
    governs, gates = _gates(pump, rig)
    return (f"{governs} governs; gate {listed(gates)}.",) if gates else ()


def _gates(pump: Pump, rig: Rig) -> tuple[str, list[str]]:
    """The line that governs, and each gate: "Crosslay 1 to 75 psi"."""
    words, highest = Words.of(rig), pump_psi(pump)
    if all(highest - line.pressure_psi < SAME_PSI for line in pump.lines):
        return "", []
    governs = next(line.label for line in pump.lines if line.pressure_psi == highest)
    gates: list[str] = []
    for discharge in dict.fromkeys(line.discharge for line in pump.lines):
        lines = [line for line in pump.lines if line.discharge == discharge]
        own = max(line.pressure_psi for line in lines)
        if highest - own >= SAME_PSI:
            together = listed([line.label for line in lines])
            gates.append(f"{together} to {words.psi(own)}")
        gates += [
            f"{line.label} at the {line.lay.split or 'wye' if line.lay else 'wye'} to {words.psi(there)} there"
            for line, there in at_split(lines, rig)
            if own - line.pressure_psi >= SAME_PSI
        ]
    return governs, gates


def pump_cautions(pump: Pump, rig: Rig) -> tuple[str, ...]:
    """Cautions for the pump and the tank's piping with all lines that are on."""
    if not pump.lines:
        return ()
    intake = 0.0 if pump.on_tank else pump.intake_psi or 0.0
    if pump.flow_gpm <= 0:
        return (NO_FLOW,)
    return tuple(limits.check_pump(pump.flow_gpm, pump_psi(pump), intake, pump.on_tank, rig))


@handle.register
def line_off(command: LineOff, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A line is shut; legs that stay on its wye get their pressure anew."""
    pump = scene.pump(said.unit)
    if command.drained and (emptied := _drained(command, pump)):
        return _only_drained(command, emptied, pump)
    lines = the_lines(command, pump, said, "Shut which line?")
    events: list[LineShut | LineChanged] = [LineShut(line.number, drained=command.drained) for line in lines]
    numbers = {line.number for line in lines}
    after = replace(pump, lines=tuple(line for line in pump.lines if line.number not in numbers))
    for discharge in {line.discharge for line in lines}:
        staying = tuple(line for line in after.lines if line.discharge == discharge and line.lay is not None)
        if staying:
            new, _ = settled_discharge(staying, rig)
            after = with_lines(after, new)
            events += [LineChanged(line, why="other leg shut") for line in new]
    what = f"{listed(counted([line.label for line in lines]))} shut{' and drained' if command.drained else ''}"
    return Outcome(
        intent=command.intent,
        lead=lead_of(what, after, rig),
        how=gating(after, rig),
        spoken=spoken_of(what, after, rig),
        events=tuple(events),
    )


def _drained(command: LineOff, pump: Pump) -> tuple[WorkingLine, ...]:
    """Lines that are shut already and are said to be drained now; none where a line that is on is meant."""
    if meant(command.ref, pump) and pump.lines:
        return ()
    ref = command.ref
    full = [line for line in pump.shut if not line.drained]
    named = [line for line in full if ref.name is not None and line.name == ref.name]
    return tuple(named or (full if ref.all or (ref == LineRef() and len(full) == 1) else ()))


def _only_drained(command: LineOff, lines: tuple[WorkingLine, ...], pump: Pump) -> Outcome:
    return Outcome(
        intent=command.intent,
        lead=f"{listed(counted([line.label for line in lines]))} drained: filled anew when charged.",
        events=tuple(LineShut(line.number, drained=True) for line in lines),
    )


def the_lines(
    command: LineOff | LineChange, pump: Pump, said: Said, ask: str, among: Sequence[WorkingLine] | None = None
) -> tuple[WorkingLine, ...]:
    """The lines that a command means for sure: one, or all where all was said.

    Args:
        among: where no line is named, it is one of these.

    Raises:
        Refusal: none that is on is meant.
        NeedsAnswer: it can be several.
    """
    if not pump.lines:
        raise Refusal("No line is logged as on. Say “crosslay one charged” first.")
    found = meant(command.ref, pump, said.last_commands)
    if among is not None and command.ref in (LineRef(), LineRef(all=True)):
        found = tuple(among)
    if not found:
        on = listed([line.label for line in pump.lines])
        raise Refusal(f"That line isn't logged as on. On now: {on}.")
    if len(found) > 1 and not command.ref.all:
        options = tuple((line.label, replace(command, ref=ref_to(line))) for line in found)
        if isinstance(command, LineChange) and (command.flowing is not None or command.full_open):
            options += (("All of them", replace(command, ref=LineRef(all=True))),)
        raise NeedsAnswer(ask, part=command, options=options)
    return found


def counted(labels: list[str]) -> list[str]:
    """ "2 × 1.75 in line, 200 ft" in place of the same label twice."""
    counts = {label: labels.count(label) for label in labels}
    return [label if count == 1 else f"{count} × {label}" for label, count in counts.items()]
