"""How long a new plank must be for parts that no salvaged board gives.

Parts of one wood and one thickness as sold lie together on a plank of clear wood, grain along
it. What is no plank, as a grown crook, or is wider than the plank, is told apart beforehand.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.accounts.buying import (
    ToBuy,
    buy_list,
    is_for_planks,
    wood_for,
)
from nesting.accounts.rough_pieces import leaves_of, wood_remarks
from nesting.engine.geometry.turned import INSIDE_DEG, most_lean, search_pieces, truest_lean
from nesting.engine.jostle.layout import Shape
from nesting.engine.stop import Stop
from nesting.engine.strip.strip_lanes import shortest_strip
from nesting.engine.wood.room_bounds import least_strip_length
from nesting.need import Need
from nesting.nest import Unplaced
from nesting.rules import TOUCH_MM, Rules
from nesting.units import board_feet

MET_MM = 0.5
"""A plank this little above what none can beat is short enough: no saw cuts finer."""

SLACK_MM = 2 * TOUCH_MM
"""Room beyond the plank's width: a part exactly as wide, turned by its grain's angle, is a last
digit wider, and no place on a strip without slack would hold it."""

Group = tuple[str, float]
"""Wood, and thickness as sold in mm."""


@dataclass(frozen=True)
class NewPlank:
    """One plank to buy: rough sizes in mm, all allowances included, and what it gives.

    ``least_length_mm`` is a length that no plank of this width can beat; ``net_mm3`` is the
    volume of the finished parts; ``wants`` is what some of them ask, a text each.
    """

    species: str
    thickness_mm: float
    width_mm: float
    length_mm: float
    parts: tuple[tuple[str, int], ...]
    least_length_mm: float = 0.0
    net_mm3: float = 0.0
    wants: tuple[str, ...] = ()

    @property
    def rough_mm3(self) -> float:
        """Rough volume."""
        return self.length_mm * self.width_mm * self.thickness_mm

    @property
    def board_feet(self) -> float:
        """Rough volume in board feet."""
        return board_feet(self.rough_mm3, 1.0)

    @property
    def waste_percent(self) -> float:
        """How much of the plank is in no part."""
        return 100 * (1 - self.net_mm3 / self.rough_mm3)


@dataclass(frozen=True)
class TooWide:
    """A part that is wider than the plank, and the least plank that would do."""

    part: str
    count: int
    least_width_mm: float


@dataclass(frozen=True)
class SortedOut:
    """Parts left over, sorted for planks of one width.

    Attributes
    ----------
    groups
        What lies on each plank.
    not_planks
        What is bought otherwise: crooks, laminations.
    """

    groups: Mapping[Group, tuple[Unplaced, ...]]
    not_planks: tuple[ToBuy, ...]
    too_wide: tuple[TooWide, ...]


def sorted_out(unplaced: Sequence[Unplaced], rules: Rules, *, width_mm: float) -> SortedOut:
    """Return which parts lie together on a plank of a rough width, and which on none."""
    groups: dict[Group, list[Unplaced]] = defaultdict(list)
    too_wide, bent = list[TooWide](), list[Unplaced]()
    for left in unplaced:
        if not is_for_planks(left.need):
            bent.append(left)
            continue
        least = _width_mm(_shape(left.need)) + 2 * _edge_mm(rules)
        if least > width_mm + TOUCH_MM:
            too_wide.append(TooWide(left.need.part, left.count, least))
            continue
        thickness = rules.new_timber.rough_for(left.need.outline.siding_mm)
        groups[wood_for(left.need), thickness].append(left)
    ordered = {key: tuple(groups[key]) for key in sorted(groups)}
    return SortedOut(ordered, buy_list(bent, rules), tuple(too_wide))


def new_planks(
    groups: Mapping[Group, Sequence[Unplaced]],
    rules: Rules,
    *,
    width_mm: float,
    stop: Callable[[], Stop],
    seed: int = 0,
    workers: int = 1,
    on_progress: Callable[[Group, float | None], None] | None = None,
) -> tuple[NewPlank, ...]:
    """Return the shortest plank found for each group of parts.

    Parameters
    ----------
    groups
        As :func:`sorted_out` gives them: no part is wider than the plank.
    width_mm
        Rough width of every plank.
    stop
        Gives the stop rule of each search.
    workers
        Processes that search; with one, this process does.
    on_progress
        Is told which plank is sought, and the shortest length found for it so far.
    """
    found = list[NewPlank]()
    for key, group in groups.items():
        tell = _teller(key, rules, on_progress)
        tell(0.0, None)
        layout = _Layout.of(group, rules, width_mm)
        strip = shortest_strip(
            layout.shapes, layout.items, layout.width, rules.part_gap_mm, stop(),
            seed=seed, workers=workers, enough=layout.least + MET_MM, seen=tell,
        )  # fmt: skip
        found.append(_plank(key, group, rules, width_mm, strip.length, layout.least))
    return tuple(found)


def _teller(
    key: Group, rules: Rules, on_progress: Callable[[Group, float | None], None] | None
) -> Callable[[float, float | None], None]:
    """Return what passes on the lengths that the search finds, as lengths of the plank."""

    def tell(_: float, length: float | None) -> None:
        if on_progress:
            on_progress(key, None if length is None else length + 2 * _end_mm(rules))

    return tell


@dataclass(frozen=True)
class _Layout:
    """What is laid on the clean middle of one plank: shapes, which of them, width, least length."""

    shapes: tuple[Shape, ...]
    items: tuple[int, ...]
    width: float
    least: float

    @staticmethod
    def of(group: Sequence[Unplaced], rules: Rules, width_mm: float) -> _Layout:
        """Return the layout's task; leaves of a resawn plank lie one over the other."""
        width = width_mm - 2 * _edge_mm(rules) + SLACK_MM
        counts = [math.ceil(left.count / leaves_of(left.need, rules)) for left in group]
        sizes = [(left.need.outline, n) for left, n in zip(group, counts, strict=True)]
        return _Layout(
            tuple(_shape(left.need) for left in group),
            tuple(kind for kind, count in enumerate(counts) for _ in range(count)),
            width,
            least_strip_length(sizes, width, rules.part_gap_mm),
        )


