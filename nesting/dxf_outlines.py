"""Closed outlines out of DXF drawings: of boards, of their keep-outs, of parts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from nesting.dxf_rings import Curve, join, nearly_closed, widest_gap
from nesting.errors import DrawingError
from nesting.overlay import shared, why_invalid
from nesting.units import LONGEST_MM, Unit

SMALLEST_MM = 10.0
"""An outline smaller than this both ways was drawn in another unit."""

DOUBLE_MM = 0.25
"""Two rings nowhere farther apart are one, drawn twice: no saw cuts between them."""

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


@dataclass(frozen=True)
class DrawnRings:
    """The closed rings of one drawing and its loose curves, mm.

    ``unread`` tells layer and kind of what is drawn, but is neither line nor curve.
    """

    path: Path
    rings: tuple[Curve, ...]
    loose: tuple[Curve, ...]
    unread: frozenset[tuple[str, str]]
    unit: Unit
    is_unit_stated: bool

    @property
    def layers(self) -> tuple[str, ...]:
        """Layers with something on them."""
        curves = {curve.layer for curve in (*self.rings, *self.loose)}
        return tuple(sorted(curves | {layer for layer, _ in self.unread}))

    def on(self, *layers: str) -> DrawnRings:
        """Return what is on some layers; capitals do not matter."""
        wanted = {layer.casefold() for layer in layers}
        return self._where({layer for layer in self.layers if layer.casefold() in wanted})

    def required(self, layer: str) -> DrawnRings:
        """Return what is on one layer; raises DrawingError if nothing is."""
        found = self.on(layer)
        if not found.layers:
            in_use = ", ".join(self.layers) or "none"
            raise DrawingError(
                f"{self.path}: nothing is drawn on a layer {layer!r}; layers in use: {in_use}"
            )
        return found

    def off(self, *layers: str) -> DrawnRings:
        """Return what is on no layer of some; capitals do not matter."""
        unwanted = {layer.casefold() for layer in layers}
        return self._where({layer for layer in self.layers if layer.casefold() not in unwanted})

    def _where(self, layers: set[str]) -> DrawnRings:
        return replace(
            self,
            rings=tuple(ring for ring in self.rings if ring.layer in layers),
            loose=tuple(curve for curve in self.loose if curve.layer in layers),
            unread=frozenset(pair for pair in self.unread if pair[0] in layers),
        )


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


def read_rings(path: Path, *, unit: Unit | None, default_unit: Unit) -> DrawnRings:
    """Read a drawing's rings and loose curves; one drawing may serve many boards."""
    try:
        changed = path.stat().st_mtime_ns
    except OSError:
        changed = 0
    return _read_rings(path, changed, unit, default_unit)


@lru_cache(maxsize=8)
def _read_rings(path: Path, changed: int, unit: Unit | None, default_unit: Unit) -> DrawnRings:
    from nesting.dxf_curves import read_curves

    drawn = read_curves(path, unit=unit, default_unit=default_unit)
    joined = join(drawn.curves)
    return DrawnRings(
        path, joined.rings, joined.loose, drawn.unread, drawn.unit, drawn.is_unit_stated
    )


def outlines_in(drawn: DrawnRings) -> tuple[DrawnOutline, ...]:
    """Return the outlines that rings make, the largest first; raises as `read_outlines`."""
    check_closed(drawn)
    _check_size(drawn)
    rings = _without_doubles(sorted(drawn.rings, key=lambda ring: -ring.polygon.area))
    for ring in rings:
        _check_valid(ring, drawn.path)
    parents = _parents(rings, drawn.path)
    depths: list[int] = []
    for parent in parents:
        depths.append(0 if parent is None else depths[parent] + 1)
    inner: dict[int, list[Curve]] = {i: [] for i, depth in enumerate(depths) if depth % 2 == 0}
    for ring, parent, depth in zip(rings, parents, depths, strict=True):
        if parent is not None and depth % 2:
            inner[parent].append(ring)
    return tuple(_outline(rings[i], holes) for i, holes in inner.items())


def _outline(outer: Curve, inner: Sequence[Curve]) -> DrawnOutline:
    shape = Polygon(outer.points, [ring.points for ring in inner])
    return DrawnOutline(outer, tuple(inner), orient(shape))


def check_closed(drawn: DrawnRings) -> None:
    """Raise DrawingError if nothing is closed, or an outline is but for a gap of 2 mm."""
    if near := nearly_closed(drawn.loose):
        ring, gap, at = near
        raise DrawingError(
            f"{drawn.path}: an outline on layer {ring.layer!r} is not closed, by {gap:.2f} mm at "
            f"({at[0]:g}, {at[1]:g}) mm; join its ends"
        )
    if drawn.rings:
        return
    if not drawn.loose:
        raise DrawingError(f"{drawn.path}: there are no lines or curves in it")
    gap_at = widest_gap(drawn.loose)
    where = (
        f"the widest gap is {gap_at[0]:.1f} mm, at ({gap_at[1][0]:g}, {gap_at[1][1]:g}) mm"
        if gap_at
        else "its lines branch off each other, so no one way leads round"
    )
    raise DrawingError(f"{drawn.path}: there is no closed outline in it; {where}")


def _check_size(drawn: DrawnRings) -> None:
    sizes = [np.ptp(ring.points, axis=0) for ring in drawn.rings]
    x, y = max(sizes, key=max)
    if SMALLEST_MM <= max(x, y) <= LONGEST_MM:
        return
    said = "the header says" if drawn.is_unit_stated else "read as"
    raise DrawingError(
        f"{drawn.path}: {said} {drawn.unit}, which makes the largest outline {x / 1000:.4g} x "
        f"{y / 1000:.4g} m; no board or part has that size. If it was drawn in another unit, say "
        "so with unit: mm, cm, m, in or ft"
    )


def _check_valid(ring: Curve, path: Path) -> None:
    if ring.polygon.is_valid and ring.polygon.area > 0:
        return
    raise DrawingError(
        f"{path}: an outline on layer {ring.layer!r} crosses or touches itself: "
        + why_invalid(ring.polygon)
    )


def _without_doubles(rings: Sequence[Curve]) -> list[Curve]:
    """Return rings, largest first, without those drawn twice."""
    kept: list[Curve] = []
    near: dict[tuple[int, int], list[Polygon]] = defaultdict(list)
    for ring in rings:
        # Two that are one have their lower-left corners in the same cell or in neighbours.
        x, y = (int(value // (4 * DOUBLE_MM)) for value in ring.polygon.bounds[:2])
        cells = [(x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        others = (other for cell in cells for other in near.get(cell, ()))
        if not any(_is_double(other, ring.polygon) for other in others):
            kept.append(ring)
            near[x, y].append(ring.polygon)
    return kept


def _is_double(first: Polygon, second: Polygon) -> bool:
    if not np.allclose(first.bounds, second.bounds, rtol=0, atol=DOUBLE_MM):
        return False
    return bool(shapely.hausdorff_distance(first.exterior, second.exterior) <= DOUBLE_MM)


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
                    f"{rings[j].layer!r} and {rings[i].layer!r}; name the layer that is meant, or "
                    "give each a layer of its own"
                )
        parents.append(around[-1] if around else None)
    return parents
