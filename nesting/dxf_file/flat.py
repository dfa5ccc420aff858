"""Curves of a drawing as points near enough to each other, in the plane they are drawn in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.dxf_file.entities import BrokenError, EmptyError, Entity

SAGITTA_MM = 0.05
"""Most that a chord lies off its curve: under any saw, and few points a metre."""

SMALLEST_SCALE = 1e-9
"""A block inserted smaller than this is a point, whatever is in it."""

MOST_POINTS = 100_000
"""Points on one curve; more is an arc kilometres long, or a spline gone wild."""

WHOLE_TURN = 1e-7
"""Radians: an arc ending this near to where it begins goes all the way round. Written with six
decimals of a degree, the end of a whole turn is 2e-8 off, and may come out just past the start."""

SPLINE_PIECES = (4, 8, 16, 32, 64, 128, 256)
"""Chords tried for each span between a spline's knots, until they lie near enough to it."""

STRAIGHT = 1e-3
"""A bulge that rises less than this part of the sagitta is a straight line."""

LARGEST_BULGE = 1e9
"""A bulge is a quarter of its circle's diameter over the chord, nearly: no chord is so short."""

HIGHEST_DEGREE = 25
"""Of a spline; programs write 2 to 5, and the reference allows 25 (from memory)."""

Points = NDArray[np.float64]

_UPRIGHT = np.eye(3)
"""Axes of an entity drawn in the plan, as nearly all are."""


@dataclass(frozen=True, eq=False)
class Frame:
    """From coordinates as written to mm in the plan: a (3, 3) matrix, then an offset (3,)."""

    matrix: Points
    offset: Points

    def points(self, written: Points) -> Points:
        """Return (n, 3) points, mm, of (n, 2 or 3) as written."""
        if written.shape[1] == 2:
            written = np.column_stack([written, np.zeros(len(written))])
        return np.asarray(written @ self.matrix.T + self.offset)

    @cached_property
    def scale(self) -> float:
        """The most that a length grows by in the plan."""
        return max(float(np.linalg.norm(self.matrix[:2], 2)), SMALLEST_SCALE)

    @property
    def sagitta(self) -> float:
        """Most that a chord may lie off its curve, in the units written."""
        return SAGITTA_MM / self.scale

    @property
    def plan_scale(self) -> float | None:
        """What a circle grows by that stays one in the plan; None if it becomes an ellipse."""
        along, across = self.matrix[:2, 0], self.matrix[:2, 1]
        size = float(np.hypot(*along))
        alike = math.isclose(size, float(np.hypot(*across)), rel_tol=1e-9)
        return size if alike and abs(along @ across) <= 1e-9 * size**2 else None

    def of_plane(self, entity: Entity, z: float = 0.0) -> Frame:
        """Return the frame of an entity's own plane (its extrusion), at a height in it."""
        axes = plane_axes(entity)
        if z == 0 and np.array_equal(axes, _UPRIGHT):
            return self
        matrix = self.matrix @ axes
        return Frame(matrix, self.offset + matrix @ np.array([0.0, 0.0, z]))


def plane_axes(entity: Entity) -> Points:
    """Return the axes of an entity's own plane as columns.

    The arbitrary axis algorithm of the DXF reference (AutoCAD 2012, from memory).
    """
    given = entity.points(210)
    if not given or given[0] == (0.0, 0.0, 1.0):
        return _UPRIGHT
    normal = np.array(given[0])
    length = float(np.linalg.norm(normal))
    if length == 0 or not math.isfinite(length):
        raise BrokenError("has an extrusion without a direction")
    normal = normal / length
    is_near_z = abs(normal[0]) < 1 / 64 and abs(normal[1]) < 1 / 64
    across = np.cross((0.0, 1.0, 0.0) if is_near_z else (0.0, 0.0, 1.0), normal)
    across /= np.linalg.norm(across)
    return np.column_stack([across, np.cross(normal, across), normal])


