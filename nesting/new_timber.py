"""How long a new plank must be for parts that no salvaged board gives.

Parts of one species and thickness lie together on a plank without defects, grain along it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nesting.engine.layout import Shape
from nesting.engine.possible import least_strip_length
from nesting.engine.stop import Stop
from nesting.engine.strip_lanes import shortest_strip
from nesting.engine.turned import INSIDE_DEG, most_lean, search_pieces, truest_lean
from nesting.errors import PartError
from nesting.need import Need
from nesting.nest import Unplaced
from nesting.rules import Rules
from nesting.units import board_feet

MET_MM = 0.5
"""A plank this little above what none can beat is short enough: no saw cuts finer."""


@dataclass(frozen=True)
class NewPlank:
    """One plank to buy: rough sizes in mm, trim and cleaning included, and what it gives.

    ``least_length_mm`` is a length that no plank of this width can beat.
    """

    species: str
    thickness_mm: float
    width_mm: float
    length_mm: float
    parts: tuple[tuple[str, int], ...]
    least_length_mm: float = 0.0

    @property
    def board_feet(self) -> float:
        """Rough volume."""
        return board_feet(self.length_mm * self.width_mm, self.thickness_mm)


def new_planks(
    unplaced: Sequence[Unplaced],
    rules: Rules,
    *,
    width_mm: float,
    stop: Callable[[], Stop],
    seed: int = 0,
    workers: int = 1,
) -> tuple[NewPlank, ...]:
    """Return the shortest plank found for each species and thickness among unplaced parts.

    Parameters
    ----------
    width_mm
        Rough width of every plank.
    stop
        Gives the stop rule of each search.
    workers
        Processes that search; with one, this process does.

    Raises
    ------
    PartError
        If a part is too wide for the plank; says how wide it must be.
    """
    groups: dict[tuple[str, float], list[Unplaced]] = defaultdict(list)
    for left in unplaced:
        groups[left.need.species[0], left.need.outline.siding_mm].append(left)
    return tuple(
        _plank(key, group, rules, width_mm, stop(), seed, workers)
        for key, group in sorted(groups.items())
    )


def _plank(
    key: tuple[str, float],
    group: Sequence[Unplaced],
    rules: Rules,
    width_mm: float,
    stop: Stop,
    seed: int,
    workers: int,
) -> NewPlank:
    free = width_mm - 2 * rules.trim_mm
    for left in group:
        if left.need.outline.width_mm > free:
            raise PartError(
                f"{left.need.part} is {left.need.outline.width_mm:.0f} mm wide; give a plank of "
                f"{left.need.outline.width_mm + 2 * rules.trim_mm:.0f} mm or wider"
            )
    items = [kind for kind, left in enumerate(group) for _ in range(left.count)]
    shapes = [_shape(left.need) for left in group]
    sizes = [(left.need.outline, left.count) for left in group]
    least = least_strip_length(sizes, free, rules.part_gap_mm)
    strip = shortest_strip(
        shapes, items, free, rules.part_gap_mm, stop,
        seed=seed, workers=workers, enough=least + MET_MM,
    )  # fmt: skip
    return NewPlank(
        key[0],
        key[1] + 2 * rules.cleaning_loss_mm,
        width_mm,
        strip.length + 2 * rules.trim_mm,
        tuple((left.need.part, left.count) for left in group),
        min(least, strip.length) + 2 * rules.trim_mm,
    )


def _shape(need: Need) -> Shape:
    """Return an outline with its grain along the plank, either way round, leaning in its limit."""
    outline = need.outline
    own = math.radians(outline.middle_grain_deg - truest_lean(outline))
    faces = (False, True) if outline.may_turn_over else (False,)
    ways = tuple(
        ((own if is_over else -own) + half, is_over) for is_over in faces for half in (0.0, math.pi)
    )
    lean = most_lean(outline) - INSIDE_DEG if outline.grain.is_straight else 0.0
    return Shape(search_pieces(outline), outline.area_mm2, ways, math.radians(max(lean, 0.0)))
