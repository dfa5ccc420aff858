"""Boards and figures on lines: the kernels against plain twins that ask shapely."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from puzzles import star
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.engine.front.front import free_mm2, lines_of, look_of, looks_of, step_for
from nesting.engine.front.front_numba import PLACES, STEEP, advance, next_places, room_on

seeds = st.integers(0, 10**6)

GAP, TILT = 2.7, 0.02


def free_wood(rng):
    """Free wood with an edge cut into and two holes."""
    at = rng.uniform((60, 10), (240, 40), (2, 2))
    taken = [Point(*point).buffer(4, quad_segs=3) for point in at]
    taken.append(Polygon([(100, 0), (130, 0), (115, rng.uniform(3, 20))]))
    return box(0, 0, 300, 50).difference(shapely.union_all(taken))


def on_lines(shapes, side, step):
    looks = [look_of(shape, shape.buffer(GAP), step) for shape in shapes]
    looks = looks if side > 0 else [look.mirrored() for look in looks]
    count = range(len(shapes))
    return looks_of(looks, count, [0] * len(shapes), [shape.area for shape in shapes])


def places_on(fronts, lines, looks):
    left = np.ones((len(fronts), len(looks.need)), np.int64)
    rows = np.empty((len(fronts) * len(looks.need) * 2 * PLACES, 6))
    room = room_on(lines, looks)
    return rows[: next_places(fronts, left, TILT, lines, looks, room, rows)]


class Plain:
    """The kernels' meaning on one board: stretches that shapely finds, every x tried."""

    def __init__(self, free, step):
        self.step, (self.low, self.low_y, self.high, high_y) = step, free.bounds
        self.count = max(1, round((high_y - self.low_y) / step))
        self.free = [self.stretches(free, self.low_y + step * (k + 0.5)) for k in range(self.count)]

    @staticmethod
    def stretches(shape, y):
        cut = shape.intersection(LineString([(-1e4, y), (1e4, y)]))
        parts = [p for p in shapely.get_parts(cut) if p.length > 0]
        return sorted((p.bounds[0], p.bounds[2]) for p in parts)

    def figure(self, shape, low_y):
        """Return how many lines above ``low_y`` a shape begins, and its stretches on each."""
        _, bottom, _, top = shape.bounds
        first = round((bottom - low_y) / self.step)
        count = max(1, round((top - low_y) / self.step) - first)
        at = [low_y + self.step * (first + k + 0.5) for k in range(count)]
        return first, [self.stretches(shape, y) for y in at]

    def least_x(self, front, at, own):
        """Return the least x at which a figure is behind the front and on free wood, or inf."""
        behind = max(front[at + k] - line[0][0] for k, line in enumerate(own) if line)
        tried = [behind]
        for k, line in enumerate(own):
            tried += [low - a for a, _ in line for low, _ in self.free[at + k]]
        legal = [x for x in tried if x >= behind and self.is_on_wood(x, at, own)]
        return min(legal, default=math.inf)

    def is_on_wood(self, x, at, own):
        return all(
            any(low <= a + x + 1e-9 and b + x <= high + 2e-9 for low, high in self.free[at + k])
            for k, line in enumerate(own)
            for a, b in line
        )

    def rests(self, front, own):
        """Return {line: (x, edge)} of a figure's places at rest."""
        places = range(self.count - len(own) + 1)
        x = {at: self.least_x(front, at, own) for at in places}
        found = {}
        for edge in (-1, 1):
            kept = []
            for at in places:
                toward, away = x.get(at - edge, math.inf), x.get(at + edge, math.inf)
                is_held = toward > x[at] and (away >= x[at] or toward >= x[at] + STEEP * self.step)
                if x[at] < math.inf and is_held:
                    kept.append((x[at] + edge * TILT * self.step * at, at))
            found |= {at: (x[at], edge) for _, at in sorted(kept)[:PLACES]}
        return found

    def lost(self, front, x, at, shape):
        first, grown = self.figure(shape.buffer(GAP), shape.bounds[1])
        lost = 0.0
        for k, line in enumerate(grown):
            if 0 <= at + first + k < self.count and line:
                was, end = front[at + first + k], max(front[at + first + k], line[-1][1] + x)
                behind = [max(0, min(end, b) - max(was, a)) for a, b in self.free[at + first + k]]
                lost += sum(behind) - sum(b - a for a, b in line)
        return lost * self.step


