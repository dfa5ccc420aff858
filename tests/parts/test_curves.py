import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PartError
from parts.curves import (
    CHORD_ERROR_MM,
    Crown,
    CrownShape,
    arc_about,
    arc_radius,
    arc_rise,
    at_distances,
    fair_curve,
    hollow_edge,
    largest_hollow,
    length_of,
    offset_left,
    parallel_hollow,
    round_topped,
)

UP = np.array([0.0, 1.0])

# Rises at tenths of the half-beam, computed here from R = (c^2/4 + s^2) / 2s and from the
# parabola; no published table was found.
TENTHS = np.arange(11) / 10
FLAT_ARC = [3.75, 3.7126, 3.6006, 3.4137, 3.1520, 2.8152, 2.4034, 1.9162, 1.3534, 0.7148, 0.0]
FLAT_PARABOLA = [3.75, 3.7125, 3.6, 3.4125, 3.15, 2.8125, 2.4, 1.9125, 1.35, 0.7125, 0.0]
STEEP_ARC = [6, 5.9435, 5.7736, 5.4892, 5.0883, 4.5681, 3.9248, 3.1535, 2.2479, 1.2, 0]
STEEP_PARABOLA = [6, 5.94, 5.76, 5.46, 5.04, 4.5, 3.84, 3.06, 2.16, 1.14, 0]


def distances_to_polyline(points, polyline):
    """Return how far points lie from a polyline, by plain arithmetic on its segments."""
    starts, spans = polyline[:-1], np.diff(polyline, axis=0)
    across = points[:, None, :] - starts
    share = np.clip((across * spans).sum(axis=2) / (spans**2).sum(axis=1), 0, 1)
    feet = starts + share[:, :, None] * spans
    return np.hypot(*(points[:, None, :] - feet).transpose(2, 0, 1)).min(axis=1)


@pytest.mark.parametrize(
    ("chord", "rise", "radius"), [(120, 3.75, 481.875), (48, 6, 51)], ids=["flat", "steep"]
)
def test_radius_of_an_arc_follows_from_chord_and_rise(chord, rise, radius):
    assert arc_radius(chord, rise) == radius
    assert arc_rise(chord, radius) == pytest.approx(rise, abs=1e-12)


@pytest.mark.parametrize(
    ("span", "rise", "shape", "table"),
    [
        (120, 3.75, CrownShape.ARC, FLAT_ARC),
        (120, 3.75, CrownShape.PARABOLA, FLAT_PARABOLA),
        (48, 6, CrownShape.ARC, STEEP_ARC),
        (48, 6, CrownShape.PARABOLA, STEEP_PARABOLA),
    ],
    ids=["flat arc", "flat parabola", "steep arc", "steep parabola"],
)
def test_crown_has_the_computed_rises_at_tenths_of_the_half_beam(span, rise, shape, table):
    heights = Crown(span, rise, shape).height(TENTHS * span / 2)
    assert heights == pytest.approx(table, abs=5.1e-5)


def test_hanging_crown_is_the_crown_turned_over():
    x = np.linspace(-50, 50, 11)
    assert Crown(100, -8).height(x) == pytest.approx(-Crown(100, 8).height(x))


@given(
    span=st.floats(50, 10_000),
    slope=st.floats(-0.24, 0.24),
    shape=st.sampled_from(CrownShape),
    start=st.floats(-1, 0.9),
)
def test_no_chord_of_a_sampled_crown_leaves_it_by_more_than_the_chord_error(
    span, slope, shape, start
):
    crown = Crown(span, slope * span, shape)
    low, high = start * span / 2, span / 2
    sampled = crown.points(low, high)
    x = np.linspace(low, high, 997)
    true = np.column_stack([x, crown.height(x)])
    assert distances_to_polyline(true, sampled).max() <= CHORD_ERROR_MM * (1 + 1e-6)


@given(radius=st.floats(0.5, 5000), start=st.floats(-360, 360), sweep=st.floats(-350, 350))
def test_points_of_an_arc_lie_on_it_and_its_chords_near_it(radius, start, sweep):
    centre = np.array([3.0, -4.0])
    arc = arc_about(centre, radius, start, start + sweep)
    assert np.hypot(*(arc - centre).T) == pytest.approx(radius)
    middles = (arc[1:] + arc[:-1]) / 2
    assert radius - np.hypot(*(middles - centre).T).min() <= CHORD_ERROR_MM * (1 + 1e-6)


