"""Free rectangles against an exact optimum, by integer programming, on boards of some squares."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely.geometry import Point, Polygon, box

from nesting.flat_geometry.clear_rectangles import Least, area_of, clear_rectangles

SQUARE = 10.0


def most_covered(blocked, long, wide, gap):
    """Return the most squares that rectangles apart by a gap can cover, over all choices.

    With sides, gaps and least sizes in whole squares, the best has its sides on the grid.
    """
    nx, ny = blocked.shape
    areas, rows = [], []
    for x0, y0 in np.ndindex(nx, ny):
        for x1 in range(x0 + long, nx + 1):
            for y1 in range(y0 + wide, ny + 1):
                if not blocked[x0:x1, y0:y1].any():
                    taken = np.zeros((nx + gap, ny + gap))
                    taken[x0 : x1 + gap, y0 : y1 + gap] = 1
                    areas.append((x1 - x0) * (y1 - y0))
                    rows.append(taken.ravel())
    if not areas:
        return 0
    once = LinearConstraint(np.array(rows).T, -np.inf, 1)
    whole = np.ones(len(areas))
    found = milp(-np.array(areas, float), constraints=once, integrality=whole, bounds=Bounds(0, 1))
    return round(-found.fun)


def squares_case(rng):
    """Return a board of squares, some of them blocked, least sizes and gap in squares."""
    shape = int(rng.integers(6, 13)), int(rng.integers(4, 8))
    blocked = rng.random(shape) < rng.uniform(0.03, 0.25)
    return blocked, int(rng.integers(2, 4)), int(rng.integers(1, 3)), int(rng.integers(0, 2))


def test_rectangles_cover_nearly_as_much_as_any_could():
    """Of 60 boards as awkward as can be, 99 % of the optimum in the mean, none under 75 %."""
    rng, shares = np.random.default_rng(0), []
    for _ in range(60):
        blocked, long, wide, gap = squares_case(rng)
        obstacles = [box(x, y, x + SQUARE, y + SQUARE) for x, y in SQUARE * np.argwhere(blocked)]
        board = box(0, 0, *(SQUARE * np.array(blocked.shape)))
        found = clear_rectangles(
            board, obstacles, Least(long * SQUARE, wide * SQUARE, gap * SQUARE)
        )
        covered = sum(area_of(rectangle) for rectangle in found) / SQUARE**2
        most = most_covered(blocked, long, wide, gap)
        assert covered <= most + 1e-6
        shares.append(covered / most if most else 1.0)
    assert np.mean(shares) > 0.98
    assert min(shares) > 0.75


def test_whole_board_is_one_rectangle():
    assert clear_rectangles(box(5, 7, 1005, 107), [], Least(300, 50, 4)) == ((5, 7, 1005, 107),)


@pytest.mark.parametrize(("length", "width", "count"), [(299, 200, 0), (2000, 49, 0), (300, 50, 1)])
def test_least_size_is_kept_and_anything_less_is_not(length, width, count):
    assert len(clear_rectangles(box(0, 0, length, width), [], Least(300, 50, 3))) == count


def test_neck_narrower_than_the_least_width_parts_two_pieces():
    dumbbell = box(0, 0, 400, 100).union(box(400, 40, 500, 60)).union(box(500, 0, 900, 100))
    found = clear_rectangles(dumbbell, [], Least(300, 50, 3))
    assert sorted(found) == [(0, 0, 400, 100), (500, 0, 900, 100)]


def test_largest_rectangle_in_a_triangle_is_half_of_it():
    """The classic one: half base by half height."""
    found = clear_rectangles(Polygon([(0, 0), (1000, 0), (0, 200)]), [], Least(450, 90, 3))
    assert len(found) == 1
    assert area_of(found[0]) == pytest.approx(50_000, rel=0.005)


def test_rectangle_ends_at_the_true_edge_of_round_obstacles():
    nail = Point(500, 50).buffer(20, quad_segs=64)
    found = clear_rectangles(box(0, 0, 1000, 100), [nail], Least(300, 90, 3))
    assert sorted(found) == [
        pytest.approx((0, 0, 480, 100), abs=1e-6),
        pytest.approx((520, 0, 1000, 100), abs=1e-6),
    ]


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000))
def test_rectangles_are_clear_of_everything_and_of_each_other(seed):
    rng = np.random.default_rng(seed)
    low = 15 * np.sin(np.linspace(0, rng.uniform(1, 9), 25))
    x = np.linspace(0, 1500, 25)
    high = 180 + 25 * np.sin(np.linspace(1, rng.uniform(2, 9), 25))
    board = Polygon([*zip(x, low, strict=True), *zip(x[::-1], high[::-1], strict=True)])
    obstacles = [
        Point(*rng.uniform((0, 0), (1500, 200))).buffer(rng.uniform(3, 30)) for _ in range(12)
    ]
    obstacles.append(Polygon(rng.uniform((300, 0), (900, 200), (3, 2))))
    least = Least(150, 40, float(rng.uniform(0, 6)))
    found = clear_rectangles(board, obstacles, least)
    assert found == clear_rectangles(board, obstacles, least)
    for number, rectangle in enumerate(found):
        piece = box(*rectangle)
        assert piece.difference(board).area < 1e-6
        assert all(piece.intersection(obstacle).area < 1e-6 for obstacle in obstacles)
        assert rectangle[2] - rectangle[0] >= least.length_mm - 1e-5
        assert rectangle[3] - rectangle[1] >= least.width_mm - 1e-5
        for other in found[:number]:
            assert piece.distance(box(*other)) >= least.gap_mm - 1e-9


def test_one_long_piece_is_kept_rather_than_three_that_cover_little_more():
    """A ply sheet with a boat's side along its lower edge: a shop keeps the sheet in one."""
    steps = [box(0, 0, 353, 336), box(353, 0, 1983, 322), box(1983, 0, 2440, 356)]
    found = clear_rectangles(box(0, 0, 2440, 1202), steps, Least(300, 80, 3.2))
    assert found[0] == pytest.approx((0, 356, 2440, 1202))
    in_three = 353 * (1202 - 336) + (1630 - 3.2) * (1202 - 322) + (457 - 3.2) * (1202 - 356)
    assert 0.95 * in_three < sum(map(area_of, found)) < in_three
