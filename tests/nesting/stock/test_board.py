from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from nesting.errors import ShapeError
from nesting.stock.board import ON_BOARD_MM, Board
from nesting.stock.board_outline import board_outline
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOutKind, circle

PLANK = Board("D-01", box(0, 0, 2000, 150), 40, "teak")


def test_board_measures_itself():
    assert (PLANK.length_mm, PLANK.width_mm, PLANK.area_mm2) == (2000, 150, 300_000)


def test_grain_is_along_the_length_unless_recorded():
    assert PLANK.grain.angles_deg == (0,)


def test_board_is_frozen():
    with pytest.raises(FrozenInstanceError):
        PLANK.thickness_mm = 30


@pytest.mark.parametrize("thickness", [0, -1, 401, 900, float("nan")])
def test_thickness_out_of_range_asks_for_the_unit(thickness):
    with pytest.raises(
        ShapeError, match=r"the thickness is .* at most 400 mm: is the unit right\?"
    ):
        replace(PLANK, thickness_mm=thickness)


def test_board_without_a_name_is_refused():
    with pytest.raises(ShapeError, match="must have a name"):
        replace(PLANK, name=" ")


def test_splinter_asks_for_the_unit():
    with pytest.raises(
        ShapeError, match=r"2\.4 x 0\.15 mm; .* at least 10 mm each way: is the unit"
    ):
        replace(PLANK, shape=box(0, 0, 2.4, 0.15))


def test_empty_outline_is_refused():
    with pytest.raises(ShapeError, match="the outline is not usable"):
        replace(PLANK, shape=Polygon())


def test_opening_in_the_outline_is_refused():
    """An edge inside would be drawn on no sheet, and no trim would be kept from it."""
    outline = box(0, 0, 2000, 150)
    with pytest.raises(ShapeError, match=r'has 1 opening, .* is a keep-out, region\("groove"'):
        replace(PLANK, shape=outline.difference(box(900, 50, 1000, 100)))


def test_keep_out_off_the_board_says_how_far():
    with pytest.raises(ShapeError, match=r"hole at \(2010, 75\) mm lies 10\.0 mm off the board"):
        replace(PLANK, keep_outs=(circle(KeepOutKind.HOLE, 2010, 75, 40),))


def test_keep_out_off_by_tape_error_is_taken():
    keep_out = circle(KeepOutKind.HOLE, 2000 + ON_BOARD_MM, 75, 10)
    assert replace(PLANK, keep_outs=(keep_out,)).keep_outs == (keep_out,)


CORNERS = [(0.0, 0.0), (900.0, 0.0), (900.0, 90.0), (0.0, 90.0)]


@settings(deadline=None)
@given(turn=st.integers(0, 3), is_backwards=st.booleans(), is_closed=st.booleans(),
       doubled=st.lists(st.integers(0, 3)))  # fmt: skip
def test_outline_is_the_same_in_whatever_way_its_corners_are_told(
    turn, is_backwards, is_closed, doubled
):
    ring = CORNERS[turn:] + CORNERS[:turn]
    ring = ring[::-1] if is_backwards else ring
    ring = [point for i, point in enumerate(ring) for _ in range(1 + doubled.count(i))]
    shape = board_outline(ring + ring[:1] if is_closed else ring)
    assert shape.exterior.is_ccw
    assert len(shape.exterior.coords) == 5
    assert shape.equals(box(0, 0, 900, 90))


def test_outline_that_crosses_itself_names_both_edges():
    with pytest.raises(
        ShapeError, match=r"edge 1 \(from \(0, 0\) mm\) meets edge 3 .* at \(450, 45\) mm"
    ):
        board_outline([(0, 0), (900, 90), (900, 0), (0, 90)])


def test_outline_that_touches_itself_is_refused():
    with pytest.raises(ShapeError, match="crosses itself"):
        board_outline([(0, 0), (900, 0), (900, 90), (450, 0), (0, 90)])


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([], "three points or more, this one has 0"),
        ([(0, 0), (9, 0), (9, 0), (0, 0)], "three points or more, this one has 2"),
        ([(0, 0), (9, 0), (float("nan"), 9)], "points must be numbers"),
        ([(0, 0), (9, 0), (18, 0)], "crosses itself|encloses nothing"),
    ],
)
def test_outline_that_is_none_says_why(points, message):
    with pytest.raises(ShapeError, match=message):
        board_outline(points)


def test_widths_are_square_across_the_length():
    shape = widths_outline([0, 1000, 2000], [100, 120, 80], [0, 10, 0])
    assert shape.equals(Polygon([(0, 0), (1000, 10), (2000, 0), (2000, 80), (1000, 130), (0, 100)]))


@pytest.mark.parametrize(
    ("stations", "widths", "lower", "message"),
    [
        ([0, 900], [90], None, "2 stations, 1 width and 2 lower-edge heights"),
        ([0], [90], None, "two or more"),
        ([0, 900, 900], [90, 90, 90], None, "stations must rise: 900 mm comes after 900 mm"),
        ([0, 900], [90, 0], None, "the width at station 900 mm is 0 mm, must be over 0"),
        ([0, 900], [90, 90], [0], "2 stations, 2 widths and 1 lower-edge height"),
    ],
)
def test_widths_that_make_no_board_say_why(stations, widths, lower, message):
    with pytest.raises(ShapeError, match=message):
        widths_outline(stations, widths, lower)
