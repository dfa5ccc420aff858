"""Pieces as they are seen in the three views of the lines drawing, hidden lines left out.

The starboard half is shown, cut at the centreline: the body plan from ahead for the fore body
and from astern for the after body, the profile from the centreline, the half-breadth plan from
above.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry import MultiLineString
from shapely.geometry.base import BaseGeometry

from parts.curves import Points, as_pairs
from parts.lines import Hull
from parts.lines.views import ViewLine, Views, views
from parts.model.mesh import Mesh, mesh_of
from parts.model.piece import Piece

if TYPE_CHECKING:
    import cadquery as cq

SMOOTH_RAD = 0.4
"""Facets that meet at less than this are one curved face: no line between them."""

SAME_MM = 0.01
"""Ends of lines nearer than this are one point."""

STRAIGHT_MM = 0.2
"""Points that leave a line by less than this are left out: a hundredth of a mm on paper."""

FAR_MM = 100_000.0
"""Beyond any boat."""

NEVER_UNDER = frozenset({"sheer", "rabbet", "transom"})
"""Lines that are drawn over pieces too: the edges of the hull."""


@dataclass(frozen=True)
class Look:
    """One way to look at the boat, and how what is seen lies on paper.

    Attributes
    ----------
    back
        Direction towards the eye, in the boat's frame.
    across, up
        Directions in the boat's frame that lie to the right and upward on paper; a view that
        is drawn mirrored has ``across`` the other way round.
    """

    back: tuple[float, float, float]
    across: tuple[float, float, float]
    up: tuple[float, float, float]

    def on_paper(self, points: Points) -> Points:
        """Return (n, 3) points of the boat's frame as (n, 2) on paper."""
        return np.asarray(points @ np.array([self.across, self.up]).T)


FROM_AHEAD = Look((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
FROM_ASTERN = Look((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))
FROM_CENTRELINE = Look((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
FROM_ABOVE = Look((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))


def views_with_pieces(hull: Hull, pieces: Sequence[Piece]) -> Views:
    """Return the views of a hull with pieces in them, as lines of the kind ``part``.

    The hull's lines end where a piece lies over them, her edges run on. Lines of pieces carry
    the piece's label as their name.
    """
    plain, halves = views(hull), _starboard(pieces)
    middle = sum(hull.ends) / 2
    fore = [half for half in halves if half.middle_x <= middle]
    after = [half for half in halves if half.middle_x > middle]
    return Views(
        body=_over(plain.body, (FROM_AHEAD, fore), (FROM_ASTERN, after)),
        profile=_over(plain.profile, (FROM_CENTRELINE, halves)),
        half_breadth=_over(plain.half_breadth, (FROM_ABOVE, halves)),
    )


@dataclass(frozen=True, eq=False)
class Half:
    """The starboard half of a piece, or a piece of that side; solid and skin in the boat."""

    label: str
    shape: cq.Shape
    mesh: Mesh

    @property
    def middle_x(self) -> float:
        """The middle of its length along the boat."""
        x = self.mesh.points[:, 0]
        return float(x.min() + x.max()) / 2


Looked = tuple[Look, Sequence[Half]]


def _starboard(pieces: Sequence[Piece]) -> list[Half]:
    """Return the starboard half of every piece that has one."""
    import cadquery as cq

    room = cq.Solid.makeBox(2 * FAR_MM, FAR_MM, 2 * FAR_MM, cq.Vector(-FAR_MM, 0.0, -FAR_MM))
    found = []
    for piece in pieces:
        box = piece.solid.BoundingBox()
        if box.ymax > SAME_MM:
            half = piece.solid.intersect(room) if box.ymin < -SAME_MM else piece.solid
            found.append(Half(piece.label, half, mesh_of(half)))
    return found


def _over(lines: Iterable[ViewLine], *looked: Looked) -> tuple[ViewLine, ...]:
    """Return a view's lines with pieces laid over them."""
    covered = shapely.union_all(
        [shadow_of(half.mesh, look) for look, halves in looked for half in halves]
    )
    shown = [
        piece
        for line in lines
        for piece in ([line] if line.kind in NEVER_UNDER else _clear_of(line, covered))
    ]
    return (*shown, *(line for look, halves in looked for line in visible_lines(halves, look)))


def _clear_of(line: ViewLine, covered: BaseGeometry) -> list[ViewLine]:
    """Return what is left of a line beside what lies over it."""
    left = shapely.LineString(line.points).difference(covered)
    return [
        ViewLine(line.kind, line.name, as_pairs(np.asarray(piece.coords)))
        for piece in shapely.get_parts(left)
        if piece.length > SAME_MM
    ]


def shadow_of(mesh: Mesh, look: Look) -> BaseGeometry:
    """Return the area that a skin covers on paper."""
    corners = look.on_paper(mesh.points)[mesh.triangles]
    spans = corners[:, 1:] - corners[:, :1]
    areas = spans[:, 0, 0] * spans[:, 1, 1] - spans[:, 0, 1] * spans[:, 1, 0]
    # Half of a closed skin covers what all of it does.
    return shapely.union_all(shapely.polygons(corners[areas > SAME_MM**2]), grid_size=SAME_MM)


def visible_lines(halves: Sequence[Half], look: Look) -> list[ViewLine]:
    """Return the visible edges of solids among each other, each under its solid's label."""
    from OCP.HLRBRep import HLRBRep_PolyAlgo, HLRBRep_PolyHLRToShape

    if not halves:
        return []
    hiding = HLRBRep_PolyAlgo()
    for half in halves:
        _smoothed(half.shape)
        hiding.Load(half.shape.wrapped)
    hiding.Projector(_projector(look))
    hiding.Update()
    found = HLRBRep_PolyHLRToShape()
    found.Update(hiding)
    to_paper = _to_paper(look)
    lines = []
    for half in halves:
        solid = half.shape.wrapped
        compounds = (found.VCompound(solid), found.OutLineVCompound(solid))
        for points in _joined(compounds, to_paper):
            lines.append(ViewLine("part", half.label, as_pairs(points)))
    return lines


def _smoothed(shape: cq.Shape) -> None:
    """Mark the edges between facets of one curved face as none; the solid is meshed already."""
    from OCP.BRepLib import BRepLib

    BRepLib.EncodeRegularity_s(shape.wrapped, SMOOTH_RAD)


def _projector(look: Look) -> Any:
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector

    right = np.cross(look.up, look.back)
    return HLRAlgo_Projector(
        gp_Ax2(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(*look.back), gp_Dir(*right.tolist()))
    )


def _to_paper(look: Look) -> Points:
    """Return +1 or -1 for x of a projection: mirrored on paper, or not."""
    is_mirrored = np.dot(np.cross(look.up, look.back), look.across) < 0
    return np.array([-1.0 if is_mirrored else 1.0, 1.0])


def _joined(compounds: Iterable[Any], to_paper: Points) -> list[Points]:
    """Return the edges of compounds as polylines, as long as they go."""
    import cadquery as cq

    segments = set()
    for compound in compounds:
        if compound is None or compound.IsNull():
            continue
        for edge in cq.Shape.cast(compound).Edges():
            ends = [edge.startPoint().toTuple()[:2], edge.endPoint().toTuple()[:2]]
            one, other = sorted(tuple(np.round(np.multiply(end, to_paper), 2)) for end in ends)
            if one != other:
                segments.add((one, other))
    merged = shapely.line_merge(MultiLineString(sorted(segments)))
    lines = shapely.get_parts(shapely.simplify(merged, STRAIGHT_MM))
    return [np.asarray(line.coords) for line in lines if line.length > SAME_MM]
