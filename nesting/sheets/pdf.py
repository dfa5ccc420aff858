"""Drawings as PDF: a page each at the size of its paper, lines as lines, letters as letters.

Drawn with matplotlib, whose face of lettering goes into the file. Loaded only when asked for.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.errors import OutputError
from nesting.sheets.drawing import Anchor, Drawing, Entity, Text
from nesting.sheets.pen import PENS
from nesting.sheets.picture import CAPITAL_SHARE, POINTS_PER_MM, line_style, strokes
from nesting.sheets.whole_file import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MARGIN_MM = 10.0
"""White around the frame, paper mm."""

AS_DRAWN: Any = {"pdf.fonttype": 42, "path.simplify": False, "pdf.compression": 6}
"""TrueType, so that a reader has the letters; no point of a line left out."""

NO_DATE = {"Creator": "salvage-nest", "Producer": None, "CreationDate": None}
"""A drawing gives the same bytes always."""

HANGING = {Anchor.LEFT: "left", Anchor.CENTRE: "center", Anchor.RIGHT: "right"}


def write_pdf(drawings: Sequence[Drawing], path: Path, *, overwrite: bool = False) -> Path:
    """Write drawings as PDF, a page each, and return the path.

    Raises
    ------
    OutputError
        If matplotlib is not there, the file is and may not be overwritten, or the folder
        cannot be written.
    """
    return write_whole(path, pdf_content(drawings), overwrite=overwrite)


def pdf_content(drawings: Sequence[Drawing]) -> bytes:
    """Return what a file holds of drawings."""
    try:
        import matplotlib as mpl
        from matplotlib.backends.backend_pdf import PdfPages
    except ImportError as error:
        raise OutputError("a PDF needs matplotlib: install salvage-nest anew") from error
    stream = io.BytesIO()
    with mpl.rc_context(AS_DRAWN), warnings.catch_warnings():
        # A letter that the face does not have becomes an empty box.
        warnings.filterwarnings("ignore", message=r"Glyph \d+")
        with PdfPages(stream, metadata={**NO_DATE, "Title": drawings[0].title}) as pages:
            for drawing in drawings:
                pages.savefig(_page(drawing))
    return stream.getvalue()


def _page(drawing: Drawing) -> Figure:
    from matplotlib.figure import Figure

    wide, high = (side / drawing.scale + 2 * MARGIN_MM for side in drawing.size_mm)
    figure = Figure(figsize=(wide / 25.4, high / 25.4))
    figure.patch.set_visible(False)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    margin = MARGIN_MM * drawing.scale
    low_x, low_y, high_x, high_y = drawing.frame
    axes.set_xlim(low_x - margin, high_x + margin)
    axes.set_ylim(low_y - margin, high_y + margin)
    for entity in drawing.entities:
        if isinstance(entity, Text):
            _letter(axes, entity, drawing.scale)
        else:
            _stroke(axes, entity)
    return figure


def _stroke(axes: Any, entity: Entity) -> None:
    from matplotlib.lines import Line2D

    pen = PENS[entity.role]
    for points in strokes(entity):
        x, y = zip(*points, strict=True)
        line = Line2D(
            x, y, color=pen.ink.value, linewidth=pen.width_mm * POINTS_PER_MM,
            linestyle=line_style(pen), clip_on=False,
            solid_capstyle="round", dash_capstyle="butt", solid_joinstyle="round",
        )  # fmt: skip
        axes.add_artist(line)


def _letter(axes: Any, text: Text, scale: float) -> None:
    axes.text(
        *text.at, text.text,
        fontfamily="DejaVu Sans", fontsize=text.height_mm / scale * POINTS_PER_MM / CAPITAL_SHARE,
        ha=HANGING[text.anchor], va="baseline", color=PENS[text.role].ink.value,
        parse_math=False, clip_on=False,
    )  # fmt: skip
