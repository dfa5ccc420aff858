"""What the new boat wants, as a judge of the old one sees it: sizes, numbers, worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.affinity import rotate

from nesting.judging.old_boat import Rates
from nesting.need import Holes, Need
from nesting.rules import Rules
from nesting.units import board_feet


@dataclass(frozen=True)
class Wanted:
    """A part of the parts list, as the straight piece that it is sawn from.

    Attributes
    ----------
    length_mm, width_mm
        Of the finished outline, along its grain and across, with its trim on all sides.
    rough_mm
        Thickness that a piece must have before it is cleaned.
    worth
        What one saves against buying it.
    """

    part: str
    species: tuple[str, ...]
    count: int
    length_mm: float
    width_mm: float
    rough_mm: float
    takes_holes: bool
    worth: float
    not_from: tuple[str, ...] = ()

    def takes(self, species: str, member: str, thickness_mm: float) -> bool:
        """Return whether a member's wood and thickness will do."""
        return (
            species in self.species
            and member not in self.not_from
            and thickness_mm >= self.rough_mm - 1e-6
        )


def wanted_of(needs: Sequence[Need], rules: Rules, rates: Rates) -> tuple[Wanted, ...]:
    """Return what parts are worth pulling wood for; those of grown grain are left out.

    A part is worth what it would cost as a bought board of the first of its woods, the allowances
    for new timber included.
    """
    found = []
    for need in needs:
        outline = need.outline
        if not outline.grain.is_straight:
            continue
        along_x = rotate(outline.shape, -outline.grain.angles_deg[0], origin=(0, 0))
        low_x, low_y, high_x, high_y = along_x.bounds
        along, across = high_x - low_x, high_y - low_y
        rough = outline.siding_mm + 2 * rules.cleaning_loss_mm
        bought = rules.new_timber
        area = (along + 2 * bought.end_mm) * (across + 2 * bought.edge_mm)
        feet = board_feet(area, bought.rough_for(outline.siding_mm))
        cost = feet * (1 + bought.defects_percent / 100) * rates.of(need.species[0])
        found.append(
            Wanted(
                need.part, tuple(need.species), need.quantity,
                along + 2 * rules.trim_mm, across + 2 * rules.trim_mm, rough,
                need.holes is not Holes.CLEAR, cost, tuple(need.not_from),
            )
        )  # fmt: skip
    return tuple(found)
