"""Patterns laid on sheets: each turned to take few pages, small ones on what others leave free.

The pattern that needs most pages opens a sheet; then all others that find room on it are laid
there, the largest first. One that fits a single page never lies across a joint.
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
    """Return the sheets that hold all patterns, those with most pages first."""
    alone = [(pattern, *_alone(pattern, leaves)) for pattern in patterns]
    alone.sort(key=lambda one: (-len(one[1].tiles), -one[0].outline.area_mm2))
    sheets, masks = list[Sheet](), Masks()
    while alone:
        pattern, grid, placement = alone.pop(0)
        filling = Lattice(grid.free, CELL_MM, _joints(grid), masks)
        filling.take(placement.polygon)
        laid = [Laid(pattern, placement)]
        for other in list(alone):
            is_small = len(other[1].tiles) == 1
            found = filling.room_for(other[0], is_small=is_small)
            if found is not None:
                laid.append(Laid(other[0], found))
                alone.remove(other)
        sheets.append(Sheet(len(sheets) + 1, grid, tuple(laid)))
    return tuple(sheets)


def _alone(pattern: Pattern, leaves: Sequence[Leaf]) -> tuple[Grid, Placement]:
    """Return the pages and the place with which a pattern alone takes fewest."""
    along, length, width = least_rectangle(pattern.outline.shape)
    angles = dict.fromkeys((0.0, 90.0, -along, 90.0 - along, *map(float, TURNS_DEG)))
    if length > SLENDER * width:
        angles = dict.fromkeys((-along, 90.0 - along))
    best: tuple[tuple[float, ...], Grid, Placement] | None = None
    for leaf in leaves:
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
