"""Simplify a polygon outward: fewer corners, nothing of the original left outside.

A curved part is sampled finely; the search needs only a figure around it that is nowhere
smaller and nowhere more than a tolerance larger. Where the ring is hollow, chords bridge it;
where it bulges, tangents enclose it. Straight-sided figures come back untouched.
"""

from __future__ import annotations

import math
from itertools import pairwise

from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

Corner = tuple[float, float]

FEW_CORNERS = 12
"""Rings with no more corners than this are left as they are."""

LONGEST_STEP = 64
"""Most corners that one chord or tangent takes the place of."""


def simplified_outward(polygon: Polygon, tolerance_mm: float) -> Polygon:
    """Return a polygon that contains ``polygon`` and nowhere stands off it by more.

    Parameters
    ----------
    tolerance_mm
        Greatest distance from a new edge or corner to the outline it replaces. mm, over 0.
    """
    lying = orient(polygon)
    rings = [_ring(ring.coords[:-1]) for ring in (lying.exterior, *lying.interiors)]
    if max(len(ring) for ring in rings) <= FEW_CORNERS:
        return polygon
    shell, *holes = (_enclosed(_bridged(ring, tolerance_mm), tolerance_mm) for ring in rings)
    simple = Polygon(shell, [hole for hole in holes if len(hole) >= 3])
    return simple if simple.is_valid and simple.buffer(1e-7).contains(polygon) else polygon


def without_pockets(polygon: Polygon, mouth_mm: float) -> Polygon:
    """Return a polygon with its narrow notches closed by a chord across their mouth.

    A limber hole is no place for another part: leaving it out of the search saves it much
    work. Cut-outs whose box is narrower than the mouth are closed too.
    """
    lying = orient(polygon)
    shell = _ring(lying.exterior.coords[:-1])
    i = 0
    while i < len(shell) and len(shell) > 3:
        step = _widest_pocket(shell, i, mouth_mm)
        if step > 1:
            gone = {(i + k) % len(shell) for k in range(1, step)}
            i -= sum(1 for k in gone if k < i)
            shell = [corner for k, corner in enumerate(shell) if k not in gone]
        i += 1
    holes = [ring for ring in lying.interiors if min(_extent(ring.bounds)) >= mouth_mm]
    closed = Polygon(shell, holes)
    return closed if closed.is_valid and closed.buffer(1e-7).contains(polygon) else polygon


def _extent(bounds: tuple[float, float, float, float]) -> tuple[float, float]:
    return bounds[2] - bounds[0], bounds[3] - bounds[1]


def _widest_pocket(ring: list[Corner], i: int, mouth_mm: float) -> int:
    """Return how many corners ahead the far lip of a pocket beginning at corner i lies, or 1."""
    n, best = len(ring), 1
    for step in range(2, min(n - 1, LONGEST_STEP)):
        lip = ring[(i + step) % n]
        if math.dist(ring[i], lip) > mouth_mm:
            continue
        if all(_turn(ring[i], lip, ring[(i + k) % n]) > 0 for k in range(1, step)):
            best = step
    return best


def _ring(coords: list[tuple[float, ...]]) -> list[Corner]:
    return [(float(point[0]), float(point[1])) for point in coords]


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _height(point: Corner, a: Corner, b: Corner) -> float:
    """Return the distance of a point from the line through a and b."""
    base = math.dist(a, b)
    return abs(_turn(a, b, point)) / base if base > 0 else math.inf


def _bridged(ring: list[Corner], tolerance_mm: float) -> list[Corner]:
    """Return the ring (wood on its left) with chords across its hollows."""
    if len(ring) <= FEW_CORNERS:
        return ring
    n = len(ring)
    hollow = [_turn(ring[i - 1], ring[i], ring[(i + 1) % n]) <= 0 for i in range(n)]
    start = next((i for i in range(n) if not hollow[i]), 0)
    kept, i = [], 0
    while i < n:
        kept.append(ring[(start + i) % n])
        step = 1
        while i + step + 1 <= n and step < LONGEST_STEP and hollow[(start + i + step) % n]:
            end = ring[(start + i + step + 1) % n]
            skipped = [ring[(start + i + k) % n] for k in range(1, step + 1)]
            if max(_height(p, kept[-1], end) for p in skipped) > tolerance_mm:
                break
            step += 1
        i += step
    return kept


def _enclosed(ring: list[Corner], tolerance_mm: float) -> list[Corner]:
    """Return the ring (wood on its left) with tangents around its bulges."""
    if len(ring) <= FEW_CORNERS:
        return ring
    n = len(ring)
    bulges = [_turn(ring[i - 1], ring[i], ring[(i + 1) % n]) > 0 for i in range(n)]
    start = next((i for i in range(n) if not bulges[i]), 0)
    kept, i = [], 0
    while i < n:
        step, meeting = _longest_tangent(ring, bulges, start + i, n - i, tolerance_mm)
        kept.append(meeting)
        i += step
    return kept


def _longest_tangent(
    ring: list[Corner], bulges: list[bool], at: int, room: int, tolerance_mm: float
) -> tuple[int, Corner]:
    """Return how many corners from ``at`` one corner outside can replace, and that corner."""
    n = len(ring)
    before, first = ring[(at - 1) % n], ring[at % n]
    best: tuple[int, Corner] = (1, first)
    for step in range(2, min(room, LONGEST_STEP) + 1):
        if not all(bulges[(at + k) % n] for k in range(step)):
            break
        last, after = ring[(at + step - 1) % n], ring[(at + step) % n]
        meeting = _meeting(before, first, after, last)
        if meeting is None or _off_chain(meeting, ring, at, step) > tolerance_mm:
            break
        best = (step, meeting)
    return best


def _off_chain(meeting: Corner, ring: list[Corner], at: int, step: int) -> float:
    """Return the distance from an outside corner to the chain of corners it replaces."""
    chain = [ring[(at + k) % len(ring)] for k in range(step)]
    return min(_to_segment(meeting, a, b) for a, b in pairwise(chain))


def _to_segment(point: Corner, a: Corner, b: Corner) -> float:
    ux, uy = b[0] - a[0], b[1] - a[1]
    along = ((point[0] - a[0]) * ux + (point[1] - a[1]) * uy) / (ux * ux + uy * uy)
    foot = min(max(along, 0.0), 1.0)
    return math.dist(point, (a[0] + foot * ux, a[1] + foot * uy))


def _meeting(a: Corner, b: Corner, c: Corner, d: Corner) -> Corner | None:
    """Return where the line a-b run on past b meets the line c-d run on past d, or None."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    turn = ux * vy - uy * vx
    if abs(turn) <= 1e-12 * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
        return None
    along = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / turn
    other = ((c[0] - a[0]) * uy - (c[1] - a[1]) * ux) / turn
    is_ahead = along >= 1.0 and other >= 1.0
    return (a[0] + along * ux, a[1] + along * uy) if is_ahead else None
