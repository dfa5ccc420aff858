"""How a strip search goes on: how much shorter, from what, and when it begins anew."""

import math

import numpy as np
import pytest
from scenes import shape_of
from shapely.geometry import Polygon, box

from nesting.engine.jostle.runners_up import Nearly
from nesting.engine.stop import MaxRounds
from nesting.engine.strip.strip import (
    LARGEST_STEP,
    LEAST_STEP,
    STALE,
    STARTS,
    Standing,
    Strip,
    StripSearch,
)

SQUARE, BAR = box(0, 0, 10, 10), box(0, 0, 40, 5)
PLACES = np.zeros((3, 5))


def search(width=15.0, count=3, polygon=SQUARE, **how):
    return StripSearch([shape_of(polygon, **{"angles": (0.0,), **how})], [0] * count, width)


def strip(length=30.0):
    return Strip(length, PLACES, (0, 0, 0))


def rng():
    return np.random.default_rng(1)


@pytest.mark.parametrize(
    ("width", "count", "how", "bound"),
    [
        (20.0, 3, {}, 15.0),  # by area: 300 mm2 on 20 mm
        (50.0, 3, {}, 10.0),  # by the longest item
        (50.0, 3, {"polygon": BAR}, 40.0),
        (50.0, 3, {"polygon": BAR, "angles": (0.0, math.pi / 2)}, 12.0),  # it may stand
        (50.0, 3, {"polygon": BAR, "lean": 0.1}, 12.0),  # how it lies then is not known
    ],
)
def test_no_strip_is_shorter_than_its_area_and_its_longest_item_ask_for(width, count, how, bound):
    assert search(width, count, **how).bound == pytest.approx(bound)


def test_longest_of_several_outlines_bounds_the_strip_and_areas_of_all_items_add_up():
    shapes = [shape_of(SQUARE, angles=(0.0,)), shape_of(BAR, angles=(0.0,))]
    assert StripSearch(shapes, [0, 0, 1], 100.0).bound == pytest.approx(40.0)
    assert StripSearch(shapes, [0, 0], 100.0).bound == pytest.approx(10.0)
    assert StripSearch(shapes, [0, 1, 1], 10.0).bound == pytest.approx((100 + 2 * 200) / 10)


def test_first_strip_is_the_shortest_of_a_few():
    made = search()
    lengths = iter([50.0, 30.0, 40.0, 60.0])
    made.constructed = lambda _: strip(next(lengths))
    assert made.started(rng()).length == 30.0
    assert next(lengths, None) is None
    assert STARTS == 4


def attempted(made, ends):
    """Have attempts end so, one after another, and note from where and how long each was."""
    seen = []

    def attempt(start, length, longest, _):
        seen.append((start, length, longest))
        return ends.pop(0)

    made.attempt = attempt
    return seen


def test_attempt_that_comes_off_is_gone_on_from_with_a_larger_step_and_an_open_mind():
    made, shorter = search(), strip(29.9)
    seen = attempted(made, [shorter])
    one = Standing(strip(), 0.005, nearly=(Nearly(3.0, strip(29.0)),), idle=7, least_step=0.002)
    made.disturbed = lambda given, _: given
    found = made._after_attempt(one, rng())
    assert found == Standing(shorter, 0.0075)
    assert seen[0][1:] == (pytest.approx(30 * (1 - 0.005)), 30.0)
    attempted(made, [shorter])
    assert made._after_attempt(Standing(strip(), 0.009), rng()).step == LARGEST_STEP


def test_first_attempt_goes_on_from_the_strip_itself():
    made, begun = search(), strip()
    made.disturbed = lambda *_: pytest.fail("disturbed")
    seen = attempted(made, [Nearly(3.0, strip(29.0))])
    made._after_attempt(Standing(begun), rng())
    assert seen[0][0] is begun


def test_attempt_that_fails_is_kept_and_the_next_one_is_less_bold():
    made, left = search(), Nearly(3.0, strip(29.7))
    attempted(made, [left])
    found = made._after_attempt(Standing(strip()), rng())
    assert (found.best.length, found.step, found.nearly) == (30.0, 0.005, (left,))
    assert found.idle == 0
    attempted(made, [left])
    assert made._after_attempt(Standing(strip(), 0.005), rng()).step == LEAST_STEP
    attempted(made, [left])
    assert made._after_attempt(Standing(strip(), 0.005, least_step=0.001), rng()).step == 0.0025


