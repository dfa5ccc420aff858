"""Pages of a pattern: what a printer prints on, how pages overlap, and where they are joined.

A *sheet* of patterns is one page, or several joined. Its frame is in mm, origin at the lower left
of its lowest row and first column. Columns are lettered from the left, rows numbered from the top.
Neighbours share a strip of the sheet; down its middle runs their *joint*, on which both have the
same crosses.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.sheets.drawing import Point
from nesting.sheets.pdf import MARGIN_MM
from nesting.table_file.grid import cell_name

EDGE_MM = MARGIN_MM
"""Of every page's edge left white: printers cannot print there (common practice, no source: most
leave 3 to 6 mm, some 1/2 in at the foot)."""

OVERLAP_MM = 16.0
"""Of the sheet that neighbours share: half on either side of a joint holds a whole cross."""

FOOT_MM = 28.5
"""Strip at the foot of each page: check square, ruler, words, key."""

INSET_MM = 1.5
"""A pattern keeps so far off the outer edge of a sheet, and off the words below it."""

CROSS_MM = 6.0
"""Arm of a cross."""

CROSSES_AT = (0.18, 0.82)
"""Where along a joint its crosses stand, as shares of a page's window: far apart, off corners."""

Tile = tuple[int, int]
"""Column and row of a page, from 0, the lowest row first."""


@dataclass(frozen=True)
class Leaf:
    """A page lying one way: what can be printed on, mm, without the white edge."""

    wide_mm: float
    high_mm: float
    foot_mm: float = FOOT_MM

    @property
    def window(self) -> Point:
        """Width and height of the stretch of sheet that one page shows."""
        return self.wide_mm, self.high_mm - self.foot_mm

    @property
    def pitch(self) -> Point:
        """From one page to the next, across and up."""
        wide, high = self.window
        return wide - OVERLAP_MM, high - OVERLAP_MM


def leaves(size_mm: Point) -> tuple[Leaf, Leaf]:
    """Return a paper upright and lying on its side."""
    wide, high = (side - 2 * EDGE_MM for side in size_mm)
    return Leaf(wide, high), Leaf(high, wide)


@dataclass(frozen=True)
class Cross:
    """One registration cross, with the number that both pages have beside it."""

    number: int
    at: Point


