"""What each figure of a noisy table weighs: what it was measured to, and no figure twice."""

import numpy as np
import pytest
from known_hulls import noisy, table_of, v_bow, wineglass

from parts.lines.hull_points import HIGH, LOW
from parts.lines.judging import judged
from parts.lines.kriging import Kriging, Stiffness
from parts.lines.table import LineKind

NOISE_MM = 3.0


@pytest.fixture(scope="module", params=[wineglass, v_bow], ids=lambda make: make.__name__)
def in_noise(request):
    return judged(noisy(table_of(request.param()), np.random.default_rng(0), NOISE_MM))


def test_what_is_firm_of_a_figure_does_not_grow_with_the_noise():
    places, firm = np.linspace(-1, 1, 4)[:, None], np.array([0.0, 0.1, 0.2, 4.0])
    stiffness = Stiffness((1.0,), 1.0, noise=10.0)
    function = Kriging(places, np.zeros(4), np.full(4, 0.3), stiffness, firm=firm)
    assert np.sqrt(function.noise) == pytest.approx(np.hypot(3.0, firm))
    part = function.without(np.array([True, False, False, False]))
    assert np.sqrt(part.noise) == pytest.approx(np.hypot(3.0, firm[1:]))


def test_figure_that_lies_flat_on_the_hull_says_where_it_is_as_exactly_as_it_was_measured(in_noise):
    """By as much as a pencil line times the noise, those were doubted up to four times too much."""
    (fit,) = in_noise.fits
    doubt_mm = np.sqrt(fit.function.noise) / fit.along
    assert doubt_mm.max() < 1.2 * fit.rounding_mm * fit.noise


def test_the_noise_found_is_that_of_the_figures(in_noise):
    """It was taken for 2.4 mm: what is measured square to the hull was trusted too much."""
    (fit,) = in_noise.fits
    assert fit.rounding_mm * fit.noise == pytest.approx(NOISE_MM, rel=0.1)


@pytest.mark.parametrize(("code", "kind"), [(HIGH, LineKind.SHEER), (LOW, LineKind.RABBET)])
def test_edge_moved_to_the_surface_is_no_figure_for_the_surface(in_noise, code, kind):
    (fit,) = in_noise.fits
    edge = in_noise.edges.sheer if kind is LineKind.SHEER else in_noise.edges.rabbet
    mine = fit.cloud.lines == code
    for axis, row in enumerate(edge.rows(), 1):
        of_stations = row.stations >= 0
        numbers = row.stations[of_stations]
        given = np.array([row.line.offsets[n].mm for n in numbers])
        assert np.abs(row.values[of_stations] - given).max() > 0.1, "it is moved"
        assert list(fit.cloud.stations[mine]) == list(numbers)
        assert fit.cloud.points[mine, axis] == pytest.approx(given, abs=1e-9)
