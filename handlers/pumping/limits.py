"""Where a lay meets its limits, all from the rig file: a caution, or above a hose's test pressure a refusal."""

from __future__ import annotations

from collections.abc import Iterable

from handlers.errors import Refusal
from handlers.pumping import hydraulics
from handlers.pumping.completion import CompleteLay, CompleteLine
from handlers.pumping.layout import HoseSection, JoinedLines
from handlers.pumping.network import Run, back_pressure_psi, leg_flows
from handlers.pumping.nozzles import HAND_TIP_LIMIT_IN, LOW_SHARE, MASTER_DEVICES, usual_psi
from handlers.rig import Hose, HoseKind, Rig
from handlers.words import Words


def check_hose(lay: CompleteLay, runs: tuple[Run, ...], rig: Rig, pump_psi: float | None = None) -> list[str]:
    """Cautions for hose pressure and speed, each hose once.

    Args:
        pump_psi: the pressure at the lay's discharge, where it isn't the one that the runs ask for.

    Raises:
        Refusal: a hose would stand above its service-test pressure.
    """
    words = Words.of(rig)
    cautions: dict[str, str] = {}
    for run in runs:
        pressure = run.pressure_psi if pump_psi is None else pump_psi
        for passage in run.passages:
            if isinstance(passage.piece, HoseSection | JoinedLines):
                for section, flow, _ in leg_flows(passage):
                    if section.hose:
                        _check_pressure(lay, run, rig.hose[section.hose], pressure, rig, cautions)
                        _check_speed(section, flow, rig, words, cautions)
            pressure -= passage.loss_psi
        _check_foot(run, run.pressure_psi if pump_psi is None else pump_psi, rig, cautions)
    return list(cautions.values())


def _check_foot(run: Run, pump_psi: float, rig: Rig, cautions: dict[str, str]) -> None:
    """Downhill, with the nozzle shut, the low end of the hose stands under the pump's pressure and the drop's."""
    words, standing = Words.of(rig), pump_psi - run.elevation_psi
    keys = [section.hose for passage in run.passages for section, _, _ in leg_flows(passage) if section.hose]
    if run.elevation_psi >= 0 or not keys:
        return
    hose = rig.hose[keys[-1]]
    if standing > rig.hose_kind[hose.kind].operating_psi:
        cautions.setdefault(
            f"{hose.key} foot",
            f"With the nozzle shut the low end stands at {words.psi(standing)}, above the operating pressure of "
            f"{words.hose(hose.diameter_in)} {hose.kind} hose.",
        )


def _check_pressure(lay: CompleteLay, run: Run, hose: Hose, psi: float, rig: Rig, cautions: dict[str, str]) -> None:
    kind, words = rig.hose_kind[hose.kind], Words.of(rig)
    size = words.hose(hose.diameter_in)
    if psi > kind.test_psi + 1e-6:
        raise Refusal(
            f"That asks for {words.psi(psi)} in {size} hose, above its service-test pressure of "
            f"{words.psi(kind.test_psi)}. {_what_to_change(run, hose, kind, rig)}"
        )
    if psi > kind.operating_psi + 1e-6:
        cautions.setdefault(
            f"{hose.key} pressure",
            f"{words.psi(psi)} is above the operating pressure of {size} {hose.kind} hose "
            f"({words.psi(kind.operating_psi)}).",
        )


def _what_to_change(run: Run, hose: Hose, kind: HoseKind, rig: Rig) -> str:
    """The longest lay of that hose at its test pressure, where it is a single run, or plain advice."""
    advice = "Use larger hose, a shorter lay, less flow, or a relay."
    sections = [
        passage for passage in run.passages if isinstance(passage.piece, HoseSection) and passage.piece.hose == hose.key
    ]
    if len(sections) != 1:
        return advice
    others = run.pressure_psi - sections[0].loss_psi
    per_ft = hydraulics.friction_psi(hose.coefficient, sections[0].flow_gpm, 1.0)
    words = Words.of(rig)
    longest = (kind.test_psi - others) / per_ft
    if longest < 50:
        return f"{words.gpm(sections[0].flow_gpm)} is too much for it: use larger hose or less flow."
    return f"At {words.gpm(sections[0].flow_gpm)} it reaches {words.feet_down(longest)}. {advice}"


