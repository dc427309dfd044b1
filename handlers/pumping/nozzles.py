"""Which nozzle is on a line: what was said of it, completed with what the rig carries, every assumption told."""

from __future__ import annotations

import msgspec

from grammar.commands import SaidLine, SaidNozzle
from handlers import rig as rigs
from handlers.errors import NeedsAnswer, Refusal
from handlers.pumping import hydraulics
from handlers.pumping.layout import Outlet
from handlers.rigfile.metric import GAL_PER_L, IN_PER_MM
from handlers.words import Words

MASTER_DEVICES = ("deck_gun", "monitor", "aerial")
HAND_TIP_LIMIT_IN = 1.25
"""The largest tip that is used by hand (common practice); larger ones are taken as master streams."""
USEFUL_FT_S = (10.0, 25.0)
"""Speeds between which a flow is offered as a choice for a hose (common practice)."""
HIGHEST_NOZZLE_PSI = 400.0
LOW_SHARE = 0.6
"""A nozzle below this share of its usual pressure has no working stream any more (common practice)."""
AGAINST_TIP = (0.6, 1.5)
"""A flow that needs less or more than these shares of a tip's usual pressure contradicts the tip: it is asked (common
practice: 40 to 65 psi by hand, up to 100 in a master stream)."""
FOG_CHOICES = (15.0, 30.0, 60.0, 95.0, 125.0, 150.0, 200.0, 250.0, 300.0, 500.0, 750.0, 1000.0)
FOG_CHOICES_METRIC = tuple(lpm * GAL_PER_L for lpm in (60, 115, 230, 360, 475, 550, 750, 950, 1150, 1900, 2850, 3800))


class Fitted(msgspec.Struct, frozen=True):
    """A nozzle as it will flow: `told` says what was assumed of it, "" when all was said."""

    outlet: Outlet
    told: str = ""
    name: str = ""


def outlet_of(nozzle: rigs.RigNozzle, rig: rigs.Rig, nozzle_psi: float | None = None) -> Outlet:
    """A nozzle of the rig file at its own pressure, or at the one that was said."""
    psi = nozzle_psi or nozzle.pressure_psi
    if nozzle.kind == "smooth" and nozzle.tip_in is not None:
        flow = hydraulics.smooth_bore_gpm(nozzle.tip_in, psi, rig.hydraulics.smooth_constant)
        return Outlet(flow, psi, "smooth", nozzle.tip_in)
    return Outlet(hydraulics.fog_gpm(nozzle.flow_gpm or 0.0, nozzle.pressure_psi, psi), psi, "fog")


def fit(line: SaidLine, rig: rigs.Rig, hose: rigs.Hose | None, carried: str | None, flow_gpm: float | None) -> Fitted:
    """The nozzle of a line.

    Args:
        hose: the hose at the nozzle; None for a pre-piped gun.
        carried: key of the nozzle that the rig carries on this line, when it is a line of the rig.
        flow_gpm: the stated flow of one such line (already shared out when it was said of all).

    Raises:
        NeedsAnswer: nothing was said and the rig file has no nozzle for it.
        Refusal: a value that no nozzle has.
    """
    said = line.nozzle
    _check(said, flow_gpm, rig)
    if said.kind in ("cellar", "piercing"):
        carried, said = said.kind, msgspec.structs.replace(said, kind="fog")
    if said.tip_in is not None and said.kind == "fog":
        raise _tip_or_fog(line, rig, flow_gpm)
    if said.tip_in is not None:
        return _by_tip(said.tip_in, said, line, rig, flow_gpm)
    if hose is not None and rigs.is_supply(hose, rig) and not carried and _none_said(line, said):
        raise _which_nozzle(line, rig, hose)
    if flow_gpm is not None:
        return _by_flow(flow_gpm, said, line, rig, rig.nozzle.get(carried or (hose.nozzle if hose else None) or ""))
    usual = carried or _device_nozzle(line, rig) or (hose.nozzle if hose else None)
    nozzle = rig.nozzle.get(usual) if usual else None
    if nozzle is None or ((said.kind == "smooth_bore") != (nozzle.kind == "smooth") and said.kind is not None):
        raise _which_nozzle(line, rig, hose)
    words = Words.of(rig)
    outlet = outlet_of(nozzle, rig, said.nozzle_psi)
    name = nozzle.name or nozzle.key
    told = (
        f"{name}, {words.gpm(outlet.flow_gpm)} at {words.psi(outlet.nozzle_psi)} ({rig.origin(f'nozzle.{nozzle.key}')})"
    )
    return Fitted(outlet, told, name)


def _none_said(line: SaidLine, said: SaidNozzle) -> bool:
    """Nothing says that there is a nozzle: supply hose has none by itself (convention 15)."""
    return line.device is None and said.kind is None and said.nozzle_psi is None


