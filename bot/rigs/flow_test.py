"""Writing a department's own flow test into its rig file: the coefficient goes in, everything else stays as it is."""

from __future__ import annotations

import os
from datetime import date

from msgspec.structs import replace

from bot import rigs
from bot.errors import FileProblem
from handlers.outcome import Outcome
from handlers.pumping.coefficient import MeasuredCoefficient
from handlers.rigfile.editing import with_coefficient


def carried_out(outcome: Outcome, known: rigs.Rigs, unit: str, on: date) -> Outcome:
    """An outcome whose measured coefficient is to be saved, with what became of it; from then on it counts."""
    measured = outcome.answer
    if not isinstance(measured, MeasuredCoefficient) or not measured.save:
        return outcome
    try:
        written = save(known, unit, measured, on)
    except FileProblem as problem:
        return replace(
            outcome, answer=replace(measured, save=False), how=(f"Not saved: {problem.message}", *outcome.how)
        )
    return replace(outcome, how=(written, *outcome.how[:1]))


def save(known: rigs.Rigs, unit: str, measured: MeasuredCoefficient, on: date) -> str:
    """Put a measured coefficient into a company's rig file; returns one line on what was written.

    The new text is read as a rig first, and the file is exchanged whole, so that it is never left half written.

    Raises:
        FileProblem: there is no rig file of one's own (the demonstration rig can't be changed), or it can't be written.
    """
    named = known.file_of(unit)
    if named is None:
        raise FileProblem(rigs.DEMONSTRATION, "the demonstration rig can't be changed; name your own rig file.")
    if measured.coefficient is None:
        raise FileProblem(named, "there is no measured coefficient to write.")
    text = with_coefficient(rigs.text_of(named), measured.hose, measured.coefficient, f"flow test, {on.isoformat()}")
    rigs.parse(text, str(named))
    fresh = named.with_name(named.name + ".new")
    try:
        fresh.write_text(text, encoding="utf-8")
        os.replace(fresh, named)
    except OSError as fault:
        raise FileProblem(named, f"the rig file can't be written ({fault.strerror}).") from fault
    known.read_again(unit)
    return f"C = {measured.coefficient:.4g} is in {named}, [hose.{measured.hose}]."
