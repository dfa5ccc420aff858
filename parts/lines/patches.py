"""A hull of several panels as one surface, sharp along its chines.

Over the girth each panel takes an equal part of ``u``. Moved inward or outward, two panels meet in
a mitre: the edge lies a plank's thickness off both, as two planks meet at a chine.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines.surface import Surface

SHARPEST = 0.2
"""One and the cosine between two normals: a chine sharper than that has no useful mitre."""


@dataclass(frozen=True, eq=False)
class Patched(Surface):
    """A surface of panels, from the rabbet up; its net holds those of all of them."""

    patches: tuple[Surface, ...] = field(default=())

    def across(self, count: int) -> Points:
        """Return about so many places over the girth, every break among them."""
        many = len(self.patches)
        each = [
            np.linspace(n / many, (n + 1) / many, round((count - 1) / many) + 1)
            for n in range(many)
        ]
        return np.concatenate([each[0], *(part[1:] for part in each[1:])])

    def _parted(self, u: Points) -> list[tuple[Surface, NDArray[np.bool_], Points]]:
        """Return each panel with the places that lie on it, and where on it they lie."""
        many = len(self.patches)
        scaled = np.asarray(u, dtype=float) * many
        which = np.clip(np.floor(scaled + 1e-9), 0, many - 1)
        return [
            (patch, which == n, np.clip(scaled[which == n] - n, 0.0, 1.0))
            for n, patch in enumerate(self.patches)
        ]

    def at(self, t: Points, u: Points, *, dt: int = 0, du: int = 0) -> Points:
        """Return (k, 3) points, or their derivatives, at (k,) parameters."""
        t, u = np.broadcast_arrays(np.asarray(t, dtype=float), np.asarray(u, dtype=float))
        found = np.zeros((*u.shape, 3))
        for patch, here, local in self._parted(u):
            found[here] = patch.at(t[here], local, dt=dt, du=du) * len(self.patches) ** du
        return found

    def way(self, x: float, u: Points) -> tuple[Points, NDArray[np.bool_]]:
        """Return the t at which lines of u pass a place in x, and which of them do, bool."""
        t, passes = np.zeros(len(u)), np.zeros(len(u), dtype=bool)
        for patch, here, local in self._parted(u):
            if here.any():
                t[here], passes[here] = patch.way(x, local)
        return t, passes

    def section(self, x: float, u: Points) -> tuple[Points, Points]:
        """Return the (k, 2) half-breadths and heights of a section, and (k, 2) its t and u."""
        t, passes = self.way(x, u)
        t, u = t[passes], u[passes]
        return self.at(t, u)[:, 1:], np.column_stack([t, u])

    def moved(self, distance_mm: float) -> Surface:
        """Return the surface moved square to itself, outward by a distance."""
        moved = [
            _moved(patch, beside, distance_mm)
            for patch, beside in zip(self.patches, self._beside(), strict=True)
        ]
        return patched(tuple(moved))

    def _beside(self) -> list[tuple[Surface | None, Surface | None]]:
        around = [None, *self.patches, None]
        return list(zip(around[:-2], around[2:], strict=True))


def patched(patches: tuple[Surface, ...]) -> Surface:
    """Return panels as one surface; a single one as it is."""
    if len(patches) == 1:
        return patches[0]
    many = len(patches)
    u = np.concatenate([(patch.u + n) / many for n, patch in enumerate(patches)])
    return Patched(patches[0].t, u, np.concatenate([p.net for p in patches], axis=1), patches)


def _moved(
    patch: Surface, beside: tuple[Surface | None, Surface | None], distance_mm: float
) -> Surface:
    """Return a panel moved, its edges to where the panels beside it are moved to as well."""
    t, u = (grid.ravel() for grid in np.meshgrid(patch.t, patch.u, indexing="ij"))
    slid = u.reshape(patch.net.shape[:2]).copy()
    edges = list[tuple[int, Points]]()
    for at, other in ((0, beside[0]), (-1, beside[1])):
        if other is None:
            continue
        meets, slide = _mitre(patch, other, at, distance_mm)
        share = 1.0 - patch.u if at == 0 else patch.u
        slid += slide[:, None] * share
        edges.append((at, meets))
    inside = np.clip(slid.ravel(), 0.0, 1.0)
    normals = patch.normals(t, inside)
    over = (slid.ravel() - inside)[:, None] * patch.at(t, inside, du=1)
    net = (patch.at(t, inside) + over + distance_mm * normals).reshape(patch.net.shape)
    for at, meets in edges:
        net[:, at] = meets
    return Surface(patch.t, patch.u, net)


def _mitre(patch: Surface, other: Surface, at: int, distance_mm: float) -> tuple[Points, Points]:
    """Return where one edge of a panel is moved to, (n, 3), and how far it slides in u, (n,).

    Where there is no panel beside it, as up a stem, it moves square to itself.
    """
    t = patch.t
    edge, end = np.full(len(t), patch.u[at]), 1.0 if at == 0 else 0.0
    points, own = patch.at(t, edge), patch.normals(t, edge)
    turned, shared = own.copy(), np.zeros(len(t), dtype=bool)
    for n, point in enumerate(points):
        place, passes = other.way(float(point[0]), np.array([end]))
        if passes[0] and np.linalg.norm(other.at(place, np.array([end]))[0] - point) < 1.0:
            turned[n], shared[n] = other.normals(place, np.array([end]))[0], True
    both = np.maximum(1.0 + (own * turned).sum(axis=1), SHARPEST)
    shift = distance_mm * np.where(shared[:, None], (own + turned) / both[:, None], own)
    along = patch.at(t, edge, du=1)
    slide = ((shift - distance_mm * own) * along).sum(axis=1)
    return points + shift, slide / np.maximum((along**2).sum(axis=1), 1e-9)
