import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from nesting.errors import ShapeError
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOutKind
from nesting.stock.long_edges import across, edge_of
from nesting.stock.patterns import Edge, crossings, edge_row, row, stations

HOLE = KeepOutKind.HOLE
PLANK = box(0, 0, 2000, 150)
SKEWED = Polygon([(60, 0), (2000, 0), (1940, 150), (0, 150)])
TAPERED = widths_outline([0, 2000], [160, 60])
BOWED = widths_outline(
    list(range(0, 2001, 50)), [150] * 41, [60 * math.sin(math.pi * i / 40) for i in range(41)]
)


def _places(keep_outs):
    return [(round(k.core.x, 6), round(k.core.y, 6)) for k in keep_outs]


def test_row_by_spacing_stops_at_the_last_whole_step():
    found = row(HOLE, (100, 20), (460, 20), diameter_mm=9, spacing_mm=100)
    assert _places(found) == [(100, 20), (200, 20), (300, 20), (400, 20)]
    assert {k.reach_mm for k in found} == {4.5}


def test_row_by_count_goes_from_end_to_end():
    found = row(HOLE, (0, 0), (30, 40), diameter_mm=9, count=3)
    assert _places(found) == [(0, 0), (15, 20), (30, 40)]


def test_row_whose_spacing_divides_it_with_rounding_keeps_its_last():
    assert len(row(HOLE, (0, 0), (0.3, 0), diameter_mm=0.1, spacing_mm=0.1)) == 4


def test_staggered_row_stands_on_both_sides_of_its_line():
    found = row(HOLE, (0, 50), (300, 50), diameter_mm=9, spacing_mm=100, stagger_mm=20)
    assert _places(found) == [(0, 40), (100, 60), (200, 40), (300, 60)]


def test_row_of_one():
    assert _places(row(HOLE, (5, 6), (50, 6), diameter_mm=9, count=1)) == [(5, 6)]


@pytest.mark.parametrize("options", [{}, {"spacing_mm": 10, "count": 3}])
def test_row_needs_spacing_or_count(options):
    with pytest.raises(ShapeError, match="a spacing or a count, one of the two"):
        row(HOLE, (0, 0), (100, 0), diameter_mm=9, **options)


def test_row_with_both_ends_in_one_place_is_refused():
    with pytest.raises(ShapeError, match=r"a row must have two ends, both are at \(3, 4\) mm"):
        row(HOLE, (3, 4), (3, 4), diameter_mm=9, count=2)


def test_pattern_without_end_is_refused():
    with pytest.raises(ShapeError, match="makes 100,001 keep-outs, at most 2,000"):
        row(HOLE, (0, 0), (1000, 0), diameter_mm=9, spacing_mm=0.01)


def test_long_edges_of_a_skewed_board_are_without_its_ends():
    assert list(edge_of(SKEWED, Edge.LOWER).coords) == [(60, 0), (2000, 0)]
    assert list(edge_of(SKEWED, Edge.UPPER).coords) == [(0, 150), (1940, 150)]


def test_long_edges_do_not_depend_on_the_direction_of_the_ring():
    turned = Polygon(list(SKEWED.exterior.coords)[::-1])
    for edge in Edge:
        assert edge_of(turned, edge).equals(edge_of(SKEWED, edge))


def test_edge_row_on_a_straight_board():
    found = edge_row(
        HOLE, PLANK, Edge.LOWER, inset_mm=20, diameter_mm=6, start_mm=100, spacing_mm=600
    )
    assert _places(found) == [(100, 20), (700, 20), (1300, 20), (1900, 20)]


def test_edge_row_on_the_upper_edge_is_set_in_downwards():
    found = edge_row(
        HOLE, PLANK, Edge.UPPER, inset_mm=20, diameter_mm=6, start_mm=100, spacing_mm=900,
        stop_mm=1000,
    )  # fmt: skip
    assert _places(found) == [(100, 130), (1000, 130)]


