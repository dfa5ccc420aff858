"""One page of a sheet of patterns: its window, and what of it is free for lettering."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.sheets.drawing import (
    Entity,
    Role,
    View,
)
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.window import as_lines
from nesting.shop.pattern_layout import Sheet
from nesting.units import Unit

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class PageView:
    """One page of a sheet: its window, what of that is its own, and room for lettering."""

    sheet: Sheet
    window: Box
    core: Box
    unit: Unit
    space: FreeSpace = field(default_factory=FreeSpace)

    @property
    def box(self) -> Polygon:
        """The window as a shape."""
        return shapely.box(*self.window)

    def seen(self, shape: BaseGeometry, role: Role) -> tuple[Entity, ...]:
        """Return what the window shows of lines."""
        cut = shapely.line_merge(shape.intersection(self.box))
        return as_lines(cut, role, View.FULL_SIZE)
