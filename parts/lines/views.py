"""The lines drawing as plain polylines: body plan, profile and half-breadth plan.

Each line is a :class:`ViewLine`: what it is, its name, and its points in the frame of its
view. Body plan: y out to the right for the fore body and to the left for the after body, z up.
Profile: x aft, z up. Half-breadth plan: x aft, y up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points, as_pairs
from parts.lines.hull import Hull
from parts.lines.table import Face, Line, LineKind, measured

ALONG = 161
"""Places along the boat in one line of a view."""


@dataclass(frozen=True)
class ViewLine:
    """One line of one view.

    ``kind`` is what it is: ``section``, ``waterline``, ``buttock``, ``diagonal``, ``sheer``,
    ``chine``, ``rabbet``, ``transom``, or ``grid``: a straight line that lines are laid off by.
    """

    kind: str
    name: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Views:
    """The three views of a hull."""

    body: tuple[ViewLine, ...]
    profile: tuple[ViewLine, ...]
    half_breadth: tuple[ViewLine, ...]


def views(hull: Hull, face: Face | None = None) -> Views:
    """Return the views of a hull, with the lines of its table; to the table's face by default."""
    face = face or hull.table.face
    return Views(_body(hull, face), _profile(hull, face), _half_breadth(hull, face))


def _body(hull: Hull, face: Face) -> tuple[ViewLine, ...]:
    low, high = hull.ends
    middle = (low + high) / 2
    found = []
    for station in hull.table.stations:
        if not low < station.x_mm < high:
            continue
        side = 1.0 if station.x_mm <= middle else -1.0
        section = hull.section(station.x_mm, face) * [side, 1.0]
        found.append(ViewLine("section", station.name, as_pairs(section)))
    x = _places(hull, face)
    for kind, edge in (("sheer", hull.sheer), ("rabbet", hull.keel)):
        for side, half in ((1.0, x[x <= middle]), (-1.0, x[x >= middle])):
            points = np.array([edge(float(place), face) for place in half]) * [side, 1.0]
            found.append(ViewLine(kind, kind, as_pairs(points)))
    for name, chine in chine_lines(hull, face):
        for side, of_half in ((1.0, chine[:, 0] <= middle), (-1.0, chine[:, 0] >= middle)):
            if of_half.sum() > 1:
                points = chine[of_half, 1:] * [side, 1.0]
                found.append(ViewLine("chine", name, as_pairs(points)))
    return (*found, *_body_grid(hull))


def chine_lines(hull: Hull, face: Face) -> list[tuple[str, Points]]:
    """Return the name of each chine, the lowest first, and its (n, 3) points."""
    surface, pairs = hull.surface(face), hull.table.chines
    t = np.cos(np.linspace(np.pi, 0.0, ALONG)) * surface.t[-1]
    return [
        (pair[0].name, surface.at(t, np.full(ALONG, (n + 1) / (len(pairs) + 1))))
        for n, pair in enumerate(pairs)
    ]


def _body_grid(hull: Hull) -> list[ViewLine]:
    half, low, high = _extent(hull)
    lines = [ViewLine("grid", "centreline", ((0.0, low), (0.0, high)))]
    for line in hull.table.lines:
        if line.kind is LineKind.WATERLINE:
            at = line.origin[1]
            lines.append(ViewLine("grid", line.name, ((-half, at), (half, at))))
        elif line.kind is LineKind.BUTTOCK:
            at = line.origin[0]
            for side in (1.0, -1.0):
                lines.append(ViewLine("grid", line.name, ((side * at, low), (side * at, high))))
        elif line.kind is LineKind.DIAGONAL:
            lines += [_diagonal_grid(line, side, (half, low)) for side in (1.0, -1.0)]
    return lines


def _diagonal_grid(line: Line, side: float, reach: tuple[float, float]) -> ViewLine:
    (y, z), (out, up) = line.origin, line.direction
    far = min(reach[0] / out, (z - reach[1]) / -up) if up < 0 else reach[0] / out
    return ViewLine("grid", line.name, ((side * y, z), (side * (y + far * out), z + far * up)))


