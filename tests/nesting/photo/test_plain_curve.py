"""One plain curve along a side, whatever lies off it."""

import numpy as np
import pytest

from nesting.photo.plain_curve import plain_curve

U = np.arange(0.0, 2000.0, 3.0)
ALL = np.ones(len(U), bool)


def side(bend=30.0, taper=0.02):
    return bend * (2 * U / U[-1] - 1) ** 2 + taper * U


def bump(start, end, high):
    share = np.clip((U - start) / (end - start), 0, 1)
    return high * np.sin(np.pi * share)


@pytest.mark.parametrize("high", [34.0, -60.0], ids=["bulge", "bay"])
@pytest.mark.parametrize("start", [200.0, 600.0, 1000.0])
def test_the_curve_is_that_of_the_side_though_two_fifths_of_it_lie_off(start, high):
    noise = np.random.default_rng(2).normal(0, 1.0, len(U))
    weight, smooth = plain_curve(U, side() + bump(start, start + 740, high) + noise, ALL)
    assert np.abs(smooth - side()).max() < 2.5
    assert weight[np.abs(bump(start, start + 740, high)) > 15].max() < 1e-3


def test_a_short_side_is_straight_and_what_is_not_free_tells_nothing():
    u = np.arange(0.0, 300.0, 3.0)
    free = u < 200
    weight, smooth = plain_curve(u, np.where(free, 0.1 * u, 90.0), free)
    assert np.abs(smooth - 0.1 * u).max() < 1e-6
    assert weight[~free].max() < 1e-3


def test_a_side_of_a_few_places_has_a_curve():
    u = np.arange(0.0, 12.0, 3.0)
    assert np.abs(plain_curve(u, 2 + 0.5 * u, np.ones(4, bool))[1] - 2 - 0.5 * u).max() < 1e-6
