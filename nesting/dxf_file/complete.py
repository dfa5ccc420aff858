"""Whether everything that stands on a drawing's layers was read, or is known to be harmless.

A ring taken for the part because the outline round it does not close, or a nail drawn in a way
that is not read, would show only under the saw: here they are errors that name what was drawn.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.dxf_file.drawn import DrawnRings
from nesting.dxf_file.rings import JOIN_MM, Curve, Points, connected, farthest_apart, goes_round
from nesting.errors import DrawingError
from nesting.unseen import quoted

NEAR_MM = 0.25
"""Lines this close to an edge run along it, by chords across arcs: `dxf_outlines.DOUBLE_MM`."""

SURROUNDED = 0.75
"""A ring from which open lines stand in this part of all directions lies inside an outline that
does not close; lines beside it fill half of them at most."""

OPEN = "close it, take it out, or name the layer that is meant"


def check_rings_complete(drawn: DrawnRings) -> None:
    """Raise DrawingError if something that may be an outline was not read at all."""
    for item in drawn.unread:
        if item.is_shape and not item.is_on_paper:
            raise DrawingError(
                f"{drawn.path}: {item}; draw it as a closed line, take it out, or name the layer "
                "that is meant"
            )


def check_outlines_complete(
    drawn: DrawnRings, outlines: Sequence[Curve], rings: Sequence[Curve]
) -> None:
    """Raise DrawingError if loose curves or filled areas may be what outlines were drawn as.

    Harmless are straight lines inside an outline, lines along its edge, and what lies apart.

    Parameters
    ----------
    outlines
        The outer rings that were found; ``rings``, all of them.
    """
    shapes = [outline.polygon for outline in outlines]
    for fill in drawn.fills:
        _check_fill(drawn, fill, shapes, rings)
    loose = [curve for curve in drawn.loose if curve.length_mm > JOIN_MM]
    if not loose:
        return
    tree = shapely.STRtree(shapes)
    groups = connected(loose)
    for group in groups:
        hull = shapely.MultiPoint(np.vstack([curve.points for curve in group])).convex_hull
        for number in tree.query(hull, predicate="intersects"):
            _check_group(drawn, group, hull, outlines[int(number)])
    _check_surrounded(drawn, outlines, loose)
    _check_apart(drawn, groups)


def _check_apart(drawn: DrawnRings, groups: Sequence[Sequence[Curve]]) -> None:
    """Raise DrawingError if curves that lie apart from all outlines may be one too."""
    for group in groups:
        if goes_round(group) and not is_straight(group):
            longest = max(group, key=lambda curve: curve.length_mm)
            raise DrawingError(
                f"{drawn.path}: {longest} goes round with the lines that it meets, and does not "
                f"close cleanly; {OPEN}"
            )


def _check_fill(
    drawn: DrawnRings, fill: Curve, shapes: Sequence[Polygon], rings: Sequence[Curve]
) -> None:
    border = shapely.LinearRing(fill.points)
    for ring in rings:
        if farthest_apart(border, ring.polygon.exterior) <= NEAR_MM:
            return
    hull = border.convex_hull
    is_apart = all(hull.disjoint(shape) for shape in shapes)
    if is_apart and hull.area < max(shape.area for shape in shapes):
        return
    raise DrawingError(
        f"{drawn.path}: {fill} is filled along no closed line; draw its border as one, take it "
        "out, or name the layer that is meant"
    )


def _check_group(
    drawn: DrawnRings, group: Sequence[Curve], hull: BaseGeometry, outline: Curve
) -> None:
    shape = outline.polygon
    if hull.buffer(NEAR_MM).covers(shape):
        raise _open(drawn, group, "stands round", outline)
    lines = MultiLineString([curve.points for curve in group])
    inside = shape.buffer(-NEAR_MM)
    if not lines.intersects(inside):
        return
    if not lines.within(shape.buffer(NEAR_MM)):
        raise _open(drawn, _crossing(group, inside), "reaches past", outline)
    if not is_straight(group):
        raise _open(drawn, group, "lies in", outline)


def _crossing(group: Sequence[Curve], inside: BaseGeometry) -> Sequence[Curve]:
    return [curve for curve in group if LineString(curve.points).intersects(inside)] or group


def _open(drawn: DrawnRings, group: Sequence[Curve], how: str, outline: Curve) -> DrawingError:
    longest = max(group, key=lambda curve: curve.length_mm)
    return DrawingError(
        f"{drawn.path}: {longest} does not close, and {how} the outline {outline}; {OPEN}"
    )


def is_straight(group: Sequence[Curve]) -> bool:
    """Return whether curves all lie along one straight line."""
    points = np.vstack([curve.points for curve in group])
    return bool(_least_width(points) <= JOIN_MM)


def _least_width(points: Points) -> float:
    """Return how far points lie off the line between the two farthest along."""
    off = points - points.mean(axis=0)
    _, _, axes = np.linalg.svd(off, full_matrices=False)
    return float(np.ptp(off @ axes[-1])) if len(axes) > 1 else 0.0


def _check_surrounded(drawn: DrawnRings, outlines: Sequence[Curve], loose: Sequence[Curve]) -> None:
    lines = np.array([LineString(curve.points) for curve in loose])
    hull = shapely.convex_hull(shapely.union_all(shapely.convex_hull(lines)))
    shapely.prepare(hull)
    for outline in outlines:
        centre = outline.polygon.representative_point()
        if not hull.contains(centre):
            continue
        is_outside = ~shapely.covers(outline.polygon.buffer(NEAR_MM), lines)
        outside = [loose[int(i)] for i in np.flatnonzero(is_outside)]
        at = np.array([centre.x, centre.y])
        if outside and _seen(outside, at) >= SURROUNDED * 2 * np.pi:
            raise _open(drawn, outside, "stands round", outline)


def _seen(curves: Sequence[Curve], centre: Points) -> float:
    """Return in how much of a whole turn round a point a curve stands, radians."""
    starts = np.vstack([curve.points[:-1] for curve in curves]) - centre
    ends = np.vstack([curve.points[1:] for curve in curves]) - centre
    first = np.arctan2(starts[:, 1], starts[:, 0])
    turn = (np.arctan2(ends[:, 1], ends[:, 0]) - first + np.pi) % (2 * np.pi) - np.pi
    low = np.minimum(first, first + turn) % (2 * np.pi)
    spans = np.column_stack([low, low + np.abs(turn)])
    return _covered(np.vstack([spans, spans - 2 * np.pi]))


def _covered(spans: Points) -> float:
    """Return how much of a whole turn is covered by (n, 2) spans."""
    clipped = np.clip(spans, 0.0, 2 * np.pi)
    clipped = clipped[np.argsort(clipped[:, 0])]
    reached = np.maximum.accumulate(np.append(0.0, clipped[:-1, 1]))
    return float(np.maximum(0.0, clipped[:, 1] - np.maximum(clipped[:, 0], reached)).sum())


def check_all_read(drawn: DrawnRings, layer: str, what: str, taken: Sequence[Polygon]) -> None:
    """Raise DrawingError unless all that stands on a layer lies within what was taken of it.

    Parameters
    ----------
    what
        What the layer holds, in a message: ``keep-out``, ``bearing zone``.
    taken
        What was read, as areas; a line inside one of them adds nothing.
    """
    for item in drawn.unread:
        raise DrawingError(
            f"{drawn.path}: the {what} layer {quoted(layer)} holds what cannot be read: {item}; "
            "draw a circle or a closed outline, or put it on another layer"
        )
    if not drawn.loose:
        return
    near = shapely.union_all(taken).buffer(NEAR_MM)
    shapely.prepare(near)
    for curve in drawn.loose:
        if not near.covers(LineString(curve.points)):
            raise DrawingError(
                f"{drawn.path}: the {what} layer {quoted(layer)} holds an open line, {curve}; "
                "draw a closed outline"
            )
