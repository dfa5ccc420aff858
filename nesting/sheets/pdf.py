"""Drawings as PDF: a page each at the size of its paper, lines as lines, letters as letters.

Drawn with reportlab; the face of lettering, DejaVu Sans, comes with matplotlib and goes into the
file. Both are loaded only when asked for.
"""

from __future__ import annotations

import hashlib
import io
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.errors import OutputError
from nesting.sheets.drawing import Anchor, Area, Circle, Drawing, Entity, Point, Text
from nesting.sheets.pen import DASH_PAPER_MM, PENS, Pen, shaded
from nesting.sheets.picture import CAPITAL_SHARE, POINTS_PER_MM, strokes
from nesting.sheets.whole_file import write_whole

if TYPE_CHECKING:
    from reportlab.lib.colors import Color
    from reportlab.pdfgen.canvas import Canvas

MARGIN_MM = 10.0
"""White around the frame, paper mm."""

FACE = "DejaVuSans"

ROUND, BUTT = 1, 0
"""Ends and corners of lines, by their numbers in PDF (ISO 32000-1, tables 54 and 55)."""

MANY_RINGS = 40
"""An area of so many rings is worth being held."""

BEYOND_ANY_PAGE = (-15_000, -15_000, 15_000, 15_000)
"""Points: what an area that is held may reach over; nothing of it is cut off."""

HUNG = {Anchor.LEFT: 0.0, Anchor.CENTRE: 0.5, Anchor.RIGHT: 1.0}
"""The share of its width that a text stands left of its place."""

AT_ORIGIN = "BT 1 0 0 1 0 0 Tm "
"""How lettering at the origin begins (ISO 32000-1, table 108)."""

NOTHING = 1e-7
DECADES = (10.0, 100.0, 1e3, 1e4, 1e5, 1e6)
"""As reportlab writes figures: six digits behind the point, one less for each of these that one
reaches; a figure of no more than the former is none."""

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
    _register_face()
    stream = io.BytesIO()
    # Types of the library take a name for a number.
    face: Any = FACE
    canvas = Canvas(stream, invariant=1, pageCompression=1, initialFontName=face)
    # Plain bytes, as every reader takes them: letters in their place cost a fifth of the time.
    rl_config.useA85 = 0
    canvas.setTitle(drawings[0].title)
    canvas.setCreator("salvage-nest")
    said: dict[tuple[str, float], _Letters] = {}
    for drawing in drawings:
        _draw_page(_Page(canvas, drawing.frame[:2], drawing.scale, said), drawing)
    canvas.save()
    return stream.getvalue()


@lru_cache(maxsize=1)
def _register_face() -> None:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    home = find_spec("matplotlib")
    if home is None or home.origin is None:
        raise OutputError("a PDF needs matplotlib's lettering: install salvage-nest anew")
    path = Path(home.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{FACE}.ttf"
    pdfmetrics.registerFont(TTFont(FACE, str(path)))


@dataclass(frozen=True)
class _Code:
    """A line or lettering in the words of PDF: reportlab draws whatever gives its own."""

    words: str

    def getCode(self) -> str:  # noqa: N802 - the library's name
        """Return the words."""
        return self.words


@dataclass(frozen=True)
class _Letters:
    """What a file says of a text of one size, and how wide that is, in points."""

    words: str
    width: float


@dataclass(frozen=True)
class _Page:
    """A page of a canvas, where a drawing's points come to lie on it, and what the file has said.

    The library's own lines and texts take most of the time that a file takes: a figure is written
    as it writes it, and a text of one size is set by it once.
    """

    canvas: Canvas
    low: Point
    scale: float
    said: dict[tuple[str, float], _Letters]

    def at(self, point: Point) -> Point:
        """Return a place of the drawing in points of the page."""
        x, y = point
        return (
            ((x - self.low[0]) / self.scale + MARGIN_MM) * POINTS_PER_MM,
            ((y - self.low[1]) / self.scale + MARGIN_MM) * POINTS_PER_MM,
        )

    def way(self, points: Sequence[Point], *, is_closed: bool) -> str:
        """Return a line through points of the drawing in the words of PDF."""
        first, *others = [_figures(self.at(point)) for point in points]
        return " ".join((f"{first} m", *(f"{other} l" for other in others), *"h" * is_closed))

    def letters(self, text: str, size: float) -> _Letters:
        """Return what the file says of a text, set by the library where it is new."""
        if (text, size) not in self.said:
            self.canvas.setFont(FACE, size)
            line = self.canvas.beginText(0, 0)
            line.textLine(text)
            words = line.getCode().removeprefix(AT_ORIGIN)
            self.said[text, size] = _Letters(words, self.canvas.stringWidth(text, FACE, size))
        return self.said[text, size]


def _figures(values: Iterable[float]) -> str:
    return " ".join(map(figure_of, values))


def figure_of(value: float) -> str:
    """Return a number of a PDF as reportlab writes it."""
    size = abs(value)
    if size <= NOTHING:
        return "0"
    places = len(DECADES) - bisect_right(DECADES, size)
    text = f"{value:.{places}f}"
    if places:
        text = text.rstrip("0").rstrip(".")
    return text[1:] if text[0] == "0" and len(text) > 1 else text


def _draw_page(page: _Page, drawing: Drawing) -> None:
    canvas = page.canvas
    sides = (side / drawing.scale + 2 * MARGIN_MM for side in drawing.size_mm)
    wide, high = (side * POINTS_PER_MM for side in sides)
    canvas.setPageSize((wide, high))
    canvas.setLineJoin(ROUND)
    held = None
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
    if held:
        canvas.beginForm(held, *BEYOND_ANY_PAGE)
    ways = " ".join(page.way(ring, is_closed=True) for ring in area.rings)
    canvas.setFillColor(_colour(shaded(ink, area.shade)))
    canvas.drawPath(_Code(f"n {ways}"), stroke=0, fill=1, fillMode=EVEN_ODD)
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
        is_closed = line[0] == line[-1] and len(line) > 2
        page.canvas.drawPath(_Code(f"n {page.way(line, is_closed=is_closed)}"))


def _letter(page: _Page, text: Text) -> None:
    size = text.height_mm / page.scale * POINTS_PER_MM / CAPITAL_SHARE
    letters = page.letters(text.text, size)
    x, y = page.at(text.at)
    x -= HUNG[text.anchor] * letters.width
    # Types of the library ask for its own.
    code: Any = _Code(f"BT 1 0 0 1 {_figures((x, y))} Tm {letters.words}")
    page.canvas.drawText(code)
