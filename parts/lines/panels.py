"""The surfaces that a hull is made of, between rabbet, chines and sheer.

A chine that meets the stem ends there: the panel below it ends too, and the one above goes on up
the stem. Along a chine two panels meet in a sharp edge, which belongs to both.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines.faired_edges import Edge, Edges
from parts.lines.plane_curve import MOST_SHARED, PlaneCurve, curve_through
from parts.lines.rows import SAME_MM, Row

DENSE = 200
"""Points at which a part of an edge is taken over into another."""

SAME_POINT_MM = 1.0
"""Two points of an edge as near as this are one; a part of one is drawn anew."""


@dataclass(frozen=True, eq=False)
class Panel:
    """The surface between two edges, and where it lies.

    Attributes
    ----------
    whole
        The hull from rabbet to sheer, if this is a part of it.
    is_lowest, is_highest
        Whether it begins at the rabbet and ends at the sheer.
    """

    low: Edge
    high: Edge
    whole: Panel | None = None
    is_lowest: bool = True
    is_highest: bool = True

    @property
    def ends(self) -> tuple[float, float]:
        """Where it begins and ends, x."""
        return self.low.profile.ends

    @cached_property
    def units(self) -> tuple[float, float, float]:
        """Greatest half-breadth, base and depth of the whole hull, mm."""
        if self.whole is not None:
            return self.whole.units
        rows = self.low.height, self.high.height
        # The middle of three highest: one sheer typed a fathom too wide must not set the scale.
        widest = float(np.sort(self.high.half.values)[-3:].min())
        low, high = (float(np.median(row.values)) for row in rows)
        base, top = (float(np.median(row.values[row.stations >= 0])) for row in rows)
        if high - low < (top - base) / 2:
            # Of a hull that sweeps up high at both ends half of the points stand on the stems.
            low, high = base, top
        return max(widest, 1.0), low, max(high - low, 1.0)

    def along(self, x: Points) -> Points:
        """Return the coordinate along the boat, -1 to 1."""
        low, high = self.ends
        return np.asarray(2.0 * (x - low) / (high - low) - 1.0)

    def edges_at(self, x: Points) -> tuple[Points, Points]:
        """Return half-breadth and height of both edges at places, (n, 2) each."""
        return (
            np.column_stack([self.low.plan.at(x), self.low.profile.at(x)]),
            np.column_stack([self.high.plan.at(x), self.high.profile.at(x)]),
        )

    def is_bounded_by(self, x: float, point: Points) -> bool:
        """Whether a point, half-breadth and height, lies on one of its edges at a place.

        The lower edge of what lies above a chine is the chine, and the rabbet beyond its ends.
        """
        if not self.ends[0] - SAME_MM <= x <= self.ends[1] + SAME_MM:
            return False
        low, high = (edge[0] for edge in self.edges_at(np.array([x])))
        return bool(min(np.hypot(*(low - point)), np.hypot(*(high - point))) < SAME_POINT_MM)

    def rabbet_at(self, x: Points) -> Points:
        """Return half-breadth and height of the hull's rabbet at places, (n, 2)."""
        return (self.whole or self).edges_at(x)[0]

    def holds(self, x: float, y: float, z: float) -> bool:
        """Whether a point of the hull lies on this panel and not on one beside it."""
        if self.is_lowest and self.is_highest:
            return True
        low, high = self.edges_at(np.array([x]))
        return self.between(low[0], high[0], (y, z))

    def between(self, low: Points, high: Points, point: tuple[float, float]) -> bool:
        """Whether a point of a section lies between the edges there, half-breadths and heights."""
        return bool(self.are_between(low, high, np.array(point)))

    def are_between(self, low: Points, high: Points, points: Points) -> NDArray[np.bool_]:
        """Return which points of sections lie between the edges there, (..., 2) each, bool."""
        widest, _, depth = self.units
        across = np.array([1.0 / widest, 1.0 / depth])
        at = points @ across
        above = self.is_lowest | (at >= low @ across)
        return np.asarray(above & (self.is_highest | (at < high @ across)))


def panels_of(edges: Edges) -> tuple[Panel, ...]:
    """Return the panels of a hull, from the rabbet up."""
    whole = Panel(edges.rabbet, edges.sheer)
    if not edges.chines:
        return (whole,)
    found, low = list[Panel](), edges.rabbet
    for chine in edges.chines:
        first, last = chine.profile.ends
        found.append(Panel(_cut(low, first, last), chine, whole, not found, is_highest=False))
        low = _joined(low, chine)
    return (*found, Panel(low, edges.sheer, whole, is_lowest=False))


def _cut(edge: Edge, first: float, last: float) -> Edge:
    """Return the part of an edge between two places."""
    ends = edge.profile.ends
    if abs(first - ends[0]) < SAME_MM and abs(last - ends[1]) < SAME_MM:
        return edge
    drawn = (_part(edge.plan, first, last), _part(edge.profile, first, last))
    rows = [_between(row, first, last) for row in edge.rows()]
    return Edge(rows[0], rows[1], drawn, edge.each())


def _joined(low: Edge, chine: Edge) -> Edge:
    """Return the lower edge of what lies above a chine: the chine, and stem and stern above it."""
    first, last = chine.profile.ends
    fore, aft = low.profile.ends
    pieces = [chine]
    if first > fore + SAME_MM:
        pieces.insert(0, _cut(low, fore, first))
    if last < aft - SAME_MM:
        pieces.append(_cut(low, last, aft))
    if len(pieces) == 1:
        return chine
    drawn = (_chain(tuple(p.plan for p in pieces)), _chain(tuple(p.profile for p in pieces)))
    rows = [_chained([piece.half for piece in pieces]), _chained([p.height for p in pieces])]
    parts = tuple(part for piece in pieces for part in piece.each())
    return Edge(rows[0], rows[1], drawn, parts)


@lru_cache(maxsize=MOST_SHARED)
def _part(curve: PlaneCurve, first: float, last: float) -> PlaneCurve:
    """Return a part of a curve, drawn through many of its points."""
    low, high = (float(way) for way in curve.along(np.array([first, last])))
    points = curve.spline(np.linspace(low, high, DENSE))
    points[[0, -1], 0] = first, last
    return curve_through(points)


@lru_cache(maxsize=MOST_SHARED)
def _chain(curves: tuple[PlaneCurve, ...]) -> PlaneCurve:
    """Return curves one after the other, with a corner between each two."""
    dense = [curve.spline(np.linspace(0.0, curve.length, DENSE)) for curve in curves]
    corners = tuple(DENSE + n * (DENSE - 1) - 1 for n in range(len(curves) - 1))
    return curve_through(np.vstack([dense[0], *(points[1:] for points in dense[1:])]), corners)


def _between(row: Row, first: float, last: float) -> Row:
    """Return the points of a row between two places."""
    kept = (row.x >= first - SAME_MM) & (row.x <= last + SAME_MM)
    return Row(
        None,
        row.x[kept],
        row.values[kept],
        row.stations[kept],
        row.scatter[kept],
        row.firm[kept],
        row.noise,
    )


def _chained(rows: list[Row]) -> Row:
    """Return the points of rows one after the other."""
    names = ("x", "values", "stations", "scatter", "firm")
    columns = [np.concatenate([getattr(row, name) for row in rows]) for name in names]
    order = np.argsort(columns[0], kind="stable")
    x, values, stations, scatter, firm = (column[order] for column in columns)
    return Row(None, x, values, stations, scatter, firm, rows[0].noise)
