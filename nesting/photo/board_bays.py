"""Bays and corners of a rough board that look like the ground, bridged.

Paint of the ground's own colour takes a piece out of what looks like wood. A side is one fair curve
though, on both sides of such a bay, and end and side meet at a corner; and the edge goes on there
as a line, however faint, which is looked for in a band about the bridge. What lies between is told
as doubtful.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import fitted_line, is_face
from nesting.photo.edge_band import STEP_MM, best_path, resampled, runs_of, seen_at
from nesting.photo.edge_lines import steps_along, told_by_lines
from nesting.photo.plan_view import Array, Mask, PlanView

BAY_MM, LIP_MM = 8.0, 4.0
"""A bay is so deep at least, and begins where the edge lies so far inside the side's line: rough
edges are known to a cell."""

NEXT_MM = 36.0
"""Bays nearer to each other than this are one."""

FAIR_MM = 330.0
"""Half the length of side by which its course is told where a bay is left out."""

LONGEST_SHARE, DEEPEST_SHARE = 0.45, 0.75
"""A bay longer than this share of its side, or deeper than that of the width, is a step."""

CORNER_MM, FARTHEST_MM = 3.5, 170.0
"""A corner that lies so much farther from where end and side meet than rough rings round it was
taken off, unless so far that they need not meet."""

ROUND_MM = 21.0
"""Radius of a rough ring's corners: ``find_board`` leaves out spurs narrower than twice that."""

LINE_SHARE = 0.5
"""Part of a bridge over which a line must be seen, where it may be no bridge: corners are sawn off
too, and boards have steps."""

NO_LINE_MM = 300.0
"""A bay no longer than this is bridged though no line is seen."""

END_OFF_MM, END_PAST_MM, LEAST_END = 2.5, 5.0, 0.25
"""How far places of an end lie off its line; past it lies none; and what part of the width must
lie on it."""

BAND_MM, FINE_MM, STIFF = 12.0, 0.5, 6.0
"""How far off a bridge its line is looked for, in what steps, and how little it bends."""

BESIDE_MM = 30.0
"""So much of the sound edge at both ends of a bridge is looked at with it."""

TOLD_NATS = 2.0
"""A line that tells so much is seen."""


@dataclass(frozen=True)
class Bridge:
    """A stretch of edge carried on: (n, 2) places of it; mm.

    ``seen`` is the part of it over which a line is seen.
    """

    line: Array
    seen: float
    is_told: bool = True
    """Whether it must be told: not where the wood is seen to go on."""


@dataclass(frozen=True)
class Bridged:
    """A rough ring with its bays bridged, the bridges to be told, and the bays between; mm."""

    ring: Array
    bridges: tuple[Bridge, ...] = ()
    bays: tuple[Array, ...] = ()


def bridged(plan: PlanView, ring: Array) -> Bridged:
    """Return a closed anticlockwise ring, evenly stepped, with its bays bridged."""
    middle = ring.mean(axis=0)
    ahead = np.linalg.svd(ring - middle, full_matrices=False)[2][0]
    turn = np.stack([ahead, [-ahead[1], ahead[0]]])
    sides = _sides_of((ring - middle) @ turn.T)
    if sides is None:
        return Bridged(ring)
    shape, bridges = Polygon(ring).buffer(0), list[Bridge]()

    def follow(line: Array, reach_mm: float) -> tuple[Array, Array]:
        _, met, told = _followed(plan, LineString(line @ turn + middle), reach_mm)
        return (met - middle) @ turn.T, told

    for legs, patch, may_be_none in (*_bays(sides), *_corners(sides, follow)):
        lines = [leg @ turn + middle for leg in legs]
        seen = min(line_share(plan, line) for line in lines)
        if may_be_none and seen < LINE_SHARE:
            continue
        told = len(lines) == 1 or not _is_wood(plan, shape, lines)
        bridges += [Bridge(line, seen, told) for line in lines]
        shape = shape.union(Polygon(patch @ turn + middle).buffer(0))
    if not bridges:
        return Bridged(ring)
    # A patch may lie off the ring by as much as it was met by.
    shape = shape.buffer(LIP_MM, join_style="mitre").buffer(-LIP_MM, join_style="mitre")
    whole = max(shapely.get_parts(shape), key=lambda part: part.area)
    filled = Polygon(whole.exterior)
    made = resampled(np.asarray(filled.exterior.coords)[:-1], STEP_MM)
    told = tuple(bridge for bridge in bridges if bridge.is_told)
    near = shapely.union_all([LineString(bridge.line).buffer(STEP_MM) for bridge in told])
    bays = shapely.get_parts(filled.difference(Polygon(ring).buffer(0)))
    rings = tuple(
        np.asarray(bay.exterior.coords)[:-1]
        for bay in bays
        if bay.area > LEAST_MM2 and bay.intersects(near)
    )
    return Bridged(made if filled.exterior.is_ccw else made[::-1], told, rings)


