"""Move all items of a layout at once to where their squared depths are least; compiled.

One item at a time jams: each lies in its own hollow while a shift of them all would part them.

References
----------
Imamichi, Yagiura, Nagamochi 2009, An iterated local search algorithm based on nonlinear
programming for the irregular strip packing problem, Discrete Optim. 6:345-361 (squared depths as
one smooth problem); Nocedal, Wright 2006, Numerical Optimization, 7.2 (limited-memory BFGS). Both
from memory.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y, NORMAL_X, NORMAL_Y, Floats
from nesting.engine.geometry.compiled import NONE_YET, door, inner
from nesting.engine.jostle.convex_sums import Sums, depth_in
from nesting.engine.jostle.field import Scene
from nesting.engine.jostle.near_pairs import OTHER, OWN, SUM, Near, edges_near

MEMORY = 6
MOST_HALVINGS = 12

ONE_STEP = 0.2
"""Share of how far an item may go in all that one step takes it at most."""


@inner
def _outside(low: float, high: float, x: float) -> float:
    """Return by how much x is below or above what is allowed, above positive."""
    return min(x - low, 0.0) if x < low else max(x - high, 0.0)


@door
def squares(at: Floats, grad: Floats, rows: Floats, sums: Sums, scene: Scene) -> float:
    """Return the weighted sum of squared depths at places (2 n), and write its gradient.

    ``rows`` are those of :func:`~nesting.engine.jostle.near_pairs.edges_near`.
    """
    layout, box, total = scene.layout, scene.wood.box, 0.0
    weight = layout.weight
    for i in range(layout.outline.shape[0]):
        own = layout.block.item_boxes[i]
        out_x = _outside(box[LOW_X] - own[LOW_X], box[HIGH_X] - own[HIGH_X], at[2 * i])
        out_y = _outside(box[LOW_Y] - own[LOW_Y], box[HIGH_Y] - own[HIGH_Y], at[2 * i + 1])
        total += weight[i, i] * (out_x * out_x + out_y * out_y)
        grad[2 * i] = 2.0 * weight[i, i] * out_x
        grad[2 * i + 1] = 2.0 * weight[i, i] * out_y
    for k in range(rows.shape[0]):
        i, j, s = int(rows[k, OWN]), int(rows[k, OTHER]), int(rows[k, SUM])
        tx, ty = at[2 * i], at[2 * i + 1]
        if j >= 0:
            tx -= at[2 * j]
            ty -= at[2 * j + 1]
        depth, nearest = depth_in(sums, s, tx, ty)
        if depth > 0.0:
            heft = depth * (weight[i, j] if j >= 0 else weight[i, i])
            total += heft * depth
            ux, uy = 2.0 * sums.edges[nearest, NORMAL_X], 2.0 * sums.edges[nearest, NORMAL_Y]
            grad[2 * i] -= heft * ux
            grad[2 * i + 1] -= heft * uy
            if j >= 0:
                grad[2 * j] += heft * ux
                grad[2 * j + 1] += heft * uy
    return total


@inner
def _dot(a: Floats, b: Floats) -> float:
    total = 0.0
    for k in range(a.shape[0]):
        total += a[k] * b[k]
    return total


@inner
def _direct(
    way: Floats, grad: Floats, steps: Floats, turns: Floats, alphas: Floats, count: int
) -> None:
    """Write the quasi-Newton way downhill from the last few steps and changes of gradient."""
    kept = min(count, MEMORY)
    for v in range(way.shape[0]):
        way[v] = -grad[v]
    for back in range(kept):
        k = (count - 1 - back) % MEMORY
        alphas[k] = _dot(steps[k], way) / _dot(turns[k], steps[k])
        for v in range(way.shape[0]):
            way[v] -= alphas[k] * turns[k, v]
    if kept > 0:
        k = (count - 1) % MEMORY
        scale = _dot(steps[k], turns[k]) / _dot(turns[k], turns[k])
        for v in range(way.shape[0]):
            way[v] *= scale
    for back in range(kept - 1, -1, -1):
        k = (count - 1 - back) % MEMORY
        change = alphas[k] - _dot(turns[k], way) / _dot(turns[k], steps[k])
        for v in range(way.shape[0]):
            way[v] += change * steps[k, v]


@inner
def _farthest(a: Floats, b: Floats) -> float:
    """Return the greatest difference of two rows of numbers."""
    far = 0.0
    for k in range(a.shape[0]):
        far = max(far, abs(a[k] - b[k]))
    return far


@door
def relax(most: int, far: float, near: Near, scene: Scene) -> None:
    """Move all items of a layout downhill together, none farther than ``far`` along an axis."""
    layout, n = scene.layout, scene.layout.outline.shape[0]
    near_rows, sums = edges_near(far, near, scene), near.sums
    # Rows: where items began and are, a trial, gradients at both, the way, and zeros.
    rows = np.zeros((7, 2 * n))
    first, at, to, grad, to_grad, way, none = rows
    steps, turns, alphas = np.zeros((MEMORY, 2 * n)), np.zeros((MEMORY, 2 * n)), np.zeros(MEMORY)
    for v in range(2 * n):
        first[v] = at[v] = layout.place[v // 2, v % 2]
    count, value = NONE_YET, squares(at, grad, near_rows, sums, scene)
    for _ in range(most):
        _direct(way, grad, steps, turns, alphas, count)
        slope, longest = _dot(way, grad), _farthest(way, none)
        if slope >= 0.0 or longest <= 0.0:
            break
        share = min(1.0 if count > 0 else 0.25, ONE_STEP * far / longest)
        found = value
        for _halving in range(MOST_HALVINGS):
            for v in range(2 * n):
                to[v] = at[v] + share * way[v]
            found = squares(to, to_grad, near_rows, sums, scene)
            if found <= value + 1e-4 * share * slope:
                break
            share *= 0.5
        if found >= value:
            break
        k = count % MEMORY
        for v in range(2 * n):
            steps[k, v], turns[k, v] = to[v] - at[v], to_grad[v] - grad[v]
            at[v], grad[v] = to[v], to_grad[v]
        if _dot(steps[k], turns[k]) > 1e-14 * _dot(turns[k], turns[k]):
            count += 1
        is_flat = value - found < 1e-6 * value
        value = found
        if is_flat or value <= 0.0 or _farthest(at, first) > (1.0 - ONE_STEP) * far:
            break
    for v in range(2 * n):
        layout.place[v // 2, v % 2] = at[v]
