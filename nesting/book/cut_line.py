"""Cut lines on a sheet and the wood about them: what is refused, what lies in a piece."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.book.rests import SPECK_MM2
from nesting.book.sheet import Drawn
from nesting.book.wood import is_opening
from nesting.errors import BookError
from nesting.flat_geometry.overlay import polygons_of, shared
from nesting.stock.board import SMALLEST_MM
from nesting.stock.keep_out import KeepOut, KeepOutKind


def require_apart(pieces: Sequence[Drawn]) -> None:
    """Refuse pieces that lie on each other, as a sheet changed by hand may have them."""
    if len(pieces) < 2:
        return
    shapes = [piece.polygon for piece in pieces]
    for i, j in shapely.STRtree(shapes).query(shapes, predicate="intersects").T.tolist():
        if i < j and shared(shapes[i], shapes[j]).area > SPECK_MM2:
            raise BookError(
                f"{pieces[i].label} and {pieces[j].label} lie on each other on the sheet"
            )


def require_no_metal(piece: Drawn, shape: Polygon, keep_outs: Iterable[KeepOut]) -> None:
    """Refuse a piece in which metal lies, whenever it was found; ``shape`` is its cut line."""
    for keep_out in keep_outs:
        if keep_out.kind is KeepOutKind.METAL and shapely.intersects(keep_out.polygon, shape):
            x, y, _ = keep_out.bounding_circle
            raise BookError(
                f"metal lies in {piece.label}, at ({x:g}, {y:g}) mm of the board: nest again, or "
                "say that the piece was spoiled"
            )


def lies_in(keep_out: KeepOut, shape: Polygon) -> bool:
    """Return whether a piece has something of a keep-out, openings of the wood apart."""
    return not is_opening(keep_out) and bool(shapely.intersects(keep_out.polygon, shape))


def largest(shape: BaseGeometry) -> Polygon | None:
    """Return the largest polygon of a shape that is a board, or None."""
    whole = [part for part in polygons_of(shape) if _is_large(part)]
    return max(whole, key=lambda part: part.area, default=None)


def _is_large(part: Polygon) -> bool:
    low_x, low_y, high_x, high_y = part.bounds
    return min(high_x - low_x, high_y - low_y) >= SMALLEST_MM