def _is_wood(plan: PlanView, shape: Polygon, legs: list[Array]) -> bool:
    """Return whether a corner between two legs is small, and looks like wood."""
    tip = legs[0][-1]
    near = shapely.get_coordinates(shapely.shortest_line(shape, shapely.Point(tip)))[0]
    return float(np.linalg.norm(tip - near)) < ROUND_MM and is_face(plan, near, tip)


LEAST_MM2 = 60.0

Follow = Callable[[Array, float], tuple[Array, Array]]
"""Gives the (n, 2) line in a picture so near a path, and what it tells at each place."""

Found = tuple[list[Array], Array, bool]
"""Legs of a bridge, the patch it adds, and whether it counts only where a line is seen."""


@dataclass(frozen=True)
class _Sides:
    """A board along u: how far it reaches up and down at each, and the fair curve of either."""

    u: Array
    reach: tuple[Array, Array]
    """Lower side (turned over, so that outward counts up) and upper side."""
    fair: tuple[Array, Array]
    ring: Array

    @property
    def width(self) -> float:
        """Return the usual width."""
        return float(np.median(self.fair[0] + self.fair[1]))


SIGNS = (-1.0, 1.0)


def _skip(width: float) -> float:
    """Return how much of a side at either end may belong to an end that is askew, mm."""
    return 30.0 + 0.25 * width


def _sides_of(ring: Array, fair_mm: float = FAIR_MM) -> _Sides | None:
    """Return the sides of a ring that lies along u."""
    fine = resampled(ring, 1.0)
    low = float(fine[:, 0].min())
    column = ((fine[:, 0] - low) / STEP_MM).astype(int)
    u = low + STEP_MM * (np.arange(column.max() + 1) + 0.5)
    reach = [np.full(len(u), -np.inf) for _ in SIGNS]
    for sign, row in zip(SIGNS, reach, strict=True):
        np.maximum.at(row, column, sign * fine[:, 1])
    wide = float(np.median(reach[0] + reach[1]))
    skip = round(_skip(wide) / STEP_MM)
    free = np.zeros(len(u), bool)
    free[skip:-skip] = True
    if np.count_nonzero(free) * STEP_MM < 2 * skip * STEP_MM or wide <= 0:
        return None
    fair = [_fair(u, row, free, fair_mm) for row in reach]
    return _Sides(u, (reach[0], reach[1]), (fair[0], fair[1]), ring)


def _fair(u: Array, reach: Array, free: Mask, fair_mm: float) -> Array:
    """Return a side's fair curve: fitted again without what lies well inside it."""
    fair = fitted_line(u, reach, free, STEP_MM, fair_mm)
    for _ in range(2):
        inside = np.convolve(fair - reach > BAY_MM, np.ones(9), "same") > 0
        kept = free & ~inside
        if np.count_nonzero(kept) < 0.4 * np.count_nonzero(free):
            break
        fair = fitted_line(u, reach, kept, STEP_MM, fair_mm)
    return fair