def usual_psi(outlet: Outlet, tip_is_master: bool, rig: rigs.Rig) -> float:
    """The pressure that such a nozzle is usually worked at."""
    values = rig.hydraulics
    if outlet.kind == "smooth":
        return values.smooth_master_psi if tip_is_master else values.smooth_hand_psi
    rated = [nozzle.pressure_psi for nozzle in rig.nozzle.values() if nozzle.kind == "fog"]
    return min([LOW_FOG_PSI, *rated])


LOW_FOG_PSI = 75.0
"""Low-pressure fog nozzles are rated at 50 or 75 psi; what isn't in the rig file is taken as the latter."""


def _check(said: SaidNozzle, flow_gpm: float | None, rig: rigs.Rig) -> None:
    if flow_gpm is not None and flow_gpm <= 0:
        raise Refusal("A flow must be above zero: say it again.")
    if said.nozzle_psi is not None and not 0 < said.nozzle_psi <= HIGHEST_NOZZLE_PSI:
        highest = Words.of(rig).psi(HIGHEST_NOZZLE_PSI)
        raise Refusal(f"A nozzle pressure must be above zero and not above {highest}: say it again.")
    if said.tip_in is not None and not 0 < said.tip_in <= 6:
        raise Refusal("There is no such tip: say its diameter again, as in fifteen sixteenths.")


def _is_master(line: SaidLine, rig: rigs.Rig, tip_in: float | None = None) -> bool:
    named = rig.line.get(line.name or "")
    if line.device in MASTER_DEVICES or (named is not None and named.kind == "gun"):
        return True
    return tip_in is not None and tip_in > HAND_TIP_LIMIT_IN


def _by_tip(tip_in: float, said: SaidNozzle, line: SaidLine, rig: rigs.Rig, flow_gpm: float | None) -> Fitted:
    words, values = Words.of(rig), rig.hydraulics
    if flow_gpm is not None and said.nozzle_psi is None:
        psi = hydraulics.smooth_bore_psi(tip_in, flow_gpm, values.smooth_constant)
        usual = values.smooth_master_psi if _is_master(line, rig, tip_in) else values.smooth_hand_psi
        if not AGAINST_TIP[0] * usual <= psi <= AGAINST_TIP[1] * usual:
            raise _tip_or_flow(tip_in, flow_gpm, psi, usual, line, rig)
        return Fitted(Outlet(flow_gpm, psi, "smooth", tip_in), name=f"{words.tip(tip_in)} tip")
    master = _is_master(line, rig, tip_in)
    psi = said.nozzle_psi or (values.smooth_master_psi if master else values.smooth_hand_psi)
    flow = hydraulics.smooth_bore_gpm(tip_in, psi, values.smooth_constant)
    told = "" if said.nozzle_psi else (
        f"{words.tip(tip_in)} tip at {words.psi(psi)}, {'master stream' if master else 'hand line'}, "
        f"{words.gpm(flow)}"
    )  # fmt: skip
    return Fitted(Outlet(flow, psi, "smooth", tip_in), told, f"{words.tip(tip_in)} tip")


def _tip_or_flow(
    tip_in: float, flow_gpm: float, psi: float, usual_psi: float, line: SaidLine, rig: rigs.Rig
) -> NeedsAnswer:
    """ "95 gpm through an inch and an eighth": one of the two isn't so."""
    words, replace = Words.of(rig), msgspec.structs.replace
    flows = hydraulics.smooth_bore_gpm(tip_in, usual_psi, rig.hydraulics.smooth_constant)
    by_tip = replace(line.nozzle, flow_gpm=None)
    by_flow = replace(line.nozzle, kind=None, tip_in=None)
    return NeedsAnswer(
        f"{words.gpm(flow_gpm)} through a {words.tip(tip_in)} tip is {words.psi(psi)} at the nozzle; its usual "
        f"{words.psi(usual_psi)} flow {words.gpm(flows)}. Which is it?",
        part=line,
        slot="nozzle",
        options=(
            (f"{words.tip(tip_in)} tip, {words.gpm(flows)}", replace(line, nozzle=by_tip)),
            (f"fog, {words.gpm(flow_gpm)}", replace(line, nozzle=by_flow)),
        ),
    )


def _tip_or_fog(line: SaidLine, rig: rigs.Rig, flow_gpm: float | None) -> NeedsAnswer:
    """ "Inch and an eighth tip, fog at 250": a line has one nozzle."""
    words, replace = Words.of(rig), msgspec.structs.replace
    tip, fog = replace(line.nozzle, kind="smooth_bore", flow_gpm=None), replace(line.nozzle, tip_in=None)
    at = f", {words.gpm(flow_gpm)}" if flow_gpm is not None else ""
    return NeedsAnswer(
        "A tip and a fog nozzle were said of one line. Which is it?",
        part=line,
        slot="nozzle",
        options=(
            (f"{words.tip(line.nozzle.tip_in or 0.0)} tip", replace(line, nozzle=tip)),
            (f"fog{at}", replace(line, nozzle=fog)),
        ),
    )


