"""What wood and work cost, as somebody states it: nothing is reckoned in money without."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.units import BOARD_FOOT_MM3

SAME_MM = 0.1
"""Thicknesses as sold that differ by less are one."""


class Measure(StrEnum):
    """What a price of wood is for."""

    BOARD_FOOT = "board foot"
    CUBIC_METRE = "m3"

    @property
    def mm3(self) -> float:
        """The volume."""
        return BOARD_FOOT_MM3 if self is Measure.BOARD_FOOT else 1e9


@dataclass(frozen=True)
class WoodPrice:
    """Price of one wood as sold; for every thickness if none is said."""

    species: str
    price: float
    per: Measure
    thickness_mm: float | None = None

    def __str__(self) -> str:
        """Return it as a price tag has it."""
        return f"{self.price:g} {'a board foot' if self.per is Measure.BOARD_FOOT else 'an m3'}"

    def is_for(self, thickness_mm: float | None) -> bool:
        """Return whether it is stated for one thickness, or for every one if None is given."""
        if thickness_mm is None or self.thickness_mm is None:
            return thickness_mm is self.thickness_mm
        return abs(self.thickness_mm - thickness_mm) < SAME_MM

    def cost(self, mm3: float) -> float:
        """Return what a volume costs."""
        return self.price * mm3 / self.per.mm3


@dataclass(frozen=True)
class Rates:
    """What a project states; None is not stated.

    Attributes
    ----------
    currency
        As it is written behind every sum.
    hour
        Of work.
    cut_minutes, bung_minutes, part_minutes
        To saw one piece free, a part or an offcut; to ream and plug one hole; for all other work
        on one part.
    """

    currency: str
    wood: tuple[WoodPrice, ...] = ()
    hour: float | None = None
    cut_minutes: float | None = None
    bung_minutes: float | None = None
    part_minutes: float | None = None

    def price_of(self, species: str, thickness_mm: float) -> WoodPrice | None:
        """Return the price of a wood in a thickness: its own, else that for every thickness."""
        of_wood = [price for price in self.wood if price.species == species]
        own = next((price for price in of_wood if price.is_for(thickness_mm)), None)
        return own or next((price for price in of_wood if price.is_for(None)), None)
