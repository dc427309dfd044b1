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


US = c.Wording()
NOMINAL_MM = {0.75: 20, 1.0: 25, 1.25: 32, 1.5: 38, 1.75: 45, 2.0: 52, 2.5: 65, 3.0: 75, 3.5: 90, 4.0: 100, 4.5: 115,
              5.0: 125, 6.0: 150}  # fmt: skip
"""How inch sizes are called in millimetres (common practice)."""


class Sayer:
    """Words in one system of units, every number rounded as people say it: the one place that turns a question's."""

    def __init__(self, wording: c.Wording = US) -> None:
        self.wording = wording
        self._metric = wording.metric

    def psi(self, value: float | None) -> str:
        if value is None:
            return "not said"
        if self.wording.pressure == "bar":
            return f"{round(value / 14.503773773, 1):g} bar"
        return (
            f"{round(value / 1.4503773773) * 10:g} kPa" if self.wording.pressure == "kPa" else f"{round(value):g} psi"
        )

    def vacuum(self, inhg: float) -> str:
        """Below the air's pressure: "15 in Hg", "0.5 bar"."""
        if self.wording.pressure == "psi":
            return f"{inhg:g} in Hg"
        return f"{inhg * 0.033864:.1f} bar" if self.wording.pressure == "bar" else f"{round(inhg * 3.3864):g} kPa"

    def gpm(self, value: float) -> str:
        return f"{round(value * 3.785411784):g} L/min" if self._metric else f"{round(value):g} gpm"

    def gal(self, value: float) -> str:
        return f"{round(value * 3.785411784):g} L" if self._metric else f"{round(value):g} gal"

    def feet(self, value: float) -> str:
        return f"{round(value * 0.3048, 1):g} m" if self._metric else f"{round(value):g} ft"

    def area(self, ft2: float) -> str:
        return f"{ft2 * 0.3048**2:,.0f} m²" if self._metric else f"{ft2:,.0f} ft²"

    def gauge(self, value: float) -> str:
        """A cylinder's gauge: whole bar where pressures are metric (kPa isn't on a cylinder's gauge)."""
        return f"{value:,.0f} psi" if self.wording.pressure == "psi" else f"{value / 14.503773773:.0f} bar"

    def size(self, value: float) -> str:
        """A hose's or a tip's size as it is called: "1¾ in", "45 mm"."""
        if not self._metric:
            return f"{inches(value)} in"
        return f"{NOMINAL_MM.get(value) or round(value * 25.4)} mm"

    def tip(self, value: float) -> str:
        return f"{round(value * 25.4)} mm" if self._metric else f"{inches(value)} in"

    @property
    def length_unit(self) -> str:
        return "metres" if self._metric else "feet"

    @property
    def tender_question(self) -> str:
        gallons, miles = ("litres", "kilometres") if self._metric else ("gallons", "miles")
        return f"How many {gallons} does a tender carry, and how many {miles} one way?"

    @property
    def flow_unit(self) -> str:
        return "litres a minute" if self._metric else "gpm"

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
            return f"the {self.size(ref.hose_in)} line"
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
                words += f" of {self.size(h.hose_in)}" if h.length_ft is not None else f"{self.size(h.hose_in)} hose"
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
            words += f", {self.tip(nozzle.tip_in)} tip"
        elif nozzle.kind:
            words += f", {nozzle.kind.replace('_', ' ')}"
        if nozzle.flow_gpm is not None:
            words += f", {self.gpm(nozzle.flow_gpm)}{' in all' if nozzle.flow_is_total else ''}"
        if nozzle.nozzle_psi is not None:
            words += f", {self.psi(nozzle.nozzle_psi)} at the nozzle"
        return words
