"""Shift all items of a strip at once by linear programming: shorter, or out of what overlaps.

Around a layout each convex sum may be left across the edge that is nearest: that makes every
condition linear in the shifts.

References
----------
Li, Milenkovic 1995, Compaction and separation algorithms for non-convex polygons and their
applications, Eur. J. Oper. Res. 84:539-561 (from memory). Solved by HiGHS through scipy.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import linprog

from nesting.engine.near import Near, edges_near
from nesting.engine.separation import DONE, total_depth

ROUNDS = 3

OVERLAP_COST = 20.0
"""What a unit of overlap costs in units of length."""

GAIN = 1e-4
"""Share of the length that one more round must gain."""

SPARE = 1e-9
"""Distance, mm, kept beyond what is asked: the solver's tolerance. More would add up where items
fill the width exactly, and a layout on a lattice would never count as legal."""


def shortened(
    most: float, longest: float, field: Any, near: Near, scratch: Any, scene: Any
) -> float:
    """Shift the items of a strip so that it is legal and as short as shifts can make it.

    Leaves the items where they then lie, and the strip's box at the length returned; infinite if
    no legal strip shorter than ``longest`` was found.

    Parameters
    ----------
    most
        Largest shift of an item along either axis, in one of a few rounds.
    """
    best, places, box = np.inf, scene.layout.place.copy(), scene.wood.box
    for _ in range(ROUNDS):
        length, overlap = _shifted(near, scene, most, longest)
        if overlap > DONE:
            continue
        box[2] = length
        if length > min(best, longest) * (1 - GAIN) or total_depth(field, scratch, scene) >= DONE:
            break
        best, places = length, scene.layout.place.copy()
    scene.layout.place[:], box[2] = places, best
    return float(best)


def _shifted(near: Near, scene: Any, most: float, longest: float) -> tuple[float, float]:
    """Shift the items of a layout in place; return the length and the overlap that is left."""
    solved = _solve(edges_near(most, near, scene), scene, most, longest)
    if solved is None:
        return np.inf, np.inf
    shifts, length, overlap = solved
    scene.layout.place[:, :2] += shifts
    return length, overlap


def _solve(
    rows: NDArray[np.float64], scene: Any, most: float, longest: float
) -> tuple[NDArray[np.float64], float, float] | None:
    """Return shifts (n, 2), length and overlap; variables are x and y shifts, length, overlaps."""
    place, boxes, box = scene.layout.place, scene.layout.block.item_boxes, scene.wood.box
    n, m = len(place), len(rows)
    i, j = rows[:, 0].astype(np.int64), rows[:, 1].astype(np.int64)
    _, pair = np.unique(i * n + j, return_inverse=True)
    pairs = int(pair.max()) + 1 if m else 0
    at, k = np.arange(m), np.arange(n)
    ones = np.ones(m)
    data = [-rows[:, 2], rows[:, 2], -rows[:, 3], rows[:, 3], -ones, np.ones(n), -np.ones(n)]
    line = [at, at, at, at, at, m + k, m + k]
    column = [i, j, n + i, n + j, 2 * n + 1 + pair, k, np.full(n, 2 * n)]
    matrix = sparse.csr_matrix(
        (np.concatenate(data), (np.concatenate(line), np.concatenate(column))),
        shape=(m + n, 2 * n + 1 + pairs),
    )
    bound = np.concatenate([rows[:, 4] - SPARE, -(place[:, 0] + boxes[:, 2])])
    cost = np.zeros(2 * n + 1 + pairs)
    cost[2 * n], cost[2 * n + 1 :] = 1.0, OVERLAP_COST
    low_x = np.maximum(-most, box[0] - boxes[:, 0] - place[:, 0])
    low_y = np.maximum(-most, box[1] - boxes[:, 1] - place[:, 1])
    high_y = np.minimum(most, box[3] - boxes[:, 3] - place[:, 1])
    low = np.concatenate([low_x, low_y, [0.0], np.zeros(pairs)])
    high = np.concatenate([np.full(n, most), high_y, [longest], np.full(pairs, np.inf)])
    # The stubs do not know that sparse matrices are taken.
    result = linprog(  # type: ignore[call-overload]
        cost, matrix, bound, bounds=np.column_stack([np.minimum(low, high), high]),
        method="highs-ds", options={"primal_feasibility_tolerance": SPARE},
    )  # fmt: skip
    if result.x is None:
        return None
    found = result.x
    shifts = np.column_stack([found[:n], found[n : 2 * n]])
    return shifts, float(found[2 * n]), float(found[2 * n + 1 :].sum())
