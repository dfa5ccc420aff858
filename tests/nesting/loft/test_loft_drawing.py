"""The lines drawing of the loft: the same in three kinds of file, all named, none overlapping."""

import io
import re
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import combinations
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from captions import crossed
from pypdf import PdfReader

from nesting.loft.floating_words import Water
from nesting.loft.outputs import Lofted, batten_drawings, lines_drawing
from nesting.loft.words import book_table
from nesting.sheets.book_pages import LETTER_MM, BookTable, book_pages
from nesting.sheets.drawing import Circle, Polyline, Role, Text
from nesting.sheets.dxf import write_dxf
from nesting.sheets.loft_names import short
from nesting.sheets.pdf import MARGIN_MM, pdf_content, write_pdf
from nesting.sheets.svg import write_svg
from nesting.shop.kinds import Paper
from parts.lines import read_hull
from parts.lines.faired_figures import faired_figures
from parts.lines.views import views

WITHY = Path(__file__).parents[3] / "demo_projects" / "lines" / "withy_offsets.csv"
POINT_MM = 25.4 / 72.0


@pytest.fixture(scope="module")
def lofted():
    hull = read_hull(WITHY)
    return Lofted(hull, faired_figures(hull), Water("salt", 1025.0))


@pytest.fixture(scope="module")
def drawing(lofted):
    return lines_drawing(lofted, Paper.A3)


def drawn(drawing):
    return [np.array(one.points) for one in drawing.entities
            if isinstance(one, Polyline) and not one.is_closed]  # fmt: skip


def in_pdf(path):
    """Return the lines of a PDF's only page, as (n, 2) arrays in points."""
    content = PdfReader(path).pages[0].get_contents().get_data().decode("latin-1")
    lines = []
    for x, y, step in re.findall(r"(-?[\d.]+) (-?[\d.]+) ([ml])\b", content):
        if step == "m":
            lines.append([])
        lines[-1].append((float(x), float(y)))
    return [np.array(line) for line in lines]


def test_dxf_svg_and_pdf_have_the_same_lines(drawing, tmp_path):
    true = drawn(drawing)
    write_dxf(drawing, tmp_path / "lines.dxf")
    found = [
        np.array([(p[0], p[1]) for p in e.get_points("xy")])
        if e.dxftype() == "LWPOLYLINE"
        else np.array([(e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)])
        for e in ezdxf.readfile(tmp_path / "lines.dxf").modelspace().query("LWPOLYLINE LINE")
        if e.dxf.layer != "SHEET_FRAME"
    ]
    assert_same(found, true)
    write_svg(drawing, tmp_path / "lines.svg")
    root = ET.parse(tmp_path / "lines.svg").getroot()
    groups = [g for g in root.iter("{http://www.w3.org/2000/svg}g") if g.get("id") != "SHEET_FRAME"]
    found = [
        np.array([tuple(map(float, pair.split(","))) for pair in line.get("points").split()])
        * [1, -1]
        for group in groups
        for line in group.iter("{http://www.w3.org/2000/svg}polyline")
    ]
    assert_same(found, true)
    write_pdf([drawing], tmp_path / "lines.pdf")
    low = np.array(drawing.frame[:2]) - MARGIN_MM * drawing.scale
    found = [line * POINT_MM * drawing.scale + low for line in in_pdf(tmp_path / "lines.pdf")]
    assert_same([line for line in found if len(line) != 5], [t for t in true if len(t) != 5])


def assert_same(found, true):
    assert len(found) == len(true)
    for one, other in zip(found, true, strict=True):
        assert one.shape == other.shape
        assert np.abs(one - other).max() < 0.05


