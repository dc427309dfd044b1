"""Pictures of pressures: the profile of a lay and the rig's pump chart. `draw(picture, rig)` makes the file's bytes."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from bot.errors import FileProblem
from grammar.commands import PumpPressure
from handlers.errors import CrosslayError
from handlers.outcome import Picture
from handlers.pumping.pressure import work_out
from handlers.rig import Rig

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FORMS = ("png", "pdf")
DPI = 130


class UnknownPictureError(CrosslayError):
    """The chart's file name must end in .png or .pdf."""


def draw(picture: Picture, rig: Rig) -> bytes:
    """The picture that an outcome asks for ("profile" or "chart"), in its form.

    Raises:
        UnknownPictureError: another picture or form.
        Refusal, NeedsAnswer: the lay can't be worked out (any more).
    """
    form = picture.form if picture.form in FORMS else "png"
    if picture.what == "chart":
        from bot.drawing.chart import chart_figure

        return render(chart_figure(rig), form)
    if picture.what == "profile" and isinstance(picture.command, PumpPressure):
        from bot.drawing.profile import profile_figure

        return render(profile_figure(work_out(picture.command.lays, rig), rig), form)
    raise UnknownPictureError(f"There is no picture “{picture.what}”.")


def render(figure: Figure, form: str) -> bytes:
    """A figure as PNG or PDF bytes; the same figure gives the same bytes."""
    out = io.BytesIO()
    metadata = {"CreationDate": None} if form == "pdf" else {"Software": None}
    figure.savefig(out, format=form, dpi=DPI, metadata=metadata)
    return out.getvalue()


def write_chart(rig: Rig, path: Path) -> str:
    """The rig's pump chart as a file, PNG or PDF by its ending; returns one line on what was written.

    Raises:
        UnknownPictureError: another ending.
        FileProblem: the file can't be written.
    """
    form = path.suffix.lstrip(".").casefold()
    if form not in FORMS:
        raise UnknownPictureError()
    content = draw(Picture("chart", form), rig)
    try:
        path.write_bytes(content)
    except OSError as fault:
        raise FileProblem(path, f"the chart can't be written here ({fault.strerror}); name another file.") from fault
    return f"The pump chart of {rig.name} is in {path}."
