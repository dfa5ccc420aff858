"""A board out of a drawing: its outline, and the keep-outs on layers of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from nesting.dxf_file.drawn import DrawnRings, read_rings
from nesting.dxf_file.outlines import DrawnOutline, outlines_in, rings_read_whole
from nesting.dxf_file.rings import Curve
from nesting.errors import DrawingError, ShapeError
from nesting.project.board_entry import DrawingSpec
from nesting.project.setting import Setting
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, kind_meant, region
from nesting.unseen import quoted
from nesting.words import counted


def drawn_board(spec: DrawingSpec, setting: Setting) -> tuple[Polygon, tuple[KeepOut, ...]]:
    """Return a board's outline and keep-outs, moved so that its lower-left is the origin.

    A ring inside the outline, on no layer of keep-outs, is a hole. Keep-outs that touch the
    outline nowhere belong to another board of the same drawing; one that is on none is an error.

    Raises
    ------
    DrawingError
        If the drawing cannot be read, a layer is not in it, or the outline is not clear.
    """
    path = setting.folder / spec.file
    drawn = read_rings(path, unit=spec.unit, default_unit=setting.unit)
    outline = _outline(drawn.off(*spec.keep_outs), spec)
    _require_named(drawn, spec, outline)
    left, bottom, _, _ = outline.shape.bounds
    holes = [_keep_out(ring, KeepOutKind.HOLE) for ring in outline.inner]
    defects = _defects(drawn, spec, outline)
    moved = [keep_out.moved(-left, -bottom) for keep_out in (*holes, *defects)]
    ring = (outline.outer.points - np.array([left, bottom])).tolist()
    return board_outline([(x, y) for x, y in ring]), tuple(moved)


def _outline(drawn: DrawnRings, spec: DrawingSpec) -> DrawnOutline:
    if isinstance(spec.outline, str):
        drawn = drawn.required(spec.outline)
    found = outlines_in(drawn)
    if isinstance(spec.outline, int):
        return _numbered(found, spec.outline, drawn)
    if len(found) > 1:
        raise DrawingError(
            f"{drawn.path}: {len(found)} outlines, {_sizes(found)}; say which with outline: and "
            "its layer, or its number, the largest being 1"
        )
    return found[0]


def _numbered(found: Sequence[DrawnOutline], number: int, drawn: DrawnRings) -> DrawnOutline:
    if not 1 <= number <= len(found):
        raise DrawingError(
            f"{drawn.path}: there is no outline number {number}; the drawing holds {len(found)}"
        )
    return found[number - 1]


def _sizes(found: Sequence[DrawnOutline]) -> str:
    sizes = []
    for outline in found[:4]:
        left, bottom, right, top = outline.shape.bounds
        sizes.append(f"{right - left:.0f} x {top - bottom:.0f} mm on {quoted(outline.layer)}")
    return ", ".join(sizes) + (" and smaller" if len(found) > len(sizes) else "")


def _defects(drawn: DrawnRings, spec: DrawingSpec, outline: DrawnOutline) -> Iterator[KeepOut]:
    board = Polygon(outline.shape.exterior)
    elsewhere: list[tuple[KeepOut, str]] = []
    for layer, kind in spec.keep_outs.items():
        for ring in rings_read_whole(drawn.required(layer), layer, "keep-out"):
            try:
                keep_out = _keep_out(ring, kind)
            except ShapeError as error:
                raise DrawingError(f"{drawn.path}: {ring}: {error}") from error
            if board.distance(keep_out.core) <= keep_out.reach_mm:
                yield keep_out
            else:
                elsewhere.append((keep_out, layer))
    _require_on_boards(elsewhere, drawn, spec)


def _require_named(drawn: DrawnRings, spec: DrawingSpec, outline: DrawnOutline) -> None:
    """Raise DrawingError for a layer that is named as a keep-out is, and nowhere in the project."""
    others = drawn.off(*spec.keep_outs, outline.layer)
    board = Polygon(outline.shape.exterior)
    for layer in others.layers:
        kind = kind_meant(layer)
        if kind is None:
            continue
        here = others.on(layer)
        places = [item.place for item in here.unread if item.place is not None]
        # Rings are holes already where every ring of the drawing is looked at.
        is_known = kind is KeepOutKind.HOLE and not isinstance(spec.outline, str)
        found = [*(() if is_known else here.rings), *here.loose, *here.fills]
        shapes = [*(LineString(curve.points) for curve in found), *map(Point, places)]
        if (count := int(shapely.intersects(board, shapes).sum())) > 0:
            raise DrawingError(
                f"{drawn.path}: layer {quoted(layer)} has {counted(count, 'thing')} on the board, "
                f"and the project does not say what it holds: name it, as keep_outs: {{{layer}: "
                f"{kind}}}, or give it another name if it is nothing to keep clear of"
            )


def _require_on_boards(
    elsewhere: Sequence[tuple[KeepOut, str]], drawn: DrawnRings, spec: DrawingSpec
) -> None:
    """Raise DrawingError for the first keep-out off this board that is on no other either."""
    if not elsewhere:
        return
    boards = shapely.STRtree([Polygon(ring.points) for ring in drawn.off(*spec.keep_outs).rings])
    cores = [keep_out.core for keep_out, _ in elsewhere]
    reaches = [keep_out.reach_mm for keep_out, _ in elsewhere]
    on_another, _ = boards.query(cores, predicate="dwithin", distance=reaches)
    for i in np.setdiff1d(np.arange(len(cores)), on_another)[:1]:
        x, y = cores[i].centroid.coords[0]
        raise DrawingError(
            f"{drawn.path}: a keep-out on layer {quoted(elsewhere[i][1])} at ({x:.1f}, {y:.1f}) mm "
            "stands on no board of the drawing: move it to where it is, or take it off that layer"
        )


def _keep_out(ring: Curve, kind: KeepOutKind) -> KeepOut:
    """Return a ring as a keep-out, with all the width that its line is drawn in."""
    if ring.circle is not None:
        x, y, diameter = ring.circle
        return replace(circle(kind, x, y, diameter + ring.width_mm), source="drawing")
    found = region(kind, [(x, y) for x, y in ring.points.tolist()])
    return KeepOut(kind, found.core, found.reach_mm + ring.width_mm / 2, source="drawing")
