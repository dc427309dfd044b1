"""Says in a few words what a command would do: the labels of a closed question's choices."""

from __future__ import annotations

from grammar import commands as c
from grammar.items import floor_name


def inches(value: float) -> str:
    """A size as the trade writes it: 1¾, 2½, 15/16."""
    whole = int(value)
    sixteenths = round((value - whole) * 16, 6)
    if sixteenths == 0:
        return str(whole)
    if sixteenths != int(sixteenths):
        return f"{value:g}"
    above, below = int(sixteenths), 16
    while above % 2 == 0:
        above, below = above // 2, below // 2
    glyph = {(1, 2): "½", (1, 4): "¼", (3, 4): "¾", (1, 8): "⅛", (3, 8): "⅜", (5, 8): "⅝", (7, 8): "⅞"}.get(
        (above, below)
    )
    if glyph:
        return f"{whole or ''}{glyph}"
    return f"{whole} {above}/{below}" if whole else f"{above}/{below}"


def several(commands: tuple[c.Command, ...]) -> str:
    """A label for a whole reading."""
    return "; ".join(describe(command) for command in commands) or "none of these"


def describe(command: c.Command) -> str:
    """A label for one command; plain words, no units left out."""
    match command:
        case c.PumpPressure(lays=lays):
            return f"pressure for {_lays(lays)}"
        case c.FlowAtPressure(lays=lays, pump_pressure_psi=psi):
            return f"flow at {psi:g} psi through {_lays(lays)}"
        case c.LineOn(ref=ref, lay=lay):
            return f"{_ref(ref) if lay is None else lay_words(lay)} charged"
        case c.LineOff(ref=ref):
            return f"{_ref(ref)} shut down"
        case c.LineChange(ref=ref):
            return f"change {_ref(ref)}"
        case c.Benchmark():
            return _benchmark(command)
        case c.Status(about=about):
            return f"status of {about.replace('_', ' ')}" if about else "status"
        case c.Par():
            return _par(command)
        case c.WaterSource():
            return _source(command)
        case c.Correction(amended=amended):
            return f"correct to {several(amended)}"
        case c.Mayday():
            return "Mayday"
        case c.Nozzle(nozzle=nozzle):
            return f"flow of a nozzle{_nozzle(nozzle)}"
        case c.TankTime(flow_gpm=flow):
            return f"tank time at {flow:g} gpm" if flow else "tank time"
        case c.AirReading(gauge_psi=psi, unit=unit):
            return f"{unit or 'air'} gauge {_n(psi)} psi" if psi is not None else f"low-air alarm {unit or ''}".strip()
        case c.Report(kind=kind):
            return f"log: {kind.replace('_', ' ')}"
        case c.Emergency(kind=kind):
            return kind.replace("_", " ")
        case c.Strategy(strategy=strategy):
            return f"going {strategy}"
        case c.Hydrant(static_psi=static, residual_psi=residual):
            return f"hydrant static {_n(static)}, residual {_n(residual)}"
        case c.Intake(intake_psi=psi):
            return f"intake {psi:g} psi"
        case c.Confirm(yes=yes):
            return "yes" if yes else "no"
        case _:
            return _plain(command)


def _n(value: float | None) -> str:
    return "?" if value is None else f"{value:g}"


def _plain(command: c.Command) -> str:
    """ "oxygen time: cylinder d, gauge 2000 psi": the name and what was said."""
    said = []
    for name in command.__struct_fields__:
        value = getattr(command, name)
        if isinstance(value, bool):
            if value:
                said.append(name.replace("_", " "))
        elif isinstance(value, int | float):
            label, _, unit = name.rpartition("_")
            said.append(f"{label.replace('_', ' ')} {value:g} {unit}" if label else f"{name} {value:g}")
        elif isinstance(value, str):
            said.append(value)
    head = command.intent.replace("_", " ")
    return f"{head}: {', '.join(said)}" if said else head


def _benchmark(said: c.Benchmark) -> str:
    words = [said.unit or "", said.benchmark.replace("_", " ")]
    if said.place:
        words.append(f"({said.place})")
    if said.time is not None and said.time.hour is not None:
        words.append(f"at {said.time.hour:02d}:{said.time.minute or 0:02d}")
    return " ".join(w for w in words if w)


def _par(said: c.Par) -> str:
    if said.request:
        return f"ask {said.unit or 'everyone'} for a PAR"
    if said.no_par:
        return f"{said.unit or ''} no PAR".strip()
    return f"{said.unit or ''} PAR of {_n(said.count)}".strip()


def _source(said: c.WaterSource) -> str:
    if said.trouble:
        return said.trouble.replace("_", " ")
    if said.refilled:
        return "tank refilled"
    if said.topping_off:
        return "topping off the tank"
    if said.lost:
        return "water supply lost"
    if said.tank_fraction is not None:
        return f"tank at {said.tank_fraction:.0%}"
    if said.tank_gal is not None:
        return f"{said.tank_gal:g} gal in the tank"
    return f"on {said.source}"


def _ref(ref: c.LineRef | None) -> str:
    if ref is None:
        return "the line"
    if ref.all:
        return "all lines"
    if ref.name:
        return ref.name.replace("_", " ")
    if ref.order is not None:
        return f"line {ref.order}"
    if ref.hose_in is not None:
        return f"the {inches(ref.hose_in)} in line"
    if ref.place:
        return f"the line on the {ref.place}"
    return "the other line" if ref.other else "the line"


def _lays(lays: tuple[c.SaidLay, ...]) -> str:
    return " and ".join(lay_words(lay) for lay in lays) or "a line"


def lay_words(lay: c.SaidLay) -> str:
    """A lay in words: "2 × 200 ft of 1¾ in, second floor"."""
    lines = " and ".join(_line(line) for line in lay.lines)
    if not lay.feed:
        return lines
    return f"{_hose(lay.feed)} to a {lay.split or 'wye'}, {lines}"


def _hose(hose: tuple[c.SaidHose, ...]) -> str:
    pieces = []
    for h in hose:
        words = f"{h.parallel} × " if h.parallel > 1 else ""
        words += f"{h.length_ft:g} ft" if h.length_ft is not None else "hose"
        words += f" of {inches(h.hose_in)} in" if h.hose_in is not None else ""
        pieces.append(words)
    return " then ".join(pieces)


def _line(line: c.SaidLine) -> str:
    words = f"{line.count} × " if line.count > 1 else ""
    named = (line.name or line.device or "").replace("_", " ")
    words += ", ".join(w for w in (named, _hose(line.hose)) if w) or "line"
    words += _nozzle(line.nozzle)
    if line.floor is not None:
        words += f", {floor_name(line.floor)}"
    if line.rise_ft is not None:
        words += f", {abs(line.rise_ft):g} ft {'up' if line.rise_ft > 0 else 'down'}"
    return words


def _nozzle(nozzle: c.SaidNozzle) -> str:
    words = ""
    if nozzle.tip_in is not None:
        words += f", {inches(nozzle.tip_in)} in tip"
    elif nozzle.kind:
        words += f", {nozzle.kind.replace('_', ' ')}"
    if nozzle.flow_gpm is not None:
        words += f", {nozzle.flow_gpm:g} gpm{' in all' if nozzle.flow_is_total else ''}"
    if nozzle.nozzle_psi is not None:
        words += f", {nozzle.nozzle_psi:g} psi at the nozzle"
    return words
