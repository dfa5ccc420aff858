"""A part as the outlines of its two faces: what a bevelled timber is on the loft floor.

Both faces are drawn in the frame of the part, x and y in the marked face. Side by side they
give the shape to be sawn (the larger of the two everywhere), the bevels and the solid.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.errors import PartError
from nesting.outline import Bevel, Mark, MarkKind
from parts.both_faces import both_faces
from parts.curves import Points, as_pairs, distances_along, length_of, without_repeats
from parts.marks import scribed
from parts.solids import less, lofted, notched, ruled

if TYPE_CHECKING:
    import cadquery as cq

BEVEL_DEG = 0.25
"""A bevel under this is square: half a millimetre in a siding of 100 mm."""

VARYING_DEG = 1.0
"""An edge whose bevel varies by more is marked in three places, else in its middle."""

REPEAT_MM = 1e-6
"""Corners nearer than this are one."""

TO_LEFT = np.array([-1.0, 1.0])
"""A point's mirror image about the middle of its face."""

TICK_MM = 15.0
"""Length of the line that a bevel is written against."""


@dataclass(frozen=True, eq=False)
class FacedEdge:
    """One edge of a part in both faces, point for point, (n, 2) mm each."""

    name: str
    near: Points
    far: Points
    is_outer: bool = field(default=False, kw_only=True)
    """Whether it is an arm's edge that lies against the boat."""

    @cached_property
    def outward(self) -> Points:
        """Unit directions out of the wood, (n, 2), square to the edge in the marked face."""
        run = np.gradient(self.near, axis=0) if len(self.near) > 2 else self._run
        out = np.column_stack([run[:, 1], -run[:, 0]])
        return np.asarray(out / np.hypot(*out.T)[:, None])

    def turned(self) -> FacedEdge:
        """Return the edge run through the other way."""
        return replace(self, near=self.near[::-1], far=self.far[::-1])

    def mirrored(self, name: str) -> FacedEdge:
        """Return the edge of the other hand, x the other way, under a name of its own."""
        near, far = ((face * TO_LEFT)[::-1] for face in (self.near, self.far))
        return replace(self, name=name, near=near, far=far)

    @property
    def _run(self) -> Points:
        return np.repeat(np.diff(self.near, axis=0), 2, axis=0)

    @cached_property
    def spread(self) -> Points:
        """How far the far face lies outside the marked one, (n,) mm, square to the edge."""
        return np.asarray(((self.far - self.near) * self.outward).sum(axis=1))

    def bevels_deg(self, siding_mm: float) -> Points:
        """Return the bevel at every point, (n,) degrees from square; + is standing."""
        return np.degrees(np.arctan2(self.spread, siding_mm))


