"""A lay as it was said, completed with what the rig carries: the pieces that the solver takes, and what was assumed.

What is missing and can't be assumed is asked (`NeedsAnswer`); what can't be is refused (`Refusal`).
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine
from handlers import rig as rigs
from handlers.errors import NeedsAnswer, Refusal
from handlers.pumping import hydraulics
from handlers.pumping.layout import Appliance, Eductor, HoseSection, JoinedLines, Path, Piece, Rise, Split
from handlers.pumping.missing import Whole, how_long, which_floor, which_hose
from handlers.pumping.nozzles import MASTER_DEVICES, Fitted, fit
from handlers.times import listed
from handlers.words import Words, plain

LONGEST_FT = 50_000
MOST_LINES = 20
HIGHEST_FLOOR = 200
STANDPIPES = ("standpipe", "high_rise_pack")

Hoses: TypeAlias = tuple[tuple[SaidHose, HoseSection], ...]
"""Runs of hose in the order of the water: as said (now complete) and as a section of the rig's hose."""


class CompleteLine(msgspec.Struct, frozen=True):
    """One line of a lay, complete."""

    label: str
    """How people are told of it: "crosslay 1", "1.75 in line"."""
    name: str | None
    """Its name on the rig, if it has one."""
    hose_in: float | None
    """Hose at the nozzle; None for a pre-piped gun."""
    length_ft: float
    hoses: tuple[str, ...]
    """Keys of its hoses, pump end first."""
    path: Path
    """From the pump, or from the split, to the nozzle."""
    people: int | None
    """People on the nozzle; None for a master stream, which nobody holds."""
    device: str | None
    said: SaidLine
    """With everything filled in."""


class CompleteLay(msgspec.Struct, frozen=True):
    """A whole lay, complete. `path` is None for a sprinkler connection, which is pumped at `fixed_psi`."""

    said: SaidLay
    path: Path | None
    lines: tuple[CompleteLine, ...] = ()
    hoses: tuple[str, ...] = ()
    """Keys of all its hoses."""
    assumed: tuple[str, ...] = ()
    fixed_psi: float | None = None
    """A pressure by rule (sprinkler connection, a house rule for standpipes) in place of the calculated one."""
    rule: str = ""
    """Which rule that is."""


