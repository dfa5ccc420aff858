"""The search for the stiffness: its misfit and how that rises, against slow twins."""

from dataclasses import replace

import numpy as np
import pytest
from known_hulls import double_ender, single_chine, table_of
from scipy.optimize import minimize

from parts.lines.kriging import Kriging, Stiffness
from parts.lines.likeliest_stiffness import Search, tuned

AT = np.log([0.7, 1.4, 5.0, 40.0, 0.3, 1.5])
NEAR = 0.5
"""In the logarithm: a figure is odd from 18 on."""


@pytest.fixture(params=[0.0, 2e-3], ids=["noise alone", "firm besides"])
def function(request):
    rng = np.random.default_rng(5)
    places = rng.uniform(-1, 1, (40, 2))
    places[:, 0] = np.round(places[:, 0], 1)  # as at stations
    figures = np.sin(places[:, 0]) + places[:, 1] ** 2 * places[:, 0]
    firm = rng.uniform(0.5, 1.0, 40) * request.param
    return Kriging(places, figures, np.full(40, 1e-3), Stiffness((0.8, 1.5), 0.4), firm=firm)


def with_stiffness(function, logarithms):
    values = np.exp(logarithms)
    stiffness = Stiffness(tuple(values[:2]), values[4], values[5], straight=tuple(values[2:4]))
    return replace(function, stiffness=stiffness)


def test_the_misfit_of_pairs_is_that_of_the_whole_covariance(function):
    misfit, _ = Search(function)(AT)
    assert misfit == pytest.approx(with_stiffness(function, AT).misfit(), abs=1e-6)


def test_the_rise_of_the_misfit_agrees_with_differences(function):
    search = Search(function)
    _, rise = search(AT)
    for n, step in enumerate(1e-5 * np.eye(6)):
        slope = (search(AT + step)[0] - search(AT - step)[0]) / 2e-5
        assert rise[n] == pytest.approx(slope, rel=1e-3, abs=1e-4)


def cloud_functions():
    """Yield the functions of hulls by formulas, as they are before their stiffness is sought."""
    from parts.lines.fits import USUAL
    from parts.lines.judging import judged

    for make in (double_ender, single_chine):
        for fit in judged(table_of(make())).by_diagonals:
            usual = replace(USUAL, lengths=(USUAL.lengths[0], fit.function.least_across))
            yield replace(fit.function, stiffness=usual)


def test_no_search_of_the_library_finds_a_likelier_stiffness():
    for start in cloud_functions():
        found = tuned(start)
        search = Search(start)
        sought = minimize(
            search, search.start, jac=True, method="L-BFGS-B",
            bounds=np.column_stack(search.bounds), options={"maxiter": 500, "ftol": 1e-12},
        )  # fmt: skip
        assert found.misfit() < sought.fun + NEAR


def test_a_stiffness_keeps_within_its_bounds(function):
    level = replace(function, figures=0 * function.figures)
    found = np.log([*tuned(level).stiffness.lengths, tuned(level).stiffness.amplitude])
    low, high = Search(level).bounds
    assert (found >= low[[0, 1, 4]] - 1e-12).all()
    assert (found <= high[[0, 1, 4]] + 1e-12).all()
