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
from numba import njit

from nesting.engine.near import find_near

MEMORY = 6
MOST_HALVINGS = 12


@njit(cache=True)
def _square(sums, start, end, tx, ty):  # type: ignore[no-untyped-def]
    """Return the sum of squared depths of a place in some sums, and its pull."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    edges, boxes = sums.edges, sums.boxes
    for s in range(start, end):
        if tx <= boxes[s, 0] or tx >= boxes[s, 2] or ty <= boxes[s, 1] or ty >= boxes[s, 3]:
            continue
        depth, nearest = np.inf, 0
        for e in range(sums.first[s], sums.first[s + 1]):
            deep = edges[e, 2] - edges[e, 0] * tx - edges[e, 1] * ty
            if deep < depth:
                depth, nearest = deep, e
                if deep <= 0.0:
                    break
        if depth > 0.0:
            total += depth * depth
            pull_x += 2.0 * depth * edges[nearest, 0]
            pull_y += 2.0 * depth * edges[nearest, 1]
    return total, pull_x, pull_y


@njit(cache=True)
def _outside(low, high, x):  # type: ignore[no-untyped-def]
    """Return by how much x is below or above what is allowed, above positive."""
    return min(x - low, 0.0) if x < low else max(x - high, 0.0)


@njit(cache=True)
def squares(at, grad, near, scene):  # type: ignore[no-untyped-def]
    """Return the weighted sum of squared depths at places (2 n), and write its gradient."""
    layout, box, total = scene.layout, scene.wood.box, 0.0
    weight = layout.weight
    for i in range(layout.outline.shape[0]):
        own = layout.block.item_boxes[i]
        out_x = _outside(box[0] - own[0], box[2] - own[2], at[2 * i])
        out_y = _outside(box[1] - own[1], box[3] - own[3], at[2 * i + 1])
        total += weight[i, i] * (out_x * out_x + out_y * out_y)
        grad[2 * i] = 2.0 * weight[i, i] * out_x
        grad[2 * i + 1] = 2.0 * weight[i, i] * out_y
    for k in range(near.count[0]):
        i, j, start, end = near.rows[k]
        tx, ty = at[2 * i], at[2 * i + 1]
        if j >= 0:
            tx -= at[2 * j]
            ty -= at[2 * j + 1]
        square, ux, uy = _square(near.sums, start, end, tx, ty)
        if square > 0.0:
            heft = weight[i, j] if j >= 0 else weight[i, i]
            total += heft * square
            grad[2 * i] -= heft * ux
            grad[2 * i + 1] -= heft * uy
            if j >= 0:
                grad[2 * j] += heft * ux
                grad[2 * j + 1] += heft * uy
    return total


@njit(cache=True)
def _direction(grad, steps, turns, count):  # type: ignore[no-untyped-def]
    """Return the quasi-Newton way downhill from the last few steps and changes of gradient."""
    way, kept = -grad, min(count, MEMORY)
    alphas = np.zeros(MEMORY)
    for back in range(kept):
        k = (count - 1 - back) % MEMORY
        alphas[k] = steps[k].dot(way) / turns[k].dot(steps[k])
        way -= alphas[k] * turns[k]
    if kept:
        k = (count - 1) % MEMORY
        way *= steps[k].dot(turns[k]) / turns[k].dot(turns[k])
    for back in range(kept - 1, -1, -1):
        k = (count - 1 - back) % MEMORY
        way += (alphas[k] - turns[k].dot(way) / turns[k].dot(steps[k])) * steps[k]
    return way


@njit(cache=True)
def relax(most, reach, near, scene):  # type: ignore[no-untyped-def]
    """Move all items of a layout downhill together, none farther than half of ``reach``."""
    layout = scene.layout
    n = layout.outline.shape[0]
    find_near(near, reach, scene)
    first = layout.place[:, :2].copy().reshape(2 * n)
    at = layout.place[:, :2].copy().reshape(2 * n)
    grad, to_grad = np.zeros(2 * n), np.zeros(2 * n)
    steps, turns, count = np.zeros((MEMORY, 2 * n)), np.zeros((MEMORY, 2 * n)), 0
    value = squares(at, grad, near, scene)
    for _ in range(most):
        if value <= 0.0:
            break
        way = _direction(grad, steps, turns, count)
        slope = way.dot(grad)
        if slope >= 0.0:
            way, slope, count = -grad, -grad.dot(grad), 0
        if slope == 0.0:
            break
        share = min(1.0, 0.1 * reach / np.abs(way).max())
        if count == 0:
            share = min(share, 0.25)
        found = value
        for _halving in range(MOST_HALVINGS):
            to = at + share * way
            found = squares(to, to_grad, near, scene)
            if found <= value + 1e-4 * share * slope:
                break
            share *= 0.5
        if found >= value:
            break
        k = count % MEMORY
        steps[k], turns[k] = to - at, to_grad - grad
        if steps[k].dot(turns[k]) > 1e-14 * turns[k].dot(turns[k]):
            count += 1
        at, grad = to, to_grad.copy()
        if value - found < 1e-6 * value:
            value = found
            break
        value = found
        if np.abs(at - first).max() > 0.4 * reach:
            break
    for i in range(n):
        layout.place[i, 0], layout.place[i, 1] = at[2 * i], at[2 * i + 1]