@pytest.mark.parametrize(("overlap", "idle"), [(2.0, 0), (4.0, 6), (3.0, 6)])
def test_attempts_are_idle_that_come_no_nearer(overlap, idle):
    made, known = search(), Nearly(3.0, strip(29.0))
    made.disturbed = lambda given, _: given
    attempted(made, [Nearly(overlap, strip(28.0))])
    found = made._after_attempt(Standing(strip(), nearly=(known,), idle=5), rng())
    assert found.idle == idle


def test_layouts_begun_anew_are_tried_one_after_another_as_they_are():
    made, begun = search(), (strip(29.1), strip(29.2))
    seen = attempted(made, [Nearly(3.0, strip(29.1)), Nearly(2.0, strip(29.2))])
    made.disturbed = lambda *_: pytest.fail("disturbed")
    once = made._after_attempt(Standing(strip(), begun=begun), rng())
    assert once.begun == begun[1:]
    assert made._after_attempt(once, rng()).begun == ()
    assert [start for start, _, _ in seen] == list(begun)


def test_nothing_is_tried_shorter_than_the_bound():
    made = search(width=20.0)
    seen = attempted(made, [Nearly(1.0, strip())])
    made._after_attempt(Standing(strip(15.01)), rng())
    assert seen[0][1] == made.bound == 15.0


@pytest.mark.parametrize(
    ("length", "enough", "tried"), [(30.0, 0.0, 5), (30.0, 30.0, 0), (15.0, 0.0, 0)]
)
def test_search_ends_with_its_rounds_or_where_it_is_short_enough(length, enough, tried):
    made, count = search(width=20.0), []
    made._after_attempt = lambda stands, _: count.append(1) or stands
    made.improved(Standing(strip(length)), rng(), MaxRounds(5), enough=enough)
    assert len(count) == tried


def test_every_shorter_strip_is_told_once():
    made, told = search(), []
    lengths = [29.0, 29.0, 28.0]
    strips = {length: strip(length) for length in lengths}
    ends = iter([strips[length] for length in lengths])
    made._after_attempt = lambda *_: Standing(next(ends))
    made.improved(Standing(strip()), rng(), MaxRounds(3), lambda found: told.append(found.length))
    assert told == [29.0, 28.0]


@pytest.mark.parametrize(("idle", "is_anew"), [(STALE - 1, False), (STALE, True)])
def test_layouts_are_begun_anew_after_so_many_idle_attempts(idle, is_anew):
    made, done = search(), []
    made._after_attempt = lambda stands, _: done.append("tried") or stands
    made._begun_anew = lambda stands, *_: done.append("anew") or stands
    made.improved(Standing(strip(), idle=idle), rng(), MaxRounds(1))
    assert done == ["anew" if is_anew else "tried"]


def test_layouts_begun_anew_are_a_little_shorter_and_forget_what_nearly_was():
    made, asked = search(), []

    def layouts(length, *_):
        asked.append(length)
        return [PLACES, PLACES + 1]

    made.filler.layouts = layouts
    stands = Standing(strip(), idle=STALE, nearly=(Nearly(3.0, strip(29.0)),))
    found = made._begun_anew(stands, rng(), lambda: False)
    assert 30 * (1 - 0.015) <= asked[0] <= 30 * (1 - LEAST_STEP)
    assert (found.best, found.nearly, found.idle) == (stands.best, (), 0)
    assert [one.length for one in found.begun] == asked * 2
    assert found.begun[1].places.tolist() == (PLACES + 1).tolist()
    assert found.step == found.least_step == pytest.approx(1 - asked[0] / 30)
    made.filler.layouts = lambda *_: []
    assert made._begun_anew(stands, rng(), lambda: True) is stands


def test_constructed_strip_holds_every_item_once_clear_of_the_others_and_is_as_long_as_they_reach():
    ell = Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
    shapes = [shape_of(ell, angles=(0.0,)), shape_of(SQUARE, angles=(0.0,))]
    made = StripSearch(shapes, [0, 0, 1, 1], 26.0, 2.0)
    for seed in range(3):
        found = made.constructed(np.random.default_rng(seed))
        assert found.outlines == (0, 0, 1, 1)
        lying = []
        for place, item in zip(found.places, found.outlines, strict=True):
            outline = (ell, SQUARE)[item]
            corners = np.array(outline.exterior.coords) * (1, -1 if place[3] > 0.5 else 1)
            lying.append(Polygon(corners + place[:2]))
        assert found.length == pytest.approx(max(one.bounds[2] for one in lying))
        assert all(box(0, 0, found.length, 26).buffer(1e-6).covers(one) for one in lying)
        apart = [a.distance(b) for k, a in enumerate(lying) for b in lying[:k]]
        assert min(apart) >= 2.0 - 1e-6
