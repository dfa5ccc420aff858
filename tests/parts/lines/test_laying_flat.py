import math

import numpy as np
import pytest
from lines_tables import WITHY

from nesting.errors import ShapeError
from parts.lines import Face, read_hull
from parts.lines.develop import develop


def length(points):
    return np.linalg.norm(np.diff(points, axis=0), axis=1).sum()


def straight(points):
    return np.linalg.norm(points[-1] - points[0])


def test_a_strip_of_a_cylinder_unrolls_to_its_exact_lengths():
    # Geometry: rolled out, a point at angle a and height h lies at (R a, h).
    radius, angles = 800.0, np.linspace(0.0, 1.2, 121)
    share = np.linspace(0.0, 1.0, 9)
    turned = angles[:, None] + 0.1 * share
    height = 30 * angles[:, None] + 60 * np.sin(2 * angles)[:, None] * (1 - share) + 100 * share
    net = np.stack([radius * np.sin(turned), radius * np.cos(turned), height], axis=-1)
    flat = np.stack([radius * turned, height], axis=-1)
    laid = develop(net)
    assert laid.strain < 2e-5
    for edge, exact in ((laid.lower, flat[:, 0]), (laid.upper, flat[:, -1])):
        assert length(edge) == pytest.approx(length(exact), rel=2e-5)
        assert straight(edge) == pytest.approx(straight(exact), rel=2e-5)
    assert max(abs(error) for error in laid.edge_errors_mm) < 0.01


def test_a_strip_of_a_cone_unrolls_to_a_sector():
    # Geometry: a cone of half angle a, turned by p, rolls out to a sector of angle p sin a.
    half, turn, near, far = math.radians(20), 2.0, 600.0, 700.0
    slant = np.linspace(near, far, 5)
    turned = np.linspace(0.0, turn, 81)[:, None]
    net = np.stack(
        [
            slant * math.sin(half) * np.cos(turned),
            slant * math.sin(half) * np.sin(turned),
            np.broadcast_to(slant * math.cos(half), (81, 5)),
        ],
        axis=-1,
    )
    laid, sector = develop(net), turn * math.sin(half)
    assert straight(laid.lower) == pytest.approx(2 * near * math.sin(sector / 2), abs=0.02)
    assert straight(laid.upper) == pytest.approx(2 * far * math.sin(sector / 2), abs=0.02)
    assert laid.outline().area == pytest.approx(sector / 2 * (far**2 - near**2), rel=1e-4)
    assert laid.strain < 1e-9


def sphere_strip(radius, half_width):
    east = np.linspace(0.0, 1.0, 41)[:, None]
    north = np.linspace(-half_width, half_width, 7) / radius
    return radius * np.stack(
        [
            np.cos(north) * np.cos(east),
            np.cos(north) * np.sin(east),
            np.broadcast_to(np.sin(north), (41, 7)),
        ],
        axis=-1,
    )


def test_a_strip_of_a_sphere_does_not_lie_flat_and_says_how_far():
    # Edges at latitude b are shorter than the middle by cos b: half of that must go somewhere.
    radius = 1000.0
    narrow, wide = (develop(sphere_strip(radius, half)) for half in (50.0, 200.0))
    assert wide.strain > 0.25 * (1 - math.cos(0.2))
    assert wide.strain > 10 * narrow.strain > 0


def test_every_point_of_a_strip_laid_flat_is_at_rest_between_its_neighbours():
    # What is left of each length pulls along it. At the best fit all pulls on a point cancel,
    # also where the strip is held while it is laid.
    net = sphere_strip(1000.0, 200.0)
    flat = develop(net).net
    pulls = np.zeros_like(flat)
    for one, other in (
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None, -1)), (slice(1, None), slice(1, None))),
        ((slice(None, -1), slice(1, None)), (slice(1, None), slice(None, -1))),
    ):
        span = flat[other] - flat[one]
        laid = np.linalg.norm(span, axis=-1, keepdims=True)
        short = np.linalg.norm(net[other] - net[one], axis=-1, keepdims=True) - laid
        pulls[one] -= short * span / laid
        pulls[other] += short * span / laid
    assert np.abs(pulls).max() < 1e-6


def test_a_flat_strip_stays_as_it_is():
    x, y = np.meshgrid(np.linspace(0, 900, 10), np.linspace(0, 120, 3), indexing="ij")
    tilted = np.stack([x, 0.6 * y, 0.8 * y], axis=-1)
    laid = develop(tilted)
    assert laid.net[..., 0] == pytest.approx(x, abs=1e-6)
    assert laid.net[..., 1] == pytest.approx(y, abs=1e-6)
    assert laid.outline().area == pytest.approx(900 * 120)


def test_a_plank_of_the_demo_hull_lies_flat_within_a_millimetre():
    hull = read_hull(WITHY)
    x = np.linspace(2400.0, 6300.0, 40)
    low = np.column_stack([x, [hull.height_at(at, 700.0, Face.OUTSIDE) for at in x]])
    high = low + np.array([0.0, 110.0])
    laid = hull.develop(low, high)
    net = hull.strip(low, high)
    assert net[:, 0, 1] == pytest.approx(700.0, abs=0.01)
    assert laid.strain < 2e-3
    assert max(abs(error) for error in laid.edge_errors_mm) < 2.0
    assert laid.outline().is_valid
    assert length(laid.upper) == pytest.approx(length(net[:, -1]), abs=2.0)


@pytest.mark.parametrize(
    ("net", "message"),
    [
        (np.zeros((1, 3, 3)), "n and m 2 or more"),
        (np.zeros((3, 3, 3)), "lie on each other"),
    ],
    ids=["one-line", "one-point"],
)
def test_a_strip_that_is_none_is_refused(net, message):
    with pytest.raises(ShapeError, match=message):
        develop(net)
