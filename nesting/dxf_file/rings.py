"""Curves joined end to end into closed rings, and what stays open."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.linked import groups
from nesting.unseen import looked_up, quoted

JOIN_MM = 0.1
"""Ends this close are one point: drawings are rounded, and no saw sees it."""

JOIN_STEPS_MM = (0.001, 0.01, JOIN_MM)
"""Tolerances tried one after another."""

NEARLY_STEPS_MM = (2.0, 5.0, 10.0, 20.0)
"""A ring ten times as large that closes within such a gap is meant to be closed, badly drawn."""

NEARLY_ROUND = 0.25
"""A chain whose ends are apart by no more than this part of its length is a ring with a gap."""

MOST_NEARLY = 20_000
"""Loose curves among which wider gaps are looked for; among more, each end has hundreds near it."""

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curve:
    """A line or curve of a drawing: (n, 2) points, mm.

    Attributes
    ----------
    layer, layers
        The layer that it is drawn on; that, and those of the inserts that it came by.
    circle
        Centre x, y and diameter where it is a true circle.
    width_mm
        How wide its line is drawn.
    rise_mm
        How far it rises out of the drawing's plane.
    name
        Kind, handle and line of the entity that it was, or of one that it was joined from.
    """

    points: Points
    layer: str
    is_closed: bool = False
    circle: tuple[float, float, float] | None = None
    layers: tuple[str, ...] = ()
    width_mm: float = 0.0
    rise_mm: float = 0.0
    name: str = ""

    @cached_property
    def all_layers(self) -> frozenset[str]:
        """Every layer that it counts on, as layers are looked up."""
        return frozenset(map(looked_up, (self.layer, *self.layers)))

    @cached_property
    def polygon(self) -> Polygon:
        """The area within a closed curve, inside its line's middle; not valid if the curve crosses
        itself, empty if it has no three corners.
        """
        return Polygon(self.points) if len(self.points) > 2 else Polygon()

    def __str__(self) -> str:
        x, y = self.points[0]
        return f"{self.name or 'a line'} on layer {quoted(self.layer)} at ({x:g}, {y:g}) mm"

    @property
    def length_mm(self) -> float:
        """Length along the curve."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


@dataclass(frozen=True)
class Joined:
    """Closed rings, and the curves that join to none."""

    rings: tuple[Curve, ...]
    loose: tuple[Curve, ...]


def farthest_apart(first: BaseGeometry, second: BaseGeometry) -> float:
    """Return how far any point of two lines lies from the other line, at the corners of both."""
    # Corners nearer to each other than numbers can tell: the library divides by nothing.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return float(shapely.hausdorff_distance(first, second))


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


def nearly_closed(
    loose: Sequence[Curve], steps_mm: Sequence[float] = NEARLY_STEPS_MM
) -> tuple[Curve, float, Points] | None:
    """Return a ring that would close but for small gaps, its widest gap and where; or None."""
    for tolerance_mm in steps_mm if len(loose) <= MOST_NEARLY else steps_mm[:1]:
        for ring in _join_loose(loose, tolerance_mm)[0]:
            if ring.polygon.area < 100 * tolerance_mm**2:
                continue
            ends, gaps = _gaps([curve for curve in loose if curve.layer == ring.layer])
            near = np.flatnonzero(gaps <= tolerance_mm)
            if len(near):
                worst = int(near[np.argmax(gaps[near])])
                return ring, float(gaps[worst]), ends[worst]
    return None


def connected(curves: Sequence[Curve]) -> list[list[Curve]]:
    """Return curves in groups that hang together by their ends, each on one layer."""
    by_layer: dict[str, list[Curve]] = defaultdict(list)
    for curve in curves:
        by_layer[curve.layer].append(curve)
    found: list[list[Curve]] = []
    for members in by_layer.values():
        ends = np.vstack([curve.points[[0, -1]] for curve in members])
        nodes = _clusters(ends, JOIN_MM).reshape(-1, 2)
        together = _connected(range(len(members)), nodes)
        found.extend([members[edge] for edge in group] for group in together)
    return found


