"""No-fit data: where one turned outline's origin may not lie because of something else.

A region is a union of convex sums (for the test) with its exposed boundary (for candidate
positions). No decision rests on the boundary: it only proposes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.kernels_numba import exposed, lowest_spots, sum_about
from nesting.engine.geometry.outward import simplified_outward
from nesting.engine.geometry.sums_numba import all_sums
from nesting.engine.geometry.tolerances import HULL_MM, SEAM_MM
from nesting.engine.geometry.turned import Pieces, Turned
from nesting.flat_geometry.overlay import polygons_of

Floats = NDArray[np.float64]

OBJECTS_BYTES = 1_000
"""What a region's five Python objects take, near enough."""

SHORTEST_MM = 1e-6
"""Boundary segments shorter than this propose nothing that their neighbours do not."""


@dataclass(frozen=True, eq=False)
class Region:
    """Forbidden positions: edges (e, 3), first (s + 1), boxes (s, 4), segments (k, 4); mm."""

    edges: Floats
    first: NDArray[np.int64]
    boxes: Floats
    segments: Floats

    @property
    def nbytes(self) -> int:
        """Bytes held, the objects themselves apart."""
        arrays = (self.edges, self.first, self.boxes, self.segments)
        return OBJECTS_BYTES + sum(array.nbytes for array in arrays)

    def moved(self, x_mm: float, y_mm: float) -> Region:
        """Return the region shifted."""
        edges = self.edges.copy()
        edges[:, 2] += edges[:, 0] * x_mm + edges[:, 1] * y_mm
        shift = np.array([x_mm, y_mm, x_mm, y_mm])
        return Region(edges, self.first, self.boxes + shift, self.segments + shift)


EMPTY = Region(np.empty((0, 3)), np.zeros(1, np.int64), np.empty((0, 4)), np.empty((0, 4)))
"""Nothing is forbidden."""

ORIGIN = Pieces(np.zeros((1, 2)), np.array([0, 1], np.int64))


def joined(regions: Iterable[Region]) -> Region:
    """Return the union of regions."""
    parts = [region for region in regions if len(region.first) > 1]
    if len(parts) < 2:
        return parts[0] if parts else EMPTY
    starts = np.cumsum([0] + [len(part.edges) for part in parts])
    firsts = [part.first[:-1] + start for part, start in zip(parts, starts, strict=False)]
    return Region(
        np.concatenate([part.edges for part in parts]),
        np.concatenate([*firsts, starts[-1:]]),
        np.concatenate([part.boxes for part in parts]),
        np.concatenate([part.segments for part in parts]),
    )


def joined_moved(regions: Sequence[Region], moves: Floats) -> Region:
    """Return the union of regions, each shifted by its row of moves (r, 2).

    The same as :func:`joined` of each one ``moved``, to the last digit, without a step for each.
    """
    kinds = {id(region): region for region in regions}
    numbers = {key: number for number, key in enumerate(kinds)}
    of = np.array([numbers[id(region)] for region in regions], np.int64)
    unlike = list(kinds.values())
    edges, edge_of = _rows([region.edges for region in unlike], of)
    boxes, box_of = _rows([region.boxes for region in unlike], of)
    segments, segment_of = _rows([region.segments for region in unlike], of)
    by = moves[edge_of]
    edges[:, 2] += edges[:, 0] * by[:, 0] + edges[:, 1] * by[:, 1]
    sizes, _ = _rows([np.diff(region.first)[:, None] for region in unlike], of)
    first = np.concatenate([[0], np.cumsum(sizes[:, 0])]).astype(np.int64)
    both = np.hstack([moves, moves])
    return Region(edges, first, boxes + both[box_of], segments + both[segment_of])


def _rows(tables: Sequence[Floats], of: NDArray[np.int64]) -> tuple[Floats, NDArray[np.int64]]:
    """Return the rows of tables, one table after another as ``of`` says, and which turn each is."""
    lengths = np.array([len(table) for table in tables], np.int64)
    starts = np.cumsum(lengths) - lengths
    counts = lengths[of]
    turn = np.repeat(np.arange(len(of)), counts)
    within = np.arange(len(turn)) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.concatenate(tables)[starts[of][turn] + within], turn


def forbidden(obstacle: Pieces, gaps: Floats, moving: Pieces) -> Region:
    """Return where ``moving`` comes closer to an obstacle's pieces than their gaps (p,)."""
    if not len(obstacle):
        return EMPTY
    edges, corners, first, boxes = all_sums(
        obstacle.corners, obstacle.first, gaps, moving.corners, moving.first
    )
    return Region(edges, first, boxes, exposed(edges, corners, first, boxes))


def legal_spots(
    region: Region,
    limit: tuple[float, float, float, float],
    weights: tuple[float, float],
    count: int = 1,
) -> Floats:
    """Return score, x and y (k, 3) of the best positions in a limit outside a region, best first.

    The score is weights . (x, y); k is ``count`` or, where there are not so many, fewer.
    """
    spots = np.full((count, 3), np.inf)
    lowest_spots(
        region.edges, region.first, region.boxes, region.segments,
        np.array(limit, np.float64), np.array(weights, np.float64), spots,
    )  # fmt: skip
    return np.asarray(spots[np.isfinite(spots[:, 0])])


def is_outside(region: Region, x_mm: float, y_mm: float) -> bool:
    """Return whether a position is outside a region."""
    return int(sum_about(x_mm, y_mm, region.edges, region.first, region.boxes)) < 0


def tiled(area: BaseGeometry) -> Region:
    """Return a region given as polygons in position space, tiled by convex pieces."""
    polygons = [simplified_outward(polygon, HULL_MM / 2) for polygon in polygons_of(area)]
    rings = [ring for polygon in polygons for ring in convex_pieces(polygon)]
    if not rings:
        return EMPTY
    pieces = Pieces.of(tuple(-ring for ring in rings))
    edges, _, first, boxes = all_sums(
        ORIGIN.corners, ORIGIN.first, np.array([SEAM_MM]), pieces.corners, pieces.first
    )
    grown = shapely.union_all(polygons).buffer(2 * SEAM_MM, join_style="mitre")
    return Region(edges, first, boxes, _boundary(grown))


def convex_region(areas: Iterable[BaseGeometry]) -> Region:
    """Return a region given as convex polygons in position space, exact; they may overlap."""
    rings = [ring for area in areas for part in polygons_of(area) for ring in convex_pieces(part)]
    if not rings:
        return EMPTY
    return forbidden(ORIGIN, np.zeros(1), Pieces.of(tuple(-ring for ring in rings)))


def _boundary(area: BaseGeometry) -> Floats:
    """Return every segment (k, 4) of an area's rings."""
    lines = [
        _segments(np.asarray(ring.coords))
        for polygon in polygons_of(area)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return np.concatenate(lines) if lines else np.empty((0, 4))


def _segments(points: Floats) -> Floats:
    """Return the segments (k, 4) of a closed line of points."""
    lines = np.hstack([points[:-1], points[1:]])
    lengths = np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])
    return np.ascontiguousarray(lines[lengths > SHORTEST_MM])


def between(fixed: Turned, moving: Turned, gap_mm: float) -> Region:
    """Return where ``moving`` comes closer than ``gap_mm`` to ``fixed`` lying at the origin."""
    gaps = np.full(len(fixed.pieces), gap_mm)
    return forbidden(fixed.pieces, gaps, moving.pieces)
