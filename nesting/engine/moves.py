"""Move one item of a layout to the cheapest place found for it; compiled.

Places are sampled over some of the ways the item may lie, the best are walked downhill, and the
end is snapped to where contacts are exact.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nesting.engine.contacts import snap
from nesting.engine.layout_cost import clamped, limits, place_cost
from nesting.engine.overlap import turn_into

HERE = np.int64(0)
"""The scratch block's one slot: typed, or every kernel would be compiled twice."""

UNIFORM, CONTACT, NEARBY, KEPT = 4, 8, 5, 2
DESCENT_STEPS = 12
MOST_WAYS = 4


@njit(cache=True)
def uniform(low, high):  # type: ignore[no-untyped-def]
    """Return a random number between two."""
    return low + (high - low) * np.random.random()


@njit(cache=True)
def fit_scratch(scratch, figures, outline):  # type: ignore[no-untyped-def]
    """Lay out the scratch block for one outline's pieces."""
    first, last = figures.outline_first[outline], figures.outline_first[outline + 1]
    scratch.item_first[0], scratch.item_first[1] = 0, last - first
    start = figures.piece_first[first]
    for k in range(last - first + 1):
        scratch.piece_first[k] = figures.piece_first[first + k] - start


@njit(cache=True)
def _descend(i, a, slot, x, y, angle, is_over, step, layout, wood, ways, figures, rings):  # type: ignore[no-untyped-def]
    """Walk downhill from a place: along the pull while that helps, else in any direction."""
    cost, pull_x, pull_y = place_cost(
        i, a, slot, x, y, angle, is_over, layout, wood, ways, figures, rings, np.inf
    )
    for turn in range(DESCENT_STEPS):
        if cost <= 0.0:
            break
        size = math.sqrt(pull_x * pull_x + pull_y * pull_y)
        if turn % 3 < 2 and size > 0.0:
            ux, uy = pull_x / size, pull_y / size
        else:
            around = uniform(0.0, 2.0 * math.pi)
            ux, uy = math.cos(around), math.sin(around)
        to_x, to_y = clamped(a, slot, wood.box, x + step * ux, y + step * uy)
        found, new_x, new_y = place_cost(
            i, a, slot, to_x, to_y, angle, is_over, layout, wood, ways, figures, rings, cost
        )
        if found < cost:
            cost, x, y, pull_x, pull_y = found, to_x, to_y, new_x, new_y
            step *= 1.2
        else:
            step *= 0.6
    return cost, x, y


@njit(cache=True)
def _sample(i, a, slot, kind, unit, layout, wood):  # type: ignore[no-untyped-def]
    """Return a random place: anywhere, corner on corner with another item, or close by."""
    low_x, low_y, high_x, high_y = limits(a, slot, wood.box)
    n = layout.outline.shape[0]
    if kind == 0 or (kind == 1 and n < 2):
        return uniform(low_x, high_x), uniform(low_y, high_y)
    if kind == 1:
        j = np.random.randint(n - 1)
        j = j + 1 if j >= i else j
        b = layout.block
        first = b.piece_first[b.item_first[j]]
        theirs = np.random.randint(first, b.piece_first[b.item_first[j + 1]])
        start = a.piece_first[a.item_first[slot]]
        ours = np.random.randint(start, a.piece_first[a.item_first[slot + 1]])
        x = layout.place[j, 0] + b.edges[theirs, 0] - a.edges[ours, 0]
        y = layout.place[j, 1] + b.edges[theirs, 1] - a.edges[ours, 1]
        return clamped(a, slot, wood.box, x, y)
    x = layout.place[i, 0] + uniform(-0.7, 0.7) * unit
    y = layout.place[i, 1] + uniform(-0.7, 0.7) * unit
    return clamped(a, slot, wood.box, x, y)


@njit(cache=True)
def _fits(a, slot, box):  # type: ignore[no-untyped-def]
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return low_x <= high_x + 1e-9 and low_y <= high_y + 1e-9