def _plank(
    key: Group,
    group: Sequence[Unplaced],
    rules: Rules,
    width_mm: float,
    length: float,
    least: float,
) -> NewPlank:
    ends = 2 * _end_mm(rules)
    return NewPlank(
        species=key[0],
        thickness_mm=key[1],
        width_mm=width_mm,
        length_mm=length + ends,
        parts=tuple((left.need.part, left.count) for left in group),
        least_length_mm=min(least, length) + ends,
        net_mm3=sum(
            left.count * left.need.outline.area_mm2 * left.need.outline.siding_mm for left in group
        ),
        wants=tuple(
            f"{left.need.part}: {', '.join(asked)}"
            for left in group
            if (asked := (*wood_remarks(left.need), *_resawn(left.need, rules)))
        ),
    )


def _resawn(need: Need, rules: Rules) -> tuple[str, ...]:
    """Return into how many leaves a place on the plank is resawn, if it is."""
    leaves = leaves_of(need, rules)
    return (f"each place resawn into {leaves}",) if leaves > 1 else ()


def _width_mm(shape: Shape) -> float:
    """Return a figure's least extent across its grain, laid true: as the search has it."""
    lying = (shape.pieces.turned(angle, is_over=is_over) for angle, is_over in shape.ways)
    return min(float(np.ptp(pieces.corners[:, 1])) for pieces in lying)


def _edge_mm(rules: Rules) -> float:
    """Return what lies between a plank's rough edge and the parts."""
    return rules.trim_mm + rules.new_timber.edge_mm


def _end_mm(rules: Rules) -> float:
    """Return what lies between a plank's rough end and the parts."""
    return rules.trim_mm + rules.new_timber.end_mm


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