@given(seed=seeds)
@settings(max_examples=40, deadline=None)
def test_next_places_are_those_of_the_plain_twin(seed):
    rng = np.random.default_rng(seed)
    free, step = free_wood(rng), 2.0
    shapes = [star(rng, 22.0, 7), star(rng, 30.0, 5), box(-40, -24, 40, 24), box(-9, -8, 9, 8)]
    front = np.where(np.arange(25) < rng.integers(0, 25), rng.uniform(0, 150), 0.0)
    front += rng.uniform(0, 3, 25)
    plain, found = Plain(free, step), {}
    lines, looks = lines_of([free], 1, step), on_lines(shapes, 1, step)
    for _, f, at, x, edge, lost in places_on(front[None], lines, looks):
        found[int(f), int(at)] = (x, edge, lost)
    expected = {
        (f, at): (x, edge, plain.lost(front, x, at, shape))
        for f, shape in enumerate(shapes)
        for at, (x, edge) in plain.rests(front, plain.figure(shape, shape.bounds[1])[1]).items()
    }
    assert found.keys() == expected.keys()
    for key, row in found.items():
        assert row == pytest.approx(expected[key], abs=1e-5)


def test_front_moves_to_where_a_part_with_its_gap_ends():
    fronts, looks = np.zeros((1, 50)), on_lines([box(-20, -10, 20, 10)], 1, 1.0)
    advance(fronts, np.array([[0, 0, 15, 100.0, 1, 0]]), looks)
    assert fronts[0, 15:35] == pytest.approx(120 + GAP)
    assert (fronts[0, [12, 37]] > 115).all()
    assert not fronts[0, [11, 38]].any()


@pytest.mark.parametrize("side", [1, -1])
def test_wood_lost_is_what_lies_behind_the_front(side):
    free, shape = box(10, 5, 1010, 105), box(-100, -50, 100, 50)
    lines, looks = lines_of([free], side, 1.0), on_lines([shape], side, 1.0)
    fronts = np.full((1, 100), lines.low)
    fronts[0, :40] += 130.0
    row = min(places_on(fronts, lines, looks), key=lambda row: row[3])
    # The part stands against what is there, 130 from the end: over it 60 by 130 are lost.
    assert side * row[3] == pytest.approx(10 + 130 + 100 if side > 0 else 1010 - 130 - 100)
    assert row[5] == pytest.approx(60 * 130 - 100 * GAP, abs=1e-6)


def test_part_is_at_rest_by_the_far_edge_though_it_would_slide_nearer_to_the_end():
    slanted = Polygon([(0, 0), (300, 0), (300, 100), (30, 100)])
    lines, looks = lines_of([slanted], 1, 1.0), on_lines([box(0, 0, 80, 60)], 1, 1.0)
    rows = places_on(np.full((1, 100), lines.low), lines, looks)
    assert sorted((int(row[2]), int(row[4])) for row in rows) == [(0, 1), (40, -1)]


def test_part_notched_for_metal_rests_there_though_it_could_go_nearer_to_the_end():
    free = box(0, 0, 1000, 100).difference(Point(740, 50).buffer(7))
    notched = box(0, 0, 400, 100).difference(box(188, 40, 212, 100))
    lines, looks = lines_of([free], 1, 1.0), on_lines([notched], 1, 1.0)
    room = room_on(lines, looks)
    assert room.x == pytest.approx(np.array([[0, 333], [535, 545]]), abs=0.5)


def test_what_lies_between_all_lines_has_no_room():
    lines = lines_of([box(0, 0, 300, 50)], 1, 1.0)
    looks = on_lines([box(0, 0.6, 100, 0.9), Polygon([(0, 0), (9, 0), (4, 0.4)])], 1, 4.0)
    assert len(room_on(lines, looks).x) == 0


@given(width=st.floats(1.0, 3000.0))
def test_lines_are_as_many_as_they_may_be(width):
    step = step_for(width)
    assert 128 * (1 - 1e-9) <= width / step <= 256 * (1 + 1e-9)
    assert math.log2(step).is_integer()


def test_free_wood_is_that_of_the_first_kind():
    all_wood = box(0, 0, 400, 100)
    clear = all_wood.difference(box(100, 20, 150, 40))
    assert free_mm2(lines_of([clear, all_wood], 1, 1.0)) == pytest.approx(clear.area, rel=1e-6)
    assert free_mm2(lines_of([all_wood, clear], -1, 1.0)) == pytest.approx(40000, rel=1e-6)


def test_kinds_of_parts_lie_on_their_own_wood():
    clear = box(0, 0, 200, 50).union(box(300, 0, 400, 50))
    lines = lines_of([clear, box(0, 0, 400, 50)], 1, 1.0)
    shape = box(0, 0, 150, 50)
    look = look_of(shape, shape.buffer(GAP), 1.0)
    looks = looks_of([look, look], [0, 1], [0, 1], [1.0, 1.0])
    assert room_on(lines, looks).x == pytest.approx(np.array([[0, 50], [0, 250]]), abs=1e-6)


def test_mirrored_look_is_that_of_the_mirrored_shape():
    shape = star(np.random.default_rng(4), 50.0, 9)
    mirrored = affinity.scale(shape, -1, 1, origin=(0, 0))
    ours = look_of(shape, shape.buffer(GAP), 1.0).mirrored()
    theirs = look_of(mirrored, mirrored.buffer(GAP), 1.0)
    assert ours.own.first.tolist() == theirs.own.first.tolist()
    assert ours.own.x == pytest.approx(theirs.own.x)
