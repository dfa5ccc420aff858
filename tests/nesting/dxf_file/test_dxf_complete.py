"""Outlines that would be taken in silence for another, and metal that would be passed over."""

import io
import math
import random
import re
from types import SimpleNamespace

import ezdxf
import pytest
from ezdxf import units
from shapely.geometry import Point

from nesting.dxf_file import drawn as dxf_drawn
from nesting.dxf_file.outlines import read_outlines
from nesting.errors import DrawingError
from nesting.project.board_entry import DrawingSpec
from nesting.project.drawn_board import drawn_board
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit

PLATE = [(0, 0), (600, 0), (600, 150), (0, 150)]


@pytest.fixture
def drawing():
    return ezdxf.new("R2010", units=units.MM)


def saved(document, folder):
    dxf_drawn._read_rings.cache_clear()
    path = folder / "drawn.dxf"
    document.saveas(path)
    return path


def changed(path, change):
    """Change a saved drawing's text."""
    dxf_drawn._read_rings.cache_clear()
    path.write_text(change(path.read_text(encoding="utf-8")), encoding="utf-8")
    return path


def only(path, **options):
    (outline,) = read_outlines(path, **options)
    return outline


def board(folder, **spec):
    dxf_drawn._read_rings.cache_clear()
    setting = SimpleNamespace(folder=folder, unit=Unit.MM)
    return drawn_board(DrawingSpec(file="drawn.dxf", **spec), setting)


def metal(drawing, folder, **spec):
    """Return the keep-outs on NAILS, with a plate on EDGE round them."""
    drawing.modelspace().add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    saved(drawing, folder)
    _, keep_outs = board(folder, outline="EDGE", keep_outs={"NAILS": "metal"}, **spec)
    return [keep_out for keep_out in keep_outs if keep_out.kind == KeepOutKind.METAL]


NAILS = {"layer": "NAILS"}

# An outline that does not close, and the hole in it


@pytest.mark.parametrize("gap", [0.5, 5, 15, 30, 60, 149])
def test_outline_with_a_gap_is_not_passed_over_for_the_hole_in_it(drawing, tmp_path, gap):
    drawing.modelspace().add_lwpolyline([*PLATE, (0, gap)])
    drawing.modelspace().add_circle((300, 75), 30)
    with pytest.raises(DrawingError, match=r"LWPOLYLINE \(handle \w+, line \d+\) .*stands round "
                       r"the outline CIRCLE|is not closed, by"):  # fmt: skip
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("gap", [5, 20, 60])
def test_outline_in_four_lines_that_do_not_meet_is_not_passed_over(drawing, tmp_path, gap):
    for (x, y), (x2, y2) in zip(PLATE, PLATE[1:] + PLATE[:1], strict=True):
        dx, dy = (gap * (x2 - x) / math.hypot(x2 - x, y2 - y), gap * (y2 - y) / 150)
        drawing.modelspace().add_line((x + dx, y + dy), (x2, y2))
    drawing.modelspace().add_circle((300, 75), 30)
    with pytest.raises(DrawingError, match=r"stands round the outline CIRCLE|is not closed, by"):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("stray", [((600, 150), (700, 150)), ((0, 0), (100, 75))])
def test_outline_that_a_stray_line_touches_is_not_passed_over(drawing, tmp_path, stray):
    space = drawing.modelspace()
    space.add_lwpolyline(PLATE[:3], dxfattribs={"layer": "EDGE"})
    space.add_lwpolyline([PLATE[2], PLATE[3], PLATE[0]], dxfattribs={"layer": "EDGE"})
    space.add_line(*stray, {"layer": "EDGE"})
    space.add_circle((300, 75), 30, {"layer": "HOLES"})
    with pytest.raises(
        DrawingError,
        match=r"on layer 'EDGE' .*does not close, and stands round the outline CIRCLE .*'HOLES'",
    ):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("more", [[(0, 30)], [(0, 0), (-40, -40)]])
