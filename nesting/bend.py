"""The bend of a grown piece: what is asked for when a crook is bought, or lamellae for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Point, Polygon

from nesting.outline import Outline

STEPS = 48
"""Places along the grain at which a piece is measured; a right-angled bend takes several."""

WINDOW = 4
"""Steps over which a bend is sharpest: one alone turns at a corner of the line or not at all."""

ARMS_DEG = 30.0
"""Grain that turns less makes a sweep, more makes two arms."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Bend:
    """A grown piece as a sawyer or a tree hears of it; mm and degrees.

    Attributes
    ----------
    length_mm
        End to end along the grain.
    depth_mm
        Greatest depth, square to the grain, in the plane of the piece.
    turn_deg
        How far the grain turns from end to end.
    sweep_mm
        Greatest distance of the grain from the straight line between its ends.
    arms_mm
        Of a bend with arms, each along its middle from its end to where the two would meet;
        else the halves of the length.
    inner_radius_mm
        Radius of the inner edge at the sharpest place; 0 or less where it is a corner.
    """

    length_mm: float
    depth_mm: float
    turn_deg: float
    sweep_mm: float
    arms_mm: tuple[float, float]
    inner_radius_mm: float

    @property
    def outer_length_mm(self) -> float:
        """Length along its outer edge: a lamella that lies outside is longer than the middle.

        The turn is told from the middle of the first step to that of the last.
        """
        turn = math.radians(self.turn_deg) * STEPS / (STEPS - 1)
        return self.length_mm + turn * self.depth_mm / 2

    @property
    def has_arms(self) -> bool:
        """Whether it is asked for by its two arms and the angle between them."""
        return self.turn_deg >= ARMS_DEG

    @property
    def angle_deg(self) -> float:
        """Angle between the arms."""
        return 180.0 - self.turn_deg


def bend_of(outline: Outline) -> Bend:
    """Return the bend of an outline whose grain is not straight."""
    path = LineString(outline.grain.points)
    before, after = _beyond(outline.shape, path)
    spots = np.linspace(0.0, path.length, STEPS + 1)
    line = shapely.get_coordinates(shapely.line_interpolate_point(path, spots))
    ways = np.unwrap(np.arctan2(*np.diff(line, axis=0).T[::-1]))
    turns, depths = np.diff(ways), _depths(outline.shape, line)
    turn = math.degrees(abs(float(turns.sum())))
    turned = np.abs(np.convolve(turns, np.ones(WINDOW), "valid"))
    at, sharp = int(turned.argmax()), float(turned.max())
    radius = WINDOW * path.length / STEPS / sharp if sharp > 1e-9 else math.inf
    arms = _arms(line) if turn >= ARMS_DEG else (path.length / 2, path.length / 2)
    return Bend(
        length_mm=before + path.length + after,
        depth_mm=float(depths.max()),
        turn_deg=turn,
        sweep_mm=float(shapely.distance(shapely.points(line), LineString(line[[0, -1]])).max()),
        arms_mm=(before + arms[0], after + arms[1]),
        inner_radius_mm=radius - float(depths[at + 1 : at + 1 + WINDOW].max()) / 2,
    )


def _arms(line: Floats) -> tuple[float, float]:
    """Return how far either end of a bent line is from where its ends, run on, would meet."""
    first, last = line[1] - line[0], line[-2] - line[-1]
    first, last = first / np.hypot(*first), last / np.hypot(*last)
    one, other = np.linalg.solve(np.column_stack([first, -last]), line[-1] - line[0])
    return float(one), float(other)


def _beyond(shape: Polygon, path: LineString) -> tuple[float, float]:
    """Return how far an outline reaches beyond the ends of its grain line, along it."""
    corners = np.asarray(shape.exterior.coords)
    spots = shapely.line_locate_point(path, shapely.points(corners))
    points = np.asarray(path.coords)
    found = []
    for end, inner, is_past in (
        (points[0], points[1], spots <= 1e-6),
        (points[-1], points[-2], spots >= path.length - 1e-6),
    ):
        way = (end - inner) / np.hypot(*(end - inner))
        found.append(max(0.0, float(((corners[is_past] - end) @ way).max(initial=0.0))))
    return found[0], found[1]


def _depths(shape: Polygon, line: Floats) -> Floats:
    """Return the depth of an outline square to its grain, at each point (n, 2) of the line."""
    ways = np.gradient(line, axis=0)
    across = np.column_stack([-ways[:, 1], ways[:, 0]]) / np.hypot(*ways.T)[:, None]
    left, bottom, right, top = shape.bounds
    reach = math.hypot(right - left, top - bottom)
    return np.array([_depth(shape, p, reach * way) for p, way in zip(line, across, strict=True)])


def _depth(shape: Polygon, point: Floats, reach: Floats) -> float:
    """Return the length of the cut through an outline that holds a point, or is nearest to it."""
    cut = shape.intersection(LineString([point - reach, point + reach]))
    runs = list(cut.geoms) if isinstance(cut, MultiLineString) else [cut]
    nearest = min(runs, key=lambda run: run.distance(Point(point)), default=None)
    return 0.0 if nearest is None or nearest.is_empty else float(nearest.length)
