"""In which manner an edge is drawn through its points: against the true line, and a slow twin."""

import numpy as np
import pytest
from hull_measures import errors
from hulls_apart import canoe_yawl
from kinds_of_hull import canoe_stern, drag_of_keel, full_garboards
from known_hulls import counter, noisy, quartic, table_of
from scipy.interpolate import make_interp_spline

from parts.lines import hull_of
from parts.lines.drawing_manners import Manner, manner_of
from parts.lines.drawn import _rising
from parts.lines.faired_edges import edges_of
from parts.lines.left_out_splines import missed
from parts.lines.plane_curve import PlaneCurve
from parts.lines.reading import Reading

SWEPT = np.array([(0, 900), (40, 700), (110, 470), (230, 290), (420, 200), (800, 160)], float)
LINE = np.vstack([SWEPT, [(x, 150 + 3e-6 * (x - 1500) ** 2) for x in range(1400, 7001, 800)]])


@pytest.mark.parametrize("degree", [3, 5])
def test_what_is_missed_is_what_splines_drawn_one_by_one_miss(degree):
    ways = np.array([Manner().way(LINE), Manner(0.5, 0.75).way(LINE)])
    for way, off in zip(ways, missed(LINE, ways, degree), strict=True):
        for n in range(1, len(LINE) - 1):
            kept = np.arange(len(LINE)) != n
            spline = make_interp_spline(way[kept], LINE[kept], k=degree)
            apart, run = LINE[n] - spline(way[n]), spline(way[n], nu=1)
            slow = abs(apart[0] * run[1] - apart[1] * run[0]) / np.hypot(*run)
            assert off[n - 1] == pytest.approx(slow, abs=1e-6)


def test_each_half_of_a_line_has_the_way_that_suits_it():
    manner = manner_of(LINE.tobytes())
    assert manner.fore < 1.0
    assert manner.aft == 1.0


def test_a_curve_passes_its_points_and_bends_without_a_break_where_degrees_are_mixed():
    curve = PlaneCurve(LINE)
    manner = manner_of(LINE.tobytes())
    assert np.ptp(manner.fifth) > 0.05
    way = manner.way(LINE)
    assert curve.spline(way) == pytest.approx(LINE, abs=1e-6)
    step = 1e-6
    for nu, near in ((1, 1e-6), (2, 1e-6)):
        low, high = (curve.spline(way[1:-1] + side, nu=nu) for side in (-step, step))
        assert low == pytest.approx(high, abs=near)


@pytest.mark.parametrize(
    ("make", "most"),
    [(canoe_stern, 1.8), (drag_of_keel, 2.2), (full_garboards, 4.0), (canoe_yawl, 3.2)],
    ids=lambda value: getattr(value, "__name__", str(value)),
)
def test_a_rabbet_swept_up_quickly_runs_true_between_its_points(make, most):
    """By one way for the whole of it: 2.9, 3.5, 5.3 and 5.3 mm off."""
    known = make()
    profile = edges_of(Reading(table_of(known))).rabbet.profile
    x = np.linspace(*known.stations(11)[[0, -1]], 300)
    off = np.abs(profile.at(x) - known.at(x, 0.0 * x)[1]) / np.hypot(1.0, profile.slope(x))
    assert off.max() < most


def test_a_counter_is_no_farther_off_than_what_is_told_of_it():
    known = counter()
    profile = edges_of(Reading(table_of(known))).rabbet.profile
    x = np.linspace(6500.0, 8000.0, 100)
    assert np.abs(profile.at(x) - known.at(x, 0.0 * x)[1]).max() < 5.0


def test_a_head_that_stands_plumb_does_not_swing_forward():
    """Of 48 noisy tables two were refused as turning back, for how they were drawn."""
    table = table_of(canoe_yawl())
    for seed in range(8):
        edges = edges_of(Reading(noisy(table, np.random.default_rng(seed), 1.0)))
        assert edges.rabbet.profile.runs_aft


def test_a_section_that_dips_a_little_below_its_rabbet_rises_from_it():
    u = np.linspace(0.0, 1.0, 49)
    true = 100.0 + 600.0 * u**4
    dipping = true - 40.0 * u * np.exp(-u / 0.03) * (u < 0.3)
    assert dipping.min() < 99.6
    made = _rising(dipping, u, 100.0)
    assert made[0] == 100.0
    assert (np.diff(made) >= 0.0).all()
    assert np.abs(made - true).max() < np.abs(dipping - true).max()
    assert (_rising(true, u, 100.0) == true).all()
    deep = true - 400.0 * u * np.exp(-u / 0.03) * (u < 0.3)
    assert (_rising(deep, u, 100.0) == deep).all()


def test_bevels_hold_to_a_closed_end():
    """A dip of .9 mm beside the rabbet turned the bevel by 2.2 degrees where she is 50 mm broad."""
    known = quartic()
    found = errors(hull_of(table_of(known)), known, np.array([24.0, 60.0, 5976.0]))
    assert found.bevel_worst < 1.5