def test_outline_badly_drawn_is_not_passed_over_for_a_ring_beside_it(drawing, tmp_path, more):
    drawing.modelspace().add_lwpolyline(PLATE)
    drawing.modelspace().add_lwpolyline([PLATE[3], *more[:1]])
    if more[1:]:
        drawing.modelspace().add_line(PLATE[0], more[1])
    drawing.modelspace().add_circle((300, 575), 30)
    with pytest.raises(DrawingError, match="goes round with the lines that it meets, and does not"):
        read_outlines(saved(drawing, tmp_path))


def test_three_sides_of_an_outline_are_no_outline(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline([PLATE[3], PLATE[0], PLATE[1], PLATE[2]])
    drawing.modelspace().add_circle((300, 75), 30)
    with pytest.raises(DrawingError, match="stands round the outline CIRCLE"):
        read_outlines(saved(drawing, tmp_path))


def test_line_that_reaches_past_an_outline_is_named_with_it(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    drawing.modelspace().add_line((-50, 75), (650, 75), {"layer": "CENTRE"})
    path = saved(drawing, tmp_path)
    with pytest.raises(DrawingError) as caught:
        read_outlines(path)
    said = re.sub(r"handle \w+, line \d+", "H", str(caught.value))
    assert said == (
        f"{path}: LINE (H) on layer 'CENTRE' at (-50, 75) mm does not close, and reaches past the "
        "outline LWPOLYLINE (H) on layer 'EDGE' at (0, 0) mm; close it, take it out, or name the "
        "layer that is meant"
    )
    assert only(path, layer="EDGE").shape.area == 90_000


@pytest.mark.parametrize(
    "hole",
    [[(200, 50), (260, 50), (260, 90), (200, 90), (200, 65)], [(200, 50), (260, 50), (260, 90)]],
)
def test_cut_out_that_does_not_close_is_not_lost(drawing, tmp_path, hole):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_lwpolyline(hole)
    with pytest.raises(DrawingError, match=r"lies in the outline|is not closed, by"):
        read_outlines(saved(drawing, tmp_path))


def test_centre_lines_inside_and_lines_apart_or_along_an_edge_are_passed_over(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(PLATE, close=True)
    space.add_circle((300, 75), 30)
    space.add_line((250, 75), (350, 75))
    space.add_line((300, 25), (300, 125))
    space.add_lwpolyline([(0, -300), (600, -300), (600, -350)])
    space.add_lwpolyline(PLATE[:3])
    space.add_text("starboard", height=9).set_placement((300, 100))
    assert len(only(saved(drawing, tmp_path)).inner) == 1


def test_lines_beside_a_ring_do_not_stand_round_it(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_circle((0, 0), 30)
    space.add_lwpolyline([(-500, -40), (500, -40), (600, -20)])
    assert only(saved(drawing, tmp_path)).outer.circle == (0, 0, 60)


def test_outline_in_a_hatch_or_solid_is_not_passed_over_for_the_hole(drawing, tmp_path):
    drawing.modelspace().add_hatch().paths.add_polyline_path(PLATE)
    drawing.modelspace().add_circle((300, 75), 30)
    with pytest.raises(DrawingError, match=r"HATCH .* is filled along no closed line"):
        read_outlines(saved(drawing, tmp_path))


def test_hatch_along_outlines_is_passed_over(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(PLATE, close=True)
    space.add_circle((300, 75), 30)
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path(PLATE)
    hatch.paths.add_edge_path().add_arc((300, 75), 30, 0, 360)
    assert len(only(saved(drawing, tmp_path)).inner) == 1


def test_outline_drawn_in_space_is_not_taken_for_its_plan(drawing, tmp_path):
    tilted = [(x, y, x / 10) for x, y in PLATE]
    drawing.modelspace().add_polyline3d(tilted, close=True)
    with pytest.raises(DrawingError, match="is drawn in space: it rises by 60 mm"):
        read_outlines(saved(drawing, tmp_path))


def test_block_of_another_layer_counts_on_its_inserts(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    drawing.blocks.new("HOLE").add_circle((0, 0), 30, {"layer": "SYMBOLS"})
    space.add_blockref("HOLE", (300, 75), {"layer": "EDGE"})
    assert len(only(saved(drawing, tmp_path), layer="EDGE").inner) == 1


def test_missing_block_is_named(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_blockref("HOLES", (300, 75))
    with pytest.raises(DrawingError, match=r"INSERT .*'HOLES' that is not in the file"):
        read_outlines(saved(drawing, tmp_path))


# Numbers that are none


@pytest.mark.parametrize("number", ["500,9", "nan", "-nan(ind)", "inf", "1e400", "", "abc", "1_0"])
def test_number_that_is_none_is_named_with_its_line(drawing, tmp_path, number):
    drawing.modelspace().add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    path = changed(
        saved(drawing, tmp_path), lambda text: text.replace("\n600.0\n", f"\n{number}\n", 1)
    )
    with pytest.raises(DrawingError, match=r"dxf:(\d+): group 10 of LWPOLYLINE \(") as caught:
        read_outlines(path)
    assert f"on layer 'EDGE' is {number!r}, which is no number" in str(caught.value)
    line = int(re.search(r"dxf:(\d+): ", str(caught.value))[1])
    assert path.read_text(encoding="utf-8").split("\n")[line - 1] == number


def test_decimal_comma_says_what_a_drawing_has(drawing, tmp_path, capfd):
    drawing.modelspace().add_lwpolyline([(0, 0), (500.9, 0), (500.9, 90)], close=True)
    path = changed(saved(drawing, tmp_path), lambda text: text.replace("500.9", "500,9"))
    with pytest.raises(DrawingError, match="a DXF has a point before its decimals; write"):
        read_outlines(path)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("group", "says"),
    [(40, "has no radius"), (50, "has no start angle"), (51, "has no end angle"),
     (10, "has a point without x"), (20, "has a point without y")],
)  # fmt: skip
def test_arc_without_a_group_is_named(drawing, tmp_path, group, says):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_arc((300, 75), 30, 10, 350)

    def without(text):
        head, _, tail = text.partition("\nARC\n")
        lines = tail.split("\n")
        at = next(i for i in range(0, len(lines), 2) if lines[i].strip() == str(group))
        return head + "\nARC\n" + "\n".join(lines[:at] + lines[at + 2 :])

    with pytest.raises(DrawingError, match=rf"ARC \(handle \w+, line \d+\) .*{says}"):
        read_outlines(changed(saved(drawing, tmp_path), without))


@pytest.mark.parametrize("bulge", [1e-15, -1e-14, 1e-300])
def test_bulge_of_nothing_is_a_straight_line(drawing, tmp_path, bulge):
    drawing.modelspace().add_lwpolyline(
        [(0, 0, bulge), (600, 0, 0), (600, 150, 0), (0, 150, 0)], format="xyb", close=True
    )
    assert only(saved(drawing, tmp_path)).shape.area == 90_000


@pytest.mark.parametrize("bulge", [1e20, -1e200, 1e9])
def test_bulge_too_large_is_named(drawing, tmp_path, bulge):
    drawing.modelspace().add_lwpolyline(
        [(0, 0, bulge), (600, 0, 0), (600, 150, 0), (0, 150, 0)], format="xyb", close=True
    )
    with pytest.raises(DrawingError, match=r"LWPOLYLINE .*(too large to be drawn|km from the or)"):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("radius", [0, -30, 1e20])
@pytest.mark.parametrize("kind", ["circle", "arc"])
def test_radius_that_cannot_be_is_named(drawing, tmp_path, kind, radius):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    if kind == "circle":
        drawing.modelspace().add_circle((300, 75), radius)
    else:
        drawing.modelspace().add_arc((300, 75), radius, 0, 90)
    with pytest.raises(DrawingError, match=rf"{kind.upper()} .* has a radius of "):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("end", [4e-13, 2 * math.pi, 0.0, 2 * math.pi - 1e-9, 4 * math.pi])
def test_ellipse_that_ends_where_it_begins_is_whole(drawing, tmp_path, end):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_ellipse((300, 75), (60, 0), 0.5, 0.0, 1.0)
    path = saved(drawing, tmp_path)
    changed(path, lambda text: text.replace(" 42\n1.0\n", f" 42\n{end!r}\n"))
    (hole,) = only(path).inner
    assert hole.polygon.area == pytest.approx(math.pi * 60 * 30, rel=2e-3)


@pytest.mark.parametrize("end", ["360.0", "0.0", "0.000001", "359.999999", "720.0"])
def test_arc_that_ends_where_it_begins_is_whole(drawing, tmp_path, end):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_arc((300, 75), 30, 0, 123)
    changed(saved(drawing, tmp_path), lambda text: text.replace("123.0", end))
    (hole,) = only(tmp_path / "drawn.dxf").inner
    assert hole.polygon.area == pytest.approx(math.pi * 900, rel=5e-3)


def test_two_open_lines_side_by_side_are_no_outline(drawing, tmp_path):
    drawing.modelspace().add_line((0, 0), (900, 0))
    drawing.modelspace().add_line((0, 1), (900, 1))
    with pytest.raises(DrawingError, match=r"is not closed, by 1\.00 mm"):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("spline", ["empty", "few", "knots"])
def test_spline_that_is_none_is_named(drawing, tmp_path, spline):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    made = drawing.modelspace().add_spline()
    if spline != "empty":
        made.control_points = [(0, 0), (9, 9), (20, 0), (40, 9)][: 2 if spline == "few" else 4]
        made.knots = [0, 0, 0, 0, 1, 1, 1, 1] if spline == "few" else [0] * 8
    with pytest.raises(DrawingError, match=r"SPLINE \(handle \w+, line \d+\) .* has "):
        read_outlines(saved(drawing, tmp_path))


@pytest.mark.parametrize("tail", ["\x1a", "\x1a\x1a\r\n", "\x00", "\n\n"])
def test_what_editors_put_after_the_end_is_passed_over(drawing, tmp_path, tail):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    path = changed(saved(drawing, tmp_path), lambda text: text + tail)
    assert only(path).shape.area == 90_000


def test_second_drawing_after_the_end_is_not_passed_over(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    path = changed(saved(drawing, tmp_path), lambda text: text + text)
    with pytest.raises(DrawingError, match=r"dxf:\d+: the drawing goes on after its end"):
        read_outlines(path)


def test_line_lost_from_a_drawing_is_noticed_where_it_stands(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    path = changed(saved(drawing, tmp_path), lambda text: text.replace("\n600.0", "", 1))
    with pytest.raises(DrawingError, match=r"drawn\.dxf:\d+: the drawing is damaged: a group code"):
        read_outlines(path)


# Metal


def test_wide_ring_is_read_with_its_width(drawing, tmp_path):
    """The donut of 6 mm: a line 3 mm wide round a circle of 3 mm."""
    drawing.modelspace().add_lwpolyline(
        [(298.5, 75, 3, 3, 1), (301.5, 75, 3, 3, 1)], close=True, dxfattribs=NAILS
    )
    (nail,) = metal(drawing, tmp_path)
    assert nail.polygon.bounds == pytest.approx((297, 72, 303, 78), abs=0.05)


def test_wide_ring_over_a_thin_one_is_read_with_its_width(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_circle((300, 75), 3, NAILS)
    space.add_lwpolyline([(297, 75, 4, 4, 1), (303, 75, 4, 4, 1)], close=True, dxfattribs=NAILS)
    (nail,) = metal(drawing, tmp_path)
    assert nail.polygon.bounds == pytest.approx((295, 70, 305, 80), abs=0.1)


def test_nail_drawn_twice_is_one(drawing, tmp_path):
    for _ in range(2):
        drawing.modelspace().add_circle((300, 75), 3, NAILS)
    assert len(metal(drawing, tmp_path)) == 1


def test_nail_in_a_hole_of_the_board_is_not_lost(drawing, tmp_path):
    drawing.modelspace().add_circle((300, 75), 30, {"layer": "EDGE"})
    drawing.modelspace().add_circle((300, 75), 3, NAILS)
    assert len(metal(drawing, tmp_path)) == 1


def test_nail_that_crosses_itself_is_named(drawing, tmp_path):
    drawing.modelspace().add_lwpolyline(
        [(295, 70), (305, 80), (305, 70), (295, 80)], close=True, dxfattribs=NAILS
    )
    with pytest.raises(DrawingError, match="on layer 'NAILS' crosses or touches itself"):
        metal(drawing, tmp_path)


def test_nail_that_a_hatch_fills_is_one_and_a_hatch_alone_is_read(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_circle((300, 75), 3, NAILS)
    space.add_hatch(dxfattribs=NAILS).paths.add_edge_path().add_arc((300, 75), 3, 0, 360)
    space.add_hatch(dxfattribs=NAILS).paths.add_edge_path().add_arc((400, 75), 5, 0, 360)
    first, second = metal(drawing, tmp_path)
    assert (first.is_circle, second.is_circle) == (True, False)
    assert second.polygon.contains(Point(404.8, 75))


def test_symbol_on_two_layers_of_keep_outs_is_both(drawing, tmp_path):
    space = drawing.modelspace()
    space.add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    drawing.blocks.new("NAIL").add_circle((0, 0), 3, {"layer": "RUST"})
    space.add_blockref("NAIL", (300, 75), NAILS)
    saved(drawing, tmp_path)
    _, found = board(tmp_path, outline="EDGE", keep_outs={"NAILS": "metal", "RUST": "stain"})
    assert {keep_out.kind for keep_out in found} == {KeepOutKind.METAL, KeepOutKind.STAIN}


def test_line_within_a_nail_adds_nothing(drawing, tmp_path):
    drawing.modelspace().add_circle((300, 75), 3, NAILS)
    drawing.modelspace().add_line((298, 75), (302, 75), NAILS)
    assert len(metal(drawing, tmp_path)) == 1


def test_bearing_zone_that_is_no_ring_is_named(drawing, tmp_path):
    from pydantic import ValidationError

    from parts.families.drawn import DrawnOutlinePart

    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    drawing.modelspace().add_circle((50, 75), 30, {"layer": "ZONES"})
    drawing.modelspace().add_point((550, 75), {"layer": "ZONES"})
    saved(drawing, tmp_path)
    data = {"file": "drawn.dxf", "siding": 20, "bearing_zones": "ZONES"}
    with pytest.raises(ValidationError, match=r"the bearing zone layer 'ZONES' holds .*POINT"):
        DrawnOutlinePart.model_validate(data, context={"unit": Unit.MM, "folder": tmp_path})


def test_old_drawing_without_handles_is_named_by_its_lines(tmp_path):
    document = ezdxf.new("R12")
    document.modelspace().add_polyline2d(PLATE, close=True, dxfattribs={"layer": "EDGE"})
    document.modelspace().add_point((300, 75, 0), NAILS)
    changed(saved(document, tmp_path), lambda text: re.sub(r"\n  5\n\w+\n", "\n", text))
    with pytest.raises(DrawingError, match=r"POINT \(line \d+\) on layer 'NAILS' at \(300, 75\)"):
        board(tmp_path, outline="EDGE", keep_outs={"NAILS": "metal"})


def test_blocks_in_blocks_stand_where_their_matrices_say(drawing, tmp_path):
    """Turned, mirrored, stretched, tilted, in arrays; one in another is sheared, which the
    library's own taking apart gets wrong, and its matrices do not."""
    chance = random.Random(3)
    expected = []
    for number in range(20):
        inner = drawing.blocks.new(f"A{number}", base_point=(chance.uniform(-5, 5), 2))
        corners = [(chance.uniform(0, 30), chance.uniform(0, 30)) for _ in range(3)]
        inner.add_lwpolyline(corners, close=True)
        turned = {"rotation": chance.uniform(0, 360), "xscale": chance.choice([2, -1])}
        outer = drawing.blocks.new(f"B{number}")
        first = outer.add_blockref(f"A{number}", (chance.uniform(0, 50), 1), turned)
        second = drawing.modelspace().add_blockref(
            f"B{number}",
            (chance.uniform(0, 500), chance.uniform(0, 500)),
            {"rotation": chance.uniform(0, 360), "xscale": -1.5, "layer": f"L{number}"}
            | {"column_count": chance.choice([1, 3]), "column_spacing": 25}
            | {"extrusion": chance.choice([(0, 0, 1), (0, 0, -1), (0.3, -0.2, 1)])},
        )
        for single in second.multi_insert() if second.mcount > 1 else [second]:
            for x, y in corners:
                placed = single.matrix44().transform(first.matrix44().transform((x, y, 0)))
                expected.append((f"L{number}", placed.x, placed.y))
    drawn = dxf_drawn.read_rings(saved(drawing, tmp_path), unit=None, default_unit=Unit.MM)
    for layer, x, y in expected:
        found = [point for ring in drawn.on(layer).rings for point in ring.points]
        assert min(math.hypot(x - at[0], y - at[1]) for at in found) < 1e-6


# Names that are none, figures that are next to nothing, curves that lean


def test_words_of_a_damaged_drawing_stand_in_one_short_sentence(drawing, tmp_path):
    """A binary drawing may hold a line break in a word; any may hold one without end."""
    drawing.modelspace().add_lwpolyline(PLATE, close=True)
    stream = io.BytesIO()
    drawing.write(stream, fmt="bin")
    whole = stream.getvalue()
    damaged = [
        whole.replace(b"BLOCK\x00", b"BLO\nK\x00"),
        whole.replace(b"SECTION\x00", b"SE\nTION\x00"),
        whole.replace(b"\x00ENTITIES\x00", b"\x00ENT\nTIES\x00").replace(
            b"ENDSEC\x00", b"WIDGET\x00"
        ),
        whole.replace(b"BLOCK\x00", b"K" * 900 + b"\x00"),
        whole.replace(b"LWPOLYLINE\x00", b"WID\nGET\x00"),
        whole.replace(b"LWPOLYLINE\x00", b"WID\x1b[31mGET\x00"),
    ]
    for content in damaged:
        assert content != whole
        (tmp_path / "drawn.dxf").write_bytes(content)
        dxf_drawn._read_rings.cache_clear()
        with pytest.raises(DrawingError) as error:
            read_outlines(tmp_path / "drawn.dxf")
        said = str(error.value).removeprefix(str(tmp_path))
        assert said.isprintable() and len(said) < 400


def test_blocks_and_layers_are_named_in_one_short_sentence(drawing, tmp_path):
    drawing.modelspace().add_blockref("N" * 900, (0, 0), {"layer": "L" * 250})
    with pytest.raises(
        DrawingError, match=r"inserts a block 'NN.*\.\.\..*NN' that is not"
    ) as error:
        read_outlines(saved(drawing, tmp_path))
    assert len(str(error.value).removeprefix(str(tmp_path))) < 400


@pytest.mark.parametrize(("rise", "is_read"), [(0.005, True), (-7.5, False)])
def test_ellipse_that_leans_out_of_its_plane_is_named(drawing, tmp_path, rise, is_read):
    """In its own plane it is as wide as its axis is long; in the plan nobody knows."""
    drawing.modelspace().add_ellipse((300, 75), (10, 0, rise), 0.5, dxfattribs=NAILS)
    if is_read:
        assert len(metal(drawing, tmp_path)) == 1
        return
    with pytest.raises(DrawingError, match=r"ELLIPSE .* has a half axis that leans out of its"):
        metal(drawing, tmp_path)


def test_corners_nearer_than_numbers_tell_raise_no_warning(drawing, tmp_path):
    plate = [(0, 0), (1e-300, 0), *PLATE[1:]]
    drawing.modelspace().add_lwpolyline(plate, close=True, dxfattribs={"layer": "EDGE"})
    drawing.modelspace().add_solid([(400, 45), (420, 45), (400, 55), (420, 55)])
    drawing.modelspace().add_circle((300, 75), 10, dxfattribs={"layer": "EDGE"})
    with pytest.raises(DrawingError, match="is filled along no closed line"):
        read_outlines(saved(drawing, tmp_path))