def _check_speed(section: HoseSection, flow_gpm: float, rig: Rig, words: Words, cautions: dict[str, str]) -> None:
    speed = hydraulics.velocity_ft_s(flow_gpm, section.hose_in)
    if speed > rig.limits.velocity_ft_s:
        cautions.setdefault(
            f"{section.hose} speed",
            f"{words.gpm(flow_gpm)} is more than {words.hose(section.hose_in)} hose is good for "
            f"({words.speed(speed)}; limit {words.speed(rig.limits.velocity_ft_s)}).",
        )


def check_reaction(line: CompleteLine, reaction_lbf: float, rig: Rig) -> str | None:
    """A caution when the nozzle pushes harder than the people on the line are taken to hold."""
    if line.people is None:
        return None
    words, limits = Words.of(rig), rig.limits.reaction_lbf
    allowed = limits[min(line.people, len(limits)) - 1]
    if reaction_lbf <= allowed:
        return None
    origin = rig.origin("limits.reaction_lbf")
    needed = next((number for number, limit in enumerate(limits, start=1) if reaction_lbf <= limit), None)
    usual = f"common practice is {needed} people" if needed else f"more than {len(limits)} people are taken to hold"
    return f"{line.label}: nozzle reaction {words.lbf(reaction_lbf)} with {line.people} on it; {usual} ({origin})."


def check_nozzle(line: CompleteLine, run: Run, rig: Rig) -> str | None:
    """A caution for a nozzle far below its working range."""
    master = line.device in MASTER_DEVICES or (run.outlet.tip_in or 0.0) > HAND_TIP_LIMIT_IN
    usual = usual_psi(run.outlet, master, rig)
    if run.nozzle_psi >= LOW_SHARE * usual - 1e-6 or run.flow_gpm <= 0:
        return None
    words = Words.of(rig)
    return (
        f"{line.label}: {words.psi(run.nozzle_psi)} at the nozzle is far below its working range "
        f"(about {words.psi(usual)})."
    )


def check_eductor(runs: Iterable[Run], rig: Rig) -> list[str]:
    """Cautions for foam: the eductor must not push against too much, and nozzle and eductor must match."""
    words, cautions = Words.of(rig), []
    for run in runs:
        behind = back_pressure_psi(run)
        if behind is None:
            continue
        inlet, share = rig.hydraulics.eductor_inlet_psi, rig.hydraulics.eductor_back_share
        cautions.append("Nozzle and eductor must be rated for the same flow; the eductor's plate decides.")
        if behind > inlet * share + 1e-6:
            cautions.append(
                f"Back pressure {words.psi(behind)} is above {round(100 * share)} % of the inlet: it may not pick up "
                "foam. Shorten the hose behind the eductor."
            )
    return cautions


def check_pump(flow_gpm: float, pump_psi: float, intake_psi: float, on_tank: bool, rig: Rig) -> list[str]:
    """Cautions for the pump's rated points at net pressure, and for the tank's piping."""
    words, cautions = Words.of(rig), []
    net = hydraulics.net_pump_pressure_psi(pump_psi, intake_psi)
    points = [(point.net_psi, point.share) for point in rig.pump.points]
    capacity = hydraulics.pump_capacity_gpm(rig.pump.rated_gpm, points, net)
    if net > points[-1][0]:
        cautions.append(f"{words.psi(net)} net is above the pump's last test point ({words.psi(points[-1][0])}).")
    elif flow_gpm > capacity + 1e-6:
        cautions.append(
            f"{words.gpm(flow_gpm)} is above the pump's {words.gpm_down(capacity)} at {words.psi(net)} net pressure."
        )
    if on_tank and flow_gpm > rig.tank.to_pump_gpm + 1e-6:
        cautions.append(
            f"{words.gpm(flow_gpm)} is above what the tank-to-pump piping gives ({words.gpm(rig.tank.to_pump_gpm)}): "
            "that flow needs a supply."
        )
    return cautions


def highest_psi(flow_gpm: float, hoses: Iterable[str], rig: Rig) -> float:
    """The highest pump pressure for a flow: the hose's operating pressure, or where the pump's capacity falls to it."""
    words, points = Words.of(rig), [(point.net_psi, point.share) for point in rig.pump.points]
    pump_psi = hydraulics.highest_pump_psi(rig.pump.rated_gpm, points, flow_gpm)
    if not pump_psi:
        raise Refusal(f"{words.gpm(flow_gpm)} is above the pump's rating of {words.gpm(rig.pump.rated_gpm)}.")
    return min([pump_psi, *(rig.hose_kind[rig.hose[key].kind].operating_psi for key in hoses)])
