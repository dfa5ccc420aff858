"""How far from ideal a cutting plan may be: what it reaches beside what no plan can beat."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

ROUNDING = 4e-6
"""Bounds are given away by so much, relative, against the rounding of their solver."""


class Limit(StrEnum):
    """What keeps any plan from placing more value."""

    WANTED = "no more parts are wanted"
    NO_BOARD = "no board can give some of the parts"
    AREA = "the area of the wood that fits"


@dataclass(frozen=True)
class Ideal:
    """A plan beside what no plan can beat.

    Attributes
    ----------
    value, most_value
        Placed, and an upper bound on what any plan places; in the parts' own worth.
    limit
        What sets the upper bound.
    opened_mm2, least_opened_mm2
        Wood opened, and a lower bound for any plan that places as much value.
    """

    value: float
    most_value: float
    limit: Limit
    opened_mm2: float
    least_opened_mm2: float

    @property
    def value_percent(self) -> float:
        """Value placed in per cent of the most that may be possible; 100 if that is 0."""
        return min(100.0, 100.0 * self.value / self.most_value) if self.most_value > 0 else 100.0

    @property
    def spare_percent(self) -> float:
        """Opened wood that is not proven to be needed, per cent: no promise of a saving."""
        if self.opened_mm2 <= 0:
            return 0.0
        return max(0.0, 100.0 * (1 - self.least_opened_mm2 / self.opened_mm2))

    @property
    def is_wood_reckoned(self) -> bool:
        """Whether anything is known of the wood that is needed: there may have been no time."""
        return self.least_opened_mm2 > 0 or self.opened_mm2 <= 0

    @property
    def is_value_met(self) -> bool:
        """Whether no plan can place more value."""
        return self.value >= self.most_value * (1 - ROUNDING)

    @property
    def is_proven_best(self) -> bool:
        """Whether no plan can place more value, nor as much on less wood."""
        is_wood_met = self.opened_mm2 <= self.least_opened_mm2 * (1 + ROUNDING)
        return self.is_value_met and is_wood_met
