"""Judging a hydrant: percent drop and what it allows, flow at 20 psi, pitot reading, class.

"More" is in multiples of the flow already drawn, not in hand lines (convention 10). What it gives is rounded down.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from msgspec import UNSET, UnsetType

from grammar.commands import Hydrant, HydrantFlow
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import HydrantRead
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.metric import GAL_PER_L
from handlers.rigfile.sections import HydrantClass
from handlers.scene import Scene
from handlers.words import Words, plain

# --- formulas


def drop_percent(static_psi: float, residual_psi: float) -> float:
    """(static − residual)·100/static (IFSTA Pumping Apparatus Driver/Operator Handbook, as quoted on study cards)."""
    return (static_psi - residual_psi) * 100 / static_psi


def more_same_flows(percent: float, bands: Iterable[tuple[float, int]]) -> int:
    """How many times the flow already drawn can be added: to 10 % three, to 15 % two, to 25 % one, else none (IFSTA).

    Print leaves gaps (0–10, 11–15, 16–25); they are closed upwards: ≤ 10, ≤ 15, ≤ 25.
    """
    return next((more for up_to, more in bands if percent <= up_to + 1e-9), 0)


def flow_at_residual_gpm(
    static_psi: float, residual_psi: float, flow_gpm: float, wanted_psi: float, exponent: float = 0.54
) -> float:
    """Flow that leaves a wanted residual: Q_R = Q_F·(h_R/h_F)^0.54 (NFPA 291; FPT 102 Water Supply, slide 1)."""
    return float(flow_gpm * ((static_psi - wanted_psi) / (static_psi - residual_psi)) ** exponent)


def residual_at_flow_psi(
    static_psi: float, residual_psi: float, test_gpm: float, flow_gpm: float, exponent: float = 0.54
) -> float:
    """Pressure left at a flow: the same curve turned round (FPT 102 Water Supply, slide 16: exponent 1.85)."""
    return float(static_psi - (static_psi - residual_psi) * (flow_gpm / test_gpm) ** (1 / exponent))


def pitot_gpm(outlet_in: float, pitot_psi: float, coefficient: float, constant: float = 29.84) -> float:
    """Flow of an open outlet: Q = 29.84·c·d²·√p (NFPA 291; Hydraulic Institute Data Book, table 3.D.1 for c = 1)."""
    return constant * coefficient * outlet_in**2 * math.sqrt(pitot_psi)


def hydrant_class(flow_at_20psi_gpm: float, classes: Iterable[HydrantClass]) -> HydrantClass:
    """AA from 1,500, A from 1,000, B from 500 gpm at 20 psi, else C (NFPA 291, as quoted)."""
    return next(kind for kind in classes if flow_at_20psi_gpm >= kind.at_least_gpm)


# --- answers


class HydrantJudged(Answer, frozen=True):
    """Answer of `hydrant`; `more_gpm` by the drop's rule. The last three only where a flow was given (or is known)."""

    drop_percent: float
    more_same_flows: int
    more_gpm: float | UnsetType = UNSET
    flow_at_20psi_gpm: float | UnsetType = UNSET
    hydrant_class: str | UnsetType = UNSET


class PitotFlow(Answer, frozen=True):
    """Answer of `hydrant_flow`."""

    flow_gpm: float
    flow_at_20psi_gpm: float | UnsetType = UNSET
    hydrant_class: str | UnsetType = UNSET


def _at_20(static: float, residual: float, flow: float, rig: Rig) -> tuple[float | None, str]:
    """Flow at the rating residual, or None and why not."""
    words, wanted = Words.of(rig), rig.hydrant.residual_psi
    if static <= wanted:
        return None, f"Static is not above {words.psi(wanted)}: a flow at {words.psi(wanted)} can't be worked out."
    if residual >= static:
        return None, "No drop on the gauge: the flow at 20 psi can't be worked out from this reading."
    return flow_at_residual_gpm(static, residual, flow, wanted, rig.hydrant.exponent), ""


@handle.register
def _hydrant(command: Hydrant, scene: Scene, rig: Rig, said: Said) -> Outcome:
    pump, words, values = scene.pump(said.unit), Words.of(rig), rig.hydrant
    static = command.static_psi if command.static_psi is not None else pump.static_psi
    residual = command.residual_psi if command.residual_psi is not None else pump.residual_psi
    _check_gauges(command, static, residual)
    assert static is not None
    assert residual is not None
    flow = command.flow_gpm if command.flow_gpm is not None else (pump.flow_gpm or None)
    if flow is not None and flow <= 0:
        raise Refusal("A flow must be above zero: say it again.")
    percent = drop_percent(static, residual)
    more = more_same_flows(percent, [(band.up_to_percent, band.more) for band in values.drop_bands])
    how = [f"{words.psi_bare(static)} static − {words.psi_bare(residual)} residual = {plain(percent, 1)} % drop"]
    assumed = (f"the {words.gpm(flow)} that flow now",) if flow is not None and command.flow_gpm is None else ()
    more_gpm: float | UnsetType = UNSET
    at_20: float | None = None
    cautions = []
    lead = ""
    if flow is not None:
        more_gpm = more * flow
        at_20, why_not = _at_20(static, residual, flow, rig)
        if more and at_20 is not None and at_20 < flow + more_gpm:
            lead = f"{words.gpm_down(max(0.0, at_20 - flow))} more at most"
            how.append(f"by the drop alone: {_times(more)} more{_gpm_more(more_gpm, words)}")
            cautions.append(f"The lower of the two governs: what leaves {words.psi(values.residual_psi)} in the main.")
        if at_20 is not None:
            kind = hydrant_class(at_20, values.classes)
            how.append(
                f"{words.gpm_down(at_20)} at {words.psi(values.residual_psi)} (class {kind.name}, {kind.colour})"
            )
        else:
            cautions.append(why_not)
        if command.second and pump.available_gpm and at_20 is not None:
            both = words.gpm_down(pump.available_gpm + at_20)
            how.append(f"With the first hydrant {both} at most; two on one main give less.")
    if residual == static and flow is None:
        cautions.append("No drop on the gauge: read both again while water flows.")
    if residual < values.low_intake_psi:
        cautions.append(
            f"Residual is under {words.psi(values.low_intake_psi)}: draw less, or it may collapse the supply."
        )
    return Outcome(
        intent=command.intent,
        lead=lead or _more(more, more_gpm, words),
        how=tuple(how),
        answer=HydrantJudged(
            percent, more, more_gpm, UNSET if at_20 is None else at_20,
            UNSET if at_20 is None else hydrant_class(at_20, values.classes).name,
        ),
        assumed=assumed,
        cautions=tuple(cautions),
        events=(HydrantRead(static, residual, flow, at_20),) if scene.open else (),
    )  # fmt: skip