def _bays(sides: _Sides) -> Iterator[Found]:
    """Return bays of the long sides."""
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        for run in _runs(fair - reach):
            if run[0] < 3 or run[-1] > len(reach) - 4:
                continue
            deep = float((fair - reach)[run].max())
            if len(run) > LONGEST_SHARE * len(reach) or deep > DEEPEST_SHARE * sides.width:
                continue
            line = np.column_stack([sides.u[run], sign * fair[run]])
            below = np.column_stack([sides.u[run], sign * (reach[run] - 2 * STEP_MM)])
            is_long = len(run) * STEP_MM > NO_LINE_MM
            yield [line if sign < 0 else line[::-1]], np.concatenate([line, below[::-1]]), is_long


def _runs(deep: Array) -> list[Array]:
    """Return runs of places that lie well inside, from lip to lip, those near each other as one."""
    flags = deep > LIP_MM
    gap = round(NEXT_MM / STEP_MM)
    for rest in runs_in_line(~flags):
        if len(rest) < gap and rest[0] > 0 and rest[-1] < len(flags) - 1:
            flags[rest] = True
    return [run for run in runs_in_line(flags) if deep[run].max() > BAY_MM]


def _corners(sides: _Sides, follow: Follow) -> Iterator[Found]:
    """Return corners that lie well inside where end and side meet."""
    shape = Polygon(sides.ring).buffer(0)
    for ahead in SIGNS:
        end = _likeliest_end(sides, ahead, follow)
        if end is None:
            continue
        for sign, fair in zip(SIGNS, sides.fair, strict=True):
            side = _tangent(sides, fair, sign, ahead)
            tip = _meeting(end, side)
            if tip is None or shape.distance(shapely.Point(tip)) < _rounded(end, side) + CORNER_MM:
                continue
            legs = _leg(shape, tip, side), _leg(shape, tip, end)
            if legs[0] is not None and legs[1] is not None:
                yield _ordered(legs[0], legs[1], ahead * sign < 0)


Line = tuple[Array, Array]


def _rounded(end: Line, side: Line) -> float:
    """Return how far from a corner between two lines a rough ring passes it, mm."""
    half = 0.5 * np.arccos(np.clip(abs(float(end[1] @ side[1])), 0.0, 0.95))
    return ROUND_MM * (1 / np.sin(half) - 1)


def _tangent(sides: _Sides, fair: Array, sign: float, ahead: float) -> Line:
    """Return a point of a side near its end, and the direction in which it goes on there."""
    reach = round(90.0 / STEP_MM)
    skip = round(_skip(sides.width) / STEP_MM)
    one, other = (skip + reach, skip) if ahead < 0 else (-1 - skip - reach, -1 - skip)
    a, b = (np.array([sides.u[i], sign * fair[i]]) for i in (one, other))
    return b, (b - a) / np.linalg.norm(b - a)


MET_MM = 18.0
"""A ring that lies on a line for so long has come back to it."""

END_REACH_MM = 45.0
"""How far off the outermost place the line of an end is looked for."""


def _likeliest_end(sides: _Sides, ahead: float, follow: Follow) -> Line | None:
    """Return the line of one end, of two ways to find it the one along which more is seen."""
    best, most = None, -1.0
    for line in (_end_line(sides, ahead), _end_seen(sides, ahead, follow)):
        if line is None:
            continue
        low, high = _end_between(sides, ahead)
        (u, v), (along, up) = line
        ends = [(u + (at - v) * along / up, at) for at in (low, high)]
        told = float(follow(np.array(ends), FINE_END_MM)[1].mean())
        if told > most + BETTER_NATS:
            best, most = line, told
    return best


FINE_END_MM, BETTER_NATS = 3.0, 1.0


def _end_seen(sides: _Sides, ahead: float, follow: Follow) -> Line | None:
    """Return the line of one end as it is seen in the picture, from side to side, if it is."""
    low, high = _end_between(sides, ahead)
    edge = float((ahead * sides.u).max())
    met, told = follow(np.array([(ahead * edge, low), (ahead * edge, high)]), END_REACH_MM)
    use = told > TOLD_NATS
    if np.mean(use) < LINE_SHARE:
        return None
    found = _line_through(met[use, 1], ahead * met[use, 0], high - low, LINE_SHARE)
    return _turned(found, ahead)


