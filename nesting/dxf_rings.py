"""Curves joined end to end into closed rings, and what stays open."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

JOIN_MM = 0.1
"""Ends this close are one point: drawings are rounded, and no saw sees it."""

JOIN_STEPS_MM = (0.001, 0.01, JOIN_MM)
"""Tolerances tried one after another."""

NEARLY_MM = 2.0
"""A ring that closes within this is meant to be closed, and badly drawn."""

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curve:
    """A line or curve of a drawing: (n, 2) points, mm.

    ``circle`` is centre x, y and diameter where it is a true circle.
    """

    points: Points
    layer: str
    is_closed: bool = False
    circle: tuple[float, float, float] | None = None

    @cached_property
    def polygon(self) -> Polygon:
        """The area within a closed curve; not valid if the curve crosses itself."""
        return Polygon(self.points)

    @property
    def length_mm(self) -> float:
        """Length along the curve."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


@dataclass(frozen=True)
class Joined:
    """Closed rings, and the curves that join to none."""

    rings: tuple[Curve, ...]
    loose: tuple[Curve, ...]


def join(curves: Sequence[Curve]) -> Joined:
    """Return the rings that curves close to, layer by layer.

    A chain is a ring if each of its ends meets exactly one other; where lines branch off, none
    of the connected curves is taken. A curve drawn twice counts once.
    """
    rings = [curve for curve in curves if curve.is_closed]
    loose = [curve for curve in curves if not curve.is_closed]
    # Exactly drawn rings first: two a tenth apart would else be taken for one that branches.
    for tolerance_mm in JOIN_STEPS_MM:
        found, loose = _join_loose(loose, tolerance_mm)
        rings.extend(found)
    return Joined(tuple(rings), tuple(loose))


def _join_loose(curves: Sequence[Curve], tolerance_mm: float) -> tuple[list[Curve], list[Curve]]:
    by_layer: dict[str, list[Curve]] = defaultdict(list)
    for curve in curves:
        by_layer[curve.layer].append(curve)
    rings: list[Curve] = []
    loose: list[Curve] = []
    for layer_curves in by_layer.values():
        found, rest = _chains(layer_curves, tolerance_mm)
        rings.extend(found)
        loose.extend(rest)
    return rings, loose


def nearly_closed(loose: Sequence[Curve]) -> tuple[Curve, float, Points] | None:
    """Return a ring that would close but for gaps of 2 mm or less, its gap and where; or None."""
    for ring in _join_loose(loose, NEARLY_MM)[0]:
        if ring.polygon.area < 100 * NEARLY_MM**2:
            continue
        ends, gaps = _gaps([curve for curve in loose if curve.layer == ring.layer])
        near = np.flatnonzero(gaps <= NEARLY_MM)
        if len(near):
            worst = int(near[np.argmax(gaps[near])])
            return ring, float(gaps[worst]), ends[worst]
    return None


def widest_gap(loose: Sequence[Curve]) -> tuple[float, Points] | None:
    """Return the widest gap from a loose end to the nearest other one, and where it is.

    None if no two ends are loose: the curves then branch.
    """
    ends, gaps = _gaps(loose)
    if not len(gaps):
        return None
    worst = int(np.argmax(gaps))
    return float(gaps[worst]), ends[worst]


def _gaps(loose: Sequence[Curve]) -> tuple[Points, Points]:
    """Return the (n, 2) ends that meet no other, and how far each is from the nearest."""
    if not loose:
        return np.empty((0, 2)), np.empty(0)
    ends = np.vstack([curve.points[[0, -1]] for curve in loose])
    clusters = _clusters(ends, JOIN_MM)
    single = ends[np.bincount(clusters, minlength=len(ends))[clusters] == 1]
    if len(single) < 2:
        return np.empty((0, 2)), np.empty(0)
    points = [Point(end) for end in single]
    (asked, _), gaps = shapely.STRtree(points).query_nearest(
        points, exclusive=True, return_distance=True, all_matches=False
    )
    return single[asked], gaps


def _chains(curves: Sequence[Curve], tolerance_mm: float) -> tuple[list[Curve], list[Curve]]:
    ends = np.vstack([curve.points[[0, -1]] for curve in curves])
    nodes = _clusters(ends, tolerance_mm).reshape(-1, 2)
    edges = [i for i in range(len(curves)) if curves[i].length_mm > tolerance_mm]
    edges = _without_doubles(curves, nodes, edges)
    at_node: dict[int, list[int]] = defaultdict(list)
    for edge in edges:
        for node in nodes[edge]:
            at_node[int(node)].append(edge)
    rings: list[Curve] = []
    loose: list[Curve] = []
    for group in _connected(edges, nodes, at_node):
        if all(len(at_node[int(node)]) == 2 for edge in group for node in nodes[edge]):
            rings.append(_walk(curves, nodes, at_node, group[0]))
        else:
            loose.extend(curves[edge] for edge in group)
    return rings, loose


def _clusters(points: Points, tolerance_mm: float) -> NDArray[np.int64]:
    """Return for each of (n, 2) points the first point that it coincides with, by chains."""
    places = [Point(point) for point in points]
    pairs = shapely.STRtree(places).query(places, predicate="dwithin", distance=tolerance_mm)
    parent = np.arange(len(points))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = int(parent[i])
        return i

    for a, b in pairs.T:
        first, second = sorted((root(int(a)), root(int(b))))
        parent[second] = first
    return np.array([root(i) for i in range(len(points))], dtype=np.int64)


def _without_doubles(
    curves: Sequence[Curve], nodes: NDArray[np.int64], edges: Sequence[int]
) -> list[int]:
    """Return the edges without those drawn twice: same ends, same middle."""
    kept: list[int] = []
    by_ends: dict[tuple[int, int], list[Points]] = defaultdict(list)
    for edge in edges:
        key = (int(nodes[edge].min()), int(nodes[edge].max()))
        middle = _middle(curves[edge].points)
        if any(np.hypot(*(middle - other)) <= JOIN_MM for other in by_ends[key]):
            continue
        by_ends[key].append(middle)
        kept.append(edge)
    return kept


def _middle(points: Points) -> Points:
    marks = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return np.array([np.interp(marks[-1] / 2, marks, points[:, axis]) for axis in (0, 1)])


def _connected(
    edges: Sequence[int], nodes: NDArray[np.int64], at_node: dict[int, list[int]]
) -> Iterator[list[int]]:
    seen: set[int] = set()
    for start in edges:
        if start in seen:
            continue
        seen.add(start)
        group, waiting = [], [start]
        while waiting:
            edge = waiting.pop()
            group.append(edge)
            for node in nodes[edge]:
                fresh = [other for other in at_node[int(node)] if other not in seen]
                seen.update(fresh)
                waiting.extend(fresh)
        yield group


def _walk(
    curves: Sequence[Curve], nodes: NDArray[np.int64], at_node: dict[int, list[int]], start: int
) -> Curve:
    """Return the ring of a clean loop, walked from one of its curves."""
    pieces = [curves[start].points[:-1]]
    edge, node = start, int(nodes[start][1])
    while node != int(nodes[start][0]):
        edge = next(other for other in at_node[node] if other != edge)
        is_forward = int(nodes[edge][0]) == node
        points = curves[edge].points if is_forward else curves[edge].points[::-1]
        pieces.append(points[:-1])
        node = int(nodes[edge][1 if is_forward else 0])
    return replace(curves[start], points=np.vstack(pieces), is_closed=True)
