"""One attempt to part overlapping items: one by one, and all at once as soon as that may do."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from nesting.engine.jostle.blocks import Block
from nesting.engine.jostle.field import Field, Scene
from nesting.engine.jostle.jostling import DONE, jostle
from nesting.engine.jostle.layout import field_for, lay, near_for
from nesting.engine.jostle.near_pairs import Near

Floats = NDArray[np.float64]
Found = TypeVar("Found")

STALL = 150
MOST_PASSES = 4000

CLOSE, CLOSER = 0.3, (1.0, 0.05, 0.0)
"""Overlap left, in sizes of a mean item, at which shifts of all items at once are tried; where
they fail, jostling goes on to the next share of it, at last to none."""

SHIFT = 0.3
"""Largest shift of an item, in sizes of a mean item, when all are shifted at once."""


def parted(
    scene: Scene,
    scratch: Block,
    unit: float,
    rng: np.random.Generator,
    shifted: Callable[[Field, Near], Found | None],
) -> tuple[float, Floats, Found | None]:
    """Separate the items of a layout; return depth left, places (n, 5) and what shifts made.

    Parameters
    ----------
    unit
        Size of a mean item, mm.
    shifted
        Given a field and near pairs to work with, shifts all items of the layout as they lie, and
        returns what came of it, or None.
    """
    field, near = field_for(scene.layout, scene.wood, scene.figures, scene.table), near_for(scene)
    best, least = np.empty((len(scene.layout.outline), 5)), np.inf
    for share in CLOSER:
        seed, close = int(rng.integers(2**31)), max(DONE, share * CLOSE * unit)
        least, _ = jostle(seed, MOST_PASSES, STALL, close, unit, field, near, scratch, scene, best)
        lay(scene.layout, scene.figures, best)
        found = shifted(field, near)
        if found is not None or least >= close:
            return least, best, found
        scene.layout.place[:] = best
    return least, best, None
