"""Which two lines' rows, or which two stations' columns, may be exchanged, and what that gains.

Of a dozen stations there are some seventy pairs. Each is held against the surface without either,
first by the stiffness of all figures, which is known; only of a pair that gains so is the stiffness
sought that the others have by themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations
from typing import Protocol

from parts.curves import Points
from parts.lines.held_whole import Held, Others, points_at
from parts.lines.suppositions import Made, rows_exchanged, stations_exchanged
from parts.lines.table import EDGES, Line, LineKind

Asked = Callable[[tuple[int, int]], bool]
"""Which two lines or stations are looked into."""


class Exchange(Protocol):
    """Two lines or stations that may be exchanged."""

    def gain(self, others: Others, *, roughly: bool) -> float:
        """Return by how much less surprising their figures are then, in the logarithm."""


@dataclass(frozen=True)
class _Rows:
    """Two lines of a table, and each with the row of the other."""

    numbers: tuple[int, int]
    as_is: tuple[Line, Line]
    turned: tuple[Line, Line]

    def gain(self, others: Others, *, roughly: bool) -> float:
        held = others.without(lines=self.numbers, roughly=roughly)
        return _strange(held, self.as_is) - _strange(held, self.turned)


@dataclass(frozen=True, eq=False)
class _Columns:
    """Two stations: their places, (2,), and what figures each has, (n, 2)."""

    numbers: tuple[int, int]
    x: Points
    figures: tuple[Points, Points]

    def gain(self, others: Others, *, roughly: bool) -> float:
        held = others.without(stations=self.numbers, roughly=roughly)
        (first, second), (third, fourth) = (held.at_stations(of, self.x) for of in self.figures)
        return float(first + fourth - second - third)


def lines_exchanged(others: Others, asked: Asked) -> Iterator[tuple[float, Made]]:
    """Yield which two lines' rows may be exchanged, and by how much less strange they are then."""
    table = others.found.reading.table
    numbers = [n for n, line in enumerate(table.lines) if line.kind not in EDGES]
    for one, other in combinations(numbers, 2):
        as_is = table.lines[one], table.lines[other]
        if as_is[0].kind is as_is[1].kind is not LineKind.DIAGONAL and asked((one, other)):
            lines = rows_exchanged(table, one, other).table.lines
            rows = _Rows((one, other), as_is, (lines[one], lines[other]))
            yield _gain(rows, others), partial(rows_exchanged, table, one, other)


def columns_exchanged(others: Others, asked: Asked) -> Iterator[tuple[float, Made]]:
    """Yield which two stations may be exchanged, and by how much less strange they are then."""
    table = others.found.reading.table
    figures = [points_at(table, n) for n in range(len(table.x))]
    for pair in filter(asked, combinations(range(len(table.x)), 2)):
        one, other = pair
        columns = _Columns(pair, table.x[[one, other]], (figures[one], figures[other]))
        yield _gain(columns, others), partial(stations_exchanged, table, one, other)


def _gain(exchange: Exchange, others: Others) -> float:
    roughly = exchange.gain(others, roughly=True)
    return exchange.gain(others, roughly=False) if roughly > 0.0 else roughly


def _strange(held: Held, lines: tuple[Line, Line]) -> float:
    return held.of_line(lines[0]) + held.of_line(lines[1])
