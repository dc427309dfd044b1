"""Writing a department's own flow test into its rig file: the coefficient goes in, everything else stays as it is."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

from bot import rigs
from bot.errors import FileProblem
from handlers.pumping.coefficient import MeasuredCoefficient
from handlers.rigfile.editing import with_coefficient


def save(path: str | Path, measured: MeasuredCoefficient, on: date) -> str:
    """Put a measured coefficient into a rig file; returns one line on what was written.

    The new text is read as a rig first, and the file is exchanged whole, so that it is never left half written.

    Raises:
        FileProblem: there is no rig file of one's own (the demonstration rig can't be changed), or it can't be written.
    """
    if not path:
        raise FileProblem(rigs.DEMONSTRATION, "the demonstration rig can't be changed; name your own rig file.")
    if measured.coefficient is None:
        raise FileProblem(path, "there is no measured coefficient to write.")
    named = Path(path).expanduser()
    text = with_coefficient(rigs.text_of(named), measured.hose, measured.coefficient, f"flow test, {on.isoformat()}")
    rigs.parse(text, str(named))
    fresh = named.with_name(named.name + ".new")
    try:
        fresh.write_text(text, encoding="utf-8")
        os.replace(fresh, named)
    except OSError as fault:
        raise FileProblem(named, f"the rig file can't be written ({fault.strerror}).") from fault
    return f"C = {measured.coefficient:.4g} is in {named}, [hose.{measured.hose}]."
