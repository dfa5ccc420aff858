"""The search for the stiffness: its misfit and how that rises, against slow twins."""

from dataclasses import replace

import numpy as np
import pytest
from known_hulls import double_ender, single_chine, table_of
from scipy.optimize import minimize

from parts.lines.kriging import MANY, Kriging, Stiffness
from parts.lines.likeliest_stiffness import Search, tuned, tuned_again

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


def large(count):
    """Return a function through so many figures of a smooth surface, each 1 in 100 off."""
    rng = np.random.default_rng(4)
    places = rng.uniform(-1.0, 1.0, (count, 2))
    figures = np.sin(2.0 * places[:, 0]) * (1.0 + places[:, 1] ** 2) / 2.0
    figures = figures + rng.normal(0.0, 0.01, count)
    return Kriging(places, figures, np.full(count, 0.005), Stiffness((0.7, 2.0), 0.3))


def test_of_very_many_figures_a_part_tells_how_the_batten_bends():
    function = large(2 * MANY)
    found = tuned(function)
    assert len(found.figures) == 2 * MANY
    assert found.stiffness.noise == pytest.approx(2.0, rel=0.15)
    assert found.misfit() < function.misfit() - 20.0
    off = found.at(function.places) - function.figures
    assert float(np.sqrt((off**2).mean())) < 0.011


def test_a_large_function_keeps_its_stiffness_and_a_small_one_is_tuned_again():
    function = large(MANY + 1)
    assert tuned_again(function, steps=5) is function
    small = function.thinned()
    assert len(small.figures) == MANY
    assert tuned_again(small, steps=5).misfit() < small.misfit()
