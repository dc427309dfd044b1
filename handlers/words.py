"""Numbers and units in the words that people are told, US or metric by the rig: the one way out for units.

Pressure goes to the nearest psi; what a hydrant gives is rounded down: the caller chooses the word (`gpm_down`).
"""

from __future__ import annotations

import math
import re

import msgspec

from handlers.rig import Rig
from handlers.rigfile.metric import (
    COEFFICIENT_US_PER_SI,
    FT_PER_M,
    GAL_PER_L,
    LBF_PER_N,
    MI_PER_KM,
    PSI_PER_INHG,
    PSI_PER_KPA,
)

NOMINAL_MM = {0.75: 20, 1.0: 25, 1.25: 32, 1.5: 38, 1.75: 45, 2.0: 52, 2.5: 65, 3.0: 75, 3.5: 90, 4.0: 100,
              4.5: 115, 5.0: 125, 6.0: 150}  # fmt: skip
"""How inch sizes are called in millimetres (common practice)."""

FRACTIONS = {1: "1/16", 2: "⅛", 3: "3/16", 4: "¼", 5: "5/16", 6: "⅜", 7: "7/16", 8: "½", 9: "9/16", 10: "⅝",
             11: "11/16", 12: "¾", 13: "13/16", 14: "⅞", 15: "15/16"}  # fmt: skip


def plain(number: float, digits: int = 2) -> str:
    """A number without needless zeros, thousands marked: 1.75, 15.5, 1,000."""
    text = f"{number:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def whole(number: float) -> str:
    """To the nearest whole (halves up), thousands marked."""
    return f"{math.floor(number + 0.5 + 1e-9):,}"


def down(number: float, step: int = 1) -> str:
    """Rounded down to a multiple of `step`, thousands marked; a millionth under a step is taken as the step."""
    return f"{math.floor(number / step * (1 + 1e-6)) * step:,}"


def up(number: float, step: int = 1) -> str:
    """Rounded up to a multiple of `step`, thousands marked."""
    return f"{math.ceil(number / step * (1 - 1e-6)) * step:,}"


_PRESSURE = re.compile(
    r"(?<![\d.,])\d[\d,]*(?:\.\d+)?(?=\s?(?:psi|bar|kPa)\b)"
    r"|(?:(?<=turn around by )|(?<=turnaround of ))\d[\d,]*\d",
    re.IGNORECASE,
)


def digit_by_digit(number: str) -> str:
    """A number for the ear, digit by digit: "115" → "1 1 5", "12.1" → "1 2 point 1"."""
    return " ".join("point" if sign == "." else sign for sign in number if sign != ",")


def said_aloud(text: str, rig: Rig) -> str:
    """A text for the ear: its pressures digit by digit, unless the rig file has them said as numbers.

    Measured in pump noise: "one fifteen" is taken for 150, "one one five" isn't.
    """
    if rig.spoken_pressures == "numbers":
        return text
    return _PRESSURE.sub(lambda found: digit_by_digit(found[0]), text)