@dataclass(frozen=True)
class Grid:
    """The pages of one sheet; those that would be empty are not among its ``tiles``."""

    leaf: Leaf
    columns: int
    rows: int
    tiles: frozenset[Tile]

    @property
    def size(self) -> Point:
        """Width and height of the whole sheet."""
        (wide, high), (across, up) = self.leaf.window, self.leaf.pitch
        return (self.columns - 1) * across + wide, (self.rows - 1) * up + high

    def window(self, tile: Tile) -> tuple[float, float, float, float]:
        """Return low x, low y, high x, high y of what a page shows."""
        (wide, high), (across, up) = self.leaf.window, self.leaf.pitch
        x, y = tile[0] * across, tile[1] * up
        return x, y, x + wide, y + high

    def core(self, tile: Tile) -> tuple[float, float, float, float]:
        """Return what of a page's window is its own: as far as its joints."""
        half = OVERLAP_MM / 2
        low_x, low_y, high_x, high_y = self.window(tile)
        column, row = tile
        return (
            low_x + half * ((column - 1, row) in self.tiles),
            low_y + half * ((column, row - 1) in self.tiles),
            high_x - half * ((column + 1, row) in self.tiles),
            high_y - half * ((column, row + 1) in self.tiles),
        )

    def name(self, tile: Tile) -> str:
        """Return the name of a page: column and row, as B2."""
        return cell_name(self.rows - tile[1], tile[0] + 1)

    @cached_property
    def in_order(self) -> tuple[Tile, ...]:
        """The pages by rows from the top, each from the left."""
        return tuple(sorted(self.tiles, key=lambda tile: (-tile[1], tile[0])))

    @property
    def left_out(self) -> tuple[str, ...]:
        """The names of the pages that would be empty."""
        every = [(c, r) for r in reversed(range(self.rows)) for c in range(self.columns)]
        return tuple(self.name(tile) for tile in every if tile not in self.tiles)

    @cached_property
    def crosses(self) -> tuple[Cross, ...]:
        """The crosses on all joints, numbered from the top and the left."""
        found = list[Point]()
        for column, row in self.in_order:
            low_x, low_y, high_x, high_y = self.window((column, row))
            if (column + 1, row) in self.tiles:
                x = high_x - OVERLAP_MM / 2
                found += [(x, high_y - s * (high_y - low_y)) for s in CROSSES_AT]
            if (column, row - 1) in self.tiles:
                y = low_y + OVERLAP_MM / 2
                found += [(low_x + s * (high_x - low_x), y) for s in CROSSES_AT]
        return tuple(Cross(number, at) for number, at in enumerate(found, start=1))

    def joints(self, tile: Tile) -> list[tuple[Point, Point]]:
        """Return the lines of a page along which it is joined to its neighbours."""
        low_x, low_y, high_x, high_y = self.window(tile)
        half, (column, row) = OVERLAP_MM / 2, tile
        upright = [
            x
            for x, side in ((low_x + half, -1), (high_x - half, 1))
            if (column + side, row) in self.tiles
        ]
        level = [
            y
            for y, side in ((low_y + half, -1), (high_y - half, 1))
            if (column, row + side) in self.tiles
        ]
        return [
            *(((x, low_y), (x, high_y)) for x in upright),
            *(((low_x, y), (high_x, y)) for y in level),
        ]

    @cached_property
    def free(self) -> Polygon:
        """Where on the sheet patterns may lie."""
        (wide, high), (columns, rows) = self.size, (self.columns, self.rows)
        whole = shapely.union_all([shapely.box(*self.window(tile)) for tile in self.tiles])
        if len(self.tiles) == columns * rows:
            whole = shapely.box(0.0, 0.0, wide, high)
        return whole.buffer(-INSET_MM, join_style="mitre")


def grid_for(leaf: Leaf, shape: Polygon, at: Point) -> Grid:
    """Return the pages that a shape needs with a sheet's lower left corner at a point."""
    (wide, high), (across, up) = leaf.window, leaf.pitch
    _, _, high_x, high_y = shape.bounds
    columns = _count(high_x - at[0] + INSET_MM, wide, across)
    rows = _count(high_y - at[1] + INSET_MM, high, up)
    half, reach = OVERLAP_MM / 2, 2.0
    column, row = (axis.ravel() for axis in np.meshgrid(np.arange(columns), np.arange(rows)))
    x, y = at[0] + column * across, at[1] + row * up
    # A page is needed for what lies between its joints, and for a line that runs along one.
    boxes = shapely.box(
        x + half * (column > 0) - reach,
        y + half * (row > 0) - reach,
        x + wide - half * (column < columns - 1) + reach,
        y + high - half * (row < rows - 1) + reach,
    )
    shapely.prepare(shape)
    meets: NDArray[np.bool_] = shapely.intersects(shape, boxes)
    tiles = frozenset((int(c), int(r)) for c, r in zip(column[meets], row[meets], strict=True))
    if not _hang_together(tiles):
        tiles = frozenset((c, r) for c in range(columns) for r in range(rows))
    return Grid(leaf, columns, rows, tiles)


def _count(length: float, window: float, pitch: float) -> int:
    return 1 + max(0, int(np.ceil((length - window) / pitch - 1e-9)))


def _hang_together(tiles: frozenset[Tile]) -> bool:
    """Return whether every page can be reached from any other over shared sides."""
    ahead, seen = [next(iter(tiles))], set[Tile]()
    while ahead:
        tile = ahead.pop()
        seen.add(tile)
        c, r = tile
        beside = ((c + 1, r), (c - 1, r), (c, r + 1), (c, r - 1))
        ahead += [other for other in beside if other in tiles and other not in seen]
    return len(seen) == len(tiles)
