"""Layouts that a few overlaps keep from being legal: from them a search goes on after a failure.

References
----------
Umetani and others 2009, Solving the irregular strip packing problem via guided local search for
overlap minimization, Int. Trans. Oper. Res. 16:661-683 (from memory): attempts go on from what
an earlier one left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from nesting.engine.jostle.layout import Shape

Floats = NDArray[np.float64]
Layout = TypeVar("Layout")

MOST, FROM_BEST = 8, 0.2
"""Layouts kept, and how often a search goes on from its best legal one instead."""

ALIKE = 0.02
"""Layouts whose overlaps differ by less than this share count as the same one, found again."""

EXCHANGED = 0.5
"""How often a disturbance exchanges two items and does not throw a few."""


@dataclass(frozen=True)
class Nearly(Generic[Layout]):
    """What a failed attempt left: the sum of depths, mm, and the layout."""

    overlap: float
    layout: Layout


def with_another(nearly: Sequence[Nearly[Layout]], found: Nearly[Layout]) -> list[Nearly[Layout]]:
    """Return the few least overlapping layouts, none of them twice."""
    if any(abs(known.overlap - found.overlap) < ALIKE * known.overlap for known in nearly):
        return list(nearly)
    return sorted([*nearly, found], key=lambda one: one.overlap)[:MOST]


def go_on_from(best: Layout, nearly: Sequence[Nearly[Layout]], rng: np.random.Generator) -> Layout:
    """Return the best legal layout, or more often one that overlaps little.

    The chance of the least overlapping is so many times that of the last as there are layouts,
    and falls evenly between (linear ranking: Baker 1985, Adaptive selection methods for genetic
    algorithms; from memory).
    """
    if rng.random() < FROM_BEST:
        return best
    ranks = np.arange(len(nearly), 0, -1.0)
    return nearly[int(rng.choice(len(nearly), p=ranks / ranks.sum()))].layout


def disturbed(
    places: Floats,
    shapes: Sequence[Shape],
    items: Sequence[int],
    box: Sequence[float] | Floats,
    rng: np.random.Generator,
) -> Floats:
    """Return places (n, 5) with two unlike items exchanged, or a few thrown anywhere in a box."""
    places, n = places.copy(), len(items)
    if rng.random() < EXCHANGED and len(set(items)) > 1:
        i = int(rng.integers(n))
        j = int(rng.choice(np.flatnonzero(np.array(items) != items[i])))
        apart = _middle(places, j, shapes[items[j]]) - _middle(places, i, shapes[items[i]])
        places[i, :2] += apart
        places[j, :2] -= apart
        return places
    most = min(n, max(3, n // 8))
    for i in rng.choice(n, int(rng.integers(1, most + 1)), replace=False):
        places[i, :2] = rng.uniform(box[0], box[2]), rng.uniform(box[1], box[3])
    return places


def _middle(places: Floats, i: int, shape: Shape) -> Floats:
    """Return the middle of an item's box."""
    x, y, angle, face, _ = places[i]
    corners = shape.pieces.turned(angle, is_over=face > 0.5).corners
    middle: Floats = np.array([x, y]) + (corners.min(axis=0) + corners.max(axis=0)) / 2
    return middle
