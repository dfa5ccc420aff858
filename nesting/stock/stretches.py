"""Keep-outs that go along a stretch of a board, taped from its butt end and its edges.

Soft along the lower edge from 40 to 55, a split from 90 to the end: whatever way the edges curve.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.stock.keep_out import KeepOut, KeepOutKind, region, slot
from nesting.stock.long_edges import ENDS_MM, across
from nesting.stock.odd_places import Edge
from nesting.stock.patterns import HAIR


def edge_stretch(
    kind: KeepOutKind | str,
    shape: Polygon,
    ends_mm: tuple[float, float],
    *,
    edge: Edge | None = None,
    deep_mm: float = 0.0,
    between_mm: tuple[float, float] | None = None,
) -> KeepOut:
    """Return a keep-out that follows an edge, lies between two heights, or goes right across.

    Parameters
    ----------
    ends_mm
        Where it begins and ends along the board.
    edge, deep_mm
        The edge that it lies along, and how far in it goes from there.
    between_mm
        Its lower and upper side, up from the lower edge, instead.

    Raises
    ------
    ShapeError
        If the stretch is off the board, goes farther across than the board is wide anywhere along
        it, or has no length or width.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> plank = box(0, 0, 2000, 150)
    >>> edge_stretch("rot", plank, (500, 700), edge=Edge.UPPER, deep_mm=40).core.bounds
    (500.0, 110.0, 700.0, 150.0)
    """
    stations = _stations(shape, _on_board(shape, ends_mm))
    lower, upper = list[tuple[float, float]](), list[tuple[float, float]]()
    edges = [across(shape, x) for x in stations]
    _require_on_width(edges, between_mm[1] if between_mm is not None else deep_mm)
    for x, (low, high) in zip(stations, edges, strict=True):
        if between_mm is not None:
            low, high = low + between_mm[0], min(high, low + between_mm[1])
        elif edge is Edge.LOWER:
            high = min(high, low + deep_mm)
        elif edge is Edge.UPPER:
            low = max(low, high - deep_mm)
        if high <= low + HAIR:
            raise ShapeError(f"at {x:g} mm along the board nothing of the stretch is left")
        lower.append((x, low))
        upper.append((x, high))
    return region(kind, lower + upper[::-1])


def line_stretch(
    kind: KeepOutKind | str,
    shape: Polygon,
    ends_mm: tuple[float, float],
    *,
    ups_mm: tuple[float, float],
    width_mm: float,
) -> KeepOut:
    """Return a keep-out of even width along a line: a split, a groove.

    ``ups_mm`` are the heights of its middle line over the lower edge, at either end.

    Raises
    ------
    ShapeError
        If either end of the line is off the board.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> plank = box(0, 0, 900, 90)
    >>> split = line_stretch("split", plank, (700, 900), ups_mm=(40, 45), width_mm=5)
    >>> [round(value) for value in split.core.bounds]
    [700, 40, 900, 45]
    """
    start, end = _on_board(shape, ends_mm)
    edges = across(shape, start), across(shape, end)
    for one, up in zip(edges, ups_mm, strict=True):
        _require_on_width([one], up)
    first, last = (low + up for (low, _), up in zip(edges, ups_mm, strict=True))
    return slot(kind, (start, first), (end, last), width_mm)


def _require_on_width(edges: Sequence[tuple[float, float]], reach_mm: float) -> None:
    """Refuse what goes farther across than a board is wide: ``edges`` lower and upper."""
    widest = max(high - low for low, high in edges)
    if reach_mm > widest + ENDS_MM:
        raise ShapeError(f"it goes {reach_mm:g} mm across, the board is {widest:g} mm wide there")


def _on_board(shape: Polygon, ends_mm: tuple[float, float]) -> tuple[float, float]:
    left, _, right, _ = shape.bounds
    start, end = ends_mm
    if start < left - ENDS_MM or end > right + ENDS_MM:
        raise ShapeError(
            f"it goes from {start:g} to {end:g} mm, the board from {left:g} to {right:g} mm"
        )
    if end <= start:
        raise ShapeError(f"it ends at {end:g} mm, not after it begins, at {start:g} mm")
    # At the very end of a slanting end cut an edge has one point: nothing could be measured there.
    return max(start, left + HAIR), min(end, right - HAIR)


def _stations(shape: Polygon, ends: tuple[float, float]) -> list[float]:
    """Return the ends of a stretch and every corner of the board between them."""
    xs = np.unique(np.asarray(shape.exterior.coords)[:, 0])
    inner = xs[(xs > ends[0] + HAIR) & (xs < ends[1] - HAIR)]
    return [ends[0], *map(float, inner), ends[1]]
