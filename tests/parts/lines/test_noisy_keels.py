"""Straight keels and the forefeet swept into them, in tables whose figures are millimetres off."""

import numpy as np
import pytest
from known_hulls import double_ender, noisy, table_of
from test_straight_keels import FOOT, KEEL, LENGTH, cruiser, keel

from parts.lines.edges_by_surface import edges_by_surface
from parts.lines.faired_table import faired
from parts.lines.reading import Reading
from parts.lines.swept_figures import swept_figures
from parts.lines.table import LineKind, Measure

NOISE_MM = 3.0


def of_table(make, seed=None, stations=9):
    table = table_of(make(), stations=stations)
    table = table if seed is None else noisy(table, np.random.default_rng(seed), NOISE_MM)
    return faired(Reading(table), None)


@pytest.fixture(scope="module", params=[0, 1, 2])
def cruiser_in_noise(request):
    return of_table(cruiser, request.param)


def test_a_level_keel_stays_straight_and_what_is_swept_into_it_does_not_swing(cruiser_in_noise):
    """Forward of the keel it was 12 to 24 mm off, and the keel itself up to 8."""
    rabbet = edges_by_surface(cruiser_in_noise).edges.rabbet.profile
    x = np.linspace(1600.0, LENGTH, 200)
    assert np.abs(rabbet.at(x) - KEEL).max() < 4.0
    x = np.linspace(400.0, 1600.0, 200)
    assert np.abs(rabbet.at(x) - keel(x)).max() < 10.0


def test_figures_that_a_forefoot_is_swept_through_cannot_be_odd_in_a_noisy_table(cruiser_in_noise):
    table = cruiser_in_noise.reading.table
    rabbet = table.lines.index(table.row(LineKind.RABBET, Measure.HEIGHT))
    assert table.stations[0].x_mm < FOOT < table.stations[1].x_mm
    assert swept_figures(cruiser_in_noise) == {(rabbet, 0)}


def test_any_figure_of_an_exact_table_may_be_odd():
    assert swept_figures(of_table(cruiser)) == set()


def test_figures_of_lines_that_turn_slowly_may_be_odd_in_a_noisy_table():
    state = of_table(double_ender, 0, stations=11)
    edges = {row.line for edge in state.edges.each() for row in edge.rows()}
    rabbet = state.edges.rabbet.height.line
    found = {state.reading.table.lines[number] for number, _ in swept_figures(state)}
    assert edges > {rabbet}
    assert found <= {rabbet}