def arc(
    centre: Points, radius: float, start: float, sweep: float, sagitta: float
) -> NDArray[np.float64]:
    """Return (n, 2) points on an arc, radians, its ends exactly."""
    if not radius > 0:
        raise BrokenError(f"has a radius of {radius:g}")
    angles = start + np.linspace(0.0, sweep, steps(radius, sweep, sagitta) + 1)
    return np.asarray(centre + radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def steps(radius: float, sweep: float, sagitta: float) -> int:
    """Return the number of chords along an arc."""
    flat = sagitta / radius
    # Near a straight line 1 - flat rounds to 1, and the step to nothing.
    step = 2 * math.acos(max(1 - flat, 0.5)) if flat > 1e-9 else 2 * math.sqrt(2 * flat)
    wanted = abs(sweep) / step if step > 0 else math.inf
    if wanted > MOST_POINTS:
        raise BrokenError(f"has a radius of {radius:g}, too large to be drawn")
    return max(2, math.ceil(wanted))


def sweep_of(start: float, end: float) -> float:
    """Return how far an arc goes round from its start to its end, radians; a whole turn if 0."""
    sweep = (end - start) % (2 * math.pi)
    return 2 * math.pi if min(sweep, 2 * math.pi - sweep) <= WHOLE_TURN else sweep


def bulged(
    corners: Sequence[tuple[float, float, float]], *, is_closed: bool, sagitta: float
) -> Points:
    """Return (n, 2) points of a polyline; a bulge is the tangent of a quarter of its arc."""
    if not corners:
        raise EmptyError("has no corners")
    points: list[Sequence[float]] = [corners[0][:2]]
    following = [*corners[1:], *(corners[:1] if is_closed else [])]
    for (x, y, bulge), (x2, y2, _) in zip(corners, following, strict=False):
        if bulge and abs(bulge) * math.hypot(x2 - x, y2 - y) / 2 > STRAIGHT * sagitta:
            points += _bulge_arc(np.array([x, y]), np.array([x2, y2]), bulge, sagitta)[1:].tolist()
        else:
            points.append((x2, y2))
    return np.array(points)


def _bulge_arc(start: Points, end: Points, bulge: float, sagitta: float) -> Points:
    from ezdxf.math import bulge_center

    if abs(bulge) > LARGEST_BULGE:
        raise BrokenError(f"has a bulge of {bulge:g}, too large to be drawn")
    sweep = 4 * math.atan(bulge)
    centre = np.array(bulge_center(tuple(start), tuple(end), bulge))
    spoke = start - centre
    points = arc(centre, float(np.hypot(*spoke)), math.atan2(spoke[1], spoke[0]), sweep, sagitta)
    points[0], points[-1] = start, end
    return points


def ellipse(
    centre: Points, axes: Points, span: tuple[float, float], sagitta: float, *, has_end: bool = True
) -> Points:
    """Return (n, k) points on an ellipse.

    Parameters
    ----------
    axes
        (2, k) half axes.
    span
        First parameter and how far to go from it, radians.
    """
    sizes = np.hypot.reduce(axes, axis=1)
    if not min(sizes) > 0:
        raise BrokenError("is an ellipse without a width")
    count = steps(float(max(sizes)), span[1], sagitta)
    at = span[0] + np.linspace(0.0, span[1], count + 1)
    points = centre + np.column_stack([np.cos(at), np.sin(at)]) @ axes
    return np.asarray(points if has_end else points[:-1])


@dataclass(frozen=True, eq=False)
class SplineData:
    """What a spline is made of; ``control`` (n, 3)."""

    degree: int
    knots: Sequence[float]
    control: Points
    weights: Sequence[float] = ()


def spline(data: SplineData, sagitta: float) -> Points:
    """Return (n, 3) points on a spline; raises BrokenError if it is none."""
    from ezdxf.math import BSpline

    _check_spline(data)
    made = BSpline(
        [tuple(point) for point in data.control.tolist()],
        order=data.degree + 1,
        knots=list(data.knots) or None,
        weights=list(data.weights) or None,
    )
    return spline_points(made, sagitta)


def _check_spline(data: SplineData) -> None:
    count, knots = len(data.control), np.array(data.knots)
    if not 1 <= data.degree <= HIGHEST_DEGREE:
        raise BrokenError(f"has a degree of {data.degree}")
    if count <= data.degree:
        raise BrokenError(f"has {count} control points, too few for its degree of {data.degree}")
    if len(knots) != count + data.degree + 1:
        raise BrokenError(
            f"has {len(knots)} knots where {count + data.degree + 1} belong to its control points"
        )
    if (np.diff(knots) < 0).any() or not knots[count] > knots[data.degree]:
        raise BrokenError("has knots that do not rise")
    if len(data.weights) not in (0, count) or not all(weight > 0 for weight in data.weights):
        raise BrokenError("has weights that do not fit its control points")


def fitted(points: Points, tangents: Points | None, sagitta: float) -> Points:
    """Return (n, 3) points on the spline that goes through some."""
    from ezdxf.math import fit_points_to_cad_cv

    if len(points) < 2:
        raise BrokenError(f"has {len(points)} points to go through")
    pairs = None if tangents is None else [tuple(row) for row in tangents.tolist()]
    try:
        made = fit_points_to_cad_cv([tuple(row) for row in points.tolist()], tangents=pairs)
    except (ArithmeticError, ValueError) as error:
        raise BrokenError("goes through points that no curve can follow") from error
    return spline_points(made, sagitta)


def spline_points(made: object, sagitta: float) -> Points:
    """Return (n, 3) points on a spline, over the parameters where it is one.

    The knots of a closed spline go on past both ends; the curve does not.
    """
    from ezdxf.math import BSpline

    assert isinstance(made, BSpline)
    knots = np.array(made.knots())
    ends = knots[made.degree], knots[made.count]
    spans = np.unique(knots[(knots >= ends[0]) & (knots <= ends[1])])
    for pieces in SPLINE_PIECES:
        if pieces * len(spans) > MOST_POINTS:
            break
        steps_in = np.linspace(0.0, 1.0, pieces, endpoint=False)
        at = np.append((spans[:-1, None] + np.diff(spans)[:, None] * steps_in).ravel(), ends[1])
        points = np.array([tuple(point) for point in made.points(at.tolist())])
        off = points[1::2] - (points[:-1:2] + points[2::2]) / 2
        # Halving a chord quarters its sagitta: the points between are well within it already.
        if np.sqrt((off**2).sum(axis=1)).max() <= 4 * sagitta:
            return points
    raise BrokenError("is a spline that no number of chords follows")
