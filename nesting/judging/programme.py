"""The choice of what to save as an integer programme, solved exactly.

Columns: which way each joint is parted (x), what comes off (r), what is saved (y), what the ways
leave in a member that is saved (z: one column for every set of things that its joints may leave in
it), and how many of each part it then gives (f). A member saved must be off, with all its joints
parted in ways that do not spoil it; what rests on it comes off first; nothing gives more than it is
expected to, and no part counts more often than it is wanted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from nesting.judging.old_boat import OldBoat
from nesting.judging.wanted import Wanted
from nesting.judging.ways import USUAL_WAYS, Left, Way, WayFigures, is_possible, left_in, minutes_of
from nesting.judging.yields import Yield, yield_of
from nesting.rules import Rules

HANDLING_MINUTES = 6.0
"""To free, carry off, sweep and stack one piece (common practice, no source)."""

MOST_NODES = 20_000
"""Of the search tree; limited so that machines agree. Then the bound says how near it came."""

TOLD_APART = 0.12
"""Shares of fasteners that leave metal are not known so well that nearer ones differ."""

MOST_SETS = 256
"""Sets of things that a member's joints may leave in it; past that the worst ones go."""

LEAST_PIECES = 0.01
"""Expected from a whole member below this number, a piece is not counted on."""

GAP = 1e-6
"""A choice within this share of its bound is the best there is."""


@dataclass(frozen=True)
class Question:
    """All that a choice goes by."""

    boat: OldBoat
    wanted: tuple[Wanted, ...]
    rules: Rules
    ways: Mapping[Way, WayFigures] = field(default_factory=lambda: USUAL_WAYS)

    def possible(self, joint: int) -> list[Way]:
        """Return the ways in which a joint can be parted."""
        return [way for way in Way if is_possible(way, self.boat.joints[joint])]

    def left(self, joint: int, way: Way, member: str) -> Left:
        """Return what a way leaves in a member at a joint, ways that leave about as much alike."""
        return self._lefts[joint, member][way]

    @cached_property
    def _lefts(self) -> Mapping[tuple[int, str], Mapping[Way, Left]]:
        """What is left by joint, member and way: of those told apart no more, the worst."""
        found = dict[tuple[int, str], Mapping[Way, Left]]()
        for number, joint in enumerate(self.boat.joints):
            for name in {joint.of, joint.to}:
                lefts = {way: left_in(way, joint, name, self.ways[way]) for way in Way}
                found[number, name] = _told_apart(lefts)
        return found

    def slower(self, factor: float) -> Question:
        """Return the same with other minutes: what members give stays as it is."""
        ways = {
            way: replace(
                figures,
                minutes=figures.minutes * factor,
                stubborn_minutes=figures.stubborn_minutes * factor,
            )
            for way, figures in self.ways.items()
        }
        other = replace(self, ways=ways)
        other.__dict__.update({name: getattr(self, name) for name in ("sets", "yields", "gives")})
        return other

    def hours(self, joint: int, way: Way) -> float:
        """Return how long it takes to part a whole joint so."""
        held = self.boat.joints[joint]
        return minutes_of(way, held, self.boat.fasteners_in(held), self.ways[way]) / 60.0

    def handling_hours(self, member: str) -> float:
        """Return how long it takes to carry a member's pieces off."""
        return self.boat.by_name[member].count * HANDLING_MINUTES / 60.0

    @cached_property
    def sets(self) -> Mapping[str, tuple[tuple[Left, ...], ...]]:
        """For each member, what its joints may leave in it, one entry a joint in each set."""
        return {name: self._sets_of(name) for name in self.boat.by_name}

    def _sets_of(self, name: str) -> tuple[tuple[Left, ...], ...]:
        kinds = []
        for joint in self.boat.joints_of[name]:
            found = {self.left(joint, way, name) for way in self.possible(joint)}
            kinds.append(sorted((k for k in found if not k.is_spoiled), key=lambda k: k.metal))
        sets = sorted(product(*kinds), key=lambda lefts: sum(left.metal for left in lefts))
        return tuple(sets[:MOST_SETS])

    @cached_property
    def yields(self) -> Mapping[tuple[str, int], Yield]:
        """What each member gives, by the number of the set."""
        return {
            (name, number): yield_of(
                self.boat,
                name,
                dict(zip(self.boat.joints_of[name], lefts, strict=True)),
                self.rules,
            )
            for name, sets in self.sets.items()
            for number, lefts in enumerate(sets)
        }

    @cached_property
    def gives(self) -> Mapping[tuple[str, int, int], float]:
        """How many of a part a member gives at the most, by set and number of the part."""
        found = {}
        for (name, number), given in self.yields.items():
            for part, wanted in enumerate(self.wanted):
                if (count := given.pieces(wanted)) >= LEAST_PIECES:
                    found[name, number, part] = count
        return found


def _told_apart(lefts: Mapping[Way, Left]) -> dict[Way, Left]:
    """Return what each way leaves; shares of metal that are nearly alike become the largest."""
    shares = sorted({left.metal for left in lefts.values() if not left.is_spoiled})
    classes, begin = dict[float, float](), 0
    for place, share in enumerate(shares):
        if share - shares[begin] > TOLD_APART:
            begin = place
        for one in shares[begin : place + 1]:
            classes[one] = share
    return {
        way: left if left.is_spoiled else replace(left, metal=classes[left.metal])
        for way, left in lefts.items()
    }


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


