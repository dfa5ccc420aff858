"""Which ways and sets the best choice can do without, against what is plain from their figures."""

from itertools import product

import numpy as np
import pytest

from nesting.judging.beaten import limits_of, unbeaten_sets, unbeaten_ways
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates
from nesting.judging.ways import SPOILED, Left, Way

JOINTS = tuple(
    Joint(of, to, Fastener.SCREW, 5.0, 300.0) for of, to in (("plank", "frame"), ("plank", "beam"))
)
BOAT = OldBoat(
    "x",
    tuple(Member(name, "teak", 1, 1000.0, 100.0, 30.0) for name in ("plank", "frame", "beam")),
    JOINTS,
    Rates(20.0, 10.0),
)


class Figures:
    """What of a question is looked at, given outright."""

    boat = BOAT

    def __init__(self, *, sets=None, gives=None, hours=None, lefts=None, first=None):
        self.sets, self.gives_of = sets or {}, gives or {}
        self._hours, self._lefts, self._first = hours or {}, lefts or {}, first or {}

    def possible(self, joint):
        return list(self._hours)

    def first_off(self, joint, way):
        return self._first.get(way, frozenset())

    def hours(self, joint, way):
        return self._hours[way]

    def left(self, joint, way, name):
        return self._lefts[way][(JOINTS[joint].of, JOINTS[joint].to).index(name)]


def sets(*pairs):
    return {"plank": tuple((Left(a), Left(b)) for a, b in pairs)}


def unbeaten(metal, given):
    """Return which sets are left, by shares of metal at the two joints and what each set gives."""
    gives = {number: parts for number, parts in enumerate(given) if parts}
    return unbeaten_sets(Figures(sets=sets(*metal), gives={"plank": gives}), "plank")


@pytest.mark.parametrize(
    ("metal", "given", "left"),
    [
        # The cleaner one gives more, the other asks less: neither beats the other.
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {0: 4.0}], [0, 1]),
        # It gives no more, so what asks no more of the ways beats it.
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {0: 9.0}], [1]),
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {0: 9.0 * (1 - 1e-12)}], [1]),
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {0: 9.0 * (1 - 1e-6)}], [0, 1]),
        # At one joint it asks more, at the other less.
        ([(0, 0.5), (0.5, 0)], [{0: 9.0}, {0: 9.0}], [0, 1]),
        # Another part is given by the one alone.
        ([(0, 0), (0.5, 0)], [{0: 9.0, 1: 1.0}, {0: 9.0}], [0, 1]),
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {0: 9.0, 1: 1.0}], [1]),
        # What gives nothing is none, whatever it asks.
        ([(0, 0), (0.5, 0)], [{0: 9.0}, {}], [0]),
        ([(0, 0), (0.5, 0)], [{}, {}], []),
        ([(0, 0), (0.5, 0), (0.5, 0.5)], [{0: 9.0}, {0: 6.0}, {0: 6.0}], [0, 2]),
    ],
)
def test_set_is_beaten_by_one_that_asks_no_more_and_gives_no_less(metal, given, left):
    assert unbeaten(metal, given) == left


def is_under(one, other):
    return all(a <= b for a, b in zip(one, other, strict=True))


def test_whatever_the_ways_may_keep_to_some_set_that_is_left_gives_as_much():
    """By its meaning: for all limits together the most of each part stays what it was."""
    rng = np.random.default_rng(5)
    grid = list(product((0.0, 0.3, 1.0), repeat=2))
    for _ in range(20):
        amount = {cell: float(rng.integers(1, 9)) for cell in grid}
        # Less metal never gives less.
        given = [
            {0: max(n for other, n in amount.items() if is_under(cell, other))} for cell in grid
        ]
        left = unbeaten(grid, given)
        assert 0 < len(left) <= len(grid)
        for lying in grid:
            fits = [k for k, cell in enumerate(grid) if is_under(lying, cell)]
            most = max(given[k][0] for k in fits)
            assert max(given[k][0] for k in set(fits) & set(left)) == most


