"""Cut lines on a sheet and the wood about them: what is refused, what lies in a piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.book.rests import SPECK_MM2
from nesting.book.sheet import Drawn
from nesting.book.sheet_place import SAME_MM
from nesting.errors import BookError
from nesting.flat_geometry.overlay import polygons_of, shared, united
from nesting.stock.board import SMALLEST_MM, Board
from nesting.stock.keep_out import KeepOut, KeepOutKind

NOWHERE = Polygon()


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


def found_since(board: Board, drawn: Iterable[KeepOut], at: tuple[float, float]) -> list[KeepOut]:
    """Return the keep-outs of a board that its sheet does not have: found since it was drawn.

    Parameters
    ----------
    at
        Where the board's frame lies in that of the sheet, mm: something may have been cut of its
        left end since, and of a keep-out too.
    """
    shapes = defaultdict[KeepOutKind, list[Polygon]](list)
    for keep_out in drawn:
        shapes[keep_out.kind].append(keep_out.polygon.buffer(SAME_MM))
    known = {kind: united(some) for kind, some in shapes.items()}
    found = list[KeepOut]()
    for keep_out in board.keep_outs:
        there = keep_out.moved(*at).polygon
        if not keep_out.is_opening and not known.get(keep_out.kind, NOWHERE).covers(there):
            found.append(keep_out)
    return found


def require_nothing_found(piece: Drawn, shape: Polygon, found: Iterable[KeepOut]) -> None:
    """Refuse a piece in which something was found since its sheet was drawn.

    ``shape`` is its cut line in the frame of the board.
    """
    for keep_out in found:
        if shapely.intersects(keep_out.polygon, shape):
            x, y, _ = keep_out.bounding_circle
            raise BookError(
                f"{keep_out.kind} in {piece.label}, at ({x:g}, {y:g}) mm of the board, was found "
                "since its sheet was drawn: nest again; or say --even-so if the piece serves all "
                "the same, or that it was spoiled"
            )


def lies_in(keep_out: KeepOut, shape: Polygon) -> bool:
    """Return whether a piece has something of a keep-out, openings of the wood apart."""
    return not keep_out.is_opening and bool(shapely.intersects(keep_out.polygon, shape))


def largest(shape: BaseGeometry) -> Polygon | None:
    """Return the largest polygon of a shape that is a board, or None."""
    whole = [part for part in polygons_of(shape) if _is_large(part)]
    return max(whole, key=lambda part: part.area, default=None)


def _is_large(part: Polygon) -> bool:
    low_x, low_y, high_x, high_y = part.bounds
    return min(high_x - low_x, high_y - low_y) >= SMALLEST_MM
