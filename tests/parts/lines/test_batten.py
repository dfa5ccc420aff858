"""The batten's arithmetic against a slow twin: leaving a figure out by really doing so."""

import numpy as np
import pytest

from parts.lines.kriging import STRAIGHT, Kriging, Stiffness, alike
from parts.lines.likeliest_stiffness import tuned
from parts.lines.odd_ones import SURE
from parts.lines.plane_curve import PlaneCurve, curve_through
from parts.lines.rows import Row

STIFF = Stiffness((0.8, 1.5), 0.4)


@pytest.fixture
def function():
    rng = np.random.default_rng(5)
    places = rng.uniform(-1, 1, (40, 2))
    figures = np.sin(places[:, 0]) + places[:, 1] ** 2 * places[:, 0]
    return Kriging(places, figures, np.full(40, 1e-3), STIFF)


def test_left_out_agrees_with_fitting_again_without_the_figure(function):
    off, _ = function.left_out()
    for n in (0, 7, 39):
        only = np.arange(40) == n
        again = function.without(only).at(function.places[only])
        assert off[n] == pytest.approx(function.figures[n] - again[0], abs=1e-7)


def test_a_function_on_a_net_is_what_it_is_at_each_of_its_points(function):
    along, across = np.linspace(-0.9, 0.8, 5), np.random.default_rng(6).uniform(-1, 1, (5, 7))
    places = np.column_stack([np.repeat(along, 7), across.ravel()])
    on_net = function.on_net(along, across)
    assert on_net.ravel() == pytest.approx(function.at(places), abs=1e-9)


def test_covariance_is_that_of_the_published_formula():
    # Rasmussen and Williams 2006, eq. 4.17 (from memory), and the straight line's beside it.
    near, far, length = np.array([0.2]), np.array([-0.5]), 0.8
    r = 0.7 / length
    bent = (1 + 7**0.5 * r + 14 / 5 * r**2 + 7**1.5 / 15 * r**3) * np.exp(-(7**0.5) * r)
    straight = STRAIGHT * (1 + near[0] * far[0])
    assert alike(near, far, length)[0, 0] == pytest.approx(bent + straight, rel=1e-12)


def test_doubt_is_larger_where_fewer_figures_are_near():
    places = np.array([[-1.0], [-0.9], [-0.8], [-0.7], [-0.6], [0.9]])
    function = Kriging(places, np.zeros(6), np.full(6, 1e-3), Stiffness((0.5,), 1.0))
    _, doubt = function.left_out()
    assert doubt[5] > 20 * doubt[2]


def test_a_straight_line_costs_nothing(function):
    places = np.linspace(-1, 1, 9)[:, None]
    line = Kriging(places, 3 * places[:, 0] - 2, np.full(9, 1e-3), Stiffness((1.0,), 0.5))
    at = line.at(np.array([[0.11], [1.4]]))
    assert at == pytest.approx([3 * 0.11 - 2, 3 * 1.4 - 2], abs=2e-2)


def test_tuning_finds_a_better_stiffness(function):
    assert tuned(function).misfit() < function.misfit() - 1


def row_with_an_error(scatter):
    x = np.linspace(0, 4000, 21)
    values = 600 * np.cos(1.5 * (x / 2000 - 1))
    values[8] += 20.0
    stations = np.arange(21)
    return Row(None, x, values, stations, scatter, np.where(scatter > 0, 0.0, 0.02), 1.0)


def test_an_odd_figure_is_found_by_its_own_line_and_put_right():
    off, doubt = row_with_an_error(np.full(21, 0.3)).left_out
    assert int(np.abs(off / doubt).argmax()) == 8
    assert abs(off[8]) / doubt[8] > SURE
    assert off[8] == pytest.approx(20.0, abs=0.6)


def test_without_the_odd_figure_its_neighbours_are_sound():
    row = row_with_an_error(np.full(21, 0.3))
    kept = np.arange(21) != 8
    parts = (row.x, row.values, row.stations, row.scatter, row.firm)
    off, doubt = Row(None, *(part[kept] for part in parts), 1.0).left_out
    assert (np.abs(off / doubt) < SURE).all()


def test_a_figure_left_out_is_held_against_the_others_as_if_it_had_stayed():
    row = row_with_an_error(np.full(21, 0.3))
    off, doubt = row.left_out
    again = row.held_against(float(row.x[8]), float(row.values[8]), 0.3)
    assert again == pytest.approx((off[8], doubt[8]), rel=0.03)


def test_a_point_beyond_question_is_never_odd():
    off, doubt = row_with_an_error(np.where(np.arange(21) == 8, 0.0, 0.3)).left_out
    assert off[8] == 0.0
    assert doubt[8] == np.inf


def test_a_curve_turns_at_its_corner_and_nowhere_else():
    curve = PlaneCurve(
        np.array([[0.0, 900], [150, 600], [300, 300], [900, 300], [2000, 300]]), (2,)
    )
    for x, z in ((75.0, 750.0), (299.0, 302.0), (301.0, 300.0), (1500.0, 300.0)):
        assert curve.at(x) == pytest.approx(z, abs=1e-6)
    assert (curve.slope(299.0), curve.slope(301.0)) == pytest.approx((-2.0, 0.0), abs=1e-9)


def test_values_that_a_curve_keeps_are_those_of_each_place():
    curve = PlaneCurve(np.array([[0.0, 10], [100, 40], [250, 50], [400, 30], [700, 0]]))
    places = np.array([30.0, 320.0])
    both = curve.at(places)
    assert [float(curve.at(x)) for x in places] == pytest.approx(list(both), abs=1e-9)
    assert curve.at(places[:, None]).shape == (2, 1)
    with pytest.raises(ValueError, match="read-only"):
        both[0] = 0.0


def test_a_curve_with_a_plumb_end_has_one_value_for_every_x():
    turn = np.linspace(0, np.pi / 2, 9)
    quarter = np.column_stack([1000 * (1 - np.cos(turn)), 1000 * (1 - np.sin(turn))])
    curve = PlaneCurve(quarter)
    assert curve.runs_aft
    for x in (0.0, 20.0, 300.0, 1000.0):
        assert curve.at(x) == pytest.approx(1000 - np.sqrt(1000**2 - (1000 - x) ** 2), abs=1.0)
    assert curve.slope(300.0) == pytest.approx(-700 / np.sqrt(1000**2 - 700**2), abs=0.02)


def test_a_curve_through_the_same_points_is_the_same_and_through_others_another():
    points = np.column_stack([np.linspace(0.0, 900.0, 9), np.linspace(3.0, 30.0, 9) ** 2])
    curve = curve_through(points, loose=np.full(9, 0.5))
    assert curve_through(points.copy(), loose=np.full(9, 0.5)) is curve
    plain = PlaneCurve(points, loose=np.full(9, 0.5))
    x = np.linspace(0.0, 900.0, 50)
    np.testing.assert_array_equal(curve.at(x), plain.at(x))
    moved = points.copy()
    moved[4, 1] += 1e-9
    for other in (
        curve_through(moved, loose=np.full(9, 0.5)),
        curve_through(points),
        curve_through(points, (4,), loose=np.full(9, 0.5)),
        curve_through(points, straight=(3, 5), loose=np.full(9, 0.5)),
    ):
        assert other is not curve
