"""Least extents and allowed turnings against many angles tried one by one."""

import math

import numpy as np
import pytest
from puzzles import star
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.engine.wood.extents import SLACK_DEG, extents_needed, least_extents, turnings_deg
from nesting.grain import GrainPath, straight_grain
from nesting.need import Misfit, Need
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.units import slope_angle


def tried(outline, middle, reach, *, is_over=False, count=721):
    """Return the least extents over many turnings about one."""
    shape = affinity.scale(outline.shape, 1, -1, origin=(0, 0)) if is_over else outline.shape
    found = []
    for off in np.linspace(-reach, reach, count):
        x0, y0, x1, y1 = affinity.rotate(shape, middle + off, origin=(0, 0)).bounds
        found.append((x1 - x0, y1 - y0))
    return np.min(found, axis=0)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("may_turn_over", [False, True])
def test_no_allowed_turning_takes_less_room_and_some_takes_no_more(seed, may_turn_over):
    rng = np.random.default_rng(seed)
    own, wood = float(rng.uniform(-30, 30)), float(rng.uniform(-30, 30))
    outline = Outline(
        star(rng, 80.0, 7), 20, grain=straight_grain(own), slope_of_grain=5.0,
        may_turn_over=may_turn_over,
    )  # fmt: skip
    limit = slope_angle(5.0)
    found = [tried(outline, wood - own, limit)]
    if may_turn_over:
        found.append(tried(outline, wood + own, limit, is_over=True))
    assert least_extents(outline, wood) == pytest.approx(np.min(found, axis=0), rel=1e-3)
    assert (np.array(least_extents(outline, wood)) <= np.min(found, axis=0) + 1e-9).all()
    anyhow = tried(outline, 0.0, 90.0, count=1801)
    assert least_extents(outline, None) == pytest.approx(anyhow, rel=1e-3)


def test_steepest_slope_allows_half_a_right_angle_either_way():
    outline = Outline(box(0, 0, 200, 10), 20, slope_of_grain=1.0)
    corner = math.radians(45.0 + SLACK_DEG)
    x, y = least_extents(outline, 0.0)
    assert x == pytest.approx(200 * math.cos(corner) + 10 * math.sin(corner))
    assert y == pytest.approx(10.0)


def turnings(grain_deg=0.0, **given):
    return list(turnings_deg(Outline(box(0, 0, 200, 50), 20, **given), grain_deg))


def test_each_face_may_turn_about_the_angle_at_which_the_grains_agree():
    reach = slope_angle(12.0) + SLACK_DEG
    own = straight_grain(20.0)
    found = turnings(30.0, grain=own, slope_of_grain=12.0)
    assert [over for over, *_ in found] == [False, True]
    assert found[0][1:] == pytest.approx((10 - reach, 10 + reach))
    assert found[1][1:] == pytest.approx((50 - reach, 50 + reach))
    assert len(turnings(30.0, grain=own, may_turn_over=False)) == 1


def test_where_grain_is_grown_or_slope_is_no_limit_any_turning_may_be():
    every = [(False, -90.0, 90.0), (True, -90.0, 90.0)]
    assert turnings(None) == every
    assert turnings(0.0, slope_of_grain=1.0) == every
    assert turnings(0.0, slope_of_grain=1.01) != every


def test_a_grown_part_turns_as_far_as_both_its_arms_may():
    """Arms at 0 and 10 degrees on straight grain, 12 degrees off it at most: 2 to 12 less."""
    bent = GrainPath(
        ((0.0, 0.0), (100.0, 0.0), (100 + 100 * math.cos(math.radians(10)), 17.364818))
    )
    slope = 1 / math.tan(math.radians(12))
    (low, high) = turnings(0.0, grain=bent, slope_of_grain=slope)[0][1:]
    assert (low, high) == pytest.approx((-12, 2), abs=1e-3)
    (low, high) = turnings(0.0, grain=bent, slope_of_grain=slope)[1][1:]
    assert (low, high) == pytest.approx((-2, 12), abs=1e-3)
    stiff = 1 / math.tan(math.radians(4.9))
    assert turnings(0.0, grain=bent, slope_of_grain=stiff) == []
    outline = Outline(box(0, 0, 200, 50), 20, grain=bent, slope_of_grain=stiff)
    assert extents_needed(outline, straight_grain()) == (math.inf, math.inf)
    assert extents_needed(outline, outline.grain) == least_extents(outline, None)
    square = Outline(Polygon([(0, 0), (9, 0), (9, 9), (0, 9)]), 20)
    assert extents_needed(square, straight_grain())[1] == pytest.approx(9.0)


@pytest.mark.parametrize("grain_deg", [0.0, 2.0, -3.0])
@pytest.mark.parametrize(
    ("slope", "part", "room"),
    [(4, (1000, 40), (990, 250)), (12, (1000, 20), (998.9, 95)), (6, (1200, 30), (1195, 200))],
)
def test_part_longer_than_its_board_is_laid_slantwise(slope, part, room, grain_deg):
    """None of them lies in the board along its edges, nor as far off the grain as it may."""
    outline = Outline(box(0, 0, *part), 20, slope_of_grain=slope)
    wood = affinity.translate(box(0, 0, room[0] + 4, room[1] + 4), 7, -3)
    board = Board("A", wood, 30, "oak", grain=straight_grain(grain_deg))
    need, rules = Need("P", "any", outline, ("oak",)), Rules(trim_mm=2, cleaning_loss_mm=0)
    plan = pack([need], [board], rules, stop=MaxRounds(0))
    assert not plan.unplaced and check_plan(plan, [need], rules) == ()
    shorter = Board("A", affinity.scale(wood, 0.98, 1), 30, "oak", grain=straight_grain(grain_deg))
    (left,) = pack([need], [shorter], rules, stop=MaxRounds(0)).unplaced
    assert left.reason is Misfit.TOO_LONG
