"""Looking up first where nothing can stand changes no place that is found."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from nesting.sheets import free_space
from nesting.sheets.free_space import FreeSpace, boxes_at, room_in

REGIONS = {
    "level": box(0, 0, 400, 60),
    "leaning": Polygon([(0, 0), (300, 90), (290, 130), (-10, 40)]),
    "with a hole": box(0, 0, 200, 80).difference(Point(100, 40).buffer(25)),
    "hooked": Polygon([(0, 0), (200, 0), (200, 30), (40, 30), (40, 120), (0, 120)]),
}


def crowded(seed: int, count: int) -> FreeSpace:
    """Discs, boxes, a broken piece, a line and a point over all regions, and soft lines."""
    rng = np.random.default_rng(seed)
    space = FreeSpace()
    xs, ys, sizes = rng.uniform(-20, 420, count), rng.uniform(-10, 140, count), rng.uniform(1, 4)
    space.take([Point(x, y).buffer(sizes) for x, y in zip(xs, ys, strict=True)])
    space.take([box(5, 5, 9, 9).union(box(20, 5, 24, 9)), LineString([(60, 0), (60, 9)])])
    space.take([Point(70, 7), Polygon()])
    space.take([LineString(rng.uniform(0, 200, (2, 2))) for _ in range(5)], is_soft=True)
    return space


def first_by_looking_at_all(space, region, size, near, *, heeds_soft):
    """The same search, every place looked at in its order."""
    low_x, low_y, high_x, high_y = region.bounds
    width, height = size
    if width > high_x - low_x or height > high_y - low_y:
        return None
    spans = (low_x + width / 2, high_x - width / 2), (low_y + height / 2, high_y - height / 2)
    centres = free_space._grid(*spans, near)
    boxes = boxes_at(centres, *size)
    fit = shapely.contains(region, boxes) & space.are_free(boxes, heeds_soft=heeds_soft)
    return tuple(map(float, centres[np.argmax(fit)])) if fit.any() else None


@pytest.mark.parametrize("heeds_soft", [True, False])
@pytest.mark.parametrize("count", [0, 30, 250])
@pytest.mark.parametrize("name", REGIONS)
def test_room_is_the_first_free_place(name: str, count: int, heeds_soft: bool) -> None:
    region, found = REGIONS[name], 0
    space = crowded(count, count)
    rng = np.random.default_rng(3)
    for _ in range(30):
        size = (float(rng.uniform(2, 80)), float(rng.uniform(2, 25)))
        near = (float(rng.uniform(-20, 220)), float(rng.uniform(-20, 130)))
        wanted = first_by_looking_at_all(space, region, size, near, heeds_soft=heeds_soft)
        got = room_in(space, region, size, near, heeds_soft=heeds_soft)
        assert got == (None if wanted is None else pytest.approx(wanted, abs=1e-9))
        found += got is not None
        if got is not None and rng.uniform() < 0.2:
            x, y = got
            space.take_box((x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2))
    assert found


@pytest.mark.parametrize("count", [20, 400])
def test_ways_are_clear_where_they_touch_nothing(count: int) -> None:
    space, rng = crowded(count, count), np.random.default_rng(5)
    told = []
    for _ in range(30):
        start = tuple(rng.uniform(0, 130, 2))
        ends = rng.uniform(0, 130, (20, 2))
        lines = np.array([LineString([start, end]) for end in ends])
        clear = space.are_clear(start, ends)
        assert (clear == space.are_free(lines, heeds_soft=False)).all()
        told += clear.tolist()
    assert any(told) and not all(told)


def test_things_taken_later_count_as_well() -> None:
    space = FreeSpace()
    for number in range(3 * free_space.LOOSE):
        space.take_box((10.0 * number, 0.0, 10.0 * number + 5.0, 5.0))
        at = np.array([[10.0 * number + 2.5, 2.5], [10.0 * number + 7.5, 2.5]])
        assert space.are_free(boxes_at(at, 1.0, 1.0)).tolist() == [False, True]


def test_asking_again_gives_what_looking_anew_would() -> None:
    """Answers are remembered while more and more is taken, hard and soft, over them and beside."""
    rng, region = np.random.default_rng(11), REGIONS["hooked"]
    space, said = crowded(4, 30), []
    asked = [
        ((float(w), float(h)), (float(x), float(y)))
        for w, h, x, y in rng.uniform((5, 4, 0, 0), (60, 25, 200, 120), (12, 4))
    ]
    for step in range(40):
        for size, near in asked:
            for heeds_soft in (True, False):
                got = room_in(space, region, size, near, heeds_soft=heeds_soft)
                wanted = first_by_looking_at_all(space, region, size, near, heeds_soft=heeds_soft)
                assert got == (None if wanted is None else pytest.approx(wanted, abs=1e-9))
                said.append(got is None)
        x, y = rng.uniform((0, 0), (200, 120))
        space.take([box(x, y, x + 6, y + 4)], is_soft=bool(step % 2))
    assert any(said) and not all(said)