def test_pdf_is_of_its_paper_with_letters_and_their_face_in_it(drawing, tmp_path):
    path = write_pdf([drawing], tmp_path / "lines.pdf")
    page = PdfReader(path).pages[0]
    size = [float(side) * POINT_MM for side in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx([420.0, 297.0], abs=0.2)
    words = page.extract_text()
    assert "Lines of Withy" in words
    assert "WL 3-0-0" in words
    fonts = page["/Resources"]["/Font"].get_object()
    assert fonts
    for font in fonts.values():
        font = font.get_object()
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert "/FontFile2" in inner["/FontDescriptor"].get_object()
    assert "/XObject" not in page["/Resources"] or not page["/Resources"]["/XObject"].get_object()


def test_drawing_gives_the_same_pdf_always(drawing):
    assert pdf_content([drawing]) == pdf_content([drawing])


def test_every_line_is_named_and_on_a_layer_of_its_own_kind(lofted, drawing):
    words = [one.text for one in drawing.entities if isinstance(one, Text)]
    for station in lofted.hull.table.stations:
        assert words.count(station.name) >= 2
    for line in lofted.hull.table.lines:
        short = line.name.replace("waterline", "WL").replace("buttock", "B")
        assert short.replace("diagonal", "D") in words, line.name
    roles = {one.role for one in drawing.entities}
    assert {Role.SECTION, Role.WATERLINE, Role.BUTTOCK, Role.DIAGONAL, Role.GRID} <= roles
    assert not roles & {Role.SAW_OUTLINE, Role.SAW_OPENING}


@pytest.mark.parametrize("paper", Paper)
def test_every_line_of_every_view_is_named_in_it(lofted, paper):
    """Where a line has no room for its name, that stands farther off, with a leader."""
    drawing = lines_drawing(lofted, paper)
    words = Counter(one.text for one in drawing.entities if isinstance(one, Text))
    shown = views(lofted.hull)
    wanted = Counter()
    for view in (shown.body, shown.profile, shown.half_breadth):
        # A line on both sides of the body plan is named on one of them at least.
        wanted += Counter({short(line.name) for line in view if line.kind == "grid" and line.name})
    for view in (shown.profile, shown.half_breadth):
        wanted += Counter(short(one.name) for one in view if one.kind not in ("grid", "section"))
    assert len(wanted) > 20
    assert not wanted - words


@pytest.mark.parametrize("paper", Paper)
def test_names_on_a_level_are_read_apart(lofted, paper):
    drawing = lines_drawing(lofted, paper)
    texts = [one for one in drawing.entities if isinstance(one, Text)]
    for one, other in combinations(texts, 2):
        is_level = abs(one.at[1] - other.at[1]) < one.height_mm / 2
        apart = max(one.box[0], other.box[0]) - min(one.box[2], other.box[2])
        assert not is_level or apart >= 0.3 * one.height_mm, (one.text, other.text)


@pytest.mark.parametrize("paper", Paper)
def test_lines_are_as_large_as_the_shops_paper(lofted, paper):
    (page,) = PdfReader(io.BytesIO(pdf_content([lines_drawing(lofted, paper)]))).pages
    size = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx(sorted(paper.size_mm, reverse=True), abs=0.2)


def sheets(lofted, paper):
    tables = [book_table(book, lofted.notation, "Withy") for book in lofted.books()]
    return [
        lines_drawing(lofted, paper),
        *batten_drawings(lofted, paper),
        *book_pages(tables, paper),
    ]


@pytest.mark.parametrize("paper", Paper)
def test_battens_and_book_are_as_large_as_the_shops_paper(lofted, paper):
    wide, high = sorted(paper.size_mm, reverse=True)
    content = pdf_content(sheets(lofted, paper)[1:])
    for page in PdfReader(io.BytesIO(content)).pages:
        size = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
        assert size == pytest.approx([wide, high], abs=0.2)


@pytest.mark.parametrize("paper", Paper)
def test_everything_is_in_the_frame_and_no_lettering_lies_on_lettering(lofted, paper):
    for sheet in sheets(lofted, paper):
        frame = shapely.box(*sheet.frame).buffer(1e-6)
        for one in sheet.entities:
            if isinstance(one, Text):
                assert frame.contains(shapely.box(*one.box)), one
            elif isinstance(one, Circle):
                assert frame.contains(shapely.Point(one.centre).buffer(one.radius_mm)), one
            else:
                assert frame.contains(shapely.LineString(one.points)), one
        boxes = [shapely.box(*one.box) for one in sheet.entities if isinstance(one, Text)]
        pairs = shapely.STRtree(boxes).query(boxes, predicate="overlaps").T
        assert not [(boxes[a].bounds, boxes[b].bounds) for a, b in pairs if a < b]


def test_book_has_every_figure_once_and_is_set_for_arms_length():
    columns = tuple(str(n) for n in range(23))
    rows = [("heights", ())]
    rows += [(f"row {n}", tuple(f"{n}-{c}-7+" for c in columns)) for n in range(40)]
    rows += [("girths", ()), ("last", tuple(f"g{c}" for c in columns))]
    pages = book_pages([BookTable("Book", ("a note",), columns, tuple(rows))], Paper.A4)
    words = [one.text for page in pages for one in page.entities if isinstance(one, Text)]
    for _, cells in rows:
        for cell in cells:
            assert words.count(cell) == 1
    assert "heights, continued" in words
    assert f"page 1 of {len(pages)}" in words
    cells = [one for page in pages for one in page.entities
             if isinstance(one, Text) and one.role is Role.TABLE]  # fmt: skip
    # A two-hundredth of 640 mm: common practice, no source.
    assert min(one.height_mm for one in cells) == LETTER_MM >= 3.2


@pytest.mark.parametrize("paper", Paper)
def test_no_line_runs_through_lettering(lofted, paper):
    pages = [lines_drawing(lofted, paper), *batten_drawings(lofted, paper)]
    found = [(by.text.text, by.by) for page in pages for by in crossed(page)]
    assert found == []


def test_long_name_stays_on_its_pages(lofted, monkeypatch):
    monkeypatch.setattr(Lofted, "name", "w" * 80)
    for page in [lines_drawing(lofted, Paper.A4), *batten_drawings(lofted, Paper.A4)]:
        frame = shapely.box(*page.frame)
        texts = [one for one in page.entities if isinstance(one, Text)]
        assert all(frame.contains(shapely.box(*text.box)) for text in texts)