def _end_between(sides: _Sides, ahead: float) -> tuple[float, float]:
    """Return from where to where one end reaches across."""
    skip = round(_skip(sides.width) / STEP_MM)
    at = skip if ahead < 0 else -1 - skip
    return -float(sides.fair[0][at]), float(sides.fair[1][at])


def _end_line(sides: _Sides, ahead: float, least: float = LEAST_END) -> Line | None:
    """Return the line of one end: what so much of the width lies on, and nothing past."""
    fine = resampled(sides.ring, 1.0)
    edge = float((ahead * sides.u).max())
    low, high = _end_between(sides, ahead)
    near = fine[(ahead * fine[:, 0] > edge - FARTHEST_MM)]
    row = ((near[:, 1] - low) / STEP_MM).astype(int)
    count = max(1, int((high - low) / STEP_MM))
    use = (row >= 0) & (row < count)
    out = np.full(count, -np.inf)
    np.maximum.at(out, row[use], ahead * near[use, 0])
    v = low + STEP_MM * (np.arange(count) + 0.5)
    v, out = v[np.isfinite(out)], out[np.isfinite(out)]
    return _turned(_line_through(v, out, high - low, least), ahead)


def _turned(line: Line | None, ahead: float) -> Line | None:
    """Return the line of an end that was looked at with its board turned about."""
    return line and (line[0] * (ahead, 1.0), line[1] * (ahead, 1.0))


def _line_through(v: Array, out: Array, wide: float, least: float) -> Line | None:
    """Return the line that most places (v, out) lie on, as (out, v), and none past."""
    i, k = np.triu_indices(len(v), max(3, round(20.0 / STEP_MM)))
    if not len(i):
        return None
    slope = (out[k] - out[i]) / (v[k] - v[i])
    i, k, slope = i[np.abs(slope) < 0.7], k[np.abs(slope) < 0.7], slope[np.abs(slope) < 0.7]
    if not len(i):
        return None
    off = out[None] - (out[i][:, None] + slope[:, None] * (v[None] - v[i][:, None]))
    on = np.abs(off) < END_OFF_MM
    worth = on.sum(axis=1) - 2.0 * (off > END_PAST_MM).sum(axis=1) - 0.1 * len(v) * np.abs(slope)
    best = int(np.argmax(worth))
    if on[best].sum() * STEP_MM < max(24.0, least * wide):
        return None
    b, a = np.polyfit(v[on[best]], out[on[best]], 1)
    middle = float(v[on[best]].mean())
    return np.array([a + b * middle, middle]), np.array([b, 1.0]) / np.hypot(b, 1)