class Words(msgspec.Struct, frozen=True):
    """The units that one rig's people are told."""

    metric: bool = False
    pressure_unit: str = "psi"
    digits: bool = True
    """Pressures are said digit by digit."""

    @classmethod
    def of(cls, rig: Rig) -> Words:
        return cls(
            metric=rig.units == "metric",
            pressure_unit=rig.pressure_unit,
            digits=rig.spoken_pressures == "digits",
        )

    @property
    def length_name(self) -> str:
        """What lengths are said in: "feet" or "metres"."""
        return "metres" if self.metric else "feet"

    @property
    def flow_name(self) -> str:
        """What flows are said in: "gallons a minute" or "litres a minute"."""
        return "litres a minute" if self.metric else "gallons a minute"

    @property
    def distance_name(self) -> str:
        """What distances are said in: "miles" or "kilometres"."""
        return "kilometres" if self.metric else "miles"

    def psi_value(self, psi: float) -> float:
        """The number of a pressure in the unit that is shown."""
        if self.pressure_unit == "bar":
            return psi / PSI_PER_KPA / 100
        return psi / PSI_PER_KPA if self.pressure_unit == "kPa" else psi

    def psi_bare(self, psi: float) -> str:
        """A pressure without its unit: "175", "12.1" bar, "1210" kPa."""
        value = self.psi_value(psi)
        if self.pressure_unit == "bar":
            return f"{value:.1f}"
        return f"{10 * math.floor(value / 10 + 0.5):,}" if self.pressure_unit == "kPa" else whole(value)

    def psi_said(self, psi: float) -> str:
        """A pressure for the ear, without its unit: "1 7 5"."""
        return digit_by_digit(self.psi_bare(psi)) if self.digits else self.psi_bare(psi)

    def psi(self, psi: float) -> str:
        """ "175 psi", "12.1 bar"."""
        return f"{self.psi_bare(psi)} {self.pressure_unit}"

    @property
    def gauge_unit(self) -> str:
        """What a cylinder's gauge shows: psi, or bar where pressures are metric (kPa isn't on such a gauge)."""
        return "psi" if self.pressure_unit == "psi" else "bar"

    def gauge_value(self, psi: float) -> float:
        """The number of a cylinder's gauge in its unit."""
        return psi if self.gauge_unit == "psi" else psi / PSI_PER_KPA / 100

    def gauge(self, psi: float) -> str:
        """A cylinder's pressure: "4,500 psi", "310 bar"."""
        return f"{self.gauge_bare(psi)} {self.gauge_unit}"

    def gauge_bare(self, psi: float) -> str:
        """The same without its unit."""
        return whole(self.gauge_value(psi))

    def gauge_up(self, psi: float) -> str:
        """A pressure to turn around at, rounded up: to five bar on a metric gauge, as the caller rounded it in psi."""
        return f"{self.gauge_up_bare(psi)} {self.gauge_unit}"

    def gauge_up_bare(self, psi: float) -> str:
        """The same without its unit."""
        return self.gauge_bare(psi) if self.gauge_unit == "psi" else up(self.gauge_value(psi), 5)

    def vacuum(self, inhg: float) -> str:
        """Below the air's pressure: "15 inHg", "0.5 bar"."""
        return f"{plain(inhg, 1)} inHg" if self.pressure_unit == "psi" else self.psi(inhg * PSI_PER_INHG)

    def sum_of(self, parts: list[tuple[float, str]], total: float) -> str:
        """ "100 nozzle + 70 friction + 5 elevation": the shown parts add up to the shown total."""
        digits = 1 if self.pressure_unit == "bar" else 0
        step = 10 if self.pressure_unit == "kPa" else 10**-digits

        def steps(psi: float) -> int:
            return math.floor(self.psi_value(psi) / step + 0.5 + 1e-9)

        shown = [steps(psi) for psi, _ in parts]
        if shown:
            odd = steps(total) - sum(shown)
            errors = [self.psi_value(psi) / step - steps(psi) for psi, _ in parts]
            for _ in range(abs(odd)):
                pick = max(range(len(shown)), key=lambda i: errors[i] if odd > 0 else -errors[i])
                shown[pick] += 1 if odd > 0 else -1
                errors[pick] -= 1 if odd > 0 else -1
        text = ""
        for count, (_, name) in zip(shown, parts, strict=True):
            number = f"{abs(count) * step:,.{digits}f}"
            sign = "" if not text and count >= 0 else "+ " if count >= 0 else "− "
            text += f"{' ' if text else ''}{sign}{number} {name}"
        return text

    @property
    def gpm_unit(self) -> str:
        """What flows are shown in: "gpm", "L/min"."""
        return "L/min" if self.metric else "gpm"

    def gpm_value(self, gpm: float) -> float:
        """The number of a flow in that unit."""
        return gpm / GAL_PER_L if self.metric else gpm

    def gpm(self, gpm: float) -> str:
        """ "300 gpm", "1,136 L/min"."""
        return f"{whole(gpm / GAL_PER_L)} L/min" if self.metric else f"{whole(gpm)} gpm"

    def gpm_said(self, gpm: float) -> str:
        """A flow for the ear, as it is called out: "300 gallons"."""
        return f"{whole(gpm / GAL_PER_L)} litres" if self.metric else f"{whole(gpm)} gallons"

    def gpm_down(self, gpm: float) -> str:
        """A flow that something can give, rounded down to tens from 100 up."""
        value = gpm / GAL_PER_L if self.metric else gpm
        return f"{down(value, 10 if value >= 100 else 1)} {'L/min' if self.metric else 'gpm'}"

    def gal(self, gal: float) -> str:
        """ "500 gal", "1,893 L"."""
        return f"{whole(gal / GAL_PER_L)} L" if self.metric else f"{whole(gal)} gal"

    def feet(self, ft: float) -> str:
        """ "200 ft", "61 m"."""
        return f"{whole(ft / FT_PER_M)} m" if self.metric else f"{whole(ft)} ft"

    def feet_down(self, ft: float) -> str:
        """A length that can be reached, rounded down."""
        return f"{down(ft / FT_PER_M)} m" if self.metric else f"{down(ft)} ft"

    def lift(self, ft: float) -> str:
        """A lift, rounded down to a tenth."""
        value = ft / FT_PER_M if self.metric else ft
        return f"{math.floor(value * 10 + 1e-9) / 10:.1f} {'m' if self.metric else 'ft'}"

    def miles(self, mi: float) -> str:
        """ "2.1 mi", "3.4 km"."""
        return f"{plain(mi / MI_PER_KM, 1)} km" if self.metric else f"{plain(mi, 1)} mi"

    def area(self, ft2: float) -> str:
        """ "3,000 ft²", "279 m²"."""
        return f"{whole(ft2 / FT_PER_M**2)} m²" if self.metric else f"{whole(ft2)} ft²"

    def hose(self, diameter_in: float) -> str:
        """A hose size as it is called: "1.75 in", "45 mm"."""
        if not self.metric:
            return f"{plain(diameter_in)} in"
        return f"{NOMINAL_MM.get(diameter_in) or whole(diameter_in * 25.4)} mm"

    def tip(self, tip_in: float) -> str:
        """A tip as it is called: "1⅛ in", "15/16 in", "24 mm"."""
        if self.metric:
            return f"{plain(tip_in * 25.4, 0)} mm"
        ones, sixteenths = divmod(round(tip_in * 16), 16)
        if abs(tip_in * 16 - round(tip_in * 16)) > 1e-6:
            return f"{plain(tip_in, 3)} in"
        if not sixteenths:
            return f"{ones} in"
        fraction = FRACTIONS[sixteenths]
        gap = " " if ones and "/" in fraction else ""
        return f"{ones or ''}{gap}{fraction} in"

    def coefficient(self, us: float) -> str:
        """A hose's coefficient: of psi, 100 gpm and 100 ft, or of kPa, 100 L/min and 100 m."""
        return plain(us / COEFFICIENT_US_PER_SI, 3) if self.metric else plain(us)

    def lbf(self, lbf: float) -> str:
        """ "76 lbf", "337 N"."""
        return f"{whole(lbf / LBF_PER_N)} N" if self.metric else f"{whole(lbf)} lbf"

    def speed(self, ft_s: float) -> str:
        """ "35 ft/s", "10.7 m/s"."""
        return f"{plain(ft_s / FT_PER_M, 1)} m/s" if self.metric else f"{whole(ft_s)} ft/s"
