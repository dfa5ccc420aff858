"""Move one item of a layout to the cheapest place found for it; compiled.

Places are sampled over some of the ways the item may lie, and the best of them slide downhill to
where contacts are exact.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.blocks import fit_scratch, turn_into
from nesting.engine.compiled import inner
from nesting.engine.field import cost_at, open_field
from nesting.engine.slide import slide

HERE = np.int64(0)
"""The scratch block's one slot: typed, or every kernel would be compiled twice."""

UNIFORM, CONTACT, NEARBY, KEPT = 4, 8, 5, 2
MOST_WAYS = 4

HOPELESS = 4.0
"""A sampled place this many times as costly as the best found does not slide."""


@inner
def uniform(low, high):  # type: ignore[no-untyped-def]
    """Return a random number between two."""
    return low + (high - low) * np.random.random()


@inner
def on_corner(field, a, j, layout):  # type: ignore[no-untyped-def]
    """Return a place at which a random corner of the moving item meets one of item j."""
    limit, b = field.limit, layout.block
    first = b.piece_first[b.item_first[j]]
    theirs = np.random.randint(first, b.piece_first[b.item_first[j + 1]])
    ours = np.random.randint(0, a.piece_first[a.item_first[1]])
    x = layout.place[j, 0] + b.edges[theirs, 0] - a.edges[ours, 0]
    y = layout.place[j, 1] + b.edges[theirs, 1] - a.edges[ours, 1]
    return min(max(x, limit[0]), limit[2]), min(max(y, limit[1]), limit[3])


@inner
def _sample(field, a, i, kind, unit, layout):  # type: ignore[no-untyped-def]
    """Return a random place: anywhere, corner on corner with another item, or close by."""
    limit, n = field.limit, layout.outline.shape[0]
    if kind == 0 or (kind == 1 and n < 2):
        return uniform(limit[0], limit[2]), uniform(limit[1], limit[3])
    if kind == 1:
        j = np.random.randint(n - 1)
        j = j + 1 if j >= i else j
        return on_corner(field, a, j, layout)
    x = layout.place[i, 0] + uniform(-0.7, 0.7) * unit
    y = layout.place[i, 1] + uniform(-0.7, 0.7) * unit
    return min(max(x, limit[0]), limit[2]), min(max(y, limit[1]), limit[3])


@inner
def _keep(kept, cost, x, y, pull_x, pull_y):  # type: ignore[no-untyped-def]
    """Take a place into the few cheapest, in order."""
    at = kept.shape[0] - 1
    if cost >= kept[at, 0]:
        return
    while at > 0 and kept[at - 1, 0] > cost:
        for k in range(5):
            kept[at, k] = kept[at - 1, k]
        at -= 1
    kept[at, 0], kept[at, 1], kept[at, 2] = cost, x, y
    kept[at, 3], kept[at, 4] = pull_x, pull_y


@inner
def _sampled(field, scratch, i, unit, kept, scene):  # type: ignore[no-untyped-def]
    """Fill kept (k, 5) with the cheapest places sampled: cost, x, y and pull."""
    for k in range(kept.shape[0]):
        kept[k, 0] = np.inf
    for sample in range(UNIFORM + CONTACT + NEARBY):
        kind = 0 if sample < UNIFORM else (1 if sample < UNIFORM + CONTACT else 2)
        x, y = _sample(field, scratch, i, kind, unit, scene.layout)
        most = kept[kept.shape[0] - 1, 0]
        cost, pull_x, pull_y = cost_at(field, scratch, HERE, x, y, most, scene)
        _keep(kept, cost, x, y, pull_x, pull_y)


@inner
def _try_way(i, way, angle, is_over, is_here, unit, best, field, scratch, kept, lines, scene):  # type: ignore[no-untyped-def]
    """Better ``best`` (6), cost, x, y, angle, face and way, by places in one way of lying."""
    layout, outline = scene.layout, scene.layout.outline[i]
    turn_into(scene.figures, outline, angle, is_over, scratch, HERE)
    open_field(field, scratch, HERE, i, way, angle, is_over, scene)
    if field.item[4] > 1e-9:
        return
    near = 1e-10 * unit
    _sampled(field, scratch, i, unit, kept, scene)
    for k in range(KEPT + 1 if is_here else KEPT):
        if k < KEPT:
            cost, x, y, pull_x, pull_y = kept[k, 0], kept[k, 1], kept[k, 2], kept[k, 3], kept[k, 4]
            if cost > HOPELESS * best[0]:
                continue
        else:
            x, y = layout.place[i, 0], layout.place[i, 1]
            cost, pull_x, pull_y = cost_at(field, scratch, HERE, x, y, np.inf, scene)
        cost, x, y = slide(
            field, scratch, HERE, x, y, cost, pull_x, pull_y, 4.0 * unit, near, lines, scene
        )
        if cost < best[0]:
            best[0], best[1], best[2], best[3] = cost, x, y, angle
            best[4], best[5] = 1.0 if is_over else 0.0, way
            if cost <= 0.0:
                return


@inner
def move(i, cost, unit, field, scratch, kept, lines, best, scene):  # type: ignore[no-untyped-def]
    """Move item i, which costs so much, to the cheapest place found among its ways of lying."""
    layout, ways = scene.layout, scene.ways
    outline, here = layout.outline[i], int(layout.place[i, 4])
    first, count = ways.first[outline], ways.first[outline + 1] - ways.first[outline]
    lean, start = ways.lean[outline], np.random.randint(count)
    fit_scratch(scratch, scene.figures, outline)
    best[0], best[1], best[2] = cost, layout.place[i, 0], layout.place[i, 1]
    best[3], best[4], best[5] = layout.place[i, 2], layout.place[i, 3], here
    for turn in range(-1, min(count, MOST_WAYS)):
        if best[0] <= 0.0:
            break
        way = here if turn < 0 else first + (start + turn) % count
        angle, is_over = ways.way[way, 0], ways.way[way, 1] > 0.5
        if turn < 0:
            angle, is_over = best[3], best[4] > 0.5
        elif way == here and lean == 0.0:
            continue
        elif lean > 0.0 and np.random.random() < 0.6:
            angle += uniform(-lean, lean)
        _try_way(i, way, angle, is_over, turn < 0, unit, best, field, scratch, kept, lines, scene)
    layout.place[i, 0], layout.place[i, 1] = best[1], best[2]
    if best[3] != layout.place[i, 2] or best[4] != layout.place[i, 3]:
        for k in range(2, 5):
            layout.place[i, k] = best[k + 1]
        turn_into(scene.figures, outline, best[3], best[4] > 0.5, layout.block, i)
