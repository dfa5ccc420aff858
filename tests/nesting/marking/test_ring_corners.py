"""Rings and their corners: by shapes whose corners, circles and stretches are known beforehand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nesting.marking.ring_corners import circle_of, from_lower_left, inward_deg, plain_ring, runs_of


def round_ring(radius: float, count: int, x: float = 0.0, y: float = 0.0):
    turns = np.arange(count) * 2 * math.pi / count
    return np.column_stack([x + radius * np.cos(turns), y + radius * np.sin(turns)])


SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
ELL = np.array([(0.0, 0.0), (300, 0), (300, 40), (60, 40), (60, 200), (0, 200)], float)


def test_way_inward_halves_each_corner_and_is_square_to_an_edge():
    assert inward_deg(SQUARE) == pytest.approx([45, 135, -135, -45])
    middle = np.insert(SQUARE, 1, (70.0, 0.0), axis=0)
    assert inward_deg(middle)[1] == pytest.approx(90)
    hollow = inward_deg(ELL)[3]
    # The hollow corner of an L looks into the corner where both legs meet.
    assert hollow == pytest.approx(-135)


@pytest.mark.parametrize(("radius", "count"), [(20.0, 64), (6.0, 24), (0.7, 8)])
def test_ring_of_a_bored_hole_has_its_middle_and_diameter(radius, count):
    found = circle_of(round_ring(radius, count, 900.0, 50.0))
    assert found is not None
    middle, diameter = found
    assert middle == pytest.approx((900, 50))
    assert diameter == pytest.approx(2 * radius)


@pytest.mark.parametrize(
    "ring",
    [
        round_ring(0.5, 7),
        round_ring(20.0, 8),
        round_ring(20.0, 64) * [1.0, 1.01],
        np.vstack([round_ring(20.0, 64)[:40], [(-19.0, -9.0)], round_ring(20.0, 64)[41:]]),
        SQUARE,
    ],
    ids=["seven corners", "octagon", "oval", "a dent", "square"],
)
def test_ring_that_is_no_circle_has_no_diameter(ring):
    assert circle_of(ring) is None


def test_ring_loses_what_lies_on_a_straight_line_and_goes_anticlockwise():
    more = np.array([(0, 0), (40, 0.004), (100, 0), (100, 50), (100, 100), (0, 100)], float)
    for given in (more, more[::-1]):
        kept = plain_ring(given)
        assert {tuple(point) for point in kept.tolist()} == {tuple(p) for p in SQUARE.tolist()}
        area = 0.5 * sum(
            x * v - u * y for (x, y), (u, v) in zip(kept, np.roll(kept, -1, 0), strict=True)
        )
        assert area == pytest.approx(100 * 100)


def test_three_corners_are_a_ring_and_a_ring_of_no_width_is_left_as_it_is():
    triangle = np.array([(0.0, 0.0), (90.0, 0.0), (0.0, 60.0)])
    assert sorted(plain_ring(triangle).tolist()) == sorted(triangle.tolist())
    more = np.insert(triangle, 1, (45.0, 0.0), axis=0)
    assert sorted(plain_ring(more).tolist()) == sorted(triangle.tolist())
    thread = np.array([(0.0, 0.0), (90.0, 0.001), (180.0, 0.0)])
    assert sorted(plain_ring(thread).tolist()) == sorted(thread.tolist())


@pytest.mark.parametrize("ring", [SQUARE, ELL], ids=["square", "ell"])
def test_ring_begins_at_its_lower_left_corner_wherever_it_began(ring):
    for by in range(len(ring)):
        assert from_lower_left(np.roll(ring, by, axis=0)).tolist() == ring.tolist()


def test_lower_left_is_weighed_by_what_a_ring_measures_each_way():
    # Low by 1 of 100 across and right by 300 of 1000 along, or the other way about.
    ring = np.array([(0.0, 5.0), (300.0, 0.0), (1000.0, 0.0), (1000.0, 100.0), (0.0, 100.0)])
    for by in range(len(ring)):
        assert from_lower_left(np.roll(ring, by, axis=0)).tolist() == ring.tolist()


def test_ring_without_corners_begins_at_its_lower_left_point_and_has_four_stretches():
    ring = from_lower_left(round_ring(200.0, 400))
    assert ring[0] == pytest.approx((-200 / math.sqrt(2),) * 2, abs=1.6)
    runs = list(runs_of(ring))
    assert len(runs) == 5  # the one that it begins in is parted there
    assert np.vstack([run[:-1] for run in runs]).tolist() == ring.tolist()
    assert runs[-1][-1].tolist() == ring[0].tolist()
    ends = np.array([run[-1] for run in runs[:-1]])
    assert np.abs(ends).max(axis=1) == pytest.approx([200] * 4)


def test_stretches_run_from_corner_to_corner():
    runs = [run.tolist() for run in runs_of(ELL)]
    assert runs == np.stack([ELL, np.roll(ELL, -1, axis=0)], axis=1).tolist()


@pytest.mark.parametrize(("side", "points"), [(400.0, [2, 2, 200, 2]), (80.0, [2, 202])])
def test_arch_is_one_stretch_and_long_straight_sides_below_it_are_their_own(side, points):
    turns = np.linspace(0, math.pi, 200)
    arch = np.column_stack([150 + 150 * np.cos(turns), side + 150 * np.sin(turns)])
    runs = list(runs_of(np.vstack([[(0.0, 0.0), (300.0, 0.0)], arch])))
    assert [len(run) for run in runs] == points


@pytest.mark.parametrize(
    ("turn_deg", "before", "after", "is_corner"),
    [
        (31, 1.0, 1.0, True), (29, 1.0, 1.0, False),
        (1.2, 100.0, 1.0, True), (1.2, 1.0, 100.0, True), (1.1, 100.0, 100.0, False),
        (-31, 1.0, 1.0, True), (-29, 1.0, 1.0, False),
    ],
)  # fmt: skip
def test_sharp_turn_is_a_corner_and_a_soft_one_where_its_edges_are_long(
    turn_deg, before, after, is_corner
):
    # Chords as long as that, of a curve that turns so far at each: 1.2 degrees over 100 mm bulge
    # by 0.26 mm, 1.1 by 0.24.
    turn = math.radians(turn_deg)
    bend = np.array([(before, 0.0), (before + after * math.cos(turn), after * math.sin(turn))])
    ring = np.vstack([[(0.0, 0.0)], bend, [(bend[1, 0], 900.0), (0.0, 900.0)]])
    starts = [run[0].tolist() for run in runs_of(ring)]
    assert (bend[0].tolist() in starts) == is_corner
