"""The choice of what to save as an integer programme, solved exactly.

Columns: which way each joint is parted (way), what comes off (off), in which state a member is
saved (set: one column for every set of limits that its ways may keep to; together they say how far
it is saved), and how many of each part it then gives (gives). What is saved must be off, with all
its joints parted in ways that keep to the limits; what rests on it comes off first, and so does
what rests on a member that a way splits; nothing gives more than it is expected to, and no part
counts more often than it is wanted. Only ways and what comes off are whole numbers: with those
fixed nothing is won by a share of a set.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from nesting.judging.beaten import limits_of, unbeaten_sets, unbeaten_ways
from nesting.judging.question import Question
from nesting.judging.ways import Way

MOST_NODES = 20_000
"""Of the search tree; limited so that machines agree. Then the bound says how near it came."""

GAP = 1e-6
"""A choice within this share of its bound is the best there is."""

SOME = 1e-9
"""Fewer pieces are none."""


@dataclass(frozen=True)
class Solved:
    """An answer of the programme, and what no answer can beat."""

    ways: Mapping[int, Way]
    saved: frozenset[str]
    off: frozenset[str]
    sets: Mapping[str, int]
    given: Mapping[tuple[str, int], float]
    net: float
    bound: float

    @property
    def is_proven(self) -> bool:
        """Whether none can be better."""
        return self.bound - self.net <= GAP * max(1.0, abs(self.bound))


class _Columns:
    """Numbers of columns by what they stand for, and the rows over them."""

    def __init__(self) -> None:
        self.number: dict[tuple[object, ...], int] = {}
        self.gain: list[float] = []
        self.most: list[float] = []
        self.whole: list[bool] = []
        self._rows: list[tuple[dict[int, float], float, float]] = []

    def add(self, *key: object, gain: float = 0.0, most: float = 1.0, whole: bool = True) -> int:
        self.number[key] = len(self.gain)
        self.gain.append(gain)
        self.most.append(most)
        self.whole.append(whole)
        return self.number[key]

    def row(self, terms: Mapping[int, float], low: float, high: float) -> None:
        """Keep a sum of columns within two bounds."""
        self._rows.append((dict(terms), low, high))

    def constraints(self) -> LinearConstraint:
        data = [(row, column, value) for row, (terms, *_) in enumerate(self._rows)
                for column, value in terms.items()]  # fmt: skip
        rows, columns, values = zip(*data, strict=True)
        matrix = coo_array((values, (rows, columns)), shape=(len(self._rows), len(self.gain)))
        low, high = np.array([(low, high) for _, low, high in self._rows]).T
        return LinearConstraint(matrix.tocsc(), low, high)


@dataclass(frozen=True)
class _Reduced:
    """What of a question the best choice may need."""

    question: Question
    hour: float
    sets: Mapping[str, Sequence[int]]
    ways: Mapping[int, Sequence[Way]]
    off: Sequence[str]

    @classmethod
    def of(cls, question: Question, hour: float) -> _Reduced:
        boat = question.boat
        sets = {name: unbeaten_sets(question, name) for name in boat.by_name}
        giving = [name for name, numbers in sets.items() if numbers]
        limits, ways = limits_of(question, sets), dict[int, Sequence[Way]]()
        off, more = set[str](), boat.above(giving).union(giving)
        while more - off:
            off |= more
            for joint, held in enumerate(boat.joints):
                if joint not in ways and (held.of in off or held.to in off):
                    ways[joint] = unbeaten_ways(question, joint, limits)
            first = (question.first_off(k, way) for k, kept in ways.items() for way in kept)
            split_first = set[str]().union(*first)
            more = boat.above(split_first) | split_first
        return cls(question, hour, sets, ways, [name for name in boat.by_name if name in off])


def solved(question: Question, *, hour: float, gap: float = GAP) -> Solved:
    """Return the best choice at a price of an hour, or one within a share of the best."""
    reduced = _Reduced.of(question, hour)
    columns = _columns(reduced)
    if not columns.gain:
        return Solved({}, frozenset(), frozenset(), {}, {}, 0.0, 0.0)
    answer = milp(
        -np.array(columns.gain), constraints=columns.constraints(),
        bounds=Bounds(0.0, columns.most), integrality=np.array(columns.whole, dtype=np.int64),
        # What can be left out is out: looking for more takes longer than the search itself.
        options={"mip_rel_gap": gap / 10, "node_limit": MOST_NODES, "presolve": False},
    )  # fmt: skip
    assert answer.x is not None, "to leave her as she lies is always possible"
    return _read(reduced, columns, answer.x, 0.0 - answer.fun, 0.0 - answer.mip_dual_bound)


def _columns(reduced: _Reduced) -> _Columns:
    question, hour, columns = reduced.question, reduced.hour, _Columns()
    for name in reduced.off:
        columns.add("off", name, gain=-hour * question.handling_hours(name))
    for joint, ways in reduced.ways.items():
        for way in ways:
            columns.add("way", joint, way, gain=-hour * question.hours(joint, way))
    for name, numbers in reduced.sets.items():
        for number in numbers:
            columns.add("set", name, number, whole=False)
            for part, most in question.gives_of[name][number].items():
                wanted = question.wanted[part]
                columns.add(
                    "gives", name, number, part,
                    gain=wanted.worth, most=min(most, wanted.count), whole=False,
                )  # fmt: skip
    _keep_order(reduced, columns)
    _keep_limits(reduced, columns)
    _keep_numbers(reduced, columns)
    return columns


def _keep_order(reduced: _Reduced, columns: _Columns) -> None:
    """Keep what is saved off, what rests on it or on what is split as well, and joints of what is
    off parted.
    """
    boat, number, off = reduced.question.boat, columns.number, set(reduced.off)
    for name in reduced.off:
        mine = {number["set", name, k]: -1.0 for k in reduced.sets[name]}
        columns.row({number["off", name]: 1.0, **mine}, 0.0, 1.0)
        for below in off.intersection(boat.by_name[name].rests_on):
            columns.row({number["off", name]: 1.0, number["off", below]: -1.0}, 0.0, 1.0)
    for joint, kept in reduced.ways.items():
        ways = {number["way", joint, way]: 1.0 for way in kept}
        columns.row(ways, 0.0, 1.0)
        for name in off.intersection((boat.joints[joint].of, boat.joints[joint].to)):
            columns.row({**ways, number["off", name]: -1.0}, 0.0, 1.0)
        for way in kept:
            for name in reduced.question.first_off(joint, way):
                columns.row({number["off", name]: 1.0, number["way", joint, way]: -1.0}, 0.0, 1.0)


def _keep_limits(reduced: _Reduced, columns: _Columns) -> None:
    """Let a set be only as far as every joint is parted in a way that keeps to its limit."""
    question, number = reduced.question, columns.number
    for name, numbers in reduced.sets.items():
        for place, joint in enumerate(question.boat.joints_of[name]):
            at = {k: question.sets[name][k][place].metal for k in numbers}
            for limit in sorted(set(at.values())):
                terms = {number["set", name, k]: -1.0 for k in numbers if at[k] <= limit}
                for way in reduced.ways[joint]:
                    left = question.left(joint, way, name)
                    if not left.is_spoiled and left.metal <= limit:
                        terms[number["way", joint, way]] = 1.0
                columns.row(terms, 0.0, 1.0)


def _keep_numbers(reduced: _Reduced, columns: _Columns) -> None:
    """Let no member give more than there is of it, no part count more often than wanted."""
    question, number = reduced.question, columns.number
    of_part = dict[int, dict[int, float]]()
    for name, numbers in reduced.sets.items():
        for k in numbers:
            mine, shares = number["set", name, k], dict[int, float]()
            for part, most in question.gives_of[name][k].items():
                column = number["gives", name, k, part]
                shares[column] = 1.0 / most
                of_part.setdefault(part, {})[column] = 1.0
            columns.row({**shares, mine: -1.0}, -np.inf, 0.0)
    for part, terms in of_part.items():
        columns.row(terms, 0.0, question.wanted[part].count)


def _read(
    reduced: _Reduced, columns: _Columns, values: NDArray[np.float64], net: float, bound: float
) -> Solved:
    question, number = reduced.question, columns.number
    ways = {joint: way for joint, kept in reduced.ways.items() for way in kept
            if values[number["way", joint, way]] > 0.5}  # fmt: skip
    off = frozenset(name for name in reduced.off if values[number["off", name]] > 0.5)
    given, sets = dict[tuple[str, int], float](), dict[str, int]()
    for name, numbers in reduced.sets.items():
        for k in numbers:
            for part in question.gives_of[name][k]:
                count = float(values[number["gives", name, k, part]])
                if count > SOME:
                    given[name, part] = given.get((name, part), 0.0) + count
                    sets[name] = k
    sets = {name: _as_left(question, name, ways, k) for name, k in sets.items()}
    return Solved(ways, frozenset(sets), off, sets, given, net, bound)


def _as_left(question: Question, name: str, ways: Mapping[int, Way], at_least: int) -> int:
    """Return the set that a member's ways leave, or where it is not told apart one they keep to."""
    lefts = tuple(question.left(k, ways[k], name) for k in question.boat.joints_of[name])
    found = question.sets[name]
    return found.index(lefts) if lefts in found else at_least
