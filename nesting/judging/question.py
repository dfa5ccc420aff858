"""What a choice goes by: the boat, what is wanted, and what every way leaves and gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

from nesting.judging.old_boat import OldBoat
from nesting.judging.wanted import Wanted
from nesting.judging.ways import (
    USUAL_WAYS,
    Left,
    Way,
    WayFigures,
    is_possible,
    left_in,
    minutes_of,
    split_by,
)
from nesting.judging.yields import Kept, Yield, yield_of
from nesting.rules import Rules

HANDLING_MINUTES = 6.0
"""To free, carry off, sweep and stack one piece (common practice, no source)."""

TOLD_APART = 0.12
"""Shares of fasteners that leave metal are not known so well that nearer ones differ."""

MOST_SETS = 256
"""Sets of things that a member's joints may leave in it; past that the worst ones go."""

LEAST_PIECES = 0.01
"""Expected from a whole member below this number, a piece is not counted on."""


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

    def first_off(self, joint: int, way: Way) -> frozenset[str]:
        """Return what must be off before a joint is parted so: all that rests on what it splits."""
        split = split_by(way, self.boat.joints[joint])
        return self.boat.resting_on[split] if split else frozenset()

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
        ways = {way: figures.slower(factor) for way, figures in self.ways.items()}
        other = replace(self, ways=ways)
        other.__dict__.update(
            {name: getattr(self, name) for name in ("sets", "yields", "gives", "gives_of")}
        )
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
        found = dict[tuple[str, int], Yield]()
        for name, sets in self.sets.items():
            joints, kept = self.boat.joints_of[name], Kept()
            for number, lefts in enumerate(sets):
                parted = dict(zip(joints, lefts, strict=True))
                found[name, number] = yield_of(self.boat, name, parted, self.rules, kept)
        return found

    @cached_property
    def gives(self) -> Mapping[tuple[str, int, int], float]:
        """How many of a part a member gives at the most, by set and number of the part."""
        found = {}
        takers = {
            member.name: [
                (part, wanted) for part, wanted in enumerate(self.wanted)
                if wanted.takes(member.species, member.name, member.thickness_mm)
            ]
            for member in self.boat.members
        }  # fmt: skip
        for (name, number), given in self.yields.items():
            for part, wanted in takers[name]:
                if (count := given.pieces(wanted)) >= LEAST_PIECES:
                    found[name, number, part] = count
        return found

    @cached_property
    def gives_of(self) -> Mapping[str, Mapping[int, Mapping[int, float]]]:
        """The same by member, then by set, then by part; sets that give nothing are left out."""
        found = dict[str, dict[int, dict[int, float]]]()
        for (name, number, part), count in self.gives.items():
            found.setdefault(name, {}).setdefault(number, {})[part] = count
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