def goes_round(group: Sequence[Curve]) -> bool:
    """Return whether a connected group leads back to where it began, by side branches or nearly."""
    ends = np.vstack([curve.points[[0, -1]] for curve in group])
    nodes, counts = np.unique(_clusters(ends, JOIN_MM), return_counts=True)
    if len(group) >= len(nodes):
        return True
    free = ends[nodes[counts == 1]]
    if len(free) != 2:
        return False
    length_mm = sum(curve.length_mm for curve in group)
    return bool(np.hypot(*(free[0] - free[1])) <= NEARLY_ROUND * length_mm)


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
    # What is too short to join is still there: on a layer of nails it is a nail.
    loose = [curve for curve in curves if curve.length_mm <= tolerance_mm]
    for group in _connected(edges, nodes):
        if all(len(at_node[int(node)]) == 2 for edge in group for node in nodes[edge]):
            rings.append(_walk(curves, nodes, at_node, group[0]))
        else:
            loose.extend(curves[edge] for edge in group)
    return rings, loose


def _clusters(points: Points, tolerance_mm: float) -> NDArray[np.int64]:
    """Return for each of (n, 2) points the first point that it coincides with, by chains."""
    places = [Point(point) for point in points]
    pairs = shapely.STRtree(places).query(places, predicate="dwithin", distance=tolerance_mm)
    cluster = groups(pairs, len(points))
    _, first = np.unique(cluster, return_index=True)
    return np.asarray(first[cluster], dtype=np.int64)


def _without_doubles(
    curves: Sequence[Curve], nodes: NDArray[np.int64], edges: Sequence[int]
) -> list[int]:
    """Return the edges without those drawn twice: same ends, same quarters of the way."""
    kept: list[int] = []
    by_ends: dict[tuple[int, int], list[Points]] = defaultdict(list)
    for edge in edges:
        key = (int(nodes[edge].min()), int(nodes[edge].max()))
        is_forward = int(nodes[edge][0]) == key[0]
        quarters = _quarters(curves[edge].points if is_forward else curves[edge].points[::-1])
        if any(np.hypot(*(quarters - other).T).max() <= JOIN_MM for other in by_ends[key]):
            continue
        by_ends[key].append(quarters)
        kept.append(edge)
    return kept


def _quarters(points: Points) -> Points:
    """Return (3, 2) points a quarter, half and three quarters along a curve."""
    marks = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = marks[-1] * np.array([0.25, 0.5, 0.75])
    return np.column_stack([np.interp(at, marks, points[:, axis]) for axis in (0, 1)])


def _connected(edges: Iterable[int], nodes: NDArray[np.int64]) -> list[list[int]]:
    """Return the groups of edges that hang together at nodes, in the order of their first."""
    edges = list(edges)
    if not edges:
        return []
    _, at = np.unique(nodes[edges], return_inverse=True)
    at = len(edges) + at.reshape(-1)
    group = groups(np.stack([np.repeat(np.arange(len(edges)), 2), at]), int(at.max()) + 1)
    found: dict[int, list[int]] = defaultdict(list)
    for edge, number in zip(edges, group[: len(edges)], strict=True):
        found[int(number)].append(edge)
    return list(found.values())


def _walk(
    curves: Sequence[Curve], nodes: NDArray[np.int64], at_node: dict[int, list[int]], start: int
) -> Curve:
    """Return the ring of a clean loop, walked from one of its curves."""
    edge, node = start, int(nodes[start][1])
    members, pieces = [curves[start]], [curves[start].points]
    while node != int(nodes[start][0]):
        edge = next(other for other in at_node[node] if other != edge)
        is_forward = int(nodes[edge][0]) == node
        members.append(curves[edge])
        pieces.append(curves[edge].points if is_forward else curves[edge].points[::-1])
        node = int(nodes[edge][1 if is_forward else 0])
    # Where two pieces meet, the end of one is the start of the next; over a gap both are corners.
    following = pieces[1:] + pieces[:1]
    kept = [
        piece[:-1] if np.hypot(*(piece[-1] - after[0])) <= JOIN_MM else piece
        for piece, after in zip(pieces, following, strict=True)
    ]
    return replace(
        curves[start],
        points=np.vstack(kept),
        is_closed=True,
        layers=tuple(dict.fromkeys(layer for curve in members for layer in curve.layers)),
        width_mm=max(curve.width_mm for curve in members),
        rise_mm=max(curve.rise_mm for curve in members),
    )
