"""Closed outlines out of DXF drawings: of boards, of their keep-outs, of parts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from nesting.dxf_file.complete import (
    NEAR_MM,
    check_all_read,
    check_outlines_complete,
    check_rings_complete,
)
from nesting.dxf_file.drawn import DrawnRings, read_rings
from nesting.dxf_file.rings import (
    JOIN_MM,
    NEARLY_STEPS_MM,
    Curve,
    farthest_apart,
    nearly_closed,
    widest_gap,
)
from nesting.errors import DrawingError
from nesting.flat_geometry.overlay import shared, why_invalid
from nesting.likely_sizes import LONGEST_MM as LIKELY_LONGEST_MM
from nesting.likely_sizes import WIDEST_MM
from nesting.units import LONGEST_MM, Unit
from nesting.unseen import quoted

SMALLEST_MM = 10.0
"""An outline smaller than this both ways was drawn in another unit."""

DOUBLE_MM = 0.25
"""Two rings nowhere farther apart are one, drawn twice: no saw cuts between them."""

TILT_MM = 1.0
"""A ring that rises by no more is flat, and badly drawn: over 10 mm that takes 0.05 mm from it."""

TOUCHING = 1e-3
"""Rings that share less than this part of the smaller one touch, by chords across arcs."""


@dataclass(frozen=True)
class DrawnOutline:
    """One closed outline of a drawing, with the rings inside it.

    Attributes
    ----------
    outer, inner
        The rings as drawn; ``circle`` tells a true circle.
    shape
        The same as a polygon, mm; outer ring anticlockwise.
    """

    outer: Curve
    inner: tuple[Curve, ...]
    shape: Polygon

    @property
    def layer(self) -> str:
        """Layer of the outer ring."""
        return self.outer.layer


def read_outlines(
    path: Path,
    *,
    layer: str | None = None,
    without_layers: Sequence[str] = (),
    unit: Unit | None = None,
    default_unit: Unit = Unit.MM,
) -> tuple[DrawnOutline, ...]:
    """Read the closed outlines of a drawing, the largest first.

    Parameters
    ----------
    layer
        Read this layer only; every layer if not given.
    without_layers
        Leave these layers out: they hold something else.
    unit
        In place of whatever the drawing's header says.
    default_unit
        Where the header says nothing.

    Raises
    ------
    DrawingError
        If the drawing cannot be read, the layer is not in it, nothing in it is closed (names
        the widest gap), an outline is nearly closed, crosses itself or another, or has a size
        that only a wrong unit explains.
    """
    drawn = read_rings(path, unit=unit, default_unit=default_unit).off(*without_layers)
    return outlines_in(drawn if layer is None else drawn.required(layer))


def outlines_in(drawn: DrawnRings) -> tuple[DrawnOutline, ...]:
    """Return the outlines that rings make, the largest first; raises as `read_outlines`."""
    check_rings_complete(drawn)
    check_closed(drawn)
    _check_size(drawn)
    rings = without_doubles(sorted(drawn.rings, key=lambda ring: -ring.polygon.area))
    for ring in rings:
        check_valid(ring, drawn.path)
        _check_flat(ring, drawn.path)
    parents = _parents(rings, drawn.path)
    depths: list[int] = []
    for parent in parents:
        depths.append(0 if parent is None else depths[parent] + 1)
    inner: dict[int, list[Curve]] = {i: [] for i, depth in enumerate(depths) if depth % 2 == 0}
    for ring, parent, depth in zip(rings, parents, depths, strict=True):
        if parent is not None and depth % 2:
            inner[parent].append(ring)
    found = tuple(_outline(rings[i], holes) for i, holes in inner.items())
    check_outlines_complete(drawn, [outline.outer for outline in found], rings)
    return found


def rings_read_whole(drawn: DrawnRings, layer: str, what: str) -> list[Curve]:
    """Return all rings of a layer, and the borders of filled areas that lie in none of them.

    Parameters
    ----------
    what
        What the layer holds, in a message: ``keep-out``, ``bearing zone``.

    Raises
    ------
    DrawingError
        If anything on the layer is no closed ring and lies in none, or a ring does not lie flat.
    """
    rings = without_doubles(drawn.rings)
    for ring in (*rings, *drawn.fills):
        check_valid(ring, drawn.path)
        _check_flat(ring, drawn.path)
    if drawn.fills:
        wide = [ring.polygon.buffer(ring.width_mm / 2 + NEAR_MM) for ring in rings]
        taken = shapely.union_all(wide)
        rings += [fill for fill in drawn.fills if not taken.covers(fill.polygon)]
    check_all_read(drawn, layer, what, [ring.polygon for ring in rings])
    return rings


def _outline(outer: Curve, inner: Sequence[Curve]) -> DrawnOutline:
    shape = Polygon(outer.points, [ring.points for ring in inner])
    return DrawnOutline(outer, tuple(inner), orient(shape))


def check_closed(drawn: DrawnRings) -> None:
    """Raise DrawingError if nothing is closed, or an outline is but for small gaps."""
    loose = [curve for curve in drawn.loose if curve.length_mm > JOIN_MM]
    # Where nothing at all closes, its widest gap says more.
    steps_mm = NEARLY_STEPS_MM if drawn.rings else NEARLY_STEPS_MM[:1]
    if near := nearly_closed(loose, steps_mm):
        ring, gap, at = near
        raise DrawingError(
            f"{drawn.path}: an outline on layer {quoted(ring.layer)} is not closed, by {gap:.2f} "
            f"mm at ({at[0]:g}, {at[1]:g}) mm; join its ends"
        )
    if drawn.rings:
        return
    if drawn.fills and not loose:
        raise DrawingError(
            f"{drawn.path}: {drawn.fills[0]} is filled but has no closed outline; draw its border "
            "as a closed line"
        )
    if not loose:
        raise DrawingError(f"{drawn.path}: there are no lines or curves in it")
    gap_at = widest_gap(loose)
    where = (
        f"the widest gap is {gap_at[0]:.1f} mm, at ({gap_at[1][0]:g}, {gap_at[1][1]:g}) mm"
        if gap_at
        else "its lines branch off each other, so no one way leads round"
    )
    raise DrawingError(f"{drawn.path}: there is no closed outline in it; {where}")


def _check_size(drawn: DrawnRings) -> None:
    sizes = [np.ptp(ring.points, axis=0) for ring in drawn.rings]
    x, y = map(float, max(sizes, key=max))
    is_possible = SMALLEST_MM <= max(x, y) <= LONGEST_MM
    others = _likelier_units(x, y, drawn.unit) if drawn.is_unit_guessed else ""
    if is_possible and not others:
        return
    said = "the header says" if drawn.is_unit_stated else "read as"
    cure = others or ("If it was drawn in another unit, say so with unit: mm, cm, m, in or ft")
    raise DrawingError(
        f"{drawn.path}: {said} {drawn.unit}, which makes the largest outline {x / 1000:.4g} x "
        f"{y / 1000:.4g} m; no board or part has that size. {cure}"
    )


def _likelier_units(x: float, y: float, unit: Unit) -> str:
    """Return what a drawing that states no unit would be in others; empty if this one may be."""
    sizes = {other: (x / unit.mm * other.mm, y / unit.mm * other.mm) for other in Unit}
    likely = [other for other, size in sizes.items() if _is_likely(*size)]
    if unit in likely or not likely:
        return ""
    told = [f"{x:.4g} x {y:.4g} mm if drawn in {u}" for u, (x, y) in sizes.items() if u in likely]
    return (
        f"The drawing states no unit, and is {' or '.join(told)}: say so with unit: "
        f"{' or '.join(likely)}"
    )


def _is_likely(x: float, y: float) -> bool:
    return SMALLEST_MM <= max(x, y) <= LIKELY_LONGEST_MM and min(x, y) <= WIDEST_MM


def check_valid(ring: Curve, path: Path) -> None:
    """Raise DrawingError if a ring crosses itself or encloses nothing."""
    if ring.polygon.is_valid and ring.polygon.area > 0:
        return
    if ring.polygon.is_empty or ring.polygon.envelope.area == 0:
        raise DrawingError(f"{path}: {ring} encloses nothing; draw a closed outline")
    raise DrawingError(
        f"{path}: an outline on layer {quoted(ring.layer)} crosses or touches itself: "
        + why_invalid(ring.polygon)
    )


def _check_flat(ring: Curve, path: Path) -> None:
    if ring.rise_mm > TILT_MM:
        raise DrawingError(
            f"{path}: {ring} is drawn in space: it rises by {ring.rise_mm:g} mm, so that its plan "
            "is smaller than it is; lay it flat"
        )


def without_doubles(rings: Sequence[Curve]) -> list[Curve]:
    """Return rings without those drawn twice, the first of them; the wider line counts."""
    kept: list[Curve] = []
    near: dict[tuple[int, int], list[int]] = defaultdict(list)
    for ring in rings:
        # Two that are one have their lower-left corners in the same cell or in neighbours.
        x, y = (int(value // (4 * DOUBLE_MM)) for value in ring.points.min(axis=0))
        cells = [(x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        others = [i for cell in cells for i in near.get(cell, ())]
        double = next((i for i in others if _is_double(kept[i].polygon, ring.polygon)), None)
        if double is None:
            near[x, y].append(len(kept))
            kept.append(ring)
        elif ring.width_mm > kept[double].width_mm:
            kept[double] = replace(kept[double], width_mm=ring.width_mm)
    return kept


def _is_double(first: Polygon, second: Polygon) -> bool:
    if first.is_empty or second.is_empty:
        return False
    if not np.allclose(first.bounds, second.bounds, rtol=0, atol=DOUBLE_MM):
        return False
    return farthest_apart(first.exterior, second.exterior) <= DOUBLE_MM


def _parents(rings: Sequence[Curve], path: Path) -> list[int | None]:
    """Return for each ring, largest first, the smallest that it lies in."""
    polygons = [ring.polygon for ring in rings]
    tree = shapely.STRtree(polygons)
    parents: list[int | None] = []
    for i, polygon in enumerate(polygons):
        larger = sorted(int(j) for j in tree.query(polygon, predicate="intersects") if j < i)
        around = [j for j in larger if polygons[j].covers(polygon)]
        for j in set(larger) - set(around):
            both = shared(polygons[j], polygon)
            if both.area > TOUCHING * polygon.area:
                at = both.representative_point()
                raise DrawingError(
                    f"{path}: two outlines overlap at ({at.x:.1f}, {at.y:.1f}) mm, on layers "
                    f"{quoted(rings[j].layer)} and {quoted(rings[i].layer)}; name the layer that "
                    "is meant, or give each a layer of its own"
                )
        parents.append(around[-1] if around else None)
    return parents
