"""The referee's look at run-out, against angles that a protractor would show."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from nesting.grain import GrainPath, straight_grain
from nesting.need import Need
from nesting.nest import Placement
from nesting.outline import Outline
from nesting.referee.grain import steepest_deg
from nesting.stock.board import Board

BOARD = Board("A", box(0, 0, 2000, 600), 40, "oak")


def off(outline, x=0.0, y=0.0, angle=0.0, *, board=BOARD, is_over=False):
    return steepest_deg(Placement(Need("P", "any", outline, ("oak",)), x, y, angle, is_over), board)


def run(angle_deg):
    return 1 / math.tan(math.radians(angle_deg))


def taper(angle_deg, told_deg):
    """A part 800 long whose upper edge rises; what it says of its own run-out may be another."""
    rise = 800 * math.tan(math.radians(angle_deg))
    shape = Polygon([(0, 0), (800, 0), (800, 60 + rise), (0, 60)])
    return Outline(shape, 20, run_out=run(told_deg))


@pytest.mark.parametrize(
    ("angle", "is_over", "steepest"),
    [
        (0, False, 5), (2, False, 7), (-2.5, False, 2.5), (-4, False, 4), (180, False, 5),
        (0, True, 5), (2, True, 3), (-2, True, 7),
    ],
)  # fmt: skip
def test_both_edges_of_a_taper_count_as_they_lie(angle, is_over, steepest):
    assert off(taper(5, 5), angle=angle, is_over=is_over) == pytest.approx(steepest)


def test_grain_of_the_board_is_what_counts():
    slanting = replace(BOARD, grain=straight_grain(-6))
    assert off(taper(5, 5), board=slanting) == pytest.approx(11)
    assert off(taper(5, 5), angle=-8, board=slanting) == pytest.approx(3)


def test_edge_steeper_than_the_part_says_is_an_end_but_for_a_twentieth_of_a_degree():
    assert off(taper(5, 4.96)) == pytest.approx(5)
    assert off(taper(5, 4.94)) == 0


def test_part_whose_grain_slants_in_its_own_frame_is_turned_by_that():
    slanting = Outline(box(0, 0, 800, 60), 20, grain=straight_grain(3), run_out=run(3))
    assert off(slanting) == pytest.approx(3)
    assert off(slanting, angle=2) == pytest.approx(5)
    assert off(slanting, angle=-1) == pytest.approx(2)
    # Turned over, its grain slants the other way; its long edges do not.
    assert off(slanting, angle=2, is_over=True) == pytest.approx(2)


def on(*points):
    return replace(BOARD, grain=GrainPath(points))


@pytest.mark.parametrize(("x", "steepest"), [(199, 0), (202, 90), (500, 90), (1001, 90)])
def test_grown_grain_is_asked_all_along_an_edge(x, steepest):
    """An edge of 800, from x - 400 to x + 400, on grain that turns up at 600."""
    plank = Outline(box(-400, 0, 400, 1), 20)
    assert off(plank, x, 20, board=on((0, 20), (600, 20), (600, 1000))) == steepest


@pytest.mark.parametrize(("y", "steepest"), [(120, 90), (285, 90), (377, 80), (420, 80)])
def test_grown_grain_is_asked_all_along_an_edge_across(y, steepest):
    """An edge of 200 on end, from y - 100 to y + 100, between grain at 100 and grain at 450."""
    rise = 1000 * math.tan(math.radians(10))
    wood = on((0, 100), (2000, 100), (2000, 450 + rise), (0, 450 - rise))
    upright = Outline(box(-100, -5, 100, 5), 20)
    assert off(upright, 1000, y, 90, board=wood) == pytest.approx(steepest)


def test_grain_that_turns_only_inside_a_straight_part_counts_too():
    """A jog of 30 mm up the middle of a part 300 wide; outside a part beside it, it is none."""
    jog = on((0, 300), (500, 300), (520, 330), (2000, 330))
    wide = Outline(box(0, 0, 900, 300), 20)
    steep = math.degrees(math.atan2(30, 20))
    assert off(wide, 100, 165, board=jog) == pytest.approx(steep)
    assert off(wide, 560, 165, board=jog) == 0


def test_of_a_grown_part_only_its_sweep_counts():
    knee = box(0, 0, 300, 60).union(box(0, 0, 60, 300))
    grown = Outline(knee, 20, grain=GrainPath(((0, 20), (280, 20), (300, 300))), run_out=run(5))
    upper = math.degrees(math.atan2(280, 20))
    assert off(grown) == pytest.approx(upper)
    assert off(replace(grown, grain=GrainPath(((0, 20), (280, 20), (300, 21))))) < 3
    # The same wedge on straight grain of its own is held to its edges.
    assert off(taper(5, 5)) > off(replace(taper(5, 5), grain=GrainPath(((0, 9), (9, 9), (20, 9)))))


def test_a_corner_drawn_twice_is_no_edge():
    """Turned over and back by 5 degrees; an edge along x would be 8 off."""
    part = taper(5, 5)
    doubled = Polygon([point for point in part.shape.exterior.coords for _ in range(2)])
    board = replace(BOARD, grain=straight_grain(-8))
    assert off(replace(part, shape=doubled), angle=-5, board=board, is_over=True) == pytest.approx(
        3
    )
