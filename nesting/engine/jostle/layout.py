"""Build the flat arrays of a layout for the compiled search, and read them back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.blocks import (
    ANGLE,
    FACE,
    Block,
    Figures,
    Layout,
    Ways,
    Wood,
    turn_into,
)
from nesting.engine.jostle.convex_sums import FAN, sums_for
from nesting.engine.jostle.field import Field, Scene, Table
from nesting.engine.jostle.holes import Rings
from nesting.engine.jostle.near_pairs import Near

Floats = NDArray[np.float64]

Way = tuple[float, bool]


@dataclass(frozen=True)
class Shape:
    """An outline for the compiled search: convex pieces, and the ways it may lie.

    ``ways`` are angles in radians with the face; ``lean`` is how far it may turn off them.
    """

    pieces: Pieces
    area: float
    ways: tuple[Way, ...]
    lean: float = 0.0


def figures_of(shapes: Sequence[Shape]) -> Figures:
    """Return the pieces of all shapes as one :class:`Figures`."""
    corners = np.concatenate([shape.pieces.corners for shape in shapes])
    sizes = np.concatenate([np.diff(shape.pieces.first) for shape in shapes])
    counts = [len(shape.pieces) for shape in shapes]
    return Figures(
        np.ascontiguousarray(corners), starts(sizes), starts(np.asarray(counts, np.int64))
    )


def starts(sizes: Sequence[int] | NDArray[np.int64]) -> NDArray[np.int64]:
    """Return where each of a row of groups begins, and where the last ends."""
    return np.concatenate([[0], np.cumsum(np.asarray(sizes, np.int64))]).astype(np.int64)


def packed_pieces(rings: Sequence[Floats]) -> Pieces:
    """Return rings, which may be points or lines, as pieces; none at all is allowed."""
    return Pieces.of(tuple(np.asarray(ring, np.float64) for ring in rings))


def empty_block(figures: Figures, outlines: NDArray[np.int64]) -> Block:
    """Return room for the turned pieces of items of some outlines."""
    sizes, counts = [], []
    for outline in outlines:
        first, last = figures.outline_first[outline], figures.outline_first[outline + 1]
        sizes.append(np.diff(figures.piece_first[first : last + 1]))
        counts.append(last - first)
    piece_first = starts(np.concatenate(sizes))
    total, pieces = int(piece_first[-1]), len(piece_first) - 1
    return Block(
        np.zeros((total, 5)),
        piece_first,
        starts(counts),
        np.zeros((pieces, 4)),
        np.zeros((len(outlines), 4)),
    )


def scratch_block(figures: Figures) -> Block:
    """Return room for the turned pieces of any one outline."""
    corners = int(np.diff(figures.piece_first[figures.outline_first]).max())
    pieces = int(np.diff(figures.outline_first).max())
    return Block(
        np.zeros((corners, 5)),
        np.zeros(pieces + 1, np.int64),
        np.zeros(2, np.int64),
        np.zeros((pieces, 4)),
        np.zeros((1, 4)),
    )


def ways_of(
    shapes: Sequence[Shape],
    blocks: NDArray[np.bool_] | None = None,
    takes: NDArray[np.bool_] | None = None,
) -> Ways:
    """Return the ways of all shapes, with the obstacles that block each and the holes it takes."""
    none = np.zeros((len(shapes), 0), np.bool_)
    flat = [(angle, float(is_over)) for shape in shapes for angle, is_over in shape.ways]
    return Ways(
        starts([len(shape.ways) for shape in shapes]),
        np.array(flat),
        np.array([shape.lean for shape in shapes]),
        none if blocks is None else blocks,
        none if takes is None else takes,
    )


def layout_of(
    shapes: Sequence[Shape],
    figures: Figures,
    outlines: Sequence[int],
    places: Floats,
) -> Layout:
    """Return a layout of items: ``places`` (n, 5) is x, y, angle, face (0 or 1) and way.

    Weights begin with the size of the smaller of a pair, so that small pieces give way.
    """
    which = np.asarray(outlines, np.int64)
    sizes = np.sqrt(np.array([shapes[o].area for o in outlines]))
    sizes = sizes / sizes.mean()
    weights = np.minimum(sizes[:, None], sizes[None, :])
    layout = Layout(
        which,
        np.array(places, np.float64),
        weights,
        weights.copy(),
        empty_block(figures, which),
    )
    lay(layout, figures, layout.place)
    return layout


def mean_size(shapes: Sequence[Shape], items: Sequence[int]) -> float:
    """Return the side of a square with the mean area of the items, mm."""
    return math.sqrt(sum(shapes[i].area for i in items) / len(items))


def lay(layout: Layout, figures: Figures, places: Floats) -> None:
    """Lay the items of a layout at places (n, 5)."""
    layout.place[:] = places
    for i, outline in enumerate(layout.outline):
        turn_into(figures, outline, places[i, ANGLE], places[i, FACE] > 0.5, layout.block, i)


def bare_wood(box: tuple[float, float, float, float], gap_mm: float) -> Wood:
    """Return wood without defects: only a box to stay in and a gap between items.

    The gap is made a float: with an int, everything would be compiled once more.
    """
    none = np.zeros((0, 5))
    return Wood(np.array(box), np.zeros((0, 2)), np.zeros(1, np.int64), none, none, float(gap_mm))


def no_rings(count: int) -> Rings:
    """Return rings for shapes that take no holes."""
    none = np.zeros(count + 1, np.int64)
    return Rings(np.zeros((0, 4)), none, np.zeros((0, 4)), np.zeros(1, np.int64), none)


def field_for(layout: Layout, wood: Wood, figures: Figures, table: Table) -> Field:
    """Return room for the field of any item of a layout."""
    rows = len(layout.outline) + len(wood.boxes)
    if len(table.pairs):
        sums = table.sums
    else:
        corners = int(np.diff(figures.piece_first[figures.outline_first]).max())
        pieces = int(np.diff(figures.outline_first).max())
        theirs = len(layout.block.edges)
        their_pieces = len(layout.block.piece_boxes)
        edges = theirs * pieces + corners * their_pieces
        edges += len(wood.corners) * pieces + (corners + FAN * pieces) * len(wood.boxes)
        sums = sums_for(edges, (their_pieces + len(wood.boxes)) * pieces)
    return Field(
        np.empty((rows, 4)),
        np.zeros((rows, 2), np.int64),
        np.empty((rows, 3)),
        sums,
        np.empty(4),
        np.empty(5),
    )


def near_for(scene: Scene) -> Near:
    """Return room for the near pairs of a scene."""
    layout, wood, table = scene.layout, scene.wood, scene.table
    items, obstacles = len(layout.outline), len(wood.boxes)
    rows, count = np.zeros((items * (items - 1) // 2 + items * obstacles, 4), np.int64), [0]
    if len(table.pairs):
        return Near(rows, table.sums, np.array(count))
    pieces, edges = len(layout.block.piece_boxes), len(layout.block.edges)
    room = 2 * edges * pieces + len(wood.corners) * pieces + (edges + FAN * pieces) * obstacles
    return Near(rows, sums_for(room, pieces * (pieces + obstacles)), np.array(count))
