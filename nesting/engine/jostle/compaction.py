"""Shift all items at once by linear programming: a strip shorter, or items out of what overlaps.

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
from scipy import sparse

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y, Floats, X, Y
from nesting.engine.jostle.blocks import Block
from nesting.engine.jostle.field import Field, Scene
from nesting.engine.jostle.jostling import DONE, total_depth
from nesting.engine.jostle.near_pairs import AWAY_X, AWAY_Y, OTHER, OWN, SLACK, Near, edges_near

Entries = tuple[list[Floats], list[Any], list[Any]]
"""Of a sparse matrix: values, lines and columns."""

ROUNDS = 3

OVERLAP_COST = 20.0
"""What a unit of overlap costs in units of length."""

GAIN = 1e-4
"""Share of the length that one more round must gain."""

SPARE = 1e-9
"""Distance, mm, kept beyond what is asked: the solver's tolerance. More would add up where items
fill the width exactly, and a layout on a lattice would never count as legal."""


def shortened(
    most: float, longest: float, field: Field, near: Near, scratch: Block, scene: Scene
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
        box[HIGH_X] = length
        if length > min(best, longest) * (1 - GAIN) or total_depth(field, scratch, scene) >= DONE:
            break
        best, places = length, scene.layout.place.copy()
    scene.layout.place[:], box[HIGH_X] = places, best
    return float(best)


def loosened(most: float, depth: float, near: Near, scene: Scene) -> float:
    """Shift the items of a layout so that the deepest overlap is as shallow as shifts can make it.

    Leaves the items where they then lie, and returns how much deeper than the scene allows they
    may still overlap, mm; below 0, how much shallower: it never says less than ``-depth``.
    Infinite if nothing was found.

    Parameters
    ----------
    most
        Largest shift of an item along either axis.
    depth
        By how much the scene lets items overlap, mm.
    """
    rows, place = edges_near(most, near, scene), scene.layout.place
    n, m = len(place), len(rows)
    boxes, box = scene.layout.block.item_boxes, scene.wood.box
    (data, line, column), k = _parting(rows, n), np.arange(n)
    data.append(-np.ones(m + 4 * n))
    line.append(np.arange(m + 4 * n))
    column.append(np.full(m + 4 * n, 2 * n))
    for side, (way, first) in enumerate([(-1.0, 0), (-1.0, n), (1.0, 0), (1.0, n)]):
        data.append(np.full(n, way))
        line.append(m + side * n + k)
        column.append(first + k)
    room = np.concatenate(
        [
            (place[:, :2] + boxes[:, :2] - box[:2]).T.ravel(),
            (box[2:] - place[:, :2] - boxes[:, 2:]).T.ravel(),
        ]
    )
    cost, limits = np.zeros(2 * n + 1), np.tile([-most, most], (2 * n + 1, 1))
    cost[2 * n], limits[2 * n] = 1.0, (-depth, np.inf)
    bound = np.concatenate([rows[:, SLACK], room]) - SPARE
    found = _minimum(cost, (data, line, column), bound, limits)
    if found is None:
        return np.inf
    place[:, :2] += found[: 2 * n].reshape(2, n).T
    return float(found[2 * n])


def _shifted(near: Near, scene: Scene, most: float, longest: float) -> tuple[float, float]:
    """Shift the items of a layout in place; return the length and the overlap that is left."""
    solved = _solve(edges_near(most, near, scene), scene, most, longest)
    if solved is None:
        return np.inf, np.inf
    shifts, length, overlap = solved
    scene.layout.place[:, :2] += shifts
    return length, overlap


def _solve(
    rows: Floats, scene: Scene, most: float, longest: float
) -> tuple[Floats, float, float] | None:
    """Return shifts (n, 2), length and overlap; variables are x and y shifts, length, overlaps."""
    place, boxes, box = scene.layout.place, scene.layout.block.item_boxes, scene.wood.box
    n, m = len(place), len(rows)
    i, j = rows[:, OWN].astype(np.int64), rows[:, OTHER].astype(np.int64)
    data, line, column = _parting(rows, n)
    _, pair = np.unique(i * n + j, return_inverse=True)
    pairs = int(pair.max()) + 1 if m else 0
    at, k = np.arange(m), np.arange(n)
    data += [-np.ones(m), np.ones(n), -np.ones(n)]
    line += [at, m + k, m + k]
    column += [2 * n + 1 + pair, k, np.full(n, 2 * n)]
    bound = np.concatenate([rows[:, SLACK] - SPARE, -(place[:, X] + boxes[:, HIGH_X])])
    cost = np.zeros(2 * n + 1 + pairs)
    cost[2 * n], cost[2 * n + 1 :] = 1.0, OVERLAP_COST
    low_x = np.maximum(-most, box[LOW_X] - boxes[:, LOW_X] - place[:, X])
    low_y = np.maximum(-most, box[LOW_Y] - boxes[:, LOW_Y] - place[:, Y])
    high_y = np.minimum(most, box[HIGH_Y] - boxes[:, HIGH_Y] - place[:, Y])
    low = np.concatenate([low_x, low_y, [0.0], np.zeros(pairs)])
    high = np.concatenate([np.full(n, most), high_y, [longest], np.full(pairs, np.inf)])
    limits = np.column_stack([np.minimum(low, high), high])
    found = _minimum(cost, (data, line, column), bound, limits)
    if found is None:
        return None
    shifts = np.column_stack([found[:n], found[n : 2 * n]])
    return shifts, float(found[2 * n]), float(found[2 * n + 1 :].sum())


def _parting(rows: Floats, n: int) -> Entries:
    """Return values, lines and columns of what parts each near sum: normal times shifts apart."""
    i, j = rows[:, OWN].astype(np.int64), rows[:, OTHER].astype(np.int64)
    at, nx, ny = np.arange(len(rows)), rows[:, AWAY_X], rows[:, AWAY_Y]
    is_item = j >= 0
    data = [-nx, nx[is_item], -ny, ny[is_item]]
    line = [at, at[is_item], at, at[is_item]]
    return data, line, [i, j[is_item], n + i, n + j[is_item]]


def _minimum(cost: Floats, entries: Entries, bound: Floats, limits: Floats) -> Floats | None:
    """Return where the cost is least within limits (v, 2) under a matrix of so many entries.

    Matrix times place is ``bound`` at most; None if there is no such place.
    """
    from scipy import optimize  # Loaded where it is used: it takes long.

    data, line, column = map(np.concatenate, entries)
    matrix = sparse.csr_matrix((data, (line, column)), shape=(len(bound), len(cost)))
    # The stubs do not know that sparse matrices are taken.
    result = optimize.linprog(  # type: ignore[call-overload]
        cost, matrix, bound, bounds=limits, method="highs-ds",
        options={"primal_feasibility_tolerance": SPARE},
    )  # fmt: skip
    found: Floats | None = result.x
    return found
