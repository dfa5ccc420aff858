"""Distances by a tree of edges are those that shapely measures one by one."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from nesting.flat_geometry.line_distances import FEW, distances

LINES = {
    "open": LineString([(0, 0), (40, 3), (40, 30)]),
    "area": box(0, 0, 60, 30).difference(Point(30, 15).buffer(9)),
    "edge of an area": Point(20, 20).buffer(25, quad_segs=200).boundary,
    "two pieces": shapely.union(box(0, 0, 9, 9), box(30, 0, 50, 20)),
    "two lines": shapely.multilinestrings([[(0, 0), (9, 9)], [(50, 0), (50, 40)]]),
}


@pytest.mark.parametrize("count", [3, FEW])
@pytest.mark.parametrize("name", LINES)
def test_distances_are_those_measured_one_by_one(name, count):
    line = LINES[name]
    points = np.random.default_rng(count).uniform(-20, 80, (count, 2))
    edge = line.boundary if line.area else line
    wanted = shapely.distance(edge, shapely.points(points))
    assert distances(line, points) == pytest.approx(wanted, abs=1e-12)
    assert (wanted > 0).all() and np.ptp(wanted) > 1


def test_nothing_is_infinitely_far():
    assert np.isinf(distances(Polygon(), np.zeros((2, 2)))).all()