def _profile(hull: Hull, face: Face) -> tuple[ViewLine, ...]:
    x, (_, low, high) = _places(hull, face), _extent(hull)
    lines = [
        ViewLine("sheer", "sheer", _along(x, [hull.sheer(float(at), face)[1] for at in x])),
        ViewLine("rabbet", "rabbet", _along(x, [hull.keel(float(at), face)[1] for at in x])),
    ]
    for name, chine in chine_lines(hull, face):
        lines.append(ViewLine("chine", name, as_pairs(chine[:, [0, 2]])))
    for line in hull.table.of_kind(LineKind.BUTTOCK):
        curve = hull.buttock(line.origin[0], face, ALONG)
        lines += [ViewLine("buttock", line.name, piece) for piece in _pieces(curve, hull)]
    if len(hull.table.transom) == 2:
        lines.append(ViewLine("transom", "transom", hull.table.transom))
    for waterline in hull.table.of_kind(LineKind.WATERLINE):
        height = waterline.origin[1]
        ends = ((hull.ends[0], height), (hull.ends[1], height))
        lines.append(ViewLine("grid", waterline.name, ends))
    return (*lines, *_station_grid(hull, low, high))


def _half_breadth(hull: Hull, face: Face) -> tuple[ViewLine, ...]:
    x, (half, _, _) = _places(hull, face), _extent(hull)
    lines = [
        ViewLine("sheer", "sheer", _along(x, [hull.sheer(float(at), face)[0] for at in x])),
        ViewLine("rabbet", "rabbet", _along(x, [hull.keel(float(at), face)[0] for at in x])),
        ViewLine("grid", "centreline", ((hull.ends[0], 0.0), (hull.ends[1], 0.0))),
    ]
    for name, chine in chine_lines(hull, face):
        lines.append(ViewLine("chine", name, as_pairs(chine[:, :2])))
    for line in hull.table.of_kind(LineKind.WATERLINE):
        curve = hull.waterline(line.origin[1], face, ALONG)
        lines += [ViewLine("waterline", line.name, piece) for piece in _pieces(curve, hull)]
    for line in hull.table.of_kind(LineKind.DIAGONAL):
        lines.append(ViewLine("diagonal", line.name, as_pairs(diagonal_offsets(hull, line, face))))
    for line in hull.table.of_kind(LineKind.BUTTOCK):
        at = line.origin[0]
        ends = ((hull.ends[0], at), (hull.ends[1], at))
        lines.append(ViewLine("grid", line.name, ends))
    return (*lines, *_station_grid(hull, 0.0, half))


def diagonal_offsets(hull: Hull, line: Line, face: Face) -> Points:
    """Return a diagonal laid off in its own plane: (n, 2) x and distance along it."""
    rows = []
    for x in _places(hull, face):
        at = measured(hull.section(float(x), face), line)
        if at is not None:
            rows.append((float(x), at))
    return np.array(rows).reshape(-1, 2)


def _station_grid(hull: Hull, low: float, high: float) -> list[ViewLine]:
    return [
        ViewLine("grid", station.name, ((station.x_mm, low), (station.x_mm, high)))
        for station in hull.table.stations
    ]


def _places(hull: Hull, face: Face) -> Points:
    """Return places along the boat, close at its ends, where every face has a section."""
    low, high = hull.ends
    thick = 1.0 if face is hull.table.face else 2.0 * hull.table.planking_mm + 1.0
    turn = np.cos(np.linspace(0.0, np.pi, ALONG))
    return np.asarray((low + high) / 2 - turn * (high - low - 2 * thick) / 2)


def _extent(hull: Hull) -> tuple[float, float, float]:
    """Return the greatest half-breadth, the lowest and the highest point."""
    net = hull.surface(hull.table.face).net
    return float(net[..., 1].max()), float(net[..., 2].min()), float(net[..., 2].max())


def _along(x: Points, values: list[float]) -> tuple[tuple[float, float], ...]:
    return as_pairs(np.column_stack([x, values]))


def _pieces(curve: Points, hull: Hull) -> list[tuple[tuple[float, float], ...]]:
    """Return a curve in pieces, parted where the hull does not reach the line."""
    if len(curve) < 2:
        return []
    most = 3.0 * (hull.ends[1] - hull.ends[0]) / ALONG
    cuts = np.flatnonzero(np.diff(curve[:, 0]) > most) + 1
    return [as_pairs(piece) for piece in np.split(curve, cuts) if len(piece) > 1]
