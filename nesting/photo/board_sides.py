"""A board's sides made smooth between its corners, and its corners drawn out to where sides meet.

An edge found place by place wanders where paint, stain or shadow looks like the ground. A side of a
board does not: a line is fitted along it, piece by piece, that gives little weight to what lies
off it (locally weighted regression: Cleveland 1979, J. Am. Stat. Assoc. 74). Where the found edge
leaves it by more than a couple of millimetres the line stands, and the place between is told as
doubtful.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

CORNER_MM, TIP_MM = 42.0, 62.0
"""About a corner so much of the edge is rounded by looking along normals; a tip that would reach
farther than the second is none."""

SHARP_DEG = 35.0
WINDOW_MM = 170.0
"""Half the length of side that a piece of the line is fitted to."""

SPREADS_MM = (7.0, 5.0, 4.0, 3.0, 3.0)
"""What lies farther off the line counts for nothing, less and less far turn by turn."""

LEAVES_MM = 2.5
SHORTEST_SIDE_MM = 60.0


@dataclass(frozen=True)
class Sides:
    """A ring with smooth sides, and rings between it and the one that was found, inside it."""

    ring: Array
    bites: tuple[Array, ...]
    spurs_mm: float
    """How much of the edge stood out past its sides, and was left off."""


def smooth_sides(ring: Array, step_mm: float, plan: PlanView) -> Sides:
    """Return a closed ring, evenly stepped and anticlockwise, with smooth sides and sharp
    corners.
    """
    corners = corners_of(ring, step_mm)
    if len(corners) < 2:
        return Sides(ring, (), 0.0)
    ends = [*corners[1:], (corners[0][0] + len(ring), corners[0][1])]
    sides = [_side(ring, one, other, step_mm) for one, other in zip(corners, ends, strict=True)]
    pieces, bites, spurs = list[Array](), list[Array](), 0.0
    for number, side in enumerate(sides):
        before, after = sides[number - 1], sides[(number + 1) % len(sides)]
        pieces.append(_cut(side, before, after, ring, plan))
        bites += side.bites
        spurs += side.spurs_mm
    return Sides(np.concatenate(pieces), tuple(bites), spurs)


@dataclass(frozen=True)
class _Side:
    """One side: the places that stand, and the straight ends it goes on by; bites into it."""

    points: Array
    first: tuple[Array, Array]
    last: tuple[Array, Array]
    corner: Array
    """Where its first corner was found, rounded."""
    bites: list[Array]
    spurs_mm: float


BROKEN_MM, BROKEN_DEG = 115.0, 72.0
"""Two turns so near each other, and neither of them so sharp, are one corner that was cut off by
paint or shadow, or by a saw: whether wood goes on is looked at later."""


def corners_of(ring: Array, step_mm: float) -> list[tuple[int, int]]:
    """Return the places at which a ring turns sharply left, in order, and how far each is
    rounded.
    """
    reach = round(CORNER_MM / step_mm)
    ahead = np.roll(ring, -reach, axis=0) - ring
    behind = ring - np.roll(ring, reach, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turns = np.arctan2(cross, np.sum(ahead * behind, axis=1))
    found = list[int]()
    for i in np.argsort(-turns).tolist():
        if turns[i] < np.radians(SHARP_DEG) or len(found) == 6:
            break
        if all(min(abs(i - k), len(ring) - abs(i - k)) >= 1.4 * reach for k in found):
            found.append(i)
    found = [i for i in found if not _is_spur(ring, i, reach)]
    return _made_one(sorted(found), turns, reach, step_mm)


STRAIGHT_MM = 3.0


def _is_spur(ring: Array, place: int, reach: int) -> bool:
    """Return whether a turn is but the tip of something that lies against a straight side."""
    away = np.arange(reach, 3 * reach)
    both = ring[np.concatenate([place - away, place + away]) % len(ring)]
    off = (both - both.mean(axis=0)) @ np.linalg.svd(both - both.mean(axis=0), full_matrices=False)[
        2
    ][1]
    return bool(np.abs(off).max() < STRAIGHT_MM)


def _made_one(found: list[int], turns: Array, reach: int, step_mm: float) -> list[tuple[int, int]]:
    """Return corners, each with its reach, those that are two halves of one made one."""
    corners = [(i, reach) for i in found]
    for k in range(len(found)):
        one, other = found[k - 1], found[k]
        apart = (other - one) % len(turns)
        both = np.degrees(turns[[one, other]])
        if (
            len(found) > 2
            and apart * step_mm < BROKEN_MM
            and both.max() < BROKEN_DEG
            and both.sum() < 130
        ):
            rest = [corner for corner in corners if corner[0] not in (one, other)]
            return sorted([*rest, ((one + apart // 2) % len(turns), reach + apart // 2)])
    return corners


def _side(ring: Array, one: tuple[int, int], other: tuple[int, int], step_mm: float) -> _Side:
    start, end = one[0], other[0]
    points = ring[np.arange(start, end + 1) % len(ring)]
    near, far = (min(reach, max(1, int(0.3 * len(points)))) for reach in (one[1], other[1]))
    chord = points[-far - 1] - points[near]
    long = float(np.linalg.norm(chord))
    ahead = chord / max(1e-9, long)
    aside = np.array([ahead[1], -ahead[0]])  # outward: the ring goes anticlockwise
    off = points - points[near]
    u, v = off @ ahead, off @ aside
    free = np.ones(len(points), bool)
    free[:near], free[-far:] = False, False
    if long < SHORTEST_SIDE_MM:
        smooth = np.polyval(np.polyfit(u[free], v[free], 1), u) if free.sum() > 3 else v
        spread = np.full(len(u), 0.0)
    else:
        smooth, spread = _fitted(u, v, free, step_mm), np.zeros(len(u))
    left = (np.abs(v - smooth) > LEAVES_MM + spread) & free
    stands = np.where(_grown(left), smooth, v)
    bites = [
        np.concatenate([_back(points[near], ahead, aside, u[run], smooth[run]), points[run][::-1]])
        for run in _runs(left & (v < smooth))
        if len(run) * step_mm >= 9.0
    ]
    kept = np.flatnonzero(free)
    if len(kept) < 3:
        kept = np.arange(len(points))
    made = _back(points[near], ahead, aside, u[kept], stands[kept])
    slope = [
        (smooth[kept[i]] - smooth[kept[k]]) / (u[kept[i]] - u[kept[k]])
        for i, k in ((min(8, len(kept) - 1), 0), (-1, max(-9, -len(kept))))
    ]
    ends = [
        (_back(points[near], ahead, aside, u[[i]], smooth[[i]])[0], ahead + s * aside)
        for i, s in ((kept[0], slope[0]), (kept[-1], slope[1]))
    ]
    spurs = float(np.count_nonzero(left & (v > smooth))) * step_mm
    return _Side(made, ends[0], ends[1], points[0], bites, spurs)


def _back(origin: Array, ahead: Array, aside: Array, u: Array, v: Array) -> Array:
    made: Array = origin + u[:, None] * ahead + v[:, None] * aside
    return made


def _fitted(u: Array, v: Array, free: Mask, step_mm: float) -> Array:
    """Return the smooth line at each place."""
    reach = round(WINDOW_MM / step_mm)
    at = np.arange(-reach, reach + 1) / reach
    kernel = (1 - np.abs(at) ** 3) ** 3
    weight, smooth = _whole_curve(u, v, free)
    for limit in SPREADS_MM:
        moments = [
            _summed(weight * figure, kernel) for figure in (np.ones_like(u), u, u * u, v, u * v)
        ]
        w, wu, wuu, wv, wuv = moments
        bottom = w * wuu - wu * wu
        sound = (w > 1.0) & (bottom > 1e-6 * np.maximum(1.0, w * w))
        slope = np.where(sound, (w * wuv - wu * wv) / np.where(sound, bottom, 1.0), 0.0)
        smooth = np.where(sound, (wv - slope * wu) / np.maximum(w, 1e-9) + slope * u, smooth)
        share = np.clip(np.abs(v - smooth) / limit, 0, 1)
        weight = free * (1 - share**2) ** 2 + 1e-6 * free
    return smooth


LONG_MM = 800.0
WHOLE_MM = (30.0, 15.0, 10.0, 10.0)


def _whole_curve(u: Array, v: Array, free: Mask) -> tuple[Array, Array]:
    """Return weights by, and values of, one plain curve along the whole side: straight if short."""
    degree = 3 if np.ptp(u) > LONG_MM else 1
    x = (u - u.mean()) / max(1.0, float(np.ptp(u)))
    weight, smooth = free.astype(float), v
    for limit in WHOLE_MM:
        smooth = np.polyval(np.polyfit(x, v, degree, w=np.sqrt(weight) + 1e-6), x)
        weight = free * (1 - np.clip(np.abs(v - smooth) / limit, 0, 1) ** 2) ** 2
    return weight + 1e-6 * free, smooth


def _summed(values: Array, kernel: Array) -> Array:
    half = len(kernel) // 2
    made: Array = np.convolve(values, kernel, "full")[half : half + len(values)]
    return made


def _grown(flags: Mask) -> Mask:
    """Return flags with those beside them, so that the line is met and no step is left."""
    grown: Mask = np.convolve(flags, np.ones(9), "same") > 0
    return grown


def _runs(flags: Mask) -> list[NDArray[np.intp]]:
    turned = np.concatenate([[0], flags.astype(int), [0]])
    starts, ends = np.flatnonzero(np.diff(turned) == 1), np.flatnonzero(np.diff(turned) == -1)
    return [np.arange(start, end) for start, end in zip(starts, ends, strict=True)]


def _cut(side: _Side, before: _Side, after: _Side, ring: Array, plan: PlanView) -> Array:
    """Return a side's places, led by the corner at its beginning."""
    del after
    tip = _meeting(before.last, side.first)
    here = side.corner
    if tip is None or np.linalg.norm(tip - here) > TIP_MM or not _is_face(plan, here, tip):
        return np.concatenate([_round_corner(before, side, ring), side.points])
    return np.concatenate([tip[None], side.points])


