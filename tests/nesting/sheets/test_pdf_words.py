"""What a PDF says of figures, lines and texts is what the library that writes it would say."""

import io
import random
import re
import zlib

import pytest
from reportlab.lib.rl_accel import fp_str
from reportlab.pdfgen.canvas import Canvas

from nesting.sheets.drawing import Anchor, Area, Drawing, Polyline, Role, Text
from nesting.sheets.pdf import FACE, MARGIN_MM, figure_of, pdf_content
from nesting.sheets.picture import CAPITAL_SHARE, POINTS_PER_MM

TEXTS = ("cut line", "7 ft 4 1/2 in (Ø3/16)", "\\(part)", "é 木", "", "cut line")


def _figures(rng: random.Random) -> list[float]:
    found = [rng.uniform(-2000, 2000) for _ in range(3000)]
    found += [rng.choice((-1, 1)) * 10 ** rng.uniform(-9, 9) for _ in range(3000)]
    decades = [10.0**power for power in range(-8, 9)]
    for share in (0, 1e-16, -1e-16, 2.3e-16, 1e-13, -1e-13, 1e-9, -1e-9):
        found += [sign * decade * (1 + share) for decade in decades for sign in (-1, 1)]
    return [*found, *(round(figure, digits) for digits in range(7) for figure in found[:500]), 0.0]


def test_figures_are_written_as_the_library_writes_them():
    figures = _figures(random.Random(3))
    assert [figure_of(figure) for figure in figures] == [fp_str(figure) for figure in figures]


def _page_of(content: bytes) -> list[str]:
    """Return what the only page of a PDF says, line by line."""
    packed = re.findall(rb"stream\r?\n(.*?)endstream", content, re.S)
    unpacked = [zlib.decompressobj().decompress(one) for one in packed]
    (page,) = (one for one in unpacked if b"\nBT 1 0 0 1 " in one)
    return page.decode("latin-1").splitlines()


@pytest.mark.parametrize("anchor", Anchor)
def test_lines_and_texts_are_the_librarys_own(anchor):
    rng = random.Random(4)
    points = [(rng.uniform(0, 100), rng.uniform(0, 100)) for _ in range(9)]
    texts = [
        Text(text, (rng.uniform(0, 90), rng.uniform(0, 90)), height, Role.NOTE, anchor)
        for text in TEXTS
        for height in (2.5, 3.2)
    ]
    line = Polyline(tuple(points), Role.NOTE, is_closed=True)
    area = Area((tuple(points[:4]), tuple(points[4:])), Role.NOTE, 1.0)
    drawing = Drawing("t", (line, area, *texts), (0.0, 0.0, 100.0, 100.0), 1.0, "A4")
    page = _page_of(pdf_content([drawing]))

    def at(point):
        return [(figure + MARGIN_MM) * POINTS_PER_MM for figure in point]

    canvas = Canvas(io.BytesIO(), invariant=1, initialFontName=FACE)
    way = canvas.beginPath()
    way.moveTo(*at(points[0]))
    for point in (*points[1:], points[0]):
        way.lineTo(*at(point))
    way.close()
    canvas.drawPath(way)
    fill = canvas.beginPath()
    for ring in area.rings:
        fill.moveTo(*at(ring[0]))
        for point in ring[1:]:
            fill.lineTo(*at(point))
        fill.close()
    canvas.drawPath(fill, stroke=0, fill=1, fillMode=0)
    hung = {
        Anchor.LEFT: canvas.drawString,
        Anchor.CENTRE: canvas.drawCentredString,
        Anchor.RIGHT: canvas.drawRightString,
    }[anchor]
    for text in texts:
        canvas.setFont(FACE, text.height_mm * POINTS_PER_MM / CAPITAL_SHARE)
        hung(*at(text.at), text.text)
    wanted = [one for one in canvas._code if re.match(r"n |BT 1 0 0 1 ", one)]
    assert len(wanted) == 2 + len(texts)
    assert [one for one in page if re.match(r"n |BT 1 0 0 1 ", one)] == wanted
