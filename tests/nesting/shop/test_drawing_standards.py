"""Line widths and lettering of what is printed, measured in the PDF by a second library.

Of ISO 128-2 and ISO 3098-1 the figures are from memory; the least height is the project's own.
"""

from __future__ import annotations

import io

import pdfplumber
import pytest
from pattern_parts import usual_set
from printed import folio_of

from nesting.sheets.drawing import Role
from nesting.sheets.pdf import pdf_content
from nesting.sheets.pen import PENS, Dash
from nesting.shop.kinds import Paper
from nesting.shop.patterns import pattern_files
from nesting.shop.print_sheets import sheet_pages
from nesting.shop.shop_lists import all_lists, list_pages
from nesting.units import Unit

MM = 25.4 / 72

WIDTHS = (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
"""Widths of lines, mm (ISO 128-2, from memory)."""

WIDE = 2.0
"""A wide line over a narrow one (ISO 128-2, from memory)."""

LEAST_NOMINAL, LEAST = 1.8, 2.0
"""Heights of capitals, mm: the least nominal size (ISO 3098-1, from memory), and our own least."""

CAPITAL = 1493 / 2048
"""Height of a capital of DejaVu Sans over its size (its OS/2 table, sCapHeight)."""


PAGES = 4
"""So many of each are measured."""


def printed(name):
    if name == "patterns":
        return next(pattern_files(usual_set()))[1]
    folio = folio_of("hostile", Paper.A4, Unit.INCH)
    if name == "lists":
        return pdf_content(list_pages(folio, all_lists(folio)))
    return pdf_content(sheet_pages(folio)[:PAGES])


@pytest.fixture(scope="module", params=["sheets", "lists", "patterns"])
def measured(request):
    """Return every width of a line, and every height of a capital, that a PDF has, mm."""
    widths, heights = set(), set()
    with pdfplumber.open(io.BytesIO(printed(request.param))) as pdf:
        for page in pdf.pages[:PAGES]:
            things = (*page.lines, *page.curves, *page.rects)
            widths |= {round(t["linewidth"] * MM, 3) for t in things if t.get("stroke")}
            heights |= {round(char["size"] * MM * CAPITAL, 3) for char in page.chars}
    assert widths and heights
    return widths, heights


def test_lines_have_the_widths_of_the_standard(measured):
    widths, _ = measured
    assert all(min(abs(width - one) for one in WIDTHS) < 0.005 for width in widths)


def test_lettering_is_no_smaller_than_can_be_read(measured):
    _, heights = measured
    assert min(heights) >= LEAST - 0.005 > LEAST_NOMINAL


def test_line_that_is_sawn_is_twice_as_wide_as_any_but_metal():
    cut = PENS[Role.SAW_OUTLINE]
    others = [pen.width_mm for role, pen in PENS.items() if not role.startswith("saw")]
    loud = {Role.METAL, Role.NO_CUTTER}
    quiet = [pen for role, pen in PENS.items() if not role.startswith("saw") and role not in loud]
    assert cut.dash is Dash.SOLID
    assert cut.width_mm > max(others)
    assert all(cut.width_mm >= WIDE * pen.width_mm for pen in quiet)


def test_every_pen_is_of_the_standard():
    assert {pen.width_mm for pen in PENS.values()} <= set(WIDTHS)
