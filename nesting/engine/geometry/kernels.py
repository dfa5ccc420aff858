"""The kernels of the search in plain numpy: their meaning, and the twin the tests compare.

Slow and short. Names, arguments and results are those of
:mod:`nesting.engine.geometry.kernels_numba`.
"""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.tolerances import FLAT_SINE, PARALLEL_RAD, ROUND_STEP_RAD, STRICT_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def convex_sum(a: Floats, b: Floats, gap: float) -> tuple[Floats, Floats]:
    """Return edges (e, 3) and corners (e, 2) of the convex sum of a and -b, grown by gap.

    The sum holds every position at which ``b`` comes closer than ``gap`` to ``a``; corners are
    rounded outward by a polygon.
    """
    normals = np.concatenate([_normals(a), _normals(-b)])
    turns = np.sort(np.arctan2(normals[:, 1], normals[:, 0]))
    steps = np.diff(np.append(turns, turns[0] + 2 * math.pi))
    kept: list[float] = []
    for turn, step in zip(turns, steps, strict=True):
        if step >= PARALLEL_RAD:
            pieces = max(1, math.ceil(step / ROUND_STEP_RAD - 1e-9)) if gap > 0 else 1
            kept += [turn + step * piece / pieces for piece in range(pieces)]
    directions = np.column_stack([np.cos(kept), np.sin(kept)])
    support = (directions @ a.T).max(axis=1) + (directions @ -b.T).max(axis=1) + gap
    edges = np.column_stack([directions, support])
    corners = np.array(
        [
            np.linalg.solve(np.array([e[:2], f[:2]]), np.array([e[2], f[2]]))
            for e, f in zip(edges, np.roll(edges, -1, axis=0), strict=True)
        ]
    )
    return edges, corners


def _normals(ring: Floats) -> Floats:
    spans = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(*spans.T)
    spans = spans[lengths > 0] / lengths[lengths > 0, None]
    return np.column_stack([spans[:, 1], -spans[:, 0]])


def lowest_spots(
    edges: Floats,
    first: Ints,
    segments: Floats,
    limit: tuple[float, float, float, float],
    weights: tuple[float, float],
    count: int,
) -> Floats:
    """Return (k, 3) score, x, y of the best ``count`` legal positions or fewer, best first.

    A position is legal inside ``limit`` and outside every sum. Candidates are the corners of
    the limit, ends of segments, crossings of segments with the limit's sides, and of segments
    with each other.
    """
    x0, y0, x1, y1 = limit
    sides = [[x0, y0, x1, y0], [x1, y0, x1, y1], [x1, y1, x0, y1], [x0, y1, x0, y0]]
    lines = np.concatenate([np.array(sides), segments])
    points = list(lines[:, :2]) + list(lines[:, 2:])
    for a, b in combinations(lines, 2):
        meeting = _crossing(a, b)
        if meeting is not None:
            points.append(meeting)
    inside = [p for p in points if _in_limit(p, limit)]
    clamped = np.clip(np.array(inside), [x0, y0], [x1, y1])
    legal = [p for p in clamped if not _is_forbidden(p, edges, first)]
    scored = sorted((float(p @ np.array(weights)), float(p[0]), float(p[1])) for p in legal)
    chosen: list[tuple[float, float, float]] = []
    for spot in scored:
        is_new = all(max(abs(spot[1] - s[1]), abs(spot[2] - s[2])) >= 1e-6 for s in chosen)
        if is_new and len(chosen) < count:
            chosen.append(spot)
    return np.array(chosen).reshape(-1, 3)


def _in_limit(point: Floats, limit: tuple[float, float, float, float]) -> bool:
    x0, y0, x1, y1 = limit
    return bool(
        x0 - STRICT_MM <= point[0] <= x1 + STRICT_MM
        and y0 - STRICT_MM <= point[1] <= y1 + STRICT_MM
    )


def _is_forbidden(point: Floats, edges: Floats, first: Ints) -> bool:
    depth = edges[:, :2] @ point - edges[:, 2]
    return any(depth[start:end].max() <= -STRICT_MM for start, end in pairwise(first))


def _crossing(first: Floats, second: Floats) -> Floats | None:
    start, u = first[:2], first[2:] - first[:2]
    other, v = second[:2], second[2:] - second[:2]
    turn = u[0] * v[1] - u[1] * v[0]
    if abs(turn) <= FLAT_SINE * np.abs(u).sum() * np.abs(v).sum():
        return None
    apart = other - start
    along = (apart[0] * v[1] - apart[1] * v[0]) / turn
    across = (apart[0] * u[1] - apart[1] * u[0]) / turn
    if not (0 <= along <= 1 and 0 <= across <= 1):
        return None
    return np.asarray(start + along * u)