def _check_gauges(command: Hydrant, static: float | None, residual: float | None) -> None:
    if static is None:
        raise NeedsAnswer("What was the static pressure, before water flowed?", part=command, slot="static_psi")
    if residual is None:
        raise NeedsAnswer("What is the residual pressure, while it flows?", part=command, slot="residual_psi")
    if static <= 0 or residual < 0:
        raise Refusal("Static and residual are gauge readings above zero: read them again.")
    if residual > static:
        raise Refusal("The residual can't be above the static pressure: read both again.")


def _more(more: int, more_gpm: float | UnsetType, words: Words) -> str:
    if more == 0:
        return "Less than the same flow again"
    told = _times(more)
    return f"{told[:1].upper()}{told[1:]} more{_gpm_more(more_gpm, words)}"


def _times(more: int) -> str:
    """ "the same flow twice"."""
    times = {1: "once", 2: "twice", 3: "three times"}.get(more, f"{more} times")
    return f"the same flow {times}"


def _gpm_more(more_gpm: float | UnsetType, words: Words) -> str:
    return f": {words.gpm_down(more_gpm)} more" if isinstance(more_gpm, float | int) else ""


def _outlet_named(coefficient: float, rig: Rig) -> str:
    """The kind of outlet that a coefficient stands for, and what the other kinds have."""
    kinds = rig.hydrant.outlet_coefficients
    name = next((kind for kind, value in kinds.items() if value == coefficient), None)
    others = ", ".join(f"{kind} {plain(value)}" for kind, value in kinds.items() if kind != name)
    return f" ({name} outlet; {others})" if name else ""


def _pitot_work(pitot_psi: float, outlet_in: float, coefficient: float, constant: float, words: Words) -> str:
    """ "29.84 × 0.9 × 2.5² × √40"; where metric, in mm and the pitot's own unit, with the constant that gives L/min."""
    unit = words.psi_value(1.0)
    if words.metric:
        constant *= 1 / (GAL_PER_L * 25.4**2 * unit**0.5)
    size = plain(outlet_in * 25.4, 0) if words.metric else plain(outlet_in)
    digits = 4 if words.metric else 2
    return f"{plain(constant, digits)} × {plain(coefficient)} × {size}² × √{plain(pitot_psi * unit)}"


@handle.register
def _pitot(command: HydrantFlow, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words, values = Words.of(rig), rig.hydrant
    outlet = command.outlet_in if command.outlet_in is not None else values.outlet_in
    coefficient = command.coefficient if command.coefficient is not None else values.outlet_coefficient
    if not 0 < command.pitot_psi <= 300 or not 0 < outlet <= 8 or not 0 < coefficient <= 1:
        raise Refusal("Read the pitot gauge again: pressure, outlet size or coefficient can't be.")
    flow = pitot_gpm(outlet, command.pitot_psi, coefficient, values.pitot_constant)
    assumed = []
    if command.outlet_in is None:
        assumed.append(f"{words.hose(outlet)} outlet")
    if command.coefficient is None:
        assumed.append(f"coefficient {plain(coefficient)}{_outlet_named(coefficient, rig)}")
    at_20: float | None = None
    how = [_pitot_work(command.pitot_psi, outlet, coefficient, values.pitot_constant, words)]
    cautions: tuple[str, ...] = ()
    if command.static_psi is not None and command.residual_psi is not None:
        _check_gauges(Hydrant(command.static_psi, command.residual_psi), command.static_psi, command.residual_psi)
        at_20, why_not = _at_20(command.static_psi, command.residual_psi, flow, rig)
        if at_20 is not None:
            kind = hydrant_class(at_20, values.classes)
            how.append(
                f"{words.gpm_down(at_20)} at {words.psi(values.residual_psi)} (class {kind.name}, {kind.colour})"
            )
        cautions = (why_not,) if why_not else ()
    return Outcome(
        intent=command.intent,
        lead=words.gpm_down(flow),
        how=tuple(how),
        answer=PitotFlow(
            flow, UNSET if at_20 is None else at_20,
            UNSET if at_20 is None else hydrant_class(at_20, values.classes).name,
        ),
        assumed=tuple(assumed),
        cautions=cautions,
        events=(HydrantRead(command.static_psi, command.residual_psi, flow, at_20),) if scene.open else (),
    )  # fmt: skip
