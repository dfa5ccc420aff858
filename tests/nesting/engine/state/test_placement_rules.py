"""Rules that no region holds: bungs apart and few in a metre, and grown grain everywhere."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from nesting.engine.state.placement_rules import along_grain, is_acceptable, needs_second_look
from nesting.engine.state.problem import Problem
from nesting.grain import GrainPath, angle_between, straight_grain
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle
from nesting.units import slope_angle

RULES = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, plugs_per_metre=3)
ARC = GrainPath(
    tuple((500 * math.sin(a), 500 - 500 * math.cos(a)) for a in np.linspace(0.0, 1.2, 7))
)


def problem_of(*, holes=Holes.PLUGGED, at=(), board_grain=None, shape=None, **outline):
    keep_outs = tuple(circle(KeepOutKind.HOLE, x, y, 4) for x, y in at)
    grain = {"grain": board_grain} if board_grain else {}
    wood = Board("A", shape or box(0, 0, 1000, 100), 30, "oak", keep_outs=keep_outs, **grain)
    need = Need("P", "any", Outline(box(0, 0, 400, 60), 20, **outline), ("oak",), holes=holes)
    return Problem([need], [wood], RULES)


def is_allowed(problem, x=0.0, y=0.0, angle=0.0, *, is_over=False):
    return is_acceptable(problem.figure(0, angle, is_over=is_over), x, y, 0, problem)


def test_bungs_may_touch_and_not_overlap():
    """Holes of 4 mm are reamed by 0.5 and closed by bungs of 9.525 mm, the least there are."""
    assert is_allowed(problem_of(at=[(100, 30), (109.53, 30)]))
    assert not is_allowed(problem_of(at=[(100, 30), (109.52, 30)]))


def test_no_more_bungs_in_a_metre_than_the_part_may_have():
    holes = [(x, 30) for x in (50, 150, 250, 350)]
    assert not is_allowed(problem_of(at=holes))
    assert is_allowed(problem_of(at=holes), x=60.0)  # the first is outside then
    assert is_allowed(problem_of(at=holes[:3]))


@pytest.mark.parametrize(
    ("given", "is_open"),
    [
        ({"holes": Holes.CLEAR, "at": [(5, 5)]}, False),
        ({"holes": Holes.PLUGGED}, False),
        ({"holes": Holes.PLUGGED, "at": [(5, 5)]}, True),
        ({"holes": Holes.CLEAR, "board_grain": ARC}, True),
        ({"holes": Holes.CLEAR, "grain": ARC}, True),
    ],
)
def test_only_holes_to_be_plugged_and_grown_grain_want_a_second_look(given, is_open):
    assert needs_second_look(0, 0, problem_of(**given)) == is_open


def plainly_off(problem, x, y, angle, *, is_over):
    """Return how far the board's grain is off a part's own, asked at a great many places of it."""
    outline, turn = problem.needs[0].outline, math.radians(angle)
    if outline.grain.is_straight:
        inside = shapely.segmentize(outline.shape, 1.0).exterior
        places = np.array([*np.asarray(inside.coords), *lattice(outline.shape, 6.0)])
    else:
        places = np.asarray(shapely.segmentize(LineString(outline.grain.points), 1.0).coords)
    sign = -1 if is_over else 1
    told = dict(nearest_ways(outline.grain, places))
    own = np.array([told[place] for place in range(len(places))]) * sign + angle
    cosine, sine = math.cos(turn), math.sin(turn)
    lying = places * (1, sign) @ np.array([[cosine, sine], [-sine, cosine]]) + (x, y)
    return max(
        angle_between(own[place], way)
        for place, way in nearest_ways(problem.boards[0].grain, lying)
    )


def nearest_ways(grain, places):
    """Yield (which place, way of the grain nearest to it), degrees.

    With an arc about each point at which it turns by 30 degrees at the most; outside a sharper one
    two pieces are equally near, and both are told.
    """
    pieces = [LineString(piece) for piece in pairwise(grain.points)]
    away = np.array([shapely.distance(piece, shapely.points(places)) for piece in pieces])
    for number, piece in enumerate(pieces):
        for place in np.flatnonzero(away[number] < away.min(axis=0) + 1e-6):
            along = piece.project(Point(places[place]))
            yield int(place), way_on(pieces, number, along)


def way_of(piece):
    (x0, y0), (x1, y1) = piece.coords
    return math.degrees(math.atan2(y1 - y0, x1 - x0))


def way_on(pieces, number, along):
    """Return the way of a path at a place on one of its pieces, degrees."""
    own, length = way_of(pieces[number]), pieces[number].length
    found = own
    for other, from_it in ((number - 1, along), (number + 1, length - along)):
        if not 0 <= other < len(pieces):
            continue
        turn = (way_of(pieces[other]) - own + 180) % 360 - 180
        arc = min(length, pieces[other].length) / 2
        if abs(turn) <= 30 and from_it < arc:
            found += turn / 2 * (1 - from_it / arc)
    return found


def lattice(shape, step):
    low_x, low_y, high_x, high_y = shape.bounds
    return [(x, y) for x in np.arange(low_x, high_x, step) for y in np.arange(low_y, high_y, step)]


@pytest.mark.parametrize("is_over", [False, True])
def test_grown_grain_is_asked_at_every_place(is_over):
    bent = GrainPath(((0.0, 30.0), (200.0, 20.0), (400.0, 60.0)))
    problem = problem_of(board_grain=ARC, grain=bent, slope_of_grain=4.0, shape=box(0, 0, 500, 300))
    rng, kept, tried = np.random.default_rng(5), 0, 0
    for angle in (0.0, 10.0, 25.0, 40.0, 185.0, 200.0, 215.0):
        figure = problem.figure(0, angle, is_over=is_over)
        spots = [(float(k), *rng.uniform((-50, -100), (450, 400))) for k in range(20)]
        found = along_grain(figure, spots, problem.boards[0])
        limit = slope_angle(problem.needs[0].outline.slope_of_grain)
        wanted = [
            spot
            for spot in spots
            if plainly_off(problem, *spot[1:], angle, is_over=is_over) <= limit
        ]
        assert found == wanted
        assert [is_acceptable(figure, *s[1:], 0, problem) for s in spots[:9]] == [
            s in wanted for s in spots[:9]
        ]
        kept, tried = kept + len(found), tried + len(spots)
    assert 0 < kept < tried
    assert along_grain(figure, [], problem.boards[0]) == []


CROSS = 500.0
"""Where the boards below have a short bend, mm along them."""


@pytest.mark.parametrize(
    "own",
    [straight_grain(), GrainPath(((0.0, 30.0), (200.0, 30.0), (400.0, 31.0)))],
    ids=["straight", "grown"],
)
@pytest.mark.parametrize(("steep", "passes"), [(7.0, True), (40.0, False)])
def test_no_short_bend_of_the_grain_is_passed_over(own, steep, passes):
    """A bend of 30 mm that a limit of 14 degrees lets pass at 13 and not at 53."""
    bend = GrainPath(((0.0, 50.0), (CROSS, 50.0), (CROSS + 30, 50.0 + steep), (1000.0, 52.0)))
    problem = problem_of(board_grain=bend, grain=own, slope_of_grain=4.0)
    lain = [is_allowed(problem, x, 20.0) for x in np.linspace(60.0, 560.0, 26)]
    limit = slope_angle(4.0)
    assert lain == [
        plainly_off(problem, x, 20.0, 0.0, is_over=False) <= limit
        for x in np.linspace(60.0, 560.0, 26)
    ]
    assert all(lain) == passes and any(lain)


def test_a_long_straight_part_is_held_to_the_grain_at_its_far_end():
    """Its own line of grain is told by two points; it lies true where all of its wood does."""
    rising = GrainPath(((0.0, 50.0), (1400.0, 50.0), (2000.0, 400.0)))
    problem = problem_of(board_grain=rising, shape=box(0, 0, 2000, 500), slope_of_grain=8.0)
    long_part = replace(problem.needs[0].outline, shape=box(0, 0, 1800, 60))
    long_problem = Problem(
        [replace(problem.needs[0], outline=long_part)], problem.boards, problem.rules
    )
    assert is_allowed(problem, 0.0, 10.0)
    assert not is_allowed(long_problem, 0.0, 10.0)


def test_a_limit_on_run_out_holds_on_grown_grain_as_well():
    """The board's grain rises to 20 degrees; a part along x may have it run out 1 in 6 only."""
    rising = GrainPath(((0.0, 50.0), (500.0, 50.0), (1000.0, 232.0)))
    plain = problem_of(board_grain=rising, slope_of_grain=2.0)
    limited = problem_of(board_grain=rising, slope_of_grain=2.0, run_out_limit=6.0)
    for x, both in ((0.0, True), (550.0, False)):
        assert is_allowed(plain, x, 20.0)
        assert is_allowed(limited, x, 20.0) == both


def test_straight_grain_is_not_looked_at_again():
    spots = [(0.0, 1.0, 2.0), (1.0, 5.0, 5.0)]
    problem = problem_of()
    assert along_grain(problem.figure(0, 70.0, is_over=False), spots, problem.boards[0]) == spots