def _meeting(one: Line, other: Line) -> Array | None:
    (p, d), (q, e) = one, other
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) < 0.4:
        return None
    met: Array = p + d * (((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross)
    return met


def _leg(shape: Polygon, tip: Array, line: Line) -> Array | None:
    """Return the straight way from where a ring leaves a line to the tip that it goes on to."""
    point, along = line
    back = -along if (tip - point) @ along > 0 else along
    far = np.arange(0.0, FARTHEST_MM + STEP_MM, STEP_MM)
    places = tip + far[:, None] * back
    off = shapely.distance(shapely.points(places), shape.exterior)
    on = [run for run in runs_in_line(off < LIP_MM) if len(run) * STEP_MM >= MET_MM]
    if not on or on[0][0] < 2:
        return None
    made: Array = places[on[0][0] :: -1]
    return made


def _ordered(side: Array, end: Array, side_first: bool) -> Found:
    """Return both legs in the ring's order, and the patch between them.

    At u's far end an anticlockwise ring comes along the lower side, and goes on along the end.
    """
    legs = [side, end[::-1]] if side_first else [end, side[::-1]]
    return legs, np.concatenate([side, end[::-1]]), True


def line_share(plan: PlanView, line: Array) -> float:
    """Return over what part of a bridge a line is seen that runs along it."""
    ahead, back = (line[-1] - line[-2], line[0] - line[1])
    more = [
        end + BESIDE_MM * way / np.linalg.norm(way)
        for end, way in ((line[0], back), (line[-1], ahead))
    ]
    path = LineString(np.concatenate([more[:1], line, more[1:]]))
    at, _, told = _followed(plan, path, BAND_MM)
    inner = (at > BESIDE_MM) & (at < path.length - BESIDE_MM)
    return float(np.mean(told[inner] > TOLD_NATS)) if inner.any() else 0.0


def _followed(plan: PlanView, path: LineString, reach_mm: float) -> tuple[Array, Array, Array]:
    """Return how far along a path places are, (n, 2) the line near it, and what it tells there."""
    at = np.linspace(0, path.length, max(8, round(path.length / STEP_MM)))
    places = shapely.get_coordinates(path.interpolate(at))
    way = np.gradient(places, axis=0)
    way /= np.maximum(1e-9, np.linalg.norm(way, axis=1, keepdims=True))
    normals = np.column_stack([way[:, 1], -way[:, 0]])
    offsets = np.arange(-reach_mm - BAND_MM, reach_mm + BAND_MM + 1e-9, FINE_MM)
    seen, hidden = seen_at(plan, places[:, None, :] + offsets[None, :, None] * normals[:, None, :])
    light = seen[..., :3].astype(np.float64)
    told = told_by_lines(steps_along(light, FINE_MM, STEP_MM), hidden, STEP_MM)
    told[:, np.abs(offsets) > reach_mm] = -1e6
    found = best_path(told, None, STIFF)
    met = places + offsets[found][:, None] * normals
    return at, met, told[np.arange(len(at)), found]


LEAVES_MM, FINE_FAIR_MM = 3.5, 200.0
"""How far a found edge may lie off its fair course and not be told, and half the length of side
that tells that course."""


def departures(ring: Array) -> Iterator[Array]:
    """Return stretches (n, 2) in which a board's found edge leaves the course of its neighbours.

    ``ring``: of a board that lies along x.
    """
    middle = ring.mean(axis=0)
    sides = _sides_of(ring - middle, FINE_FAIR_MM)
    if sides is None:
        return
    ends = {ahead: _end_line(sides, ahead) for ahead in SIGNS}
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        off = np.abs(fair - reach) > LEAVES_MM
        for ahead, end in ends.items():
            off &= _before(sides, reach * sign, ahead, end)
        for run in runs_in_line(off):
            yield np.column_stack([sides.u[run], sign * reach[run]]) + middle
    for ahead, end in ends.items():
        for line in _off_end(sides, ahead, end):
            yield line + middle


def _before(sides: _Sides, v: Array, ahead: float, end: Line | None) -> Mask:
    """Return which places (u, v) of a side lie before its end."""
    if end is None:
        return ahead * sides.u < float((ahead * sides.u).max()) - _skip(sides.width)
    (u0, v0), way = end
    return ahead * (sides.u - u0 - (v - v0) * way[0] / way[1]) < -CORNER_OFF_MM


ASKEW = 0.25
"""Sine of the angle by which an end may be out of square and not be told."""

CORNER_OFF_MM = 9.0
"""So near a corner an edge may lie off its course: corners are known to some millimetres."""


def _off_end(sides: _Sides, ahead: float, end: Line | None) -> Iterator[Array]:
    """Return stretches of an end that lie off its line; all of it if it has none."""
    ring = resampled(sides.ring, STEP_MM)
    column = np.clip(((ring[:, 0] - sides.u[0]) / STEP_MM).astype(int), 0, len(sides.u) - 1)
    low, high = -sides.fair[0][column], sides.fair[1][column]
    edge = float((ahead * sides.u).max())
    off = (ring[:, 1] > low + CORNER_OFF_MM) & (ring[:, 1] < high - CORNER_OFF_MM)
    off &= ahead * ring[:, 0] > edge - FARTHEST_MM
    if end is not None and abs(end[1][0]) < ASKEW:
        point, way = end
        off &= np.abs((ring - point) @ (-way[1], way[0])) > LEAVES_MM
    for run in runs_of(off):
        yield ring[run]
