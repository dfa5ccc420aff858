"""Where a row of fastenings breaks its own pattern: missing at the fourth, doubled at the butts.

Places are counted from 1 along the row, from the board's left end; -1 is the last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from nesting.errors import ShapeError


class Edge(StrEnum):
    """The two long edges of a board, seen from its recorded face."""

    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True)
class Missing:
    """A place of a row where nothing is; or, with ``edge``, nothing next that edge."""

    place: int
    edge: Edge | None = None


@dataclass(frozen=True)
class Stand:
    """One that is there: where along the row, at which place from 0, and on which side not."""

    at_mm: float
    number: int
    without: Edge | None = None


@dataclass(frozen=True)
class OddPlaces:
    """What is missing from a row, and what stands in it twice.

    Attributes
    ----------
    missing
        Places with nothing.
    doubled
        Places with a second one, ``apart_mm`` nearer the middle of the row.
    """

    missing: tuple[Missing, ...] = ()
    doubled: tuple[int, ...] = ()
    apart_mm: float = 0.0

    def stands(self, marks_mm: Sequence[float]) -> tuple[Stand, ...]:
        """Return what stands along a row that would have one at each of its marks.

        Raises
        ------
        ShapeError
            If the row has no such place, one is both missing and doubled, or none is left.

        Examples
        --------
        >>> odd = OddPlaces(missing=(Missing(2),), doubled=(-1,), apart_mm=30)
        >>> [stand.at_mm for stand in odd.stands([0, 300, 600])]
        [0, 570.0, 600]
        """
        if not self.missing and not self.doubled:
            return tuple(Stand(mark, number) for number, mark in enumerate(marks_mm))
        count = len(marks_mm)
        gone = {_number(missing.place, count): missing.edge for missing in self.missing}
        twice = {_number(place, count) for place in self.doubled}
        for number in sorted(twice & gone.keys()):
            raise ShapeError(f"place {number + 1} of the row is both missing and doubled")
        found = list[Stand]()
        for number, mark in enumerate(marks_mm):
            if number in gone and gone[number] is None:
                continue
            found.append(Stand(mark, number, gone.get(number)))
            if number in twice:
                toward = 1.0 if 2 * mark <= marks_mm[0] + marks_mm[-1] else -1.0
                found.append(Stand(mark + toward * self.apart_mm, number))
        if not found:
            raise ShapeError("every place of the row is missing: leave the row out")
        return tuple(sorted(found, key=lambda stand: stand.at_mm))


ALL_THERE = OddPlaces()
"""A row that keeps to its pattern."""


def _number(place: int, count: int) -> int:
    number = place - 1 if place > 0 else count + place
    if place == 0 or not 0 <= number < count:
        raise ShapeError(
            f"the row has no place {place}: its places are 1 to {count}, from the left end"
        )
    return number
