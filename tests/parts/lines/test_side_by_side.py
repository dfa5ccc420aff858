"""Two wrong figures of a line near each other: both are named, and no right one beside them."""

import numpy as np
import pytest
from known_hulls import changed, double_chine, full_round, table_of, v_bow, wineglass

from nesting.units import parse_length
from parts.lines import hull_of
from parts.lines.judging import begun
from parts.lines.kriging import Kriging, Stiffness
from parts.lines.laying_off import Shares
from parts.lines.likely_battens import Battens
from parts.lines.side_by_side import likely_pairs

PLACES = np.array([-1.0, -0.7, -0.35, 0.0, 0.3, 0.72, 1.0])
FIGURES = np.array([-0.9, -0.2, 0.35, 0.8, 0.55, 0.9, 0.4])
SPREAD = np.array([0.001, 0.02, 0.02, 0.01, 0.02, 0.02, 0.05])


def number(table, title):
    return next(n for n, line in enumerate(table.lines) if line.title == title)


@pytest.mark.parametrize(
    ("make", "title", "stations", "error"),
    [
        (v_bow, "sheer height", (4, 5), 40.0),
        (full_round, "sheer half-breadth", (6, 8), -40.0),
        (double_chine, "chine 1 half-breadth", (5, 6), -40.0),
        (wineglass, "waterline 510", (1, 2), -40.0),
    ],
    ids=["neighbours", "a right one between them", "of a chine", "of a waterline"],
)
def test_two_wrong_figures_of_a_line_are_named_and_no_other(make, title, stations, error):
    right = table_of(make())
    cells = {(number(right, title), n): error for n in stations}
    odd = hull_of(changed(right, cells)).odd
    assert {(one.line, one.station) for one in odd} == {(title, str(n)) for n in stations}
    for one in odd:
        true = right.lines[number(right, title)].offsets[int(one.station)].mm
        assert parse_length(one.should_read, right.unit) == pytest.approx(true, abs=3.0)


def test_one_wrong_figure_is_named_alone():
    right = table_of(v_bow())
    wrong = changed(right, {(number(right, "sheer height"), 4): 40.0})
    assert [(one.line, one.station) for one in hull_of(wrong).odd] == [("sheer height", "4")]


def test_a_right_table_has_no_pair_to_be_tried():
    assert not likely_pairs(begun(table_of(v_bow()))[0])


@pytest.mark.parametrize(("one", "other"), [(0, 1), (2, 4), (5, 6)])
def test_battens_without_two_figures_are_those_through_the_rest(one, other):
    battens = Battens(PLACES[None], FIGURES, SPREAD)
    kept = np.isin(np.arange(len(PLACES)), [one, other], invert=True)
    rest = Battens(PLACES[None, kept], FIGURES[kept], SPREAD[kept])
    found = battens.likely_without_both(np.array([one]), np.array([other]))
    assert found == pytest.approx(-rest.misfit, abs=1e-6)


def test_figures_moved_as_they_like_gain_what_the_rest_foretells():
    function = Kriging(PLACES[:, None], FIGURES, SPREAD, Stiffness((0.8,), 0.5))
    two = np.array([2, 4])
    rest = function.without(np.isin(np.arange(len(PLACES)), two))
    spread = np.linalg.inv(np.linalg.inv(covariance(function))[np.ix_(two, two)])
    off = FIGURES[two] - rest.at(PLACES[two, None])
    ways = np.eye(len(PLACES))[:, two]
    strange = off @ np.linalg.solve(spread, off) / 2
    assert function.gain_of_moving(ways) == pytest.approx(strange, rel=1e-6)


def test_two_figures_gain_what_each_way_of_moving_them_does():
    function = Kriging(PLACES[:, None], FIGURES, SPREAD, Stiffness((0.8,), 0.5))
    each = np.eye(len(PLACES))
    both, better = function.gains_of_two(np.array([1, 2]), np.array([2, 4]))
    for n, (one, other) in enumerate([(1, 2), (2, 4)]):
        assert both[n] == pytest.approx(function.gain_of_moving(each[:, [one, other]]))
        single = [function.gain_of_moving(each[:, [at]]) for at in (one, other)]
        assert better[n] == pytest.approx(max(single))


@pytest.mark.parametrize("is_low", [True, False])
@pytest.mark.parametrize("axis", [0, 1])
def test_points_laid_off_by_shares_change_as_an_edge_is_moved(axis, is_low):
    state, _ = begun(table_of(full_round()))
    fit = next(fit for fit in state.all_fits[0] if isinstance(fit.way, Shares))
    points = fit.cloud.points[fit.cloud.lines >= 0]
    step, way, code = 0.01, fit.way, 0 if is_low else 1

    class Moved:
        def edges_at(self, x):
            edges = way.panel.edges_at(x)
            edges[code][:, axis] += step
            return edges

        def __getattr__(self, name):
            return getattr(way.panel, name)

    before, after = way.lay(*points.T), Shares(Moved(), way.slant).lay(*points.T)
    out, across = way.edge_moved(points, axis, is_low=is_low)
    inside = before.shaped & (np.abs(before.places[:, 1]) < 0.99)
    assert (after.figures - before.figures)[inside] / step == pytest.approx(out[inside], abs=1e-6)
    moved = (after.places - before.places)[inside, 1] / step
    assert moved == pytest.approx(across[inside], abs=1e-6)


def covariance(function):
    """Return the covariance of a function's figures, noise included, (n, n)."""
    return function._covariance(function.places, function.places) + np.diag(function.noise)
