"""The lines of a pump that are on: which one is meant, and their pressures and flows worked out from how they lie."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
from msgspec.structs import replace

from grammar.commands import LineOn, LineRef, SaidLay, SaidLine, SaidNozzle
from handlers.events import WorkingLine
from handlers.pumping.completion import complete
from handlers.pumping.gates import at_split_psi
from handlers.pumping.nozzles import MASTER_DEVICES
from handlers.pumping.pressure import Worked, WorkedLine, fill_gal, work_out
from handlers.rig import Rig
from handlers.scene import Pump
from handlers.words import Words


class Opening(msgspec.Struct, frozen=True):
    """Lines that are about to be put on, one for each nozzle, and how their pressures were worked out."""

    lines: tuple[WorkingLine, ...]
    worked: Worked


def opening(lay: SaidLay, first_number: int, rig: Rig) -> Opening:
    """The working lines of a charged lay (a feed's fill with its first); raises NeedsAnswer or Refusal."""
    worked = work_out((lay,), rig)
    lines: list[WorkingLine] = []
    for full in worked.lays:
        start = first_number + len(lines)
        feed_gal = fill_gal(full.said.feed)
        for one in (line for line in worked.lines if line.line in full.lines):
            for _ in range(one.count):
                number = first_number + len(lines)
                fill = one.fill_gal / one.count + (feed_gal if number == start else 0.0)
                lines.append(_working(one, full.said, number, start, fill, rig))
    return Opening(tuple(lines), worked)


def _working(one: WorkedLine, lay: SaidLay, number: int, discharge: int, fill: float, rig: Rig) -> WorkingLine:
    said = replace(one.line.said, count=1)
    return WorkingLine(
        number=number,
        label=label_of(one, rig),
        flow_gpm=one.flow_gpm,
        pressure_psi=one.pressure_psi,
        fill_gal=fill,
        name=one.line.said.name,
        hose_in=one.line.hose_in,
        length_ft=one.line.length_ft or None,
        floor=said.floor,
        place=said.place,
        lay=replace(lay, lines=(said,)),
        discharge=discharge,
    )


def label_of(one: WorkedLine, rig: Rig) -> str:
    """ "Crosslay 1", or "1.75 in line, 200 ft"."""
    label = one.line.label[:1].upper() + one.line.label[1:]
    if one.line.said.name is None and one.line.length_ft:
        return f"{label}, {Words.of(rig).feet(one.line.length_ft)}"
    return label


def laid_over(line: SaidLine, said: SaidLine) -> SaidLine:
    """A line as it lies, with what was said of it now."""
    return replace(
        line,
        hose=said.hose or line.hose,
        nozzle=said.nozzle if said.nozzle != SaidNozzle() else line.nozzle,
        floor=said.floor if said.floor is not None else line.floor,
        rise_ft=said.rise_ft if said.rise_ft is not None else line.rise_ft,
        place=said.place or line.place,
    )


def as_it_lies(line: WorkingLine, rig: Rig) -> str:
    """ ", 250 ft, floor 3": what tells it from the line as carried."""
    parts = [Words.of(rig).feet(line.length_ft)] if line.length_ft else []
    if line.floor is not None:
        parts.append("basement" if line.floor == -1 else f"floor {line.floor}")
    return "".join(f", {part}" for part in parts)


def of_incident(name: str, pump: Pump) -> WorkingLine | None:
    """The line of this name that is on, else the one that was shut last."""
    return next((line for line in (*reversed(pump.lines), *reversed(pump.shut)) if line.name == name), None)


def _of_incident(said: SaidLine, pump: Pump) -> WorkingLine | None:
    """The incident's line that is meant: by its name, or its one master stream ("ladder pipe flowing at 800")."""
    if said.name:
        return of_incident(said.name, pump)
    if said.device not in MASTER_DEVICES or said.hose or said.count > 1:
        return None
    lies = [(line, line.lay.lines[0].device) for line in (*pump.lines, *pump.shut) if line.lay is not None]
    same = [line for line, device in lies if line.name is None and device == said.device]
    return same[0] if len(same) == 1 else None


def as_they_lie(lays: tuple[SaidLay, ...], pump: Pump, rig: Rig) -> tuple[tuple[SaidLay, ...], tuple[str, ...]]:
    """Lays that are asked about: a line of this incident as it lay last, but for what is said of it."""
    found = [_as_it_lay(lay, pump, rig) for lay in lays]
    return tuple(lay for lay, _ in found), tuple(told for _, told in found if told)


def _as_it_lay(lay: SaidLay, pump: Pump, rig: Rig) -> tuple[SaidLay, str]:
    one = lay.lines[0] if len(lay.lines) == 1 else None
    line = _of_incident(one, pump) if one is not None else None
    if one is None or line is None or line.lay is None or len(line.lay.lines) != 1 or lay.feed:
        return lay, ""
    wanted = replace(line.lay, lines=(laid_over(line.lay.lines[0], one),))
    if line.name is not None and line.lay.lines[0] == complete(named_line(line.name), rig).lines[0].said:
        return lay, ""  # it lies as it is carried
    if wanted == lay:
        return lay, ""
    return wanted, f"{line.label} as it lies now{as_it_lies(line, rig)}"


def flow_of(line: WorkingLine, words: Words) -> str:
    """What a line does: "150 gpm", or that it is charged with its nozzle shut."""
    return "charged, not flowing" if line.held else words.gpm(line.flow_gpm)


def flowing(pump: Pump, words: Words) -> str:
    """The pump's total flow in words."""
    return words.gpm(pump.flow_gpm) if pump.flow_gpm > 0 else "nothing flowing"


def lay_of(lines: Iterable[WorkingLine]) -> SaidLay:
    """The lay that lines of one discharge are parts of; each must know its own."""
    lays = [line.lay for line in lines if line.lay is not None]
    return replace(lays[0], lines=tuple(said for lay in lays for said in lay.lines))


def reworked(lines: tuple[WorkingLine, ...], rig: Rig) -> tuple[tuple[WorkingLine, ...], Worked]:
    """Lines of one discharge, worked out anew as they lie now; what is gated keeps its flow at its own pressure."""
    worked = work_out((lay_of(lines),), rig)
    gates = [_gate(line, one) for line, one in zip(lines, worked.lines, strict=True)]
    after = tuple(
        replace(
            line,
            flow_gpm=one.flow_gpm * gate,
            pressure_psi=at_gate(one, gate),
            gated=gate < 1,
            hose_in=one.line.hose_in,
            length_ft=one.line.length_ft or None,
            label=line.label if line.name else label_of(one, rig),
            floor=one.line.said.floor,
            place=one.line.said.place,
            lay=replace(line.lay, lines=(replace(one.line.said, count=1),)) if line.lay else None,
        )
        for line, one, gate in zip(lines, worked.lines, gates, strict=True)
    )
    return after, worked


def settled_discharge(lines: tuple[WorkingLine, ...], rig: Rig) -> tuple[tuple[WorkingLine, ...], Worked]:
    """Lines of one discharge worked out anew, by what flows through their common feed.

    A line whose nozzle is shut takes nothing: its feed's loss is that of the lines that flow, and it stands at their
    pressure. Where none of them flows, all keep the pressure that they are to open with.
    """
    full, worked = reworked(lines, rig)
    working = tuple(line for line in full if not line.held)
    if not working or len(working) == len(full):
        return full, worked
    working, worked = reworked(working, rig)
    psi = max(line.pressure_psi for line in working)
    by_number = {line.number: line for line in working}
    return tuple(by_number.get(line.number, replace(line, pressure_psi=psi)) for line in full), worked


def _gate(line: WorkingLine, one: WorkedLine) -> float:
    """The share of its full flow that a line is gated to; 1 when it isn't, or when the full flow is no more."""
    return min(1.0, line.flow_gpm / one.flow_gpm) if line.gated else 1.0


def at_gate(one: WorkedLine, share: float) -> float:
    """The pressure behind the gate for a share of the full flow: what goes with the flow falls with its square."""
    fixed = one.run.appliance_psi + one.run.elevation_psi
    return one.pressure_psi if share == 1 else fixed + (one.run.pressure_psi - fixed) * share**2


def at_split(lines: Sequence[WorkingLine], rig: Rig) -> list[tuple[WorkingLine, float]]:
    """The legs of one discharge, each with the pressure that it asks for at the split, psi."""
    if len(lines) < 2 or any(line.lay is None for line in lines):
        return [(line, line.pressure_psi) for line in lines]
    worked = work_out((lay_of(lines),), rig)
    trunk = [at_split_psi(one, worked) for one in worked.lines]
    return [
        (line, line.pressure_psi - (one.pressure_psi - there if there is not None else 0.0))
        for line, one, there in zip(lines, worked.lines, trunk, strict=True)
    ]


def same_discharge(pump: Pump, line: WorkingLine) -> tuple[WorkingLine, ...]:
    """The other lines that are on and share this one's feed."""
    return tuple(other for other in pump.lines if other.discharge == line.discharge and other.number != line.number)


def meant(ref: LineRef, pump: Pump, last: tuple[object, ...] = ()) -> tuple[WorkingLine, ...]:
    """The lines that are on and that a reference can mean: one, several (then it is asked), or none.

    Args:
        last: the speaker's last commands, by which "the other one" is known.
    """
    on = pump.lines
    if ref.all:
        return on
    if ref.seq is not None:
        return tuple(line for line in on if line.number == ref.seq)
    if ref.order is not None:
        return on[ref.order - 1 : ref.order] if 0 < ref.order <= len(on) else ()
    if ref.other:
        spoken = _last_spoken(pump, last)
        return tuple(line for line in on if spoken is None or line.number != spoken.number)
    found = on
    if ref.name is not None:
        found = tuple(line for line in found if line.name == ref.name)
    if ref.hose_in is not None:
        found = tuple(line for line in found if line.hose_in == ref.hose_in)
    if ref.place is not None:
        found = tuple(line for line in found if ref.place in (line.place, _floor_words(line.floor)))
    return found


def _last_spoken(pump: Pump, last: tuple[object, ...]) -> WorkingLine | None:
    for command in reversed(last):
        ref = getattr(command, "ref", None)
        if isinstance(ref, LineRef) and not ref.other and len(found := meant(ref, pump)) == 1:
            return found[0]
        if isinstance(command, LineOn) and pump.lines:
            return pump.lines[-1]
    return None


ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def _floor_words(floor: int | None) -> str | None:
    if floor is None:
        return None
    if floor < 0:
        return "basement"
    return f"{ORDINALS[floor]} floor" if floor < len(ORDINALS) else f"floor {floor}"


def ref_to(line: WorkingLine) -> LineRef:
    """A reference that means exactly this line."""
    return LineRef(name=line.name, seq=line.number)


def named_line(name: str) -> SaidLay:
    """The lay of a line that the rig carries, all as carried."""
    return SaidLay(lines=(SaidLine(name=name),))
