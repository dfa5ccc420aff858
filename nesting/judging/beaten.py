"""Ways and sets that others beat: left out of the programme, since the best choice needs none.

A set of things left in a member stands for a limit at every joint: no more metal than so. Less of
it never gives less (a place that is less likely in the way joins two runs, and a joined run holds
at least what both held), so a set that asks more of the ways than another and gives no more is
none. Of the ways of a joint, one is beaten by another that takes no longer and keeps to every limit
that it keeps to, and before which no more must be off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from nesting.judging.question import Question
from nesting.judging.ways import Way

AS_MUCH = 1.0 - 1e-9
"""Less than this share of what another gives is less: the rest is rounding."""

Limits = Mapping[tuple[str, int], Sequence[float]]
"""By member and joint: shares of metal that a set of its allows there, the least first."""


def unbeaten_sets(question: Question, name: str) -> list[int]:
    """Return which of a member's sets give something, and more than any that asks no more."""
    by_set = question.gives_of.get(name, {})
    if not by_set:
        return []
    numbers = sorted(by_set)
    parts = sorted({part for given in by_set.values() for part in given})
    metal = np.array([[left.metal for left in question.sets[name][k]] for k in numbers])
    given = np.array([[by_set[k].get(part, 0.0) for part in parts] for k in numbers])
    asks_no_more = np.all(metal[:, None] >= metal[None, :], axis=2)
    gives_no_less = np.all(given[:, None] >= AS_MUCH * given[None, :], axis=2)
    is_other = ~np.eye(len(numbers), dtype=np.bool_)
    beaten = np.any(asks_no_more & gives_no_less & is_other, axis=0).tolist()
    return [k for k, is_beaten in zip(numbers, beaten, strict=True) if not is_beaten]


def limits_of(question: Question, sets: Mapping[str, Sequence[int]]) -> Limits:
    """Return what the sets that are left allow at each joint of their members."""
    return {
        (name, joint): sorted({question.sets[name][k][place].metal for k in numbers})
        for name, numbers in sets.items()
        for place, joint in enumerate(question.boat.joints_of[name])
    }


def unbeaten_ways(question: Question, joint: int, limits: Limits) -> list[Way]:
    """Return the ways of a joint of which none takes no longer, keeps to as many limits and needs
    no more off first.
    """
    held = question.boat.joints[joint]
    marks = {
        way: (
            question.hours(joint, way),
            *(_first_kept(question, joint, way, name, limits) for name in (held.of, held.to)),
        )
        for way in question.possible(joint)
    }
    first = {way: question.first_off(joint, way) for way in marks}
    kept = list[Way]()
    for way in sorted(marks, key=lambda one: (marks[one], len(first[one]))):
        if not any(
            first[other] <= first[way] and _is_no_worse(marks[other], marks[way]) for other in kept
        ):
            kept.append(way)
    return kept


def _is_no_worse(marks: Sequence[float], others: Sequence[float]) -> bool:
    return all(mine <= its for mine, its in zip(marks, others, strict=True))


def _first_kept(question: Question, joint: int, way: Way, name: str, limits: Limits) -> float:
    """Return the least limit that a way keeps to in a member, infinite for none."""
    left = question.left(joint, way, name)
    allowed = [] if left.is_spoiled else limits.get((name, joint), ())
    return min((limit for limit in allowed if left.metal <= limit), default=math.inf)