@pytest.mark.parametrize("edge", list(Edge))
def test_edge_row_keeps_its_inset_along_a_curved_edge(edge):
    found = edge_row(HOLE, BOWED, edge, inset_mm=25, diameter_mm=6, start_mm=80, spacing_mm=110)
    line = edge_of(BOWED, edge)
    assert len(found) == math.floor((line.length - 160) / 110) + 1
    for keep_out in found:
        assert line.distance(keep_out.core) == pytest.approx(25, abs=0.05)
        assert BOWED.contains(keep_out.core)


def test_edge_row_steps_along_the_edge_not_along_x():
    found = edge_row(
        HOLE, TAPERED, Edge.UPPER, inset_mm=0, diameter_mm=6, start_mm=0, spacing_mm=400
    )
    places = np.array(_places(found))
    assert np.hypot(*np.diff(places, axis=0).T) == pytest.approx(np.full(len(places) - 1, 400))


def test_staggered_edge_row_sets_every_second_one_further_in():
    found = edge_row(
        HOLE, PLANK, Edge.LOWER, inset_mm=20, diameter_mm=6, start_mm=0, spacing_mm=500,
        stagger_mm=12,
    )  # fmt: skip
    assert [y for _, y in _places(found)] == [20, 32, 20, 32, 20]


def test_edge_row_that_starts_past_its_stop_says_so():
    with pytest.raises(ShapeError, match="starts at 1200 mm and would stop at 800 mm"):
        edge_row(HOLE, PLANK, Edge.LOWER, inset_mm=9, diameter_mm=6, start_mm=1200, spacing_mm=9)


def test_crossings_from_both_edges_follow_a_tapering_board():
    found = crossings(HOLE, TAPERED, [0, 1000, 2000], diameter_mm=6, insets_mm=[25])
    assert _places(found) == [(0, 25), (0, 135), (1000, 25), (1000, 85), (2000, 25), (2000, 35)]


def test_crossing_of_a_board_too_narrow_for_two_has_one_in_its_middle():
    assert _places(crossings(HOLE, TAPERED, [2000], diameter_mm=6, insets_mm=[40])) == [(2000, 30)]


def test_crossings_by_offset_count_from_the_lower_edge():
    found = crossings(HOLE, BOWED, [1000], diameter_mm=6, offsets_mm=[20, 70])
    assert _places(found) == [(1000, 80), (1000, 130)]


def test_staggered_crossing_sets_neighbours_apart_along_the_board():
    found = crossings(HOLE, PLANK, [500], diameter_mm=6, insets_mm=[30], stagger_mm=24)
    assert _places(found) == [(488, 30), (512, 120)]


def test_single_fastening_of_a_crossing_has_no_neighbour_to_be_staggered_from():
    """Screws that are said to be staggered must not be taken for a row in line."""
    with pytest.raises(ShapeError, match="staggered by 24 mm, and one alone at each place"):
        crossings(HOLE, PLANK, [500], diameter_mm=6, offsets_mm=[75], stagger_mm=24)


def test_crossing_off_the_board_names_the_station():
    with pytest.raises(ShapeError, match="station 2100 mm is off the board, which goes from 0 to"):
        crossings(HOLE, PLANK, [100, 2100], diameter_mm=6, insets_mm=[30])


def test_crossings_need_offsets_or_insets():
    with pytest.raises(ShapeError, match="offsets from the lower edge, or insets from both"):
        crossings(HOLE, PLANK, [100], diameter_mm=6)


def test_stations_go_to_the_boards_end():
    assert stations(PLANK, 200, 600) == (200, 800, 1400, 2000)
    assert stations(PLANK, 200, 600, 2) == (200, 800)


def test_first_station_past_the_end_is_refused():
    with pytest.raises(ShapeError, match="the first station is 2001 mm, past the board's end"):
        stations(PLANK, 2001, 600)


@settings(deadline=None)
@given(x=st.floats(0, 2000))
def test_heights_at_a_station_are_on_the_outline(x):
    for height in across(SKEWED, x):
        assert SKEWED.exterior.distance(Point(x, height)) < 1e-6
