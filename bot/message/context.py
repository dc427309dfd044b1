"""What the reader must know besides the words, gathered from the rig, the scene and the talk so far."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Command, Context, Device, LineSeen, Question, RigLine, Role, Wording
from handlers.rig import Line, Rig, carried_as_supply
from handlers.scene import Scene

_USUAL_PIECE_FT = 50.0
"""A length of hose where the rig file says nothing else."""
_KNOWN: dict[int, tuple[Rig, Context]] = {}
_MOST_RIGS = 64


def rig_lines(rig: Rig) -> tuple[RigLine, ...]:
    """The rig's lines with every way of naming them."""
    return tuple(
        RigLine(
            key=line.key,
            names=tuple(dict.fromkeys((line.name.casefold(), line.key.replace("_", " "), *line.nicknames))),
            hose_in=_hose_in(rig, line),
            length_ft=line.length_ft or None,
            device=_device(line),
            usual=_usual(rig, line),
        )
        for line in rig.line.values()
    )


def _hose_in(rig: Rig, line: Line) -> float | None:
    hose = rig.hose.get(line.pieces[-1].hose) if line.pieces else None
    return hose.diameter_in if hose else None


def _usual(rig: Rig, line: Line) -> bool:
    hose = rig.hose.get(line.pieces[0].hose) if len(line.pieces) == 1 else None
    return hose is not None and line.kind == "handline" and line.nozzle is not None and line.nozzle == hose.nozzle


def _device(line: Line) -> Device | None:
    if line.kind == "high_rise":
        return "high_rise_pack"
    return "deck_gun" if line.kind == "gun" else None


def wording(rig: Rig) -> Wording:
    """The units that people of this rig are asked and told in."""
    return Context(units=rig.units, pressure_unit=rig.pressure_unit).wording


def build(
    rig: Rig,
    unit: str,
    scene: Scene,
    *,
    role: Role | None = None,
    speaker_unit: str | None = None,
    last: tuple[Command, ...] = (),
    asked: Question | None = None,
    asked_before: Question | None = None,
    group: bool = False,
    addressed: bool = False,
) -> Context:
    """The reader's context for one message.

    Args:
        rig: the rig of the speaker's company.
        unit: that company's key.
        scene: the incident as it stands.
        role: the speaker's role, as far as known.
        speaker_unit: the speaker's company where it isn't the rig's.
        last: the speaker's last commands.
        asked: the question that is open to the speaker.
        asked_before: another one that is still open to them.
        group: several people talk in the room.
        addressed: the bot was spoken to by name.
    """
    pump = scene.pump(unit)
    answered = {check.item for check in scene.readiness}
    to_answer = (item for item in scene.readiness_items if item not in answered)
    return replace(
        _of_rig(rig),
        own_unit=unit,
        units_known=tuple(scene.companies),
        crews=tuple(scene.crews),
        streets=(scene.address,) if scene.address else (),
        role=role,
        speaker_unit=speaker_unit,
        incident_open=scene.open,
        incident_kind=scene.kind,
        care=scene.care.active,
        patients=tuple(scene.care.patients),
        trapped=_trapped(scene),
        arrest=scene.arrest is not None and scene.arrest.stopped_at is None and scene.arrest.pulses_at is None,
        mayday_open=scene.mayday_open,
        mayday_unit=scene.mayday.unit if scene.mayday is not None and scene.mayday_open else None,
        lines=_lines_seen(scene, unit),
        source=pump.source,
        inside=tuple(crew.crew for crew in scene.crews_inside),
        stamped=tuple(stamp.benchmark for stamp in scene.stamps),
        last=last,
        asked=asked,
        asked_before=asked_before,
        readiness_item=next(to_answer, None),
        group=group,
        addressed=addressed,
    )


def _trapped(scene: Scene) -> bool:
    """The patient last spoken of, or any, was told to be trapped and not yet freed."""
    return any(patient.told.trapped for patient in scene.care.patients.values())


def _of_rig(rig: Rig) -> Context:
    """What a rig carries, worked out once: it is the same for every message."""
    known = _KNOWN.get(id(rig))
    if known is None or known[0] is not rig:
        if len(_KNOWN) >= _MOST_RIGS:
            _KNOWN.clear()
        known = _KNOWN[id(rig)] = (rig, _carried(rig))
    return known[1]


def _carried(rig: Rig) -> Context:
    hose = {hose.diameter_in for hose in rig.hose.values()} | set(Context().hose_in)
    supply = {hose.diameter_in for hose in rig.hose.values() if carried_as_supply(hose, rig)}
    tips = {nozzle.tip_in for nozzle in rig.nozzle.values() if nozzle.tip_in} | set(rig.hydraulics.tips_in)
    return Context(
        units=rig.units,
        pressure_unit=rig.pressure_unit,
        rig_lines=rig_lines(rig),
        hose_in=tuple(sorted(hose)),
        supply_in=tuple(sorted(supply)),
        own_hose_in=tuple(sorted(hose.diameter_in for hose in rig.hose.values() if hose.own)),
        pieces=tuple(sorted({(h.diameter_in, h.piece_ft) for h in rig.hose.values() if h.piece_ft != _USUAL_PIECE_FT})),
        tips_in=tuple(sorted(tips)),
        slang=tuple(rig.slang.items()),
        people=tuple(seat.name for seat in rig.crew if seat.name),
    )


def _lines_seen(scene: Scene, unit: str) -> tuple[LineSeen, ...]:
    pump = scene.pump(unit)
    return tuple(
        LineSeen(
            seq=line.number,
            name=line.name,
            hose_in=line.hose_in,
            length_ft=line.length_ft,
            flow_gpm=line.flow_gpm,
            place=line.place,
            floor=line.floor,
            on=on,
            held=line.held,
            gated=line.gated,
            device=line.lay.lines[0].device if line.name is None and line.lay is not None else None,
        )
        for on, lines in ((True, pump.lines), (False, pump.shut))
        for line in lines
    )
