"""The fair hull as a ghost: skin, edges and sections, to be drawn see-through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points
from parts.lines import Face, Hull
from parts.model.mesh import Mesh, hull_mesh, strip_between
from parts.position import TO_PORT

ALONG = 81
"""Places along the boat in the sheer and the rabbet."""


@dataclass(frozen=True, eq=False)
class Ghost:
    """What is shown of a hull, in the boat's frame.

    Attributes
    ----------
    skin
        Both sides of the planking, its outer faces out.
    cut
        A point of the transom's plane and the direction beyond it, (3,) each, where the skin
        ends; None without a transom.
    ends
        What closes the skin: the strip between the rabbets, the transom.
    edges, sections
        Lines, (n, 3) each, both sides.
    """

    skin: Mesh
    cut: tuple[Points, Points] | None
    ends: tuple[Mesh, ...]
    edges: tuple[Points, ...]
    sections: tuple[Points, ...]


def ghost_of(hull: Hull) -> Ghost:
    """Return the ghost of a hull, to the outside of her planking."""
    edges, sections = ghost_lines(hull)
    ends = [strip_between(edge, edge * TO_PORT) for edge in edges[1 : len(edges) // 2]]
    return Ghost(hull_mesh(hull), _transom_plane(hull), tuple(ends), tuple(edges), tuple(sections))


def _transom_plane(hull: Hull) -> tuple[Points, Points] | None:
    if len(hull.table.transom) != 2:
        return None
    (foot_x, foot_z), (head_x, head_z) = hull.table.transom
    return np.array([foot_x, 0.0, foot_z]), np.array([head_z - foot_z, 0.0, foot_x - head_x])


def ghost_lines(hull: Hull) -> tuple[list[Points], list[Points]]:
    """Return the edges of a hull, and its sections at the stations; (n, 3) each, both sides.

    The edges are sheer, rabbet and, if there is one, transom; those of starboard come first.
    """
    face, (low, high) = Face.OUTSIDE, hull.ends
    transom = _transom(hull) if len(hull.table.transom) == 2 else None
    ends = (high, high) if transom is None else (transom[-1, 0], transom[0, 0])
    edges = [
        np.array([(at, *edge(float(at), face)) for at in _places(low, end)])
        for edge, end in zip((hull.sheer, hull.keel), ends, strict=True)
    ]
    if transom is not None:
        edges.append(transom)
    inside = [s.x_mm for s in hull.table.stations if low < s.x_mm < min(ends)]
    sections = [_set_at(at, hull.section(at, face)) for at in inside]
    return [*edges, *(e * TO_PORT for e in edges)], [*sections, *(s * TO_PORT for s in sections)]


def _places(low: float, high: float) -> Points:
    """Return places along the boat, close together at its ends."""
    turn = np.linspace(0.0, np.pi, ALONG)
    return np.asarray(low + (1 - np.cos(turn)) / 2 * (high - low))


def _transom(hull: Hull) -> Points:
    """Return half the transom's outline in the boat's frame, (n, 3)."""
    (foot_x, foot_z), (head_x, head_z) = hull.table.transom
    up = np.array([head_x - foot_x, head_z - foot_z])
    up = up / np.hypot(*up)
    y, along = hull.transom().T
    return np.column_stack([foot_x + along * up[0], y, foot_z + along * up[1]])


def _set_at(x: float, section: Points) -> Points:
    return np.column_stack([np.full(len(section), x), section])
