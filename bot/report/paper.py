"""The record on paper: activity log with 24-h times, timeline, water, lines, crews, air and PAR (reportlab, PDF)."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import tzinfo
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.styles import ParagraphStyle, getSampleStyleSheet
from reportlab.lib.units import inch
from reportlab.platypus import Image, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from bot.report.timeline import png
from handlers.incident.describing import SOURCE_WORDS
from handlers.incident.record import Record, clocks, response_line
from handlers.rig import Rig
from handlers.times import clock, duration, unit_name
from handlers.words import Words

_STYLES = getSampleStyleSheet()
BODY = ParagraphStyle("body", parent=_STYLES["BodyText"], fontSize=9, leading=11)
SMALL = ParagraphStyle("small", parent=BODY, fontSize=8, leading=10, textColor=colors.HexColor("#444444"))
HEAD = ParagraphStyle("head", parent=_STYLES["Heading3"], spaceBefore=8, spaceAfter=3)
TITLE = ParagraphStyle("title", parent=_STYLES["Heading1"], fontSize=16, leading=19, spaceAfter=2)
GRID = TableStyle(
    [
        ("FONTSIZE", (0, 0), (-1, -1), 8.5),
        ("LINEBELOW", (0, 0), (-1, -1), 0.25, colors.HexColor("#bbbbbb")),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("FONTNAME", (0, 0), (-1, 0), "Helvetica-Bold"),
    ]
)


def pdf(made: Record, rig: Rig, tz: tzinfo | None) -> bytes:
    """The record as a PDF of Letter pages."""
    fonts()
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=LETTER,
        leftMargin=0.7 * inch,
        rightMargin=0.7 * inch,
        topMargin=0.6 * inch,
        bottomMargin=0.6 * inch,
        title=f"Incident {made.incident}",
        author=made.department,
    )
    document.build(list(_story(made, rig, tz)), onFirstPage=_foot(made), onLaterPages=_foot(made))
    return out.getvalue()


def fonts() -> None:
    """Register a font that has fractions and dashes; matplotlib ships one."""
    from matplotlib import get_data_path
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    if "Crosslay" in pdfmetrics.getRegisteredFontNames():
        return
    folder = f"{get_data_path()}/fonts/ttf"
    pdfmetrics.registerFont(TTFont("Crosslay", f"{folder}/DejaVuSans.ttf"))
    pdfmetrics.registerFont(TTFont("Crosslay-Bold", f"{folder}/DejaVuSans-Bold.ttf"))
    for style in (BODY, SMALL):
        style.fontName = "Crosslay"
    for style in (HEAD, TITLE):
        style.fontName = "Crosslay-Bold"
    GRID.add("FONTNAME", (0, 1), (-1, -1), "Crosslay")
    GRID.add("FONTNAME", (0, 0), (-1, 0), "Crosslay-Bold")


def _foot(made: Record) -> Any:
    def draw(canvas: Any, document: Any) -> None:
        canvas.setFont("Crosslay", 7)
        canvas.drawString(0.7 * inch, 0.4 * inch, made.caution)
        canvas.drawRightString(LETTER[0] - 0.7 * inch, 0.4 * inch, f"page {document.page}")

    return draw


def text(words: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of plain words."""
    return Paragraph(escape(words), style)


def table(rows: list[list[Any]], widths: list[float]) -> Table:
    """Rows with a heading row, ruled; widths in inches."""
    return Table(rows, colWidths=[w * inch for w in widths], style=GRID, repeatRows=1, hAlign="LEFT")


def _story(made: Record, rig: Rig, tz: tzinfo | None) -> Iterator[Any]:
    scene = made.scene
    yield text(f"{made.department}: incident {made.incident}", TITLE)
    what = ", ".join(part for part in (scene.nature, scene.address) if part) or (
        "medical run" if scene.kind == "medical" else "fire"
    )
    start = made.rows[0].at.astimezone(tz) if tz else made.rows[0].at
    yield text(f"{what}. {start:%Y-%m-%d}, times local, 24-h clock ({start:%z}).")
    for line in clocks(scene, made.until):
        yield text(line)
    for response in made.responses:
        yield text(response_line(response, rig), SMALL)
    yield Spacer(1, 6)
    yield Image(io.BytesIO(png(made, rig, tz)), width=7.1 * inch, height=4.26 * inch)
    yield text("Activity log", HEAD)
    yield table(
        [["Time", "Unit", "By", "What"]]
        + [
            [
                clock(row.at, tz, seconds=True),
                unit_name(row.unit) if row.unit else "",
                row.who,
                _struck(row.text) if row.taken_back else text(row.text),
            ]
            for row in made.rows
        ],
        [0.75, 1.0, 0.8, 4.5],
    )
    yield from _water(made, Words.of(rig), tz)
    yield from _people(made, Words.of(rig), tz)


def _struck(words: str) -> Paragraph:
    return Paragraph(f"<strike>{escape(words)}</strike> (taken back)", SMALL)


def _water(made: Record, words: Words, tz: tzinfo | None) -> Iterator[Any]:
    if not made.water:
        return
    yield text("Water", HEAD)
    for use in made.water:
        yield text(f"{unit_name(use.unit)}: about {words.gal(use.used_gal)} pumped, by calculation.")
    if made.sources:
        yield text("Sources reported: " + ", ".join(SOURCE_WORDS[source] for source in made.sources) + ".", SMALL)
    rows = [["Line", words.gpm_unit, words.pressure_unit, "From", "To", ""]]
    for use in made.water:
        for line in use.lines:
            flow = f"{words.gpm_value(line.flow_gpm):,.0f}" if line.flow_gpm > 0 else "shut"
            end = clock(line.until, tz, seconds=True) if line.until else "still on"
            pressure = words.psi_bare(line.pressure_psi)
            rows.append([line.label, flow, pressure, clock(line.since, tz, seconds=True), end, line.change])
    if len(rows) > 1:
        yield table(rows, [2.2, 0.7, 0.6, 0.8, 0.8, 2.0])


def _people(made: Record, words: Words, tz: tzinfo | None) -> Iterator[Any]:
    if made.air:
        yield text("Crews inside and air", HEAD)
        rows = [["Crew", "People", "In", "Out", "Time", f"Gauges, {words.gauge_unit}"]]
        for use in made.air:
            end = use.left_at or made.until
            rows.append(
                [
                    unit_name(use.crew),
                    str(use.count or "–"),
                    clock(use.entered_at, tz),
                    clock(use.left_at, tz) if use.left_at else "still in",
                    duration((end - use.entered_at).total_seconds()),
                    ", ".join(f"{words.gauge_bare(psi)} at {clock(at, tz)}" for at, psi in use.gauges) or "–",
                ]
            )
        yield table(rows, [1.2, 0.7, 0.7, 0.8, 0.8, 2.8])
    check = made.scene.par
    if check is not None:
        yield text("Last PAR", HEAD)
        answers = {unit: (count, missing, at) for unit, count, missing, at in check.answered}
        rows = [["Unit", "Known", "Answered", "At"]]
        for unit, expected in check.expected:
            count, missing, at = answers.get(unit, (None, 0, None))
            told = "no answer" if at is None else f"{count if count is not None else 'no number'}"
            told += f", {missing} not reported" if missing else ""
            rows.append([unit_name(unit), str(expected or "–"), told, clock(at, tz) if at else "–"])
        yield table(rows, [1.6, 0.9, 2.0, 0.9])
