"""Keep-outs that somebody drew on a cut sheet in CAD: all of them are read, or refused.

A sheet has strokes of its own on the layers of keep-outs, which tell their kinds: they lie about
keep-outs that the sheet knows. Whatever else stands there is somebody's, and means something.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.book.as_drawn import copied_keep_outs
from nesting.book.wood import AT_BENCH
from nesting.errors import BookError
from nesting.sheets.drawing import Role, View
from nesting.sheets.dxf_terms import LAYERS, layer_name
from nesting.sheets.read_back import SheetRecord
from nesting.sheets.written import Drawn
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, kind_meant, region
from nesting.unseen import quoted

KINDS = {LAYERS[Role(kind.value)]: kind for kind in KeepOutKind}
"""What a closed line or a circle on a layer of a sheet is."""

SAME_MM = 0.05
"""Keep-outs whose circles differ by less are one: sheets are drawn to 0.01 mm."""

MOVED = ("width", "extrusion", "flags")
"""What is unusual of an entity and moves, widens or bends it in the plan."""

OURS = frozenset(layer_name(role, view) for role in LAYERS for view in View)

NEAR_MM = 5.0
"""A zigzag's middle lies as near to that of its split, over which it reaches to be seen."""


def added_in_cad(record: SheetRecord, path: Path) -> Iterator[KeepOut]:
    """Yield closed lines and circles on a keep-out's layer, over the board, that no plan drew.

    Raises
    ------
    BookError
        If something is drawn there, or as if it were, that is neither.
    """
    untagged = [entity for entity in record.written.drawn if entity.tag is None]
    untagged += copied_keep_outs(record)
    known = [keep_out.bounding_circle for keep_out in record.keep_outs]
    strokes = list[Drawn]()
    for entity in untagged:
        kind = KINDS.get(entity.layer)
        if kind is None:
            _require_no_keep_out(entity, record, path)
            continue
        made = _as_keep_out(kind, entity, path)
        if made is None:
            strokes.append(entity)
        elif shapely.intersects(made.polygon, record.outline):
            # The rings inside a recess and a knot are their signs.
            x, y, _ = made.bounding_circle
            if not any(abs(x - a) < SAME_MM and abs(y - b) < SAME_MM for a, b, _ in known):
                yield made
    _require_signs(strokes, record, path)


def _as_keep_out(kind: KeepOutKind, entity: Drawn, path: Path) -> KeepOut | None:
    """Return what an entity keeps clear; None for a stroke, which may be a sign of the sheet's."""
    figures = entity.numbers
    odd = [said for said in entity.odd if said.startswith(MOVED)]
    if odd:
        raise BookError(f"{path}: {_named(entity)} has {odd[0]}: {AS_WHAT}, level and of no width")
    if entity.kind == "circle":
        x, y, radius = figures
        return replace(circle(kind, x, y, 2 * radius), source=AT_BENCH)
    if entity.kind in ("line", "polyline") and not _is_closed(entity):
        return None
    if entity.kind == "polyline" and not any(figures[2::3]):
        ring = list(zip(figures[::3], figures[1::3], strict=True))
        if len(ring) >= 3 and Polygon(ring).is_valid:
            return replace(region(kind, ring), source=AT_BENCH)
        raise BookError(f"a line on {entity.layer} crosses itself; mend it in CAD")
    raise BookError(f"{path}: {_named(entity)} is not read: {AS_WHAT}, or take it off that layer")


AS_WHAT = "draw what is to be kept clear as a circle or as a closed line of straight runs"


def _require_no_keep_out(entity: Drawn, record: SheetRecord, path: Path) -> None:
    """Refuse what looks like a keep-out, on a layer that no sheet of ours has."""
    if entity.layer in OURS:
        return
    kind = kind_meant(entity.layer)
    shape = _shape(entity)
    is_over = shape is not None and shapely.intersects(shape, record.outline)
    if (kind is not None and (is_over or shape is None)) or (_is_closed(entity) and is_over):
        raise BookError(
            f"{path}: {_named(entity)} is on no layer of the sheet: put it on "
            f"{', '.join(KINDS)} if it is to be kept clear, or take it away"
        )


def _require_signs(strokes: Sequence[Drawn], record: SheetRecord, path: Path) -> None:
    """Refuse a stroke over the board that is no sign of a keep-out that the sheet knows."""
    for layer, kind in KINDS.items():
        mine = [stroke for stroke in strokes if stroke.layer == layer]
        shapes = [shape for stroke in mine if (shape := _shape(stroke)) is not None]
        over = shapely.intersects(shapes, record.outline)
        known = [keep_out.polygon for keep_out in record.keep_outs if keep_out.kind is kind]
        is_sign = _are_signs(shapes, kind, known)
        for stroke, is_over, is_known in zip(mine, over, is_sign, strict=True):
            if is_over and not is_known:
                raise BookError(
                    f"{path}: {_named(stroke)} closes nothing: {AS_WHAT}, or take it off that layer"
                )


def _are_signs(
    shapes: Sequence[BaseGeometry], kind: KeepOutKind, known: Sequence[Polygon]
) -> NDArray[np.bool_]:
    """Return whether strokes, (n,) of them, tell of the keep-outs of a kind that a sheet knows."""
    middles = shapely.centroid(shapely.envelope(shapes))
    found: NDArray[np.bool_] = np.zeros(len(shapes), bool)
    # A cross is larger than what it tells of; two strokes through one place are a cross.
    near = shapely.STRtree(middles).query(middles, predicate="dwithin", distance=SAME_MM)
    found[near[0][near[0] != near[1]]] = True
    about = shapely.union_all(shapely.buffer(shapely.envelope(known), 1.0))
    shapely.prepare(about)
    found |= shapely.covers(about, shapes)
    if kind is KeepOutKind.SPLIT:
        tree = shapely.STRtree(shapely.centroid(known))
        found[tree.query(middles, predicate="dwithin", distance=NEAR_MM)[0]] = True
    return found


def _is_closed(entity: Drawn) -> bool:
    """Return whether an entity encloses something."""
    return entity.kind == "circle" or (entity.kind == "polyline" and entity.words[0] == "closed")


def _shape(entity: Drawn) -> BaseGeometry | None:
    """Return where an entity stands; None if no sheet of ours has its kind."""
    figures = entity.numbers
    if entity.kind == "circle":
        x, y, radius = figures
        return Point(x, y).buffer(radius)
    if entity.kind == "line":
        return LineString([figures[:2], figures[2:4]])
    if entity.kind == "polyline":
        points = list(zip(figures[::3], figures[1::3], strict=True))
        return LineString(points) if len(points) > 1 else Point(points[0])
    return None


def _named(entity: Drawn) -> str:
    """Return what an entity is, its layer, and where it stands if that is known."""
    shape = _shape(entity)
    where = ""
    if shape is not None:
        x, y = shape.envelope.centroid.coords[0]
        where = f" at ({x:g}, {y:g}) mm"
    return f"{entity.kind.upper()} on layer {quoted(entity.layer)}{where}"