def test_limits_at_a_joint_are_those_of_the_sets_left_the_least_first_and_each_once():
    figures = Figures(sets=sets((0.5, 0.1), (0.2, 0.1), (0.9, 0.9)))
    assert limits_of(figures, {"plank": [0, 1]}) == {("plank", 0): [0.2, 0.5], ("plank", 1): [0.1]}


LIMITS = {("plank", 0): [0.1, 0.4], ("frame", 0): [0.3]}


@pytest.mark.parametrize(
    ("ways", "left"),
    [
        # In hours, and what it leaves in plank and frame. Quicker and as clean: the other is none.
        ({Way.DRAW: (9, 0.1, 0.3), Way.CUT: (5, 0.1, 0.3)}, [Way.CUT]),
        ({Way.DRAW: (5, 0.1, 0.3), Way.CUT: (5, 0.1, 0.3)}, [Way.DRAW]),
        # Quicker and not as clean in the one or the other.
        ({Way.DRAW: (9, 0.1, 0.3), Way.CUT: (5, 0.2, 0.3)}, [Way.CUT, Way.DRAW]),
        ({Way.DRAW: (9, 0.1, 0.3), Way.CUT: (5, 0.1, 0.31)}, [Way.CUT, Way.DRAW]),
        # Cleaner, but no set tells it apart.
        ({Way.DRAW: (9, 0.15, 0.3), Way.CUT: (5, 0.4, 0.0)}, [Way.CUT]),
        ({Way.DRAW: (9, 0.5, 0.9), Way.CUT: (5, 0.9, 0.5)}, [Way.CUT]),
        # What is spoiled keeps to no limit, however little metal is said to be in it.
        ({Way.BREAK: (1, SPOILED, SPOILED), Way.CUT: (5, 0.4, 1.0)}, [Way.BREAK, Way.CUT]),
        ({Way.BREAK: (7, SPOILED, SPOILED), Way.CUT: (5, 0.4, 1.0)}, [Way.CUT]),
        (
            {Way.SPLIT_OUTER: (2, Left(0.0, is_spoiled=True), 0.3), Way.CUT: (5, 0.4, 1.0)},
            [Way.SPLIT_OUTER, Way.CUT],
        ),
    ],
)
def test_way_is_beaten_by_one_that_takes_no_longer_and_keeps_to_as_much(ways, left):
    lefts = {
        way: tuple(one if isinstance(one, Left) else Left(one) for one in both)
        for way, (_, *both) in ways.items()
    }
    figures = Figures(hours={way: hours for way, (hours, *_) in ways.items()}, lefts=lefts)
    assert unbeaten_ways(figures, 0, LIMITS) == left


@pytest.mark.parametrize(
    ("split_hours", "cut_first", "left"),
    [
        (5, (), [Way.SPLIT_INNER, Way.CUT]),  # Quicker, but the ceiling must be off before.
        (9, (), [Way.CUT]),
        (9, ("ceiling",), [Way.CUT]),
        (5, ("ceiling",), [Way.SPLIT_INNER]),
    ],
)
def test_way_that_needs_more_off_first_beats_none_that_needs_less(split_hours, cut_first, left):
    figures = Figures(
        hours={Way.CUT: 9, Way.SPLIT_INNER: split_hours},
        lefts=dict.fromkeys((Way.CUT, Way.SPLIT_INNER), (Left(0.1), Left(0.3))),
        first={Way.SPLIT_INNER: frozenset({"ceiling"}), Way.CUT: frozenset(cut_first)},
    )
    assert unbeaten_ways(figures, 0, LIMITS) == left


def test_at_a_member_that_gives_nothing_every_way_is_as_good():
    figures = Figures(
        hours={Way.DRAW: 9, Way.CUT: 5},
        lefts={Way.DRAW: (Left(0.0), Left(0.0)), Way.CUT: (Left(0.4), Left(1.0))},
    )
    assert unbeaten_ways(figures, 0, {}) == [Way.CUT]