def _by_flow(flow_gpm: float, said: SaidNozzle, line: SaidLine, rig: rigs.Rig, usual: rigs.RigNozzle | None) -> Fitted:
    """A stated flow means a fog nozzle rated for it (convention 4), unless a smooth bore was said."""
    words, values = Words.of(rig), rig.hydraulics
    if said.kind == "smooth_bore":
        master = _is_master(line, rig)
        psi = said.nozzle_psi or (values.smooth_master_psi if master else values.smooth_hand_psi)
        tip_in = hydraulics.smooth_bore_tip_in(flow_gpm, psi, values.smooth_constant)
        told = f"smooth bore of {words.tip(tip_in)}, {words.gpm(flow_gpm)} at {words.psi(psi)}"
        return Fitted(Outlet(flow_gpm, psi, "smooth", tip_in), told, f"{words.tip(tip_in)} tip")
    if said.nozzle_psi is not None:
        return Fitted(Outlet(flow_gpm, said.nozzle_psi), name=f"fog nozzle, {words.gpm(flow_gpm)}")
    if usual is not None and usual.kind == "fog" and usual.flow_gpm == flow_gpm:
        origin = rig.origin(f"nozzle.{usual.key}")
        told = f"{usual.name or usual.key}, {words.gpm(flow_gpm)} at {words.psi(usual.pressure_psi)} ({origin})"
        return Fitted(outlet_of(usual, rig), told, usual.name or usual.key)
    told = f"fog nozzle, {words.gpm(flow_gpm)} at {words.psi(values.fog_psi)}"
    if usual is not None and usual.kind == "smooth" and said.kind is None:
        told += f", not the usual {usual.name or usual.key}"
    return Fitted(Outlet(flow_gpm, values.fog_psi), told, f"fog nozzle, {words.gpm(flow_gpm)}")


def _device_nozzle(line: SaidLine, rig: rigs.Rig) -> str | None:
    """A monitor takes the deck gun's tip when none was said (common practice: the gun's top comes off)."""
    if line.device not in ("monitor", "deck_gun"):
        return None
    return next((carried.nozzle for carried in rig.line.values() if carried.kind == "gun"), None)


def tips_of(rig: rigs.Rig) -> tuple[float, ...]:
    """Tips to choose from, in; whole millimetres for a metric rig, so that a tip is the one that it is called."""
    tips = rig.hydraulics.tips_in
    return tuple(sorted({round(tip / IN_PER_MM) * IN_PER_MM for tip in tips})) if Words.of(rig).metric else tips


def _which_nozzle(line: SaidLine, rig: rigs.Rig, hose: rigs.Hose | None) -> NeedsAnswer:
    words, values = Words.of(rig), rig.hydraulics
    master = _is_master(line, rig)
    psi = values.smooth_master_psi if master else values.smooth_hand_psi

    def useful(flow: float) -> bool:
        if hose is None:
            return 250 <= flow <= 1250
        return USEFUL_FT_S[0] <= hydraulics.velocity_ft_s(flow, hose.diameter_in) <= USEFUL_FT_S[1]

    tips = [tip for tip in tips_of(rig)
            if useful(hydraulics.smooth_bore_gpm(tip, psi, values.smooth_constant))]  # fmt: skip
    flows = [flow for flow in (FOG_CHOICES_METRIC if words.metric else FOG_CHOICES) if useful(flow)]
    options: list[tuple[str, SaidLine]] = []
    if line.nozzle.kind != "fog":
        for tip in tips[-2:]:
            nozzle = msgspec.structs.replace(line.nozzle, kind="smooth_bore", tip_in=tip)
            options.append((f"{words.tip(tip)} tip", msgspec.structs.replace(line, nozzle=nozzle)))
    if line.nozzle.kind != "smooth_bore":
        for flow in flows[-2:]:
            nozzle = msgspec.structs.replace(line.nozzle, kind="fog", flow_gpm=flow)
            options.append((f"fog, {words.gpm(flow)}", msgspec.structs.replace(line, nozzle=nozzle)))
    what = f"{words.hose(hose.diameter_in)} line" if hose else (line.device or "").replace("_", " ")
    text = f"Which nozzle{f' on the {what}' if what else ''}? Say its tip or its flow."
    return NeedsAnswer(text, part=line, slot="nozzle", options=tuple(options))
