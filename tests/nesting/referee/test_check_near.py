"""Keep-outs looked up by where they lie, against each of them measured."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nesting.referee.near import KeepOutsNear
from nesting.rules import TOUCH_MM
from nesting.stock.keep_out import KeepOutKind, circle, region, slot

CLEARANCE_MM = 6.0


def some(rng: np.random.Generator, count: int) -> list:
    """Return round ones, slots and regions of all sizes, all over a board."""
    found = []
    for x, y, size in rng.uniform((0, 0, 2), (900, 200, 60), (count, 3)):
        found += [
            circle(KeepOutKind.METAL, x, y, size),
            slot(KeepOutKind.METAL, (x, y), (x + 40, y + 10), size / 4 + 1),
            region(KeepOutKind.METAL, [(x, y), (x + size, y + 1), (x + 3, y + size)]),
        ]
    return found


@pytest.mark.parametrize("seed", range(4))
def test_all_that_comes_too_near_is_found_in_its_order(seed: int) -> None:
    rng = np.random.default_rng(seed)
    keep_outs = some(rng, 60)
    near = KeepOutsNear(keep_outs, lambda one: one.reach_mm + CLEARANCE_MM)
    for x, y in rng.uniform((0, 0), (900, 200), (40, 2)):
        shape = shapely.box(x, y, x + 50, y + 20)
        found = near.to(shape)
        too_near = [
            one
            for one in keep_outs
            if one.core.distance(shape) - one.reach_mm < CLEARANCE_MM - TOUCH_MM
        ]
        assert [one for one in found if one in too_near] == too_near
        assert len(found) < len(keep_outs)


def test_one_at_the_very_limit_is_looked_at() -> None:
    nail = circle(KeepOutKind.METAL, 100.0, 50.0, 8.0)
    near = KeepOutsNear([nail], lambda one: one.reach_mm + CLEARANCE_MM)
    assert near.to(shapely.box(0.0, 0.0, 100.0 - 4.0 - CLEARANCE_MM, 90.0)) == [nail]
    assert near.to(shapely.box(0.0, 0.0, 100.0 - 4.1 - CLEARANCE_MM, 90.0)) == []


def test_no_keep_outs_are_near_to_nothing() -> None:
    assert KeepOutsNear([], lambda one: one.reach_mm).to(shapely.box(0, 0, 9, 9)) == []