@njit(cache=True)
def _keep(kept, cost, x, y, angle, is_over):  # type: ignore[no-untyped-def]
    """Take a place into the few cheapest, in order."""
    at = kept.shape[0] - 1
    if cost >= kept[at, 0]:
        return
    while at > 0 and kept[at - 1, 0] > cost:
        kept[at] = kept[at - 1]
        at -= 1
    kept[at, 0], kept[at, 1], kept[at, 2] = cost, x, y
    kept[at, 3], kept[at, 4] = angle, 1.0 if is_over else 0.0


@njit(cache=True)
def _sample_ways(i, kept, scratch, unit, layout, wood, ways, figures, rings):  # type: ignore[no-untyped-def]
    """Fill kept (k, 5) with the cheapest places sampled over some of the item's ways of lying."""
    outline = layout.outline[i]
    first, count = ways.first[outline], ways.first[outline + 1] - ways.first[outline]
    lean, start = ways.lean[outline], np.random.randint(count)
    for turn in range(min(count, MOST_WAYS)):
        way = first + (start + turn) % count
        angle, is_over = ways.way[way, 0], ways.way[way, 1] > 0.5
        if lean > 0.0 and np.random.random() < 0.6:
            angle += uniform(-lean, lean)
        turn_into(figures, outline, angle, is_over, scratch, HERE)
        if not _fits(scratch, HERE, wood.box):
            continue
        for sample in range(UNIFORM + CONTACT + NEARBY):
            kind = 0 if sample < UNIFORM else (1 if sample < UNIFORM + CONTACT else 2)
            x, y = _sample(i, scratch, HERE, kind, unit, layout, wood)
            cost, _, _ = place_cost(
                i,
                scratch,
                HERE,
                x,
                y,
                angle,
                is_over,
                layout,
                wood,
                ways,
                figures,
                rings,
                kept[kept.shape[0] - 1, 0],
            )
            _keep(kept, cost, x, y, angle, is_over)


@njit(cache=True)
def move(i, scratch, unit, lines, layout, wood, ways, figures, rings):  # type: ignore[no-untyped-def]
    """Move item i to the cheapest place found among its ways of lying. Returns its cost."""
    outline, block = layout.outline[i], layout.block
    best_x, best_y = layout.place[i, 0], layout.place[i, 1]
    best_angle, best_over = layout.place[i, 2], layout.place[i, 3] > 0.5
    best, _, _ = place_cost(
        i,
        block,
        i,
        best_x,
        best_y,
        best_angle,
        best_over,
        layout,
        wood,
        ways,
        figures,
        rings,
        np.inf,
    )
    kept = np.full((KEPT + 1, 5), np.inf)
    fit_scratch(scratch, figures, outline)
    _sample_ways(i, kept[:KEPT], scratch, unit, layout, wood, ways, figures, rings)
    kept[KEPT, 0], kept[KEPT, 1], kept[KEPT, 2] = best, best_x, best_y
    kept[KEPT, 3], kept[KEPT, 4] = best_angle, 1.0 if best_over else 0.0
    for k in range(KEPT + 1):
        if kept[k, 0] == np.inf:
            continue
        angle, is_over = kept[k, 3], kept[k, 4] > 0.5
        turn_into(figures, outline, angle, is_over, scratch, HERE)
        cost, x, y = _descend(
            i,
            scratch,
            HERE,
            kept[k, 1],
            kept[k, 2],
            angle,
            is_over,
            0.15 * unit,
            layout,
            wood,
            ways,
            figures,
            rings,
        )
        if 0.0 < cost < 1.5 * best:
            cost, x, y = snap(
                i,
                scratch,
                HERE,
                cost,
                x,
                y,
                angle,
                is_over,
                0.12 * unit,
                lines,
                layout,
                wood,
                ways,
                figures,
                rings,
            )
        if cost < best:
            best, best_x, best_y, best_angle, best_over = cost, x, y, angle, is_over
        if best <= 0.0:
            break
    layout.place[i, 0], layout.place[i, 1] = best_x, best_y
    if best_angle != layout.place[i, 2] or best_over != (layout.place[i, 3] > 0.5):
        layout.place[i, 2], layout.place[i, 3] = best_angle, 1.0 if best_over else 0.0
        turn_into(figures, outline, best_angle, best_over, block, i)
    return best
