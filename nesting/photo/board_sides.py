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

from nesting.photo.board_corners import corners_of, runs_in_line
from nesting.photo.opencv import opencv
from nesting.photo.plain_curve import near_weight, plain_curve
from nesting.photo.plan_view import Array, Mask, PlanView

TIP_MM = 62.0
"""A tip that would reach farther is none."""

WINDOW_MM = 170.0
"""Half the length of side that a piece of the line is fitted to."""

SPREADS_MM = (7.0, 5.0, 4.0, 3.0, 3.0)
"""What lies farther off the line counts for nothing, less and less far turn by turn."""

NEARER_MM = 24.0
"""Near its corners a side is drawn straight. Its line there is told by the edge that was found, all
the same, but where that is rounded: so much nearer to a corner than it stands itself. Of 62 boards
rendered, ten corners were 5 mm off with 0 and three with 24; 30 left as many."""

LEAVES_MM = 2.5
SHORTEST_SIDE_MM = 60.0


@dataclass(frozen=True)
class Sides:
    """A ring with smooth sides, and rings between it and the one that was found, inside it."""

    ring: Array
    bites: tuple[Array, ...]
    spurs_mm: float
    """How much of the edge stood out past its sides, and was left off."""
    cut: tuple[tuple[float, Array], ...] = ()
    """How far corners lie from where their sides would meet, where that looks like the ground; and
    (n, 2) places about each."""


def smooth_sides(ring: Array, step_mm: float, plan: PlanView) -> Sides:
    """Return a closed ring, evenly stepped and anticlockwise, with smooth sides and sharp
    corners.
    """
    corners = corners_of(ring, step_mm)
    if len(corners) < 2:
        return Sides(ring, (), 0.0)
    ends = [*corners[1:], (corners[0][0] + len(ring), corners[0][1])]
    sides = [_side(ring, one, other, step_mm) for one, other in zip(corners, ends, strict=True)]
    pieces, bites, spurs, cut = list[Array](), list[Array](), 0.0, list[tuple[float, Array]]()
    for number, side in enumerate(sides):
        before = sides[number - 1]
        tip = _tip(side, before, plan)
        if tip is not None:
            pieces.append(np.concatenate([tip[None], side.points]))
        else:
            pieces.append(np.concatenate([_round_corner(before, side, ring), side.points]))
            cut += _cut_off(side, before)
        bites += side.bites
        spurs += side.spurs_mm
    return Sides(np.concatenate(pieces), tuple(bites), spurs, tuple(cut))


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
    free = _without_ends(len(points), near, far)
    nearer = round(NEARER_MM / step_mm)
    told = _without_ends(len(points), max(1, near - nearer), max(1, far - nearer))
    if long < SHORTEST_SIDE_MM:
        smooth = np.polyval(np.polyfit(u[told], v[told], 1), u) if told.sum() > 3 else v
    else:
        smooth = fitted_line(u, v, told, step_mm)
    left = (np.abs(v - smooth) > LEAVES_MM) & free
    stands = np.where(_grown(left), smooth, v)
    bites = [
        np.concatenate([_back(points[near], ahead, aside, u[run], smooth[run]), points[run][::-1]])
        for run in runs_in_line(left & (v < smooth))
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


def _without_ends(count: int, near: int, far: int) -> Mask:
    """Return flags of so many places, but for so many at either end."""
    flags = np.ones(count, bool)
    flags[:near], flags[-far:] = False, False
    return flags


def _back(origin: Array, ahead: Array, aside: Array, u: Array, v: Array) -> Array:
    made: Array = origin + u[:, None] * ahead + v[:, None] * aside
    return made


def fitted_line(
    u: Array,
    v: Array,
    free: Mask,
    step_mm: float,
    window_mm: float = WINDOW_MM,
    most_off_mm: float = np.inf,
) -> Array:
    """Return the smooth line at each place.

    ``most_off_mm``: what lies farther off one plain curve along the whole side counts for nothing,
    or the line climbs a long bulge from its ends, window by window.
    """
    reach = round(window_mm / step_mm)
    at = np.arange(-reach, reach + 1) / reach
    kernel = (1 - np.abs(at) ** 3) ** 3
    weight, smooth = plain_curve(u, v, free)
    free = free & (np.abs(v - smooth) < most_off_mm)
    for limit in SPREADS_MM:
        moments = [
            _summed(weight * figure, kernel) for figure in (np.ones_like(u), u, u * u, v, u * v)
        ]
        w, wu, wuu, wv, wuv = moments
        bottom = w * wuu - wu * wu
        sound = (w > LEAST_TOLD * kernel.sum()) & (bottom > 1e-6 * w * w)
        slope = np.where(sound, (w * wuv - wu * wv) / np.where(sound, bottom, 1.0), 0.0)
        smooth = np.where(sound, (wv - slope * wu) / np.maximum(w, 1e-9) + slope * u, smooth)
        weight = free * near_weight(v - smooth, limit) + 1e-6 * free
    return smooth


LEAST_TOLD = 0.1
"""Where less than this part of a window tells anything, the line is that of the whole side."""


def _summed(values: Array, kernel: Array) -> Array:
    half = len(kernel) // 2
    made: Array = np.convolve(values, kernel, "full")[half : half + len(values)]
    return made


def _grown(flags: Mask) -> Mask:
    """Return flags with those beside them, so that the line is met and no step is left."""
    grown: Mask = np.convolve(flags, np.ones(9), "same") > 0
    return grown


def _tip(side: _Side, before: _Side, plan: PlanView) -> Array | None:
    """Return the sharp corner at a side's beginning, if wood goes on so far."""
    tip = meeting(before.last, side.first)
    here = side.corner
    if tip is None or np.linalg.norm(tip - here) > TIP_MM or not is_face(plan, here, tip):
        return None
    return tip


def _cut_off(side: _Side, before: _Side) -> list[tuple[float, Array]]:
    """Return how far a corner that is not sharp lies from where its sides would meet, if far, and
    places about it.
    """
    tip = meeting(before.last, side.first)
    off = 0.0 if tip is None else float(np.linalg.norm(tip - side.corner))
    places = np.stack([before.points[-1], side.corner, side.points[0]])
    return [(off, places)] if CUT_MM < off < 2 * TIP_MM else []


CUT_MM = 5.0
"""A corner that is off by more than an edge may be was sawn off, or is painted like the ground:
somebody must look."""


def _round_corner(before: _Side, side: _Side, ring: Array) -> Array:
    """Return the found places about a corner that is not sharp."""
    start = int(np.argmin(np.linalg.norm(ring - before.points[-1], axis=1)))
    end = int(np.argmin(np.linalg.norm(ring - side.points[0], axis=1)))
    count = (end - start) % len(ring)
    if count > 60:
        return np.empty((0, 2))
    return ring[(start + np.arange(1, count)) % len(ring)]


LEAST_SINE = 0.25
"""Sine of the least angle at which two sides make a corner."""


def meeting(
    one: tuple[Array, Array], other: tuple[Array, Array], least_sine: float = LEAST_SINE
) -> Array | None:
    """Return where two lines meet, each a point and a direction; None if nearly alongside."""
    (p, d), (q, e) = one, other
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) < least_sine:
        return None
    met: Array = p + d * (((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross)
    return met


def is_face(plan: PlanView, here: Array, tip: Array) -> bool:
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
