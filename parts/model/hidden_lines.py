"""Pieces as they are seen in the three views of the lines drawing, hidden lines left out.

The starboard half is shown, cut at the centreline: the body plan from ahead for the fore body
and from astern for the after body, the profile from the centreline, the half-breadth plan from
above. A piece of the port side without a twin to starboard is in none of these halves: it lies
below the centreline of the half-breadth plan, where that is what it shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from parts.curves import Points, as_pairs
from parts.lines import Hull
from parts.lines.views import ViewLine, Views, views
from parts.model.mesh import Mesh, mesh_of
from parts.model.piece import Piece
from parts.model.visible_edges import edges_towards
from parts.position import TO_PORT

if TYPE_CHECKING:
    import cadquery as cq

STEP_MM = 5.0
"""Edges are looked at in pieces of this length: a quarter of a mm on paper."""

TOUCH_MM = 2.0
"""What lies less than this in front of an edge does not hide it: pieces that touch."""

SAME_MM = 0.01
"""Ends of lines nearer than this are one point."""

STRAIGHT_MM = 0.2
"""Points that leave a line by less than this are left out: a hundredth of a mm on paper."""

TWIN_MM = 0.5
"""Two pieces are twins if they mirror each other to this: in the middle of their wood, and in how
much it is."""

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
    plain, halves, port = views(hull), _starboard(pieces), _only_to_port(pieces)
    middle = sum(hull.ends) / 2
    fore = [half for half in halves if half.middle_x <= middle]
    after = [half for half in halves if half.middle_x > middle]
    return Views(
        body=_over(plain.body, (FROM_AHEAD, fore), (FROM_ASTERN, after)),
        profile=_over(plain.profile, (FROM_CENTRELINE, halves)),
        half_breadth=_over(
            (*plain.half_breadth, *(_port_edges(plain) if port else ())),
            (FROM_ABOVE, [*halves, *port]),
        ),
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


def _only_to_port(pieces: Sequence[Piece]) -> list[Half]:
    """Return the pieces of the port side that have no twin to starboard."""
    measured = [_middle_and_size(piece) for piece in pieces]
    found = []
    for piece, place in zip(pieces, measured, strict=True):
        twin = place * [*TO_PORT, 1.0]
        to_port = piece.solid.BoundingBox().ymax <= SAME_MM
        if to_port and not any(np.allclose(twin, other, atol=TWIN_MM) for other in measured):
            found.append(Half(piece.label, piece.solid, mesh_of(piece.solid)))
    return found


def _middle_and_size(piece: Piece) -> Points:
    """Return the middle of a piece's wood, x, y and z, and the side of a cube of as much."""
    import cadquery as cq

    solid = piece.solid
    return np.array([*cq.Shape.centerOfMass(solid).toTuple(), solid.Volume() ** (1 / 3)])


def _port_edges(plain: Views) -> list[ViewLine]:
    """Return the hull's edges on the port side, for what lies there to be seen in its place."""
    return [
        ViewLine(line.kind, line.name, tuple((x, -y) for x, y in line.points))
        for line in plain.half_breadth
        if line.kind in NEVER_UNDER
    ]


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
    found = shapely.union_all(shapely.polygons(corners[areas > SAME_MM**2]), grid_size=SAME_MM)
    # On the grid a sliver may be lost, and leave a crack.
    wider = found.buffer(5 * SAME_MM, join_style="mitre")
    return wider.buffer(-5 * SAME_MM, join_style="mitre")


def visible_lines(halves: Sequence[Half], look: Look) -> list[ViewLine]:
    """Return the visible edges of solids among each other, each under its solid's label."""
    if not halves:
        return []
    cover = Cover([half.mesh for half in halves], look)
    return [
        ViewLine("part", half.label, as_pairs(line))
        for half in halves
        for line in _seen(edges_towards(half.mesh, look.back), cover, look)
    ]


def _seen(edges: Points, cover: Cover, look: Look) -> list[Points]:
    """Return what is seen of (k, 2, 3) edges, as polylines as long as they go."""
    lengths = np.linalg.norm(np.diff(look.on_paper(edges), axis=1)[:, 0], axis=1)
    edges, lengths = edges[lengths > SAME_MM], lengths[lengths > SAME_MM]
    if not len(edges):
        return []
    counts = np.ceil(lengths / STEP_MM).astype(int)
    whose = np.repeat(np.arange(len(edges)), counts)
    turn = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    shares = np.column_stack([turn, turn + 0.5, turn + 1]) / counts[whose][:, None]
    starts, spans = edges[whose, 0], edges[whose, 1] - edges[whose, 0]
    low, middle, high = (starts + shares[:, k, None] * spans for k in range(3))
    shown = cover.are_seen(middle)
    ends = np.stack([look.on_paper(low[shown]), look.on_paper(high[shown])], axis=1)
    return _joined(np.round(ends, 2))


def _joined(segments: Points) -> list[Points]:
    """Return (k, 2, 2) segments as polylines, each stretch once."""
    once = np.unique(np.sort(segments.view("f8,f8")[..., 0], axis=1), axis=0)
    pairs = once.view("f8").reshape(-1, 2, 2)
    apart = pairs[(pairs[:, 0] != pairs[:, 1]).any(axis=1)]
    merged = shapely.line_merge(MultiLineString(list(apart)))
    lines = shapely.get_parts(shapely.simplify(merged, STRAIGHT_MM))
    return [np.asarray(line.coords) for line in lines if line.length > SAME_MM]


class Cover:
    """All skins together, asked whether a place can be seen past them."""

    def __init__(self, meshes: Sequence[Mesh], look: Look) -> None:
        corners = np.vstack([mesh.points[mesh.triangles] for mesh in meshes])
        flat = look.on_paper(corners)
        u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
        area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        wide = np.abs(area) > SAME_MM**2
        self._look, self._back = look, np.array(look.back)
        self._flat, self._spans, self._area = flat[wide], (u[wide], v[wide]), area[wide]
        self._depth = (corners @ self._back)[wide]
        self._tree = shapely.STRtree([Polygon(triangle) for triangle in self._flat])

    def are_seen(self, points: Points) -> NDArray[np.bool_]:
        """Return whether (n, 3) points of the boat's frame lie behind nothing."""
        flat = self._look.on_paper(points)
        which, triangle = self._tree.query(shapely.points(flat), predicate="intersects")
        away = flat[which] - self._flat[triangle, 0]
        (u, v), area = (span[triangle] for span in self._spans), self._area[triangle]
        one = (away[:, 0] * v[:, 1] - away[:, 1] * v[:, 0]) / area
        two = (u[:, 0] * away[:, 1] - u[:, 1] * away[:, 0]) / area
        near, second, third = self._depth[triangle].T
        depth = near + one * (second - near) + two * (third - near)
        hidden = which[depth > (points @ self._back)[which] + TOUCH_MM]
        seen = np.ones(len(points), dtype=bool)
        seen[hidden] = False
        return seen