def test_round_topped_notch_is_as_wide_and_high_as_asked():
    notch = round_topped(100, 10, 40, 24)
    assert (notch[:, 0].min(), notch[:, 0].max()) == pytest.approx((88, 112))
    assert (notch[:, 1].min(), notch[:, 1].max()) == pytest.approx((10, 40))
    assert notch[0] == pytest.approx([112, 10])
    assert notch[-1] == pytest.approx([88, 10])


def test_low_notch_is_one_flat_arch():
    notch = round_topped(0, 0, 5, 24)
    centre_height = 5 - arc_radius(24, 5)
    assert np.hypot(notch[:, 0], notch[:, 1] - centre_height) == pytest.approx(arc_radius(24, 5))


@pytest.mark.parametrize("tip", [(-300.0, 260.0), (220.0, 400.0)], ids=["left", "right"])
def test_hollow_edge_is_tangent_to_its_straight_part_and_square_at_the_throat(tip):
    tip, throat, radius = np.array(tip), np.array([0.0, 120.0]), 90.0
    edge = hollow_edge(tip, throat, UP, radius)
    centre = throat + radius * UP
    assert edge[0] == pytest.approx(tip)
    assert edge[-1] == pytest.approx(throat)
    assert np.hypot(*(edge[1:] - centre).T) == pytest.approx(radius)
    straight, spoke = edge[1] - tip, edge[1] - centre
    assert straight @ spoke == pytest.approx(0, abs=1e-6)
    assert (edge[1:, 1] <= centre[1]).all()


def test_largest_hollow_leaves_no_straight_part():
    tip, throat = np.array([300.0, 260.0]), np.array([0.0, 120.0])
    radius = largest_hollow(tip, throat, UP)
    assert np.hypot(*(tip - throat - radius * UP)) == pytest.approx(radius)


def test_tip_no_higher_than_the_throat_has_no_hollow():
    assert math.isinf(largest_hollow(np.array([300.0, 100.0]), np.array([0.0, 120.0]), UP))


def test_parallel_hollow_makes_the_straight_part_run_along_its_arm():
    along = np.array([math.cos(math.radians(40)), math.sin(math.radians(40))])
    inward = np.array([-along[1], along[0]])
    tip, throat = 400 * along + 50 * inward, np.array([0.0, 110.0])
    radius = parallel_hollow(tip, inward, throat, UP)
    straight = np.diff(hollow_edge(tip, throat, UP, radius)[:2], axis=0)[0]
    assert straight @ inward == pytest.approx(0, abs=1e-6)


def test_fair_curve_passes_through_its_points_and_agrees_with_a_library_spline():
    interpolate = pytest.importorskip("scipy.interpolate")
    points = np.array([[0, 0], [120, 15], [260, 70], [400, 190], [450, 330]], dtype=float)
    stations = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    spline = interpolate.CubicSpline(stations, points, bc_type="natural")
    curve = fair_curve(points)
    assert distances_to_polyline(points, curve).max() < 1e-9
    true = spline(np.linspace(0, stations[-1], 999))
    assert distances_to_polyline(true, curve).max() <= CHORD_ERROR_MM


def test_fair_curve_through_points_of_a_line_is_that_line():
    curve = fair_curve(np.array([[0, 0], [30, 40], [60, 80], [300, 400]], dtype=float))
    assert curve[:, 0] * 4 == pytest.approx(curve[:, 1] * 3)


def test_two_points_on_each_other_are_refused():
    with pytest.raises(PartError, match="lie on each other"):
        fair_curve(np.array([[0, 0], [0, 0], [10, 10]], dtype=float))


def test_offset_polyline_keeps_the_distance_of_every_segment():
    corner = np.array([[0, 0], [100, 0], [100, 80]], dtype=float)
    assert offset_left(corner, 10).tolist() == [[0, 10], [90, 10], [90, 80]]
    assert offset_left(corner, -10).tolist() == [[0, -10], [110, -10], [110, 80]]


def test_offset_larger_than_the_curve_is_round_is_refused():
    arc = arc_about(np.zeros(2), 20, 0, 90)
    with pytest.raises(PartError, match=r"bends too sharply to be moved by 25\.0 mm"):
        offset_left(arc, 25)


def test_places_along_a_polyline_are_measured_along_it():
    corner = np.array([[0, 0], [100, 0], [100, 80]], dtype=float)
    assert length_of(corner) == 180
    assert at_distances(corner, np.array([40.0, 130.0])).tolist() == [[40, 0], [100, 30]]
