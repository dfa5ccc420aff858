"""Drawings as PDF: a page each at the size of its paper, lines as lines, letters as letters.

Drawn with reportlab, which is loaded only when asked for; of the faces of lettering
(:mod:`nesting.faces`) what is used goes into the file.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.errors import OutputError
from nesting.faces import Face, as_lettered, face_file, runs
from nesting.sheets.drawing import Anchor, Area, Circle, Drawing, Entity, Point, Text
from nesting.sheets.letter_order import as_seen
from nesting.sheets.pen import DASH_PAPER_MM, PENS, Pen, shaded
from nesting.sheets.picture import CAPITAL_SHARE, POINTS_PER_MM, strokes
from nesting.sheets.whole_file import write_whole

if TYPE_CHECKING:
    from reportlab.lib.colors import Color
    from reportlab.pdfgen.canvas import Canvas

MARGIN_MM = 10.0
"""White around the frame, paper mm."""

ROUND, BUTT = 1, 0
"""Ends and corners of lines, by their numbers in PDF (ISO 32000-1, tables 54 and 55)."""

MANY_RINGS = 40
"""An area of so many rings is worth being held."""

BEYOND_ANY_PAGE = (-15_000, -15_000, 15_000, 15_000)
"""Points: what an area that is held may reach over; nothing of it is cut off."""

EVEN_ODD = 0
"""How reportlab is told that a ring within a ring is left white (ISO 32000-1, 8.5.3.3.3)."""


def write_pdf(drawings: Sequence[Drawing], path: Path, *, overwrite: bool = False) -> Path:
    """Write drawings as PDF, a page each, and return the path.

    Raises
    ------
    OutputError
        If reportlab or matplotlib is not there, the file is and may not be overwritten, or the
        folder cannot be written.
    """
    return write_whole(path, pdf_content(drawings), overwrite=overwrite)


def pdf_content(drawings: Sequence[Drawing]) -> bytes:
    """Return what a file holds of drawings: the same bytes always."""
    try:
        from reportlab import rl_config
        from reportlab.pdfgen.canvas import Canvas
    except ImportError as error:
        raise OutputError("a PDF needs reportlab: install salvage-nest anew") from error
    _register(Face.PLAIN)
    stream = io.BytesIO()
    # Types of the library take a name for a number.
    face: Any = Face.PLAIN.value
    canvas = Canvas(stream, invariant=1, pageCompression=1, initialFontName=face)
    # Plain bytes, as every reader takes them: letters in their place cost a fifth of the time.
    rl_config.useA85 = 0
    canvas.setTitle(drawings[0].title)
    canvas.setCreator("salvage-nest")
    for drawing in drawings:
        _draw_page(canvas, drawing)
    canvas.save()
    return stream.getvalue()


@cache
def _register(face: Face) -> None:
    """Tell the library where a face lies, once."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    pdfmetrics.registerFont(TTFont(face.value, str(face_file(face))))


@dataclass(frozen=True)
class _Page:
    """A page of a canvas, and where a drawing's points come to lie on it."""

    canvas: Canvas
    low: Point
    scale: float

    def at(self, point: Point) -> Point:
        """Return a place of the drawing in points of the page."""
        x, y = (
            (value - low) / self.scale + MARGIN_MM
            for value, low in zip(point, self.low, strict=True)
        )
        return x * POINTS_PER_MM, y * POINTS_PER_MM


def _draw_page(canvas: Canvas, drawing: Drawing) -> None:
    sides = (side / drawing.scale + 2 * MARGIN_MM for side in drawing.size_mm)
    wide, high = (side * POINTS_PER_MM for side in sides)
    canvas.setPageSize((wide, high))
    canvas.setLineJoin(ROUND)
    page, held = _Page(canvas, drawing.frame[:2], drawing.scale), None
    for entity in drawing.entities:
        pen = PENS[entity.role]
        if pen != held:
            _take(canvas, pen)
            held = pen
        if isinstance(entity, Text):
            _letter(page, entity)
        elif isinstance(entity, Area):
            _fill(page, entity)
        else:
            _stroke(page, entity)
    canvas.showPage()


def _take(canvas: Canvas, pen: Pen) -> None:
    """Draw and letter with a pen from here on."""
    dashes = [abs(length) * POINTS_PER_MM for length in DASH_PAPER_MM[pen.dash]]
    canvas.setLineWidth(pen.width_mm * POINTS_PER_MM)
    canvas.setDash(dashes)
    canvas.setLineCap(BUTT if dashes else ROUND)
    canvas.setStrokeColor(_colour(pen.ink.value))
    canvas.setFillColor(_colour(pen.ink.value))


def _fill(page: _Page, area: Area) -> None:
    """Fill an area; one of very many rings, as a code is, is held once and shown again."""
    canvas, ink = page.canvas, PENS[area.role].ink
    held = f"area-{_digest(page, area)}" if len(area.rings) >= MANY_RINGS else ""
    if held and canvas.hasForm(held):
        canvas.doForm(held)
        return
    path = canvas.beginPath()
    if held:
        canvas.beginForm(held, *BEYOND_ANY_PAGE)
    for first, *others in area.rings:
        path.moveTo(*page.at(first))
        for point in others:
            path.lineTo(*page.at(point))
        path.close()
    canvas.setFillColor(_colour(shaded(ink, area.shade)))
    canvas.drawPath(path, stroke=0, fill=1, fillMode=EVEN_ODD)
    canvas.setFillColor(_colour(ink.value))
    if held:
        canvas.endForm()
        canvas.doForm(held)


def _digest(page: _Page, area: Area) -> str:
    """Return what tells an area, as it lies on its page, from every other."""
    told = repr((page.low, page.scale, area.rings, area.role, area.shade))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


@lru_cache(maxsize=100)
def _colour(word: str) -> Color:
    from reportlab.lib.colors import HexColor

    return HexColor(word)


def _stroke(page: _Page, entity: Entity) -> None:
    if isinstance(entity, Circle):
        radius = entity.radius_mm / page.scale * POINTS_PER_MM
        page.canvas.circle(*page.at(entity.centre), radius)
        return
    for line in strokes(entity):
        path = page.canvas.beginPath()
        path.moveTo(*page.at(line[0]))
        for point in line[1:]:
            path.lineTo(*page.at(point))
        if line[0] == line[-1] and len(line) > 2:
            path.close()
        page.canvas.drawPath(path)


SHARE_BEFORE = {Anchor.LEFT: 0.0, Anchor.CENTRE: 0.5, Anchor.RIGHT: 1.0}
"""How much of a line stands left of where it hangs."""


def _letter(page: _Page, text: Text) -> None:
    canvas = page.canvas
    size = text.height_mm / page.scale * POINTS_PER_MM / CAPITAL_SHARE
    pieces = [*runs(as_seen(as_lettered(text.text)))]
    for face, _ in pieces:
        _register(face)
    widths = [canvas.stringWidth(words, face.value, size) for face, words in pieces]
    x, y = page.at(text.at)
    x -= SHARE_BEFORE[text.anchor] * sum(widths)
    for (face, words), width in zip(pieces, widths, strict=True):
        canvas.setFont(face.value, size)
        canvas.drawString(x, y, words)
        x += width
