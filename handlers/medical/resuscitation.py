"""What an arrest's clock has counted, in words: doses, shocks with their energy, pauses, the share of CPR."""

from __future__ import annotations

from datetime import datetime, tzinfo

from handlers.scene import ArrestClock
from handlers.times import clock, duration, listed


def ended_at(state: ArrestClock, now: datetime) -> datetime:
    """When CPR ended: pulses back or stopped; else `now`."""
    return min((at for at in (state.pulses_at, state.stopped_at) if at is not None), default=now)


def no_flow_s(state: ArrestClock, now: datetime) -> float:
    """Seconds without compressions since CPR was started, by the pauses that were reported."""
    end = ended_at(state, now)
    spans = ((begun, min(until or end, end)) for begun, until in state.pauses)
    return sum(max(0.0, (until - begun).total_seconds()) for begun, until in spans)


def cpr_share(state: ArrestClock, now: datetime) -> float | None:
    """The share of the time since CPR was started in which compressions went on, as reported; None for no time."""
    total = (ended_at(state, now) - state.started_at).total_seconds()
    return 1 - no_flow_s(state, now) / total if total > 0 else None


def share_words(state: ArrestClock, now: datetime) -> str:
    """ "CPR fraction 92 % of 13:20, no-flow 1:04 (as reported)"."""
    share = cpr_share(state, now)
    if share is None:
        return ""
    total = (ended_at(state, now) - state.started_at).total_seconds()
    if not state.pauses:
        return f"CPR fraction 100 % of {duration(total)}: no pause was reported."
    return (
        f"CPR fraction {share * 100:.0f} % of {duration(total)}, no-flow {duration(no_flow_s(state, now))} "
        "(by the pauses that were reported)."
    )


def arrest_lines(state: ArrestClock, now: datetime, tz: tzinfo | None) -> list[str]:
    """The arrest for a hand-over."""
    lines = [f"CPR started {clock(state.started_at, tz, seconds=True)}."]
    if state.doses:
        lines.append(f"Epinephrine {len(state.doses)}: {listed([clock(at, tz, seconds=True) for at in state.doses])}.")
    if state.shocks:
        shocks = [
            clock(at, tz, seconds=True) + (f" {joules:g} J" if joules else "")
            for at, joules in zip(state.shocks, (*state.joules, *(None,) * len(state.shocks)), strict=False)
        ]
        lines.append(f"Shocks {len(state.shocks)}: {listed(shocks)}.")
    if state.rhythms:
        lines.append("Rhythm: " + "; ".join(f"{clock(at, tz)} {words}" for at, words in state.rhythms) + ".")
    for at, words in sorted(
        (at, words)
        for at, words in ((state.pulses_at, "Pulses back"), (state.stopped_at, "CPR stopped"))
        if at is not None
    ):
        lines.append(f"{words} {clock(at, tz, seconds=True)}.")
    lines.append(f"CPR time so far {duration((ended_at(state, now) - state.started_at).total_seconds())}.")
    over = state.pulses_at is not None or state.stopped_at is not None
    share = share_words(state, now) if over or state.pauses else ""
    return [*lines, *([share] if share else [])]
