"""Where an edge is told to be open between its points, held against the formula it is from."""

import numpy as np
import pytest
from known_hulls import spheroid, table_of
from scipy.optimize import brentq
from shapely import LineString, distance, points

from parts.lines import hull_of
from parts.lines.plane_curve import PlaneCurve
from parts.lines.unsure_edges import open_runs


def swept_up(reach, length, stations):
    """Return a keel that runs up to a stem, as points by height and then at stations, and dense."""

    def height(x):
        return 700.0 - 0.055 * x + 1200.0 * np.exp(-x / reach)

    first = 0.6 * length / (stations + 1)
    head, foot = height(0.0), height(first)
    tips = [
        brentq(lambda x, part=part: height(x) - head - part * (foot - head), 0.0, first)
        for part in (0.18, 0.4, 0.65)
    ]
    x = np.array([0.0, *tips, *np.linspace(first, length, stations)])
    dense = np.linspace(0.0, length, 20001)
    return np.column_stack([x, height(x)]), np.column_stack([dense, height(dense)])


@pytest.mark.parametrize(("reach", "stations"), [(380.0, 13), (380.0, 15), (320.0, 13)])
def test_a_forefoot_between_the_stems_last_point_and_the_second_station_is_told_of(reach, stations):
    """It lay 9 to 16 mm off, told as 4 or not at all, by what its points are missed by."""
    given, true = swept_up(reach, 10000.0, stations)
    curve = PlaneCurve(given)
    drawn = curve.dense()
    off = distance(LineString(true), points(drawn))
    worst = float(drawn[off.argmax(), 0])
    assert off.max() > 5.0
    [told] = [most for low, high, most in open_runs(curve) if low <= worst <= high]
    assert off.max() / 2 < told < 3 * off.max()


def test_a_sweep_that_ends_between_two_stations_is_told_of():
    """It was 13 mm off in silence: no one sign told of more than 5."""
    x = np.array([0.0, 60, 180, 360, 450, 850, 1350, 1900, 2500, 3100, 3700, 4300, 5000])
    dense = np.linspace(0.0, 5000.0, 20001)

    def height(x):
        return 800.0 * np.clip(1.0 - x / 760.0, 0.0, 1.0) ** 2.2 + 80.0 * (x / 5000.0) ** 2

    curve = PlaneCurve(np.column_stack([x, height(x).round()]))
    off = distance(LineString(np.column_stack([dense, height(dense)])), points(curve.dense()))
    assert off.max() > 10.0
    assert 450.0 < curve.dense()[off.argmax(), 0] < 850.0
    [told] = [most for low, high, most in open_runs(curve) if (low, high) == (450.0, 850.0)]
    assert off.max() / 2 < told < 3 * off.max()


def test_a_sheer_that_closes_round_between_tip_and_first_station_is_told_of():
    """It was 25 mm off at both ends, in silence."""
    known = spheroid()
    hull = hull_of(table_of(known))
    first = float(hull.table.x[0])
    x = np.linspace(1.0, first, 400)
    true = LineString([(float(at), float(known.point(at, 1.0)[1])) for at in x])
    drawn = np.column_stack([x, hull.edges.sheer.plan.at(x)])
    assert distance(true, points(drawn)).max() > 10.0
    said = [str(note) for note in hull.notes]
    assert f"sheer half-breadth: between 0 and {first:.0f} from" in said[0]
    assert "sheer half-breadth: between 5520 and 6000 from" in said[1]


def test_a_line_that_turns_slowly_is_not_told_of():
    x = np.linspace(0.0, 8000.0, 11)
    assert list(open_runs(PlaneCurve(np.column_stack([x, 400.0 + 3e-5 * (x - 4500.0) ** 2])))) == []
