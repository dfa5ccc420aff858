"""Keels that are straight, and forefoots swept into them: by formulas, against the truth.

A level keel's figures are alike to the millimetre, and the sweep up the stem ends between two
stations. One spline through both swung along the keel by 19 mm, and named a right figure.
"""

from dataclasses import replace

import numpy as np
import pytest
from hull_measures import errors
from kinds_of_hull import drag_of_keel
from known_hulls import Known, changed, table_of

from parts.lines import hull_of
from parts.lines.faired_edges import Reading, edges_of
from parts.lines.plane_curve import PlaneCurve
from parts.lines.rows import Row
from parts.lines.straight_runs import with_straight_run
from parts.lines.swept_lines import swept_into
from parts.lines.table import LineKind, Measure

LENGTH, FOOT, HEAD, KEEL = 7000.0, 900.0, 1100.0, 200.0


def keel(x, drag=0.0):
    """Return a straight keel, and a parabola up the stem that leaves it without a turn."""
    x = np.asarray(x)
    rise = (HEAD - KEEL) * np.maximum(1.0 - x / FOOT, 0.0) ** 2
    return KEEL + drag * (LENGTH - x) / LENGTH + rise


def cruiser():
    """Return a hull on a level keel, her forefoot a parabola, her sections quarter ellipses."""

    def at(x, share):
        low = keel(x)
        half = 30.0 + 1050.0 * np.sin(np.pi / 2 * np.asarray(x) / (0.6 * LENGTH))
        high = HEAD + 400.0 * (np.asarray(x) / LENGTH) * (1.0 - 0.9 * np.asarray(x) / LENGTH)
        turn = np.pi / 2 * np.asarray(share)
        return 30.0 + (half - 30.0) * np.sin(turn), low + (high - low) * (1.0 - np.cos(turn))

    return Known("cruiser", at, LENGTH, stem=(0.0, 70.0, 180.0, 420.0), first=0.1)


@pytest.fixture(scope="module")
def faired():
    return hull_of(table_of(cruiser()))


def test_level_keel_stays_level_and_no_right_figure_is_named(faired):
    assert not faired.odd
    assert not faired.whole
    x = np.linspace(1500.0, LENGTH, 200)
    assert np.abs(faired.edges.rabbet.profile.at(x) - KEEL).max() < 0.5


def test_forefoot_is_swept_into_the_keel_between_two_stations(faired):
    x = np.linspace(200.0, 1500.0, 200)
    assert np.abs(faired.edges.rabbet.profile.at(x) - keel(x)).max() < 4.0
    assert errors(faired, cruiser()).mean < 0.7
    assert errors(faired, cruiser()).worst < 4.0


def test_wrong_height_of_a_level_keel_is_named_and_put_right():
    table = table_of(cruiser())
    rabbet = table.lines.index(table.row(LineKind.RABBET, Measure.HEIGHT))
    hull = hull_of(changed(table, {(rabbet, 6): 25.0}))
    (odd,) = hull.odd
    assert (odd.station, odd.fair_mm) == (table.stations[6].name, pytest.approx(KEEL, abs=3.0))


def row(x, values):
    """Return a row of figures to the millimetre."""
    x, values = np.array(x, dtype=float), np.round(np.array(values, dtype=float))
    count = len(x)
    return Row(None, x, values, np.arange(count), np.full(count, 0.29), np.zeros(count))


PLACES = [0.0, 70.0, 180.0, 300.0, 700.0, *np.linspace(1200.0, LENGTH, 9)]


@pytest.mark.parametrize("drag", [0.0, 300.0], ids=["level", "drag"])
def test_straight_keel_is_found_level_or_with_drag(drag):
    found = with_straight_run(row(PLACES, keel(np.array(PLACES), drag)))
    assert found.straight == (5, len(PLACES) - 1)


def test_keel_with_rocker_is_no_straight_run():
    rocker = [60.0 * (2 * x / LENGTH - 1) ** 4 + KEEL for x in np.linspace(0.0, LENGTH, 13)]
    assert with_straight_run(row(np.linspace(0.0, LENGTH, 13), rocker)).straight is None


def test_figure_off_a_straight_keel_parts_it_and_without_it_the_keel_is_straight():
    values = keel(np.array(PLACES))
    values[9] += 25.0
    assert with_straight_run(row(PLACES, values)).straight is None
    others = np.delete(np.arange(len(PLACES)), 9)
    assert with_straight_run(row(np.array(PLACES)[others], values[others])).straight == (5, 12)


def test_figure_held_against_a_straight_run_is_held_against_its_others():
    whole = row(PLACES, keel(np.array(PLACES)))
    found = with_straight_run(whole)
    for at in (5, 8, len(PLACES) - 1):
        off, _ = found.held_against(PLACES[at], KEEL + 30.0, 0.29)
        assert off == pytest.approx(30.0, abs=1.5)


def test_sweep_meets_the_straight_short_of_its_first_point_and_in_its_direction():
    points = np.column_stack([PLACES, keel(np.array(PLACES))])
    curve = swept_into(PlaneCurve(points, (), (5, len(PLACES) - 1), np.zeros(len(points))))
    (meets,) = [x for x in curve.points[:, 0] if x not in PLACES]
    assert FOOT < meets < 1100.0
    assert float(curve.slope(meets - 1e-3)) == pytest.approx(0.0, abs=1e-3)
    x = np.linspace(0.0, LENGTH, 500)
    assert np.abs(curve.at(x) - keel(x)).max() < 5.0


def test_straight_run_between_two_sweeps_is_met_by_both():
    x = np.array([0.0, 100.0, 300.0, 600.0, *np.linspace(1000.0, 6000.0, 11), 6400.0, 6700.0,
                  6900.0, 7000.0])  # fmt: skip
    values = KEEL + 5000.0 * np.maximum(np.abs(x - 3500.0) / 2500.0 - 1.0, 0.0) ** 2
    found = with_straight_run(row(x, values))
    assert found.straight == (4, 14)
    middle = np.linspace(1000.0, 6000.0, 50)
    assert np.abs(found.curve.at(middle) - KEEL).max() < 0.3
    assert replace(found, straight=None).misfit_of_whole > found.misfit_of_whole


def test_sweep_that_would_pass_the_straight_is_drawn_as_one_line_with_it():
    """A keel into which an exponential runs out: 3.6 mm below it, drawn so; 2.0 as one line."""
    profile = edges_of(Reading(table_of(drag_of_keel()))).rabbet
    assert profile.height.straight is None
    level = edges_of(Reading(table_of(cruiser()))).rabbet
    assert level.height.straight is not None


@pytest.mark.parametrize("station", [-1, -2, -3])
def test_wrong_height_near_the_end_of_a_level_keel_is_no_sweep(station):
    """A figure that leaves the straight, where the next comes back or none is there, may be odd."""
    values = keel(np.array(PLACES))
    values[station] -= 170.0
    found = with_straight_run(row(PLACES, values))
    assert found.straight is None or found.straight[1] == len(PLACES) - 1


@pytest.mark.parametrize("error", [-170.0, -25.0, 60.0])
def test_wrong_height_beside_the_last_of_a_level_keel_is_named(error):
    table = table_of(cruiser())
    rabbet = table.lines.index(table.row(LineKind.RABBET, Measure.HEIGHT))
    at = len(table.stations) - 2
    (odd,) = hull_of(changed(table, {(rabbet, at): error})).odd
    assert (odd.station, odd.fair_mm) == (table.stations[at].name, pytest.approx(KEEL, abs=3.0))