def lays_of(said: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """One lay for everything that leaves the pump by itself: lines without a feed or a split stand alone."""
    apart: list[SaidLay] = []
    for lay in said:
        if lay.feed or lay.split or len(lay.lines) == 1:
            apart.append(lay)
        else:
            apart.extend(SaidLay(lines=(line,)) for line in lay.lines)
    return tuple(apart)


def complete(said: SaidLay, rig: rigs.Rig) -> CompleteLay:
    """Complete a lay that leaves the pump at one discharge (see `lays_of`).

    Raises:
        NeedsAnswer: hose, length, nozzle or floor is missing.
        Refusal: a value that can't be.
    """
    if not said.lines:
        raise NeedsAnswer("Which line? Say its hose, its length and its nozzle.", part=said, slot="lines")
    if said.lines[0].device == "sprinkler":
        return _sprinkler(said, rig)
    assumed: list[str] = []
    total = sum(line.count for line in said.lines)
    lines = tuple(_line(line, total, rig, assumed) for line in said.lines)
    feed = tuple(_run(part, None, said, rig) for part in said.feed)
    split = said.split or ("wye" if feed and total > 1 else None)
    trunk = _trunk(feed, lines[0].device, split, rig)
    if split is not None:
        path = Path(trunk, Split(tuple(line.path for line in lines)))
        if not feed:
            assumed.append(f"the {split} stands at the pump")
    else:
        own = lines[0].path
        path = Path(trunk + own.pieces, own.end, own.count, own.label)
    fixed, rule = _house_rule(lines, rig)
    return CompleteLay(
        said=SaidLay(tuple(part for part, _ in feed), split, tuple(line.said for line in lines)),
        path=path,
        lines=lines,
        hoses=_keys(feed, rig) + tuple(hose for line in lines for hose in line.hoses),
        assumed=tuple(dict.fromkeys(assumed)),
        fixed_psi=fixed,
        rule=rule,
    )


# --- one line


def _line(asked: SaidLine, total: int, rig: rigs.Rig, assumed: list[str]) -> CompleteLine:
    """`asked` is the very object of the command, so that a question can complete it; `said` has its device too."""
    _check(asked, rig)
    carried, words = _carried(asked, rig), Words.of(rig)
    said = _with_device(asked, carried)
    hoses = () if said.device in ("deck_gun", "aerial") and not said.hose else _hoses(asked, carried, rig)
    hose = rig.hose[hoses[-1][1].hose] if hoses else None
    _each_or_all(asked, total, hose, rig)
    flow = said.nozzle.flow_gpm
    if flow is not None and said.nozzle.flow_is_total:
        flow /= total
    fitted = fit(asked, rig, hose, carried.nozzle if carried else None, flow)
    label = _label(said, carried, hose, words)
    _tell(assumed, label, fitted, hoses if carried is not None and not said.hose else (), words)
    if said.device != asked.device and said.device == "standpipe":
        assumed.append(f"{label}: off the standpipe")
    people = (carried.people if carried else None) or rig.limits.people_on_line
    nozzle = msgspec.structs.replace(said.nozzle, flow_gpm=flow, flow_is_total=False)
    return CompleteLine(
        label=label,
        name=carried.name if carried else None,
        hose_in=hoses[-1][1].hose_in if hoses else None,
        length_ft=sum(section.length_ft for _, section in hoses),
        hoses=_keys(hoses, rig),
        path=Path(_pieces(said, hoses, rig), fitted.outlet, said.count, label),
        people=people if _held(said, hose) else None,
        device=said.device,
        said=msgspec.structs.replace(said, hose=tuple(part for part, _ in hoses), nozzle=nozzle),
    )


def _with_device(asked: SaidLine, carried: rigs.Line | None) -> SaidLine:
    """The line with the device that its name implies; a standpipe needs a floor."""
    implied = {"gun": "deck_gun", "high_rise": "standpipe"}.get(carried.kind) if carried is not None else None
    device = asked.device or implied
    if device in STANDPIPES and asked.floor is None and asked.rise_ft is None:
        raise which_floor(asked)
    return asked if device == asked.device else msgspec.structs.replace(asked, device=device)


def _check(said: SaidLine, rig: rigs.Rig) -> None:
    if not 1 <= said.count <= MOST_LINES:
        raise Refusal(f"{said.count} lines can't be: say how many, from 1 to {MOST_LINES}.")
    if said.floor is not None and (said.floor == 0 or abs(said.floor) > HIGHEST_FLOOR):
        raise Refusal("There is no such floor: say it again.")
    if said.rise_ft is not None and abs(said.rise_ft) > 5_000:
        raise Refusal(f"A height of {Words.of(rig).feet(said.rise_ft)} can't be: say it again.")


def _carried(said: SaidLine, rig: rigs.Rig) -> rigs.Line | None:
    """The rig's line that is meant: by name, or the one that the rig has for a device."""
    if said.name is not None:
        line = rig.line_named(said.name)
        if line is None and rig.borrowed:
            raise Refusal("That company has no rig file here: say the line's hose, length and nozzle.")
        if line is None:
            names = listed([line.name for line in rig.line.values()])
            raise Refusal(f"There is no {said.name.replace('_', ' ')} in the rig file. It has {names}.")
        if line.kind == "supply":
            raise Refusal(f"The {line.name} has no nozzle: say what it supplies, as in “supplying Engine 9”.")
        return line
    kind = {"deck_gun": "gun", "high_rise_pack": "high_rise", "standpipe": "high_rise"}.get(said.device or "")
    if kind is None or said.hose:
        return None
    return next((line for line in rig.line.values() if line.kind == kind), None)


def _hoses(said: SaidLine, carried: rigs.Line | None, rig: rigs.Rig) -> Hoses:
    if not said.hose and carried is not None:
        return tuple(
            (
                SaidHose(rig.hose[piece.hose].diameter_in, piece.length_ft),
                _section(rig.hose[piece.hose], piece.length_ft),
            )
            for piece in carried.pieces
        )
    parts = said.hose or (SaidHose(),)
    own = carried.pieces[-1] if carried is not None and carried.pieces and len(parts) == 1 else None
    return tuple(_run(part, own, said, rig) for part in parts)


def _run(part: SaidHose, own: rigs.Piece | None, whole: Whole, rig: rigs.Rig) -> tuple[SaidHose, HoseSection]:
    """One run of hose; what wasn't said is the rig line's (`own`), or is asked."""
    if part.hose_in is None and own is None:
        raise which_hose(part, whole, rig)
    hose = rig.hose[own.hose] if own is not None else None
    if part.hose_in is not None and (hose is None or abs(hose.diameter_in - part.hose_in) > 0.03 * part.hose_in):
        hose = known_hose(part.hose_in, rig)
    assert hose is not None
    length_ft = part.length_ft if part.length_ft is not None else own.length_ft if own is not None else None
    if length_ft is None:
        raise how_long(part, hose, whole, rig)
    if not 0 < length_ft <= LONGEST_FT:
        raise Refusal(f"{Words.of(rig).feet(length_ft)} of hose can't be: say the length again.")
    if not 1 <= part.parallel <= MOST_LINES:
        raise Refusal(f"{part.parallel} lines side by side can't be: say how many again.")
    beside = tuple(_beside(other, length_ft, rig) for other in part.beside)
    said = msgspec.structs.replace(part, hose_in=hose.diameter_in, length_ft=length_ft, beside=beside)
    return said, _section(hose, length_ft)


def _beside(part: SaidHose, length_ft: float, rig: rigs.Rig) -> SaidHose:
    """Hose that lies beside another: as long as that one, unless another length was said."""
    hose = known_hose(part.hose_in or 0.0, rig)
    return msgspec.structs.replace(part, hose_in=hose.diameter_in, length_ft=part.length_ft or length_ft)


def known_hose(hose_in: float, rig: rigs.Rig) -> rigs.Hose:
    """The rig's hose of a size; raises Refusal with the sizes that the file knows."""
    hose = rig.hose_of(hose_in) if hose_in > 0 else None
    if hose is None:
        words = Words.of(rig)
        sizes = sorted({hose.diameter_in for hose in rig.hose.values()})
        known = listed([words.hose(size) for size in sizes])
        raise Refusal(f"The rig file knows no {words.hose(hose_in)} hose. It knows {known}.")
    return hose


def _keys(hoses: Hoses, rig: rigs.Rig) -> tuple[str, ...]:
    """Keys of the rig's hoses, those beside before their neighbour, so that the last is the one at the nozzle."""
    return tuple(
        key
        for part, section in hoses
        for key in (*(known_hose(other.hose_in or 0.0, rig).key for other in part.beside), section.hose)
    )


def _section(hose: rigs.Hose, length_ft: float) -> HoseSection:
    return HoseSection(hose.diameter_in, length_ft, hose.coefficient, hose.key)


def _each_or_all(said: SaidLine, total: int, hose: rigs.Hose | None, rig: rigs.Rig) -> None:
    """A flow that only fits as the sum of all lines is asked about (convention 4)."""
    flow = said.nozzle.flow_gpm
    if flow is None or hose is None or total < 2 or said.nozzle.flow_is_total or flow <= 0:
        return
    each, shared = (hydraulics.velocity_ft_s(gpm, hose.diameter_in) for gpm in (flow, flow / total))
    if each <= rig.limits.velocity_ft_s or shared > rig.limits.velocity_ft_s:
        return
    words = Words.of(rig)
    together = msgspec.structs.replace(said, nozzle=msgspec.structs.replace(said.nozzle, flow_is_total=True))
    raise NeedsAnswer(
        f"{words.gpm(flow)} is too much for one {words.hose(hose.diameter_in)} line. Is it all {total} lines together?",
        part=said,
        slot="flow_gpm",
        options=((f"Together: {words.gpm(flow / total)} each", together),),
    )


def _held(said: SaidLine, hose: rigs.Hose | None) -> bool:
    """People hold it: no master stream, no nozzle on a stand or through a floor, no supply hose."""
    if said.device in MASTER_DEVICES or said.nozzle.kind in ("cellar", "piercing"):
        return False
    return hose is None or hose.kind != "supply"


def _label(said: SaidLine, carried: rigs.Line | None, hose: rigs.Hose | None, words: Words) -> str:
    if carried is not None:
        return carried.name
    if said.device in MASTER_DEVICES or hose is None:
        return (said.device or "line").replace("_", " ")
    return f"{words.hose(hose.diameter_in)} line"


def _tell(assumed: list[str], label: str, fitted: Fitted, laid: Hoses, words: Words) -> None:
    """One sentence on what the rig file gave to a line."""
    told = [f"{words.feet(section.length_ft)} of {words.hose(section.hose_in)}" for _, section in laid]
    if fitted.told:
        told.append(fitted.told)
    elif laid:
        told[-1] += " (rig file)"
    if told:
        assumed.append(f"{label}: {', '.join(told)}")


# --- pieces


def _pieces(said: SaidLine, hoses: Hoses, rig: rigs.Rig) -> tuple[Piece, ...]:
    """A line's own pieces. Height stands where it is climbed: before the hose of a standpipe, else at the nozzle."""
    values = rig.hydraulics
    rise = _rise(said, rig)
    if said.device in STANDPIPES:
        return (*_standpipe(rise, rig), *rise, *_laid(hoses, rig, joined=False))
    if said.device in MASTER_DEVICES:
        loss = values.aerial_psi if said.device == "aerial" else values.master_stream_psi
        name = said.device.replace("_", " ")
        return (*_laid(hoses, rig, joined=False), Appliance(name, loss), *rise)
    if said.device != "eductor":
        return (*_laid(hoses, rig, joined=True), *rise)
    eductor = Eductor("eductor", values.eductor_inlet_psi, values.eductor_back_share)
    before, behind = hoses[: said.before_eductor], hoses[said.before_eductor :]
    return (*_laid(before, rig, joined=True), eductor, *_laid(behind, rig, joined=True), *rise)


def _laid(hoses: Hoses, rig: rigs.Rig, *, joined: bool) -> tuple[Piece, ...]:
    """Hose as pieces; lines side by side end in a siamese, unless the device they feed is the place they join."""
    pieces: list[Piece] = []
    for part, section in hoses:
        legs = (section,) * part.parallel + tuple(
            _section(known_hose(other.hose_in or 0.0, rig), other.length_ft or 0.0)
            for other in part.beside
            for _ in range(other.parallel)
        )
        if len(legs) == 1:
            pieces.append(section)
            continue
        pieces.append(JoinedLines(tuple((leg,) for leg in legs)))
        if joined:
            values = rig.hydraulics
            pieces.append(Appliance("siamese", values.appliance_psi, values.appliance_threshold_gpm))
    return tuple(pieces)


def _trunk(feed: Hoses, device: str | None, split: str | None, rig: rigs.Rig) -> tuple[Piece, ...]:
    pieces = _laid(feed, rig, joined=split is None and device not in (*STANDPIPES, *MASTER_DEVICES))
    if split is None or device in STANDPIPES:  # a standpipe is where its lines part: its own loss stands for it
        return pieces
    values = rig.hydraulics
    return (*pieces, Appliance(split, values.appliance_psi, values.appliance_threshold_gpm))


def _rise(said: SaidLine, rig: rigs.Rig) -> tuple[Rise, ...]:
    values = rig.hydraulics
    psi = hydraulics.elevation_psi(
        said.floor, said.rise_ft, values.elevation_psi_per_floor, values.elevation_psi_per_ft
    )
    if psi < 0 and not values.credit_below:
        psi = 0.0
    return (Rise(psi),) if psi else ()


def _standpipe(rise: tuple[Rise, ...], rig: rigs.Rig) -> tuple[Piece, ...]:
    pipe, values = rig.standpipe, rig.hydraulics
    system: tuple[Piece, ...] = (Appliance("standpipe", pipe.system_psi),) if pipe.system_psi else ()
    if not pipe.riser_friction or not rise or not values.elevation_psi_per_floor:
        return system
    height_ft = abs(rise[0].psi) / values.elevation_psi_per_floor * pipe.floor_height_ft
    coefficient = pipe.riser_coefficient.get(plain(pipe.riser_in))
    if coefficient is None:
        raise Refusal(
            f"The rig file has no riser coefficient for {plain(pipe.riser_in)} in pipe: add it to [standpipe]."
        )
    return (*system, HoseSection(pipe.riser_in, height_ft, coefficient))


# --- pressures by rule


def _sprinkler(said: SaidLay, rig: rigs.Rig) -> CompleteLay:
    """Pumped at the rule's pressure; what its hose takes of that is told, where hose was said."""
    line, words = said.lines[0], Words.of(rig)
    rule = "the rig file for a sprinkler connection; its plate decides"
    parts = (*said.feed, *line.hose)
    if not parts:
        return CompleteLay(said, None, fixed_psi=rig.hydraulics.sprinkler_psi, rule=rule)
    runs = tuple(_run(msgspec.structs.replace(part, parallel=max(part.parallel, line.count)), None, said, rig)
                 for part in parts)  # fmt: skip
    laid = " + ".join(
        (f"{part.parallel} × " if part.parallel > 1 else "") + f"{words.feet(section.length_ft)} of "
        f"{words.hose(section.hose_in)}" for part, section in runs
    )  # fmt: skip
    flow = line.nozzle.flow_gpm
    if flow is None:
        told = f"{laid} to it: its loss comes off that; say the flow for it"
    else:
        total = flow if line.nozzle.flow_is_total or line.count == 1 else flow * line.count
        loss = sum(piece.resistance * total**2 for piece in _laid(runs, rig, joined=False)
                   if isinstance(piece, HoseSection | JoinedLines))  # fmt: skip
        left = rig.hydraulics.sprinkler_psi - loss
        told = f"{laid} to it loses {words.psi(loss)} at {words.gpm(total)}: {words.psi(left)} left at the connection"
    return CompleteLay(
        msgspec.structs.replace(
            said, feed=tuple(part for part, _ in runs), lines=(msgspec.structs.replace(line, hose=()),)
        ),
        None,
        hoses=_keys(runs, rig),
        fixed_psi=rig.hydraulics.sprinkler_psi,
        rule=f"{rule}. {told}",
    )


def _house_rule(lines: tuple[CompleteLine, ...], rig: rigs.Rig) -> tuple[float | None, str]:
    pipe, words = rig.standpipe, Words.of(rig)
    if pipe.house_base_psi is None or any(line.device not in STANDPIPES for line in lines):
        return None, ""
    per_floor = pipe.house_psi_per_floor or 0.0
    floors = max((line.said.floor or 1) for line in lines) - 1
    rule = f"house rule: {words.psi_bare(pipe.house_base_psi)} + {words.psi_bare(per_floor)} a floor above the first"
    return pipe.house_base_psi + per_floor * max(0, floors), rule
