"""What became of the opened wood: parts, offcuts, defects, kerf and trim, scrap.

The five shares of an opened board add up to its area exactly: each is measured on what the
ones before it left over, in this order: parts, offcuts kept, defects, kerf and trim, scrap.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon


@dataclass(frozen=True)
class BoardAccount:
    """The split of one opened board, mm2, and the offcuts to keep, in its frame."""

    board_name: str
    opened_mm2: float
    parts_mm2: float
    offcuts_mm2: float
    defects_mm2: float
    kerf_and_trim_mm2: float
    scrap_mm2: float
    offcuts: tuple[Polygon, ...]

    @property
    def scrap_percent(self) -> float:
        """100 x (opened - parts - offcuts kept) / opened."""
        return 100.0 * (self.opened_mm2 - self.parts_mm2 - self.offcuts_mm2) / self.opened_mm2
