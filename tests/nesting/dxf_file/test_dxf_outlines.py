import math
import re
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf import units
from project_texts import BOARD, findings_of, only_blocks, project_text, written

from nesting.dxf_file.outlines import read_outlines
from nesting.errors import DrawingError
from nesting.project import read_project
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit

SAMPLES = Path(__file__).parents[2] / "data" / "dxf"
RECTANGLE = [(0, 0), (900, 0), (900, 90), (0, 90)]


@pytest.fixture
def drawing():
    """An empty drawing in mm; save with ``saved``."""
    return ezdxf.new("R2010", units=units.MM)


def saved(document, folder, name="board.dxf"):
    path = folder / name
    document.saveas(path)
    return path


def only(path, **options):
    (outline,) = read_outlines(path, **options)
    return outline


def test_closed_polyline_is_an_outline(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(RECTANGLE, close=True)
    outline = only(saved(drawing, tmp_path))
    assert outline.shape.bounds == (0, 0, 900, 90)
    assert outline.shape.exterior.is_ccw


def test_polyline_that_repeats_its_first_point_is_closed(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline([*RECTANGLE, RECTANGLE[0]])
    assert only(saved(drawing, tmp_path)).shape.area == 81_000


def test_circle_is_told_as_a_circle(drawing, tmp_path):
    drawing.modelspace().add_circle((100, 50), 30)
    outline = only(saved(drawing, tmp_path))
    assert outline.outer.circle == (100, 50, 60)
    assert outline.shape.area == pytest.approx(math.pi * 900, rel=0.005)


@pytest.mark.parametrize("bulge", [0.3, -0.3, 1.0, 2.4, -0.9])
def test_bulge_is_flattened_to_a_twentieth_of_a_millimetre(drawing, tmp_path, bulge):
    """A bulge is the tangent of a quarter of its arc, on the right of its chord if positive
    (DXF reference)."""
    drawing.modelspace().add_lwpolyline(
        [(0, 0, bulge), (800, 0, 0), (800, 9000, 0), (0, 9000, 0)], format="xyb", close=True
    )
    ring = np.array(only(saved(drawing, tmp_path)).shape.exterior.coords)
    sagitta = bulge * 400
    radius = (400**2 + sagitta**2) / (2 * abs(sagitta))
    centre = np.array([400, -sagitta + math.copysign(radius, sagitta)])
    arc = ring[np.abs(np.hypot(*(ring - centre).T) - radius) < 1e-6]
    assert len(arc) > 8
    assert np.min(np.abs(arc[:, 1] + sagitta)) < 1.0
    steps = np.hypot(*np.diff(arc, axis=0).T)
    chords = steps[steps < 200]
    assert radius - np.sqrt(radius**2 - (chords.max() / 2) ** 2) <= 0.05 + 1e-9


def test_old_polyline_with_bulges_is_read_from_r12(tmp_path):
    document = ezdxf.new("R12")
    document.modelspace().add_polyline2d(
        [(0, 0, 0), (900, 0, 1), (900, 90, 0), (0, 90, 1)], format="xyb", close=True
    )
    outline = only(saved(document, tmp_path))
    assert outline.shape.area == pytest.approx(81_000 + math.pi * 45**2, rel=1e-3)
    assert outline.shape.bounds == pytest.approx((-45, 0, 945, 90), abs=0.05)


def test_lines_and_arcs_in_any_order_and_direction_join(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_line((900, 90), (0, 90))
    space.add_line((0, 0), (900, 0))
    space.add_arc((0, 45), 45, 90, 270)
    space.add_arc((900, 45), 45, 270, 90)
    outline = only(saved(drawing, tmp_path))
    assert outline.shape.area == pytest.approx(81_000 + math.pi * 45**2, rel=1e-3)


def test_ends_a_twentieth_of_a_millimetre_apart_join(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (900, 0), (900, 90)])
    space.add_lwpolyline([(900.05, 90), (0, 90), (0, 0.05)])
    assert only(saved(drawing, tmp_path)).shape.area == pytest.approx(81_000, rel=1e-3)


def test_line_drawn_twice_counts_once(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (900, 0), (900, 90), (0, 90)])
    space.add_line((0, 90), (0, 0))
    space.add_line((0, 0), (0, 90))
    assert only(saved(drawing, tmp_path)).shape.area == 81_000


def test_closed_spline_is_an_outline(drawing, tmp_path):
    """A closed cubic spline through a ring of control points stays in their hull."""
    angles = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    spline = drawing.modelspace().add_spline()
    spline.set_closed([(300 * math.cos(a), 100 * math.sin(a), 0) for a in angles])
    outline = only(saved(drawing, tmp_path))
    left, bottom, right, top = outline.shape.bounds
    assert -300 < left < -250
    assert 250 < right < 300
    assert -100 < bottom < top < 100
    assert len(outline.outer.points) > 40


def test_whole_ellipse_is_an_outline(drawing, tmp_path):
    drawing.modelspace().add_ellipse((0, 0), (200, 0), 0.5)
    outline = only(saved(drawing, tmp_path))
    assert outline.shape.area == pytest.approx(math.pi * 200 * 100, rel=2e-3)


def test_rings_inside_are_cut_outs_and_what_lies_in_them_is_another(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(RECTANGLE, close=True)
    space.add_circle((450, 45), 40)
    space.add_circle((450, 45), 10)
    outer, island = read_outlines(saved(drawing, tmp_path))
    assert [ring.circle for ring in outer.inner] == [(450, 45, 80)]
    assert island.outer.circle == (450, 45, 20)


def test_outlines_come_largest_first(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_circle((2000, 0), 30)
    space.add_lwpolyline(RECTANGLE, close=True)
    assert [o.shape.length > 1000 for o in read_outlines(saved(drawing, tmp_path))] == [True, False]


def test_one_layer_may_be_asked_for_in_any_case(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(RECTANGLE, close=True, dxfattribs={"layer": "Edge"})
    space.add_lwpolyline(
        [(9, 9), (2000, 2000), (9, 2000)], close=True, dxfattribs={"layer": "FRAME"}
    )
    path = saved(drawing, tmp_path)
    assert only(path, layer="EDGE").shape.area == 81_000
    assert only(path, without_layers=["frame"]).shape.area == 81_000


def test_layer_that_is_not_there_lists_those_that_are(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(RECTANGLE, close=True, dxfattribs={"layer": "EDGE"})
    with pytest.raises(
        DrawingError, match="nothing is drawn on a layer 'CUT'; layers in use: EDGE"
    ):
        read_outlines(saved(drawing, tmp_path), layer="CUT")


def test_block_is_expanded_turned_and_scaled(drawing, tmp_path):
    block = drawing.blocks.new("PLANK")
    block.add_lwpolyline(RECTANGLE, close=True)
    drawing.modelspace().add_blockref(
        "PLANK", (1000, 0), {"rotation": 90, "xscale": 2, "yscale": 2, "layer": "STOCK"}
    )
    outline = only(saved(drawing, tmp_path))
    assert outline.shape.bounds == pytest.approx((820, 0, 1000, 1800))
    assert outline.layer == "STOCK"


def test_block_with_a_z_scale_of_0_is_expanded(drawing, tmp_path):
    drawing.blocks.new("PLANK").add_lwpolyline(RECTANGLE, close=True)
    drawing.modelspace().add_blockref("PLANK", (0, 0), {"zscale": 0})
    assert only(saved(drawing, tmp_path)).shape.area == pytest.approx(81_000)


def test_block_seen_from_below_is_mirrored(drawing, tmp_path):
    line = drawing.modelspace().add_lwpolyline(
        [(0, 0, 0.5), (900, 0, 0), (700, 90, 0)], format="xyb", close=True
    )
    line.dxf.extrusion = (0, 0, -1)
    left, _, right, _ = only(saved(drawing, tmp_path)).shape.bounds
    assert (left, right) == (-900, 0)


@pytest.mark.parametrize(
    ("code", "unit"), [(1, Unit.INCH), (2, Unit.FOOT), (4, Unit.MM), (5, Unit.CM), (6, Unit.M)]
)
def test_unit_of_the_header_is_honoured(tmp_path, code, unit):
    document = ezdxf.new("R2010", units=code)
    size = 900 / unit.mm
    document.modelspace().add_lwpolyline([(0, 0), (size, 0), (size, size / 10)], close=True)
    outline = only(saved(document, tmp_path), default_unit=Unit.FOOT)
    assert outline.shape.bounds == pytest.approx((0, 0, 900, 90))


def test_drawing_without_a_unit_is_in_the_default_one(tmp_path):
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_lwpolyline([(0, 0), (90, 0), (90, 9)], close=True)
    path = saved(document, tmp_path)
    assert only(path, default_unit=Unit.CM).shape.bounds == (0, 0, 900, 90)
    assert only(path, unit=Unit.INCH).shape.bounds == pytest.approx((0, 0, 2286, 228.6))


def test_drawing_said_to_be_in_metres_but_drawn_in_mm_is_refused_with_a_hint(tmp_path):
    document = ezdxf.new("R2010", units=units.M)
    document.modelspace().add_lwpolyline(RECTANGLE, close=True)
    path = saved(document, tmp_path)
    with pytest.raises(DrawingError) as caught:
        read_outlines(path)
    assert str(caught.value) == (
        f"{path}: the header says m, which makes the largest outline 900 x 90 m; no board or part "
        "has that size. If it was drawn in another unit, say so with unit: mm, cm, m, in or ft"
    )
    assert only(path, unit=Unit.MM).shape.area == 81_000


def test_drawing_in_metres_without_a_header_is_refused_with_a_hint(tmp_path):
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_lwpolyline([(0, 0), (2.4, 0), (2.4, 0.15)], close=True)
    with pytest.raises(DrawingError, match=r"read as mm, which makes .* 0\.0024 x 0\.00015 m; no"):
        read_outlines(saved(document, tmp_path))


def test_drawing_without_a_unit_that_is_no_board_in_the_projects_is_refused_with_its_likely_one(
    tmp_path,
):
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_lwpolyline([(0, 0), (1500, 0), (1500, 150), (0, 150)], close=True)
    path = saved(document, tmp_path)
    with pytest.raises(DrawingError) as caught:
        read_outlines(path, default_unit=Unit.INCH)
    assert str(caught.value) == (
        f"{path}: read as in, which makes the largest outline 38.1 x 3.81 m; no board or part has "
        "that size. The drawing states no unit, and is 1500 x 150 mm if drawn in mm: say so with "
        "unit: mm"
    )
    assert only(path, unit=Unit.MM, default_unit=Unit.INCH).shape.area == 1500 * 150
    # Somebody says so: it is as large as that.
    assert only(path, unit=Unit.INCH).shape.bounds[2] == 1500 * 25.4
    header = ezdxf.new("R2010", units=units.IN)
    header.modelspace().add_lwpolyline([(0, 0), (1500, 0), (1500, 150)], close=True)
    assert only(saved(header, tmp_path)).shape.bounds[2] == 1500 * 25.4


def test_unit_of_the_header_that_no_yard_uses_is_refused(tmp_path):
    document = ezdxf.new("R2010", units=13)
    document.modelspace().add_lwpolyline(RECTANGLE, close=True)
    with pytest.raises(DrawingError, match=r"unit \(\$INSUNITS 13\) is none of mm, cm, m, in, ft"):
        read_outlines(saved(document, tmp_path))


def test_no_closed_outline_names_the_widest_gap(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (900, 0), (900, 90)])
    space.add_lwpolyline([(895, 90), (0, 90), (0, 17)])
    with pytest.raises(
        DrawingError, match=r"no closed outline.*widest gap is 17\.0 mm, at \(0, 0\)"
    ):
        read_outlines(saved(drawing, tmp_path))


def test_outline_nearly_closed_is_not_passed_over_for_a_hole_in_it(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (900, 0), (900, 90), (0, 90), (0, 0.4)])
    space.add_circle((450, 45), 20)
    with pytest.raises(DrawingError, match=r"layer '0' is not closed, by 0\.40 mm at \(0, 0"):
        read_outlines(saved(drawing, tmp_path))


def test_lines_that_branch_are_no_outline(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(RECTANGLE[:3])
    space.add_lwpolyline([RECTANGLE[2], RECTANGLE[3], RECTANGLE[0]])
    space.add_line(RECTANGLE[0], RECTANGLE[2])
    with pytest.raises(DrawingError, match="branch off each other, so no one way leads round"):
        read_outlines(saved(drawing, tmp_path))


def test_outline_that_crosses_itself_says_where(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline([(0, 0), (900, 90), (900, 0), (0, 90)], close=True)
    with pytest.raises(
        DrawingError, match=r"crosses or touches itself: Self-intersection at \(450, 45\) mm"
    ):
        read_outlines(saved(drawing, tmp_path))


def test_outlines_that_overlap_say_where(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(RECTANGLE, close=True)
    space.add_lwpolyline([(800, 0), (1500, 0), (1500, 60), (800, 60)], close=True)
    with pytest.raises(DrawingError, match=r"two outlines overlap at \(850\.0, 30\.0\) mm"):
        read_outlines(saved(drawing, tmp_path))


def test_empty_drawing_is_refused(drawing, tmp_path):
    drawing.modelspace().add_text("nothing but words")
    with pytest.raises(DrawingError, match="there are no lines or curves in it"):
        read_outlines(saved(drawing, tmp_path))


def test_drawing_cut_off_is_noticed(drawing, tmp_path):
    for i in range(50):
        drawing.modelspace().add_circle((200 * i, 0), 50)
    path = saved(drawing, tmp_path)
    content = path.read_bytes()
    path.write_bytes(content[: content.index(b"CIRCLE") + 2000])
    with pytest.raises(DrawingError, match=r"was cut off, its end \(EOF\) is missing"):
        read_outlines(path)


@pytest.mark.parametrize(
    ("content", "message"),
    [(b"%PDF-1.7", "this is no DXF drawing"), (b"", "this is no DXF drawing"),
     (b"0\nSECTION\nrubbish\n0\nEOF\n", "the drawing is damaged|no lines or curves")],
)  # fmt: skip
def test_file_that_is_no_drawing_is_refused(tmp_path, content, message):
    path = tmp_path / "board.dxf"
    path.write_bytes(content)
    with pytest.raises(DrawingError, match=message):
        read_outlines(path)


def test_missing_drawing_and_folder_are_refused(tmp_path):
    with pytest.raises(DrawingError, match="there is no such file"):
        read_outlines(tmp_path / "none.dxf")
    with pytest.raises(DrawingError, match="is a folder, not a drawing"):
        read_outlines(tmp_path)


def test_block_that_holds_itself_is_refused(drawing, tmp_path):
    block = drawing.blocks.new("LOOP")
    inner = block.add_blockref("LOOP", (1, 1), {"layer": "NAILS"})
    drawing.modelspace().add_blockref("LOOP", (0, 0))
    path = saved(drawing, tmp_path)
    line = path.read_text().splitlines().index(inner.dxf.handle) - 1
    with pytest.raises(DrawingError) as told:
        read_outlines(path)
    assert f":{line}: INSERT (handle {inner.dxf.handle}, line {line}) on layer " in str(told.value)
    assert "NAILS" in str(told.value) and "inserts block" in str(told.value)
    assert "it seems to hold itself; take the insert out of the block" in str(told.value)


def test_array_of_millions_is_refused(drawing, tmp_path):
    drawing.blocks.new("DOT").add_circle((0, 0), 1)
    drawing.modelspace().add_blockref(
        "DOT",
        (0, 0),
        {"row_count": 3000, "column_count": 3000, "row_spacing": 5, "column_spacing": 5},
    )
    with pytest.raises(DrawingError, match="more than 200,000 lines and curves"):
        read_outlines(saved(drawing, tmp_path))


# Drawings by other programs


def test_old_polylines_closed_by_their_first_point():
    """Letters: W, b, a, ... with four of them hollow."""
    outlines = read_outlines(SAMPLES / "polylines_r12_laser_letters.dxf")
    assert [len(outline.inner) for outline in outlines].count(1) == 4
    assert len(outlines) == 8
    assert max(o.shape.bounds[2] for o in outlines) == pytest.approx(442.674, abs=1e-3)


def test_plate_in_loose_lines_with_every_ring_drawn_twice():
    outline = only(SAMPLES / "plate_452_lines.dxf")
    assert outline.shape.bounds == pytest.approx((-13, -9, 27, 31))
    assert len(outline.inner) == 4
    assert outline.shape.area == pytest.approx(1600 - 4 * math.pi * 3**2, rel=2e-3)


def test_array_of_14_holes_in_a_block_in_inches():
    outline = only(SAMPLES / "insert_array_14_holes_inches.dxf")
    circles = [ring.circle for ring in outline.inner]
    assert len(circles) == 14
    assert len({round(circle[2], 6) for circle in circles}) == 1
    assert outline.shape.bounds[3] - outline.shape.bounds[1] == pytest.approx(184.15, abs=0.01)


def test_binary_drawing_with_an_open_chain_names_its_gap():
    with pytest.raises(DrawingError, match=r"no closed outline in it; the widest gap is 53\.1 mm"):
        read_outlines(SAMPLES / "open_chain_binary_r14.dxf")


def test_old_drawing_with_newer_tags_gives_its_three_circles():
    outlines = read_outlines(SAMPLES / "r12_with_subclass_markers.dxf")
    assert len([o for o in outlines if o.outer.circle]) == len(outlines) == 3


def test_polylines_with_arcs_of_more_than_half_a_circle():
    outline = only(SAMPLES / "closed_polylines_bulges.dxf")
    left, bottom, right, top = outline.shape.bounds
    assert (right - left, top - bottom) == pytest.approx((340.462, 314.713), abs=1e-3)
    assert len(outline.inner) == 2


# Boards out of drawings


@pytest.fixture
def board_drawing(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline([(100, 50), (1000, 50), (1000, 140), (100, 140)], close=True)
    space.add_circle((300, 95), 20)
    for layer in ("NAILS", "ROT"):
        drawing.layers.add(layer)
    space.add_circle((500, 95), 4, {"layer": "NAILS"})
    space.add_lwpolyline(
        [(900, 50), (1000, 50), (1000, 90)], close=True, dxfattribs={"layer": "ROT"}
    )
    return saved(drawing, tmp_path)


def _drawn(spec: str) -> str:
    return project_text(stock=f"  - {{board: D, species: teak, thickness: 40, drawing: {spec}}}\n")


@pytest.fixture(autouse=True)
def _families(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def test_board_and_keep_outs_come_from_their_layers(board_drawing, tmp_path):
    text = _drawn("{file: board.dxf, outline: '0', keep_outs: {nails: metal, rot: rot}}")
    (board,) = read_project(written(tmp_path, text)).stock
    assert board.shape.bounds == (0, 0, 900, 90)
    found = {k.kind: k for k in board.keep_outs}
    assert set(found) == {KeepOutKind.HOLE, KeepOutKind.METAL, KeepOutKind.ROT}
    nail = found[KeepOutKind.METAL]
    assert (nail.core.x, nail.core.y, nail.reach_mm, nail.source) == (400, 45, 4, "drawing")
    assert (found[KeepOutKind.HOLE].core.x, found[KeepOutKind.HOLE].reach_mm) == (200, 20)


@pytest.mark.parametrize(
    ("spec", "told"),
    [
        ("outline: '0', keep_outs: {NAILS: metal}", "layer 'ROT' has 1 thing on the board"),
        ("outline: '0', keep_outs: {ROT: rot}", "as keep_outs: {NAILS: metal}"),
        ("keep_outs: {ROT: rot}", "layer 'NAILS' has 1 thing on the board"),
        ("outline: 1, keep_outs: {NAILS: metal}", "as keep_outs: {ROT: rot}, or give it another"),
        ("outline: '0', keep_outs: {NAILS: metal, ROT: rot}", "layer 'Worn Edges' has 1 thing"),
    ],
)
def test_layer_named_as_a_keep_out_is_said_to_be_one_or_refused(
    board_drawing, drawing, tmp_path, spec, told
):
    """Metal on a layer that the project does not name must not vanish."""
    if "Worn" in told:
        drawing.modelspace().add_line((200, 60), (300, 60), {"layer": "Worn Edges"})
    drawing.modelspace().add_line((200, 60), (300, 60), {"layer": "CHALK"})
    saved(drawing, tmp_path)
    (found,) = findings_of(written(tmp_path, _drawn(f"{{file: board.dxf, {spec}}}")))
    assert told in found


@pytest.mark.parametrize("has_another", [True, False])
def test_keep_out_off_the_board_belongs_to_another_or_is_refused(
    board_drawing, drawing, tmp_path, has_another
):
    space = drawing.modelspace()
    space.add_circle((5000, 95), 4, {"layer": "NAILS"})
    if has_another:
        drawing.layers.add("NEXT")
        corners = [(4900, 50), (5100, 50), (5100, 140), (4900, 140)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "NEXT"})
    saved(drawing, tmp_path)
    path = written(
        tmp_path, _drawn("{file: board.dxf, outline: '0', keep_outs: {NAILS: metal, ROT: rot}}")
    )
    if has_another:
        (board,) = read_project(path).stock
        assert [keep_out.kind for keep_out in board.keep_outs].count(KeepOutKind.METAL) == 1
        return
    (found,) = findings_of(path)
    assert "a keep-out on layer 'NAILS' at (5000.0, 95.0) mm stands on no board" in found


def test_nail_drawn_by_a_block_squeezed_to_nothing_is_refused_by_its_name_and_place(
    board_drawing, drawing, tmp_path
):
    drawing.blocks.new("NAIL").add_circle((0, 0), 4)
    tiny = {"layer": "NAILS", "xscale": 1e-9, "yscale": 1e-9, "zscale": 1e-9}
    drawing.modelspace().add_blockref("NAIL", (600, 45), tiny)
    saved(drawing, tmp_path)
    path = written(
        tmp_path, _drawn("{file: board.dxf, outline: '0', keep_outs: {NAILS: metal, ROT: rot}}")
    )
    (found,) = findings_of(path)
    assert re.search(r"CIRCLE \(handle \w+, line \d+\) on layer 'NAILS' at \(600, 45\) mm", found)
    assert "metal: it is 8e-09 mm across, at least 0.1 mm is read: is the unit right?" in found


def test_board_may_be_chosen_by_its_number(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(RECTANGLE, close=True)
    space.add_lwpolyline([(0, 200), (700, 200), (700, 280), (0, 280)], close=True)
    saved(drawing, tmp_path)
    (board,) = read_project(written(tmp_path, _drawn("{file: board.dxf, outline: 2}"))).stock
    assert board.shape.bounds == (0, 0, 700, 80)


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        ("{file: none.dxf}", "none.dxf: there is no such file"),
        ("{file: board.dxf, outline: EDGE, keep_outs: {NAILS: metal, ROT: rot}}", "nothing is "
         "drawn on a layer 'EDGE'; layers in use: 0"),
        ("{file: board.dxf, keep_outs: {NAILS: metal, ROT: rot, KNOTS: knot}}", "nothing is drawn "
         "on a layer 'KNOTS'; layers in use: 0, NAILS, ROT"),
        ("{file: board.dxf, outline: 3, keep_outs: {NAILS: metal, ROT: rot}}", "there is no "
         "outline number 3; the drawing holds 1"),
    ],
)  # fmt: skip
def test_drawing_that_gives_no_board_says_why(board_drawing, tmp_path, spec, message):
    (found,) = findings_of(written(tmp_path, _drawn(spec)))
    assert found.startswith("5:55: board D: ")
    assert message in found


def test_several_outlines_ask_which(drawing, tmp_path):
    for y in (0, 200, 400):
        drawing.modelspace().add_lwpolyline([(0, y), (900, y), (900, y + 90)], close=True)
    saved(drawing, tmp_path)
    (found,) = findings_of(written(tmp_path, _drawn("{file: board.dxf}")))
    assert "3 outlines, 900 x 90 mm on '0', " in found
    assert found.endswith(
        "say which with outline: and its layer, or its number, the largest being 1"
    )


@pytest.mark.parametrize("shape", ["point", "line"])
def test_nail_drawn_without_an_area_is_not_passed_over(board_drawing, drawing, tmp_path, shape):
    """Metal is never cut: a nail that would be read as nothing has to be refused."""
    if shape == "point":
        drawing.modelspace().add_point((400, 95), {"layer": "NAILS"})
    else:
        drawing.modelspace().add_line((400, 95), (410, 95), {"layer": "NAILS"})
    saved(drawing, tmp_path, "more.dxf")
    spec = "{file: more.dxf, keep_outs: {NAILS: metal, ROT: rot}}"
    (found,) = findings_of(written(tmp_path, _drawn(spec)))
    assert "the keep-out layer 'NAILS' holds " in found


def test_drawing_without_a_unit_is_in_the_projects(tmp_path):
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_lwpolyline([(0, 0), (40, 0), (40, 5)], close=True)
    saved(document, tmp_path)
    text = _drawn("{file: board.dxf}").replace("unit: mm", "unit: in").replace("40,", "2,")
    text = text.replace("siding: 25, length: 300, width: 60", "siding: 1, length: 9, width: 2")
    (board,) = read_project(written(tmp_path, text)).stock
    assert board.length_mm == pytest.approx(40 * 25.4)


def test_plain_board_needs_no_drawing(tmp_path):
    assert read_project(written(tmp_path, project_text(stock=BOARD))).stock
