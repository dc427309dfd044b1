"""Says lays, lines and quantities for a question's choices, in the units that people here speak."""

from __future__ import annotations

from grammar import commands as c
from grammar.items import floor_name

_GLYPHS = {(1, 2): "½", (1, 4): "¼", (3, 4): "¾", (1, 8): "⅛", (3, 8): "⅜", (5, 8): "⅝", (7, 8): "⅞"}


def inches(value: float) -> str:
    """A size as the trade writes it: 1¾, 2½, 15/16."""
    whole = int(value)
    sixteenths = round((value - whole) * 16, 6)
    if sixteenths == 0:
        return str(whole)
    if sixteenths != int(sixteenths):
        return f"{value:.3g}"
    above, below = int(sixteenths), 16
    while above % 2 == 0:
        above, below = above // 2, below // 2
    glyph = _GLYPHS.get((above, below))
    if glyph:
        return f"{whole or ''}{glyph}"
    return f"{whole} {above}/{below}" if whole else f"{above}/{below}"


class Sayer:
    """Words in one system of units; every number rounded as people say it."""

    def __init__(self, units: c.Units = "us") -> None:
        self.units: c.Units = units
        self._metric = units == "metric"

    def psi(self, value: float | None) -> str:
        if value is None:
            return "not said"
        return f"{round(value / 14.503773773, 1):g} bar" if self._metric else f"{round(value):g} psi"

    def gpm(self, value: float) -> str:
        return f"{round(value * 3.785411784):g} L/min" if self._metric else f"{round(value):g} gpm"

    def gal(self, value: float) -> str:
        return f"{round(value * 3.785411784):g} L" if self._metric else f"{round(value):g} gal"

    def feet(self, value: float) -> str:
        return f"{round(value * 0.3048, 1):g} m" if self._metric else f"{round(value):g} ft"

    def miles(self, value: float) -> str:
        return f"{round(value * 1.609344, 1):g} km" if self._metric else f"{round(value, 1):g} miles"

    def ref(self, ref: c.LineRef | None) -> str:
        """Which line: "crosslay 1", "line 2", "the line on the second floor"."""
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

    def lays(self, lays: tuple[c.SaidLay, ...]) -> str:
        return " and ".join(self.lay(lay) for lay in lays) or "a line"

    def lay(self, lay: c.SaidLay) -> str:
        """ "300 ft of 3 in to a wye, 2 × 100 ft of 1¾ in"."""
        lines = " and ".join(self.line(line) for line in lay.lines)
        if not lay.feed:
            return lines
        to = f"a {lay.split}" if lay.split else "the connection"
        return f"{self.hose(lay.feed)} to {to}, {lines}"

    def hose(self, hose: tuple[c.SaidHose, ...]) -> str:
        pieces = []
        for h in hose:
            words = f"{h.parallel} × " if h.parallel > 1 else ""
            words += self.feet(h.length_ft) if h.length_ft is not None else ""
            if h.hose_in is not None:
                words += f" of {inches(h.hose_in)} in" if h.length_ft is not None else f"{inches(h.hose_in)} in hose"
            pieces.append(words or "hose")
        return " then ".join(pieces)

    def line(self, line: c.SaidLine) -> str:
        words = f"{line.count} × " if line.count > 1 else ""
        named = (line.name or line.device or "").replace("_", " ")
        words += ", ".join(w for w in (named, self.hose(line.hose) if line.hose else "") if w) or "line"
        words += self.nozzle(line.nozzle)
        if line.floor is not None:
            words += f", {floor_name(line.floor)}"
        elif line.place is not None:
            words += f", {line.place}"
        if line.rise_ft is not None:
            words += f", {self.feet(abs(line.rise_ft))} {'up' if line.rise_ft > 0 else 'down'}"
        return words

    def nozzle(self, nozzle: c.SaidNozzle) -> str:
        words = ""
        if nozzle.tip_in is not None:
            words += f", {inches(nozzle.tip_in)} in tip"
        elif nozzle.kind:
            words += f", {nozzle.kind.replace('_', ' ')}"
        if nozzle.flow_gpm is not None:
            words += f", {self.gpm(nozzle.flow_gpm)}{' in all' if nozzle.flow_is_total else ''}"
        if nozzle.nozzle_psi is not None:
            words += f", {self.psi(nozzle.nozzle_psi)} at the nozzle"
        return words