def solved(question: Question, *, hour: float, gap: float = GAP) -> Solved:
    """Return the best choice at a price of an hour, or one within a share of the best."""
    columns = _columns(question, hour)
    answer = milp(
        -np.array(columns.gain), constraints=columns.constraints(),
        bounds=Bounds(0.0, columns.most), integrality=np.array(columns.whole, dtype=np.int64),
        # Looking for what can be left out takes three times as long as the search itself.
        options={"mip_rel_gap": gap / 10, "node_limit": MOST_NODES, "presolve": False},
    )  # fmt: skip
    assert answer.x is not None, "to leave her as she lies is always possible"
    return _read(question, columns, answer.x, 0.0 - answer.fun, 0.0 - answer.mip_dual_bound)


def _columns(question: Question, hour: float) -> _Columns:
    boat, columns = question.boat, _Columns()
    for name in boat.by_name:
        columns.add("saved", name)
        columns.add("off", name, gain=-hour * question.handling_hours(name))
        if not any(one == name for one, *_ in question.gives):
            columns.most[columns.number["saved", name]] = 0.0
        for number in range(len(question.sets[name])):
            columns.add("set", name, number, whole=False)
    for joint in range(len(boat.joints)):
        for way in question.possible(joint):
            columns.add("way", joint, way, gain=-hour * question.hours(joint, way))
    for (name, number, part), most in question.gives.items():
        wanted = question.wanted[part]
        columns.add(
            "gives", name, number, part,
            gain=wanted.worth, most=min(most, wanted.count), whole=False,
        )  # fmt: skip
    _keep_order(question, columns)
    _keep_sets(question, columns)
    _keep_numbers(question, columns)
    return columns


def _keep_order(question: Question, columns: _Columns) -> None:
    """Keep what is saved off, what rests on it as well, and joints of what is off parted."""
    boat, number = question.boat, columns.number
    for name, member in boat.by_name.items():
        columns.row({number["off", name]: 1.0, number["saved", name]: -1.0}, 0.0, 1.0)
        for below in member.rests_on:
            columns.row({number["off", name]: 1.0, number["off", below]: -1.0}, 0.0, 1.0)
    for joint, held in enumerate(boat.joints):
        ways = {number["way", joint, way]: 1.0 for way in question.possible(joint)}
        columns.row(ways, 0.0, 1.0)
        for name in (held.of, held.to):
            columns.row({**ways, number["off", name]: -1.0}, 0.0, 1.0)


def _keep_sets(question: Question, columns: _Columns) -> None:
    """Give a member that is saved one set of things left in it, that of its joints' ways."""
    boat, number = question.boat, columns.number
    for name, sets in question.sets.items():
        mine = {number["set", name, k]: 1.0 for k in range(len(sets))}
        columns.row({**mine, number["saved", name]: -1.0}, 0.0, 0.0)
        for place, joint in enumerate(boat.joints_of[name]):
            for left in {lefts[place] for lefts in sets}:
                terms = {number["set", name, k]: -1.0
                         for k, lefts in enumerate(sets) if lefts[place] == left}  # fmt: skip
                for way in question.possible(joint):
                    if question.left(joint, way, name) == left:
                        terms[number["way", joint, way]] = 1.0
                columns.row(terms, 0.0, 1.0)


def _keep_numbers(question: Question, columns: _Columns) -> None:
    """Let no member give more than there is of it, no part count more often than wanted."""
    number = columns.number
    of_set = defaultdict[tuple[str, int], dict[int, float]](dict)
    of_part = defaultdict[int, dict[int, float]](dict)
    for (name, k, part), most in question.gives.items():
        column = number["gives", name, k, part]
        of_set[name, k][column] = 1.0 / most
        of_part[part][column] = 1.0
    for pair, terms in of_set.items():
        columns.row({**terms, number["set", *pair]: -1.0}, -np.inf, 0.0)
    for part, terms in of_part.items():
        columns.row(terms, 0.0, question.wanted[part].count)


def _read(
    question: Question, columns: _Columns, values: NDArray[np.float64], net: float, bound: float
) -> Solved:
    def is_on(*key: object) -> bool:
        return bool(values[columns.number[key]] > 0.5)

    boat = question.boat
    ways = {joint: way for joint in range(len(boat.joints))
            for way in question.possible(joint) if is_on("way", joint, way)}  # fmt: skip
    sets = {name: k for name, found in question.sets.items()
            for k in range(len(found)) if is_on("set", name, k)}  # fmt: skip
    given = dict[tuple[str, int], float]()
    for name, k, part in question.gives:
        count = float(values[columns.number["gives", name, k, part]])
        if count > 1e-9:
            given[name, part] = given.get((name, part), 0.0) + count
    return Solved(
        ways, frozenset(name for name in boat.by_name if is_on("saved", name)),
        frozenset(name for name in boat.by_name if is_on("off", name)),
        sets, given, net, bound,
    )  # fmt: skip
