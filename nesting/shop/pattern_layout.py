"""Patterns laid on sheets: each turned to take few pages, small ones on what others leave free.

The pattern that needs most pages opens a sheet, on paper lying either way; then all others that
find room on it are laid there, the largest first. One that fits a single page never lies across a
joint.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from nesting.nest import Placement
from nesting.sheets.drawing import Point
from nesting.shop.pattern_lattice import Lattice, Masks, least_rectangle, placed_at
from nesting.shop.pattern_paper import INSET_MM, Grid, Leaf, grid_for
from nesting.shop.pattern_subject import Pattern

CELL_MM = 4.0
"""Of the lattice for pages."""

TURNS_DEG = tuple(range(0, 180, 30))
"""Angles tried for a pattern on pages of its own, beside those of its least rectangle."""

SLENDER = 5.0
"""One so many times as long as wide is laid along its pages alone."""

SHARES = (0.0, 0.5, 1.0)
"""Of the room that is to spare: where a pattern of its own may lie on its pages."""


@dataclass(frozen=True)
class Laid:
    """A pattern on a sheet."""

    pattern: Pattern
    placement: Placement

    @property
    def shape(self) -> Polygon:
        """The outline in the sheet's frame."""
        return self.placement.polygon


@dataclass(frozen=True)
class Sheet:
    """Some patterns, and the pages that they lie on."""

    number: int
    grid: Grid
    laid: tuple[Laid, ...]


def laid_out(patterns: Sequence[Pattern], leaves: Sequence[Leaf]) -> tuple[Sheet, ...]:
    """Return the sheets that hold all patterns, those with most pages first.

    A sheet is laid upright and on its side, and filled; the way that holds most patterns for its
    pages is kept.
    """
    waiting = [_Waiting(pattern, tuple(_ways(pattern, leaves))) for pattern in patterns]
    waiting.sort(key=lambda one: (-one.pages, -one.pattern.outline.area_mm2))
    sheets, masks = list[Sheet](), Masks()
    while waiting:
        first = waiting.pop(0)
        tried = [
            (grid, _filled(first.pattern, grid, placement, waiting, masks))
            for grid, placement in first.ways
            if len(grid.tiles) <= WORTH_TRYING * first.pages
        ]
        grid, laid = min(tried, key=lambda way: _pages_for_area(*way))
        held = {one.pattern.number for one in laid}
        waiting = [one for one in waiting if one.pattern.number not in held]
        sheets.append(Sheet(len(sheets) + 1, grid, laid))
    sheets.sort(key=lambda sheet: -len(sheet.grid.tiles))
    return tuple(Sheet(number, s.grid, s.laid) for number, s in enumerate(sheets, start=1))


WORTH_TRYING = 2.0
"""The other way of laying paper is tried if a pattern alone takes at most so many times the pages
that way: more narrow ones may lie beside it."""


@dataclass(frozen=True)
class _Waiting:
    """A pattern that is on no sheet yet, with its pages and place on each way of laying paper."""

    pattern: Pattern
    ways: tuple[tuple[Grid, Placement], ...]

    @property
    def pages(self) -> int:
        """The fewest that it takes alone."""
        return min(len(grid.tiles) for grid, _ in self.ways)


def _ways(pattern: Pattern, leaves: Sequence[Leaf]) -> Iterator[tuple[Grid, Placement]]:
    """Yield the pages and the place of a pattern on each leaf, the least first."""
    ways = [_alone(pattern, leaf) for leaf in leaves]
    yield from sorted(ways, key=lambda way: len(way[0].tiles))


def _filled(
    pattern: Pattern,
    grid: Grid,
    placement: Placement,
    others: Sequence[_Waiting],
    masks: Masks,
) -> tuple[Laid, ...]:
    """Return what lies on the pages of a pattern: it, and all others that find room."""
    filling = Lattice(grid.free, CELL_MM, _joints(grid), masks)
    filling.take(placement.polygon)
    laid = [Laid(pattern, placement)]
    for other in others:
        found = filling.room_for(other.pattern, is_small=other.pages == 1)
        if found is not None:
            laid.append(Laid(other.pattern, found))
    return tuple(laid)


def _pages_for_area(grid: Grid, laid: Sequence[Laid]) -> float:
    return len(grid.tiles) / sum(one.pattern.outline.area_mm2 for one in laid)


def _alone(pattern: Pattern, leaf: Leaf) -> tuple[Grid, Placement]:
    """Return the pages and the place with which a pattern alone takes fewest of a leaf."""
    along, length, width = least_rectangle(pattern.outline.shape)
    angles = dict.fromkeys((0.0, 90.0, -along, 90.0 - along, *map(float, TURNS_DEG)))
    if length > SLENDER * width:
        angles = dict.fromkeys((-along, 90.0 - along))
    best: tuple[tuple[float, ...], Grid, Placement] | None = None
    for rank, angle in enumerate(angles):
        for grid, placement in _tried(pattern, leaf, angle, best and int(best[0][0])):
            score = (len(grid.tiles), min(grid.rows, grid.columns), rank)
            if best is None or score < best[0]:
                best = (score, grid, placement)
    assert best is not None, "some way of laying it is always tried"
    return best[1], best[2]


def _tried(
    pattern: Pattern, leaf: Leaf, angle: float, most: int | None
) -> Iterator[tuple[Grid, Placement]]:
    """Yield the pages of a pattern at an angle, shifted in what room its pages leave."""
    lying = placed_at(pattern, angle, (INSET_MM, INSET_MM))
    shape = lying.polygon
    high = shape.bounds[2] + INSET_MM, shape.bounds[3] + INSET_MM
    whole = grid_for(leaf, shape, (0.0, 0.0))
    # It reaches from end to end, so it needs a page of each column and of each row.
    if most is not None and max(whole.columns, whole.rows) > most:
        return
    spare = [max(0.0, size - side) for size, side in zip(whole.size, high, strict=True)]
    # Only where rows and columns cross may a page be empty.
    shifts = SHARES if min(whole.columns, whole.rows) > 1 else SHARES[:1]
    for share_x in shifts:
        for share_y in shifts:
            x, y = share_x * spare[0], share_y * spare[1]
            grid = grid_for(leaf, shape, (-x, -y))
            moved = Placement(lying.need, lying.x_mm + x, lying.y_mm + y, angle)
            yield grid, moved


def _joints(grid: Grid) -> list[tuple[Point, Point]]:
    return [joint for tile in grid.tiles for joint in grid.joints(tile)]