def _round_corner(before: _Side, side: _Side, ring: Array) -> Array:
    """Return the found places about a corner that is not sharp."""
    start = int(np.argmin(np.linalg.norm(ring - before.points[-1], axis=1)))
    end = int(np.argmin(np.linalg.norm(ring - side.points[0], axis=1)))
    count = (end - start) % len(ring)
    if count > 60:
        return np.empty((0, 2))
    return ring[(start + np.arange(1, count)) % len(ring)]


def _meeting(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array | None:
    (p, d), (q, e) = one, other
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) < 0.25:
        return None
    met: Array = p + d * (((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross)
    return met


def _is_face(plan: PlanView, here: Array, tip: Array) -> bool:
    """Return whether the wood goes on into a corner's tip: most of it is more like the board."""
    long = float(np.linalg.norm(tip - here))
    if long < 3.0:
        return True
    out = (tip - here) / long
    aside = np.array([-out[1], out[0]])

    def fan(start: float, end: float, wide: float) -> Array:
        """Return places ahead of here, as wide to either side as they are far from the tip."""
        along = np.linspace(start, end, 12)
        places = [
            here + t * out + share * wide * max(2.0, abs(long - t)) * aside
            for t in along
            for share in np.linspace(-1, 1, 11)
        ]
        return np.array(places)

    tip_places = fan(0.1 * long, 0.85 * long, 0.5)
    inside, outside = fan(-70.0, -3.0, 0.6), fan(long + 3.0, long + 40.0, 0.9)
    return share_alike(plan, tip_places, inside, outside) > LEAST_ALIKE


LEAST_ALIKE = 0.4
"""Part of a tip that must look more like the board: two straight edges speak for it too."""


def share_alike(plan: PlanView, places: Array, one: Array, other: Array) -> float:
    """Return what part of some places looks more like one set of places than like another."""
    cv2 = opencv()
    lab = [
        cv2.cvtColor(
            cv2.remap(
                plan.picture, plan.to_cells(at).astype(np.float32)[None], None, cv2.INTER_LINEAR
            ),
            cv2.COLOR_BGR2LAB,
        )[0].astype(np.float64)
        * (0.6, 1.6, 1.6)
        for at in (places, one, other)
    ]
    near = [
        np.sort(np.linalg.norm(lab[0][:, None] - some[None], axis=2), axis=1)[:, :4].mean(axis=1)
        for some in lab[1:]
    ]
    return float(np.mean(near[0] < near[1]))