@dataclass(frozen=True, eq=False)
class TwoFaces:
    """A part between its two faces.

    Attributes
    ----------
    edges
        Round the piece anticlockwise, as it is seen on the marked face; each starts where the
        one before ended.
    cut_outs
        Shapes cut square through: limber holes, notches.
    pared
        What is pared off after sawing and is in no outline, as a dovetail's cheeks: the wood
        between two rings alike, (n, 3) each in the part's frame.
    """

    edges: tuple[FacedEdge, ...]
    siding_mm: float
    cut_outs: tuple[Polygon, ...] = ()
    pared: tuple[tuple[Points, Points], ...] = ()

    @cached_property
    def near(self) -> Polygon:
        """The marked face."""
        return _closed([edge.near for edge in self.edges])

    @cached_property
    def far(self) -> Polygon:
        """The far face."""
        return _closed([edge.far for edge in self.edges])

    @cached_property
    def shape(self) -> Polygon:
        """The shape to be sawn square: wherever either face has wood."""
        whole = shapely.union_all([self.near, self.far])
        cut = shapely.difference(whole, shapely.union_all(list(self.cut_outs)))
        cut = shapely.remove_repeated_points(cut, REPEAT_MM)
        if not isinstance(cut, Polygon) or cut.interiors:
            raise PartError(
                "the two faces of this part lie too far apart to be sawn from one piece: lessen "
                "its siding, or make its moulding deeper"
            )
        return cut

    @cached_property
    def shared(self) -> Polygon | None:
        """What both faces have; None where all edges are square."""
        if not self.bevelled:
            return None
        return both_faces(self.near, self.far, self.cut_outs)

    @property
    def bevelled(self) -> tuple[FacedEdge, ...]:
        """The edges that are not square."""
        return tuple(
            edge
            for edge in self.edges
            if np.abs(edge.bevels_deg(self.siding_mm)).max() >= BEVEL_DEG
        )

    def bevels(self) -> tuple[Bevel, ...]:
        """Return the bevels: three of an edge along which it varies, else one for all of it."""
        return tuple(bevel for edge in self.bevelled for bevel in self._bevels_of(edge))

    def _bevels_of(self, edge: FacedEdge) -> list[Bevel]:
        told, before = self._told(edge), self.edges[self.edges.index(edge) - 1]
        angles, varies = edge.bevels_deg(self.siding_mm), len(told) > 1
        return [
            Bevel(
                edge.name,
                float(angles[i]),
                max(0.0, float(edge.spread[i])),
                along_mm=at if varies else None,
                along_from=before.name if varies else "",
            )
            for i, at in told
        ]

    def _told(self, edge: FacedEdge) -> list[tuple[int, float]]:
        """Return index and distance along of the points at which a bevel is told."""
        angles, last = edge.bevels_deg(self.siding_mm), len(edge.near) - 1
        wanted = [0, last // 2, last] if np.ptp(angles) > VARYING_DEG else [last // 2]
        return [(i, length_of(edge.near[: i + 1])) for i in dict.fromkeys(wanted)]

    def marks(self, face: str) -> list[Mark]:
        """Return what the hand that bevels needs: the face, its edges, the bevels on them."""
        if not self.bevelled:
            return []
        heart = self.near.intersection(self.shape).representative_point()
        marks = [Mark(MarkKind.FACE, ((heart.x, heart.y),), face)]
        for edge in self.bevelled:
            if edge.spread.max() > 0:
                marks += scribed(edge.near, self.shape, "edge on this face")
            marks += [mark for i, _ in self._told(edge) if (mark := self._tick(edge, i))]
        return marks

    def _tick(self, edge: FacedEdge, index: int) -> Mark | None:
        """Return a short line square to an edge, with its bevel there."""
        angle = float(edge.bevels_deg(self.siding_mm)[index])
        foot = edge.near[index]
        line = shapely.LineString([foot, foot - TICK_MM * edge.outward[index]])
        inside = shapely.intersection(line, self.shape)
        if not isinstance(inside, shapely.LineString) or inside.length < TICK_MM / 2:
            return None
        sense = "standing" if angle > 0 else "under"
        return Mark(
            MarkKind.REFERENCE,
            as_pairs(np.asarray(inside.coords)),
            f"{abs(angle):.1f} {sense}",
        )

    def solid(self) -> cq.Workplane:
        """Return the finished piece, from the marked face on z = 0 down to minus the siding."""
        body = ruled([(edge.near, edge.far) for edge in self.edges], -self.siding_mm)
        body = notched(body, self.cut_outs, self.siding_mm) if self.cut_outs else body
        return less(body, [lofted(rings) for rings in self.pared]) if self.pared else body

    def mirrored(self) -> TwoFaces:
        """Return the faces of the other hand: x the other way."""
        edges = [edge.mirrored(edge.name) for edge in reversed(self.edges)]
        cut = [shapely.transform(shape, lambda xy: xy * TO_LEFT) for shape in self.cut_outs]
        over = np.array([-1.0, 1.0, 1.0])
        pared = [(low * over, high * over) for low, high in self.pared]
        return TwoFaces(tuple(edges), self.siding_mm, tuple(cut), tuple(pared))


def _closed(lines: Iterable[Points]) -> Polygon:
    ring = without_repeats(np.vstack(list(lines)))
    shape = Polygon(ring)
    if not shape.is_valid:
        raise PartError(
            "the edges of this part cross: give a deeper moulding, a shorter arm or a thinner part"
        )
    return shape


def square(name: str, points: Points | Sequence[Points]) -> FacedEdge:
    """Return an edge sawn square: alike in both faces."""
    line = np.asarray(points, dtype=float)
    return FacedEdge(name, line, line)


def evenly(points: Points, count: int) -> Points:
    """Return (count, 2) points spread evenly along a polyline."""
    lengths = distances_along(points)
    at = np.linspace(0.0, lengths[-1], count)
    return np.column_stack([np.interp(at, lengths, points[:, axis]) for axis in (0, 1)])


STEP_MM = 12.0
"""On a bilge of 350 mm radius chords of 12 mm leave the curve by 0.05 mm."""


def steps_for(length_mm: float) -> int:
    """Return how many points an edge of a hull wants: about every 12 mm, at least five."""
    return max(5, 1 + math.ceil(length_mm / STEP_MM))
