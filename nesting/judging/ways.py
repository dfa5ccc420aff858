"""Ways to part a joint: how long each takes, and what it leaves in either member.

Every figure stands in :data:`USUAL_WAYS` with its source, by the kind of fastener where kinds
differ, and a file may put its own in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Self

from nesting.judging.old_boat import Fastener, Joint, State
from nesting.sources import NO_SOURCE


class Way(StrEnum):
    """How a joint is parted."""

    DRAW = "draw the fasteners"
    CUT = "cut between"
    SPLIT_OUTER = "split the outer one"
    SPLIT_INNER = "split the inner one"
    FLAT = "take the side off whole and part it flat"
    BREAK = "break out"


@dataclass(frozen=True)
class Left:
    """What a way leaves of a fastener in one member: shares of all, and whether wood is spoiled.

    What is no metal is a hole.
    """

    metal: float = 0.0
    is_spoiled: bool = False


SPOILED = Left(1.0, is_spoiled=True)


@dataclass(frozen=True)
class KindFigures:
    """What a way takes and gives with a kind of fastener.

    Attributes
    ----------
    minutes
        A fastener that comes as it should.
    stubborn_minutes
        One that breaks or spins, in place of those.
    success
        Share of stubborn ones that are got out all the same.
    source
        Where the figures are from.
    """

    minutes: float
    stubborn_minutes: float = 0.0
    success: float = 0.0
    source: str = NO_SOURCE

    def slower(self, factor: float) -> Self:
        """Return the same with other minutes."""
        return replace(
            self,
            minutes=self.minutes * factor,
            stubborn_minutes=self.stubborn_minutes * factor,
        )


@dataclass(frozen=True)
class WayFigures(KindFigures):
    """What one way takes and gives with most kinds of fasteners.

    Attributes
    ----------
    fixed_hours
        To set up, whatever the number.
    by_kind
        Figures for kinds of fasteners that are otherwise.
    """

    fixed_hours: float = 0.0
    by_kind: Mapping[Fastener, KindFigures] = field(default_factory=dict)

    def of(self, fastener: Fastener) -> KindFigures:
        """Return what it takes and gives with a kind of fastener."""
        return self.by_kind.get(fastener, self)

    def slower(self, factor: float) -> Self:
        """Return the same with other minutes."""
        kinds = {kind: figures.slower(factor) for kind, figures in self.by_kind.items()}
        return replace(super().slower(factor), by_kind=kinds)


_PULLED = "L. W. Wood, Forest Products Laboratory, Reuse of structural lumber, 1948"
_DRAWN: Mapping[Fastener, KindFigures] = {
    Fastener.WIRE_NAIL: KindFigures(
        0.4, 1.5, 0.7, f"nails can usually be pulled without serious harm ({_PULLED}); {NO_SOURCE}"
    ),
    Fastener.CUT_NAIL: KindFigures(0.7, 2.0, 0.6),
    Fastener.BOAT_NAIL: KindFigures(1.2, 3.0, 0.5),
    Fastener.NAIL: KindFigures(1.2, 3.0, 0.5),
    Fastener.CLENCHED_NAIL: KindFigures(1.0, 2.5, 0.7),
    Fastener.RIVET: KindFigures(0.8, 2.0, 0.8),
    Fastener.BOLT: KindFigures(4.0, 15.0, 0.6),
    Fastener.TREENAIL: KindFigures(2.0, 4.0, 0.9),
    Fastener.STAPLE: KindFigures(0.3, 1.0, 0.6),
}
"""Drawing what is no screw: a clenched point is straightened or nipped first, a rove ground or
split off and the nail driven back, a bolt's nut freed and the bolt driven out, a treenail driven or
bored out."""

_CUT: Mapping[Fastener, KindFigures] = {
    Fastener.WIRE_NAIL: KindFigures(0.25, 0.4, 0.9),
    Fastener.CUT_NAIL: KindFigures(0.35, 0.5, 0.85),
    Fastener.RIVET: KindFigures(0.25, 0.4, 0.9),
    Fastener.BOLT: KindFigures(1.2, 1.0, 0.9),
    Fastener.DRIFT: KindFigures(1.2, 2.0, 0.6),
    Fastener.TREENAIL: KindFigures(0.3, 2.0, 0.9),
    Fastener.STAPLE: KindFigures(0.2, 0.6, 0.7),
}
"""Cutting what is thinner or softer than a screw of 5 mm, or thicker."""


def _flat(drawn: Mapping[Fastener, KindFigures]) -> dict[Fastener, KindFigures]:
    """Return drawing on a bench: two thirds of the minutes, as with screws, and fewer left in."""
    return {
        kind: replace(figures.slower(2 / 3), success=max(figures.success, 0.8))
        for kind, figures in drawn.items()
    }


USUAL_WAYS: Mapping[Way, WayFigures] = {
    Way.DRAW: WayFigures(
        1.5, 4.0, 0.5,
        source=f"a heated screw about 2 min (a yachtsman's tip page); {NO_SOURCE}", by_kind=_DRAWN,
    ),
    Way.CUT: WayFigures(0.4, 0.5, 0.9, by_kind=_CUT),
    Way.SPLIT_OUTER: WayFigures(0.7, 1.5, 0.85),
    Way.SPLIT_INNER: WayFigures(0.6, 1.0, 0.95),
    Way.FLAT: WayFigures(1.0, 2.5, 0.8, fixed_hours=8.0, by_kind=_flat(_DRAWN)),
    Way.BREAK: WayFigures(0.15),
}  # fmt: skip
"""By way, for a screw and what is not told apart from one; for cutting, ``success`` is the share of
rods that can be punched out of the outer member, for splitting that of fasteners which then come
out of the one that is kept."""

_NAILED = State(0.6, 0.4, 0.0)
USUAL_STATES: Mapping[Fastener, State] = {
    Fastener.SCREW: State(),
    Fastener.WIRE_NAIL: State(0.85, 0.15, 0.0),
    Fastener.CUT_NAIL: State(0.75, 0.25, 0.0),
    Fastener.BOAT_NAIL: _NAILED,
    Fastener.NAIL: _NAILED,
    Fastener.CLENCHED_NAIL: State(0.7, 0.3, 0.0),
    Fastener.RIVET: State(0.85, 0.15, 0.0),
    Fastener.BOLT: State(0.7, 0.15, 0.15),
    Fastener.DRIFT: State(0.2, 0.8, 0.0),
    Fastener.TREENAIL: State(0.5, 0.5, 0.0),
    Fastener.STAPLE: State(0.8, 0.2, 0.0),
}
"""What becomes of fasteners that somebody tries to draw, where the file says nothing (common
practice, no source)."""


def minutes_of(way: Way, joint: Joint, count: int, figures: WayFigures) -> float:
    """Return how long a way takes with all fasteners of a joint."""
    kind, stubborn = figures.of(joint.fastener), 1.0 - joint.state.draws
    if way in (Way.DRAW, Way.FLAT):
        each = (1 - stubborn) * kind.minutes + stubborn * kind.stubborn_minutes
    elif way is Way.BREAK:
        each = kind.minutes
    else:
        each = kind.minutes + kind.stubborn_minutes
    return count * each + 60.0 * figures.fixed_hours


def is_possible(way: Way, joint: Joint) -> bool:
    """Return whether a joint can be parted so."""
    if way is Way.CUT:
        return not joint.is_glued
    if way is Way.FLAT:
        return joint.is_open_behind and not joint.is_glued
    if way is Way.DRAW:
        return not joint.is_glued and joint.fastener is not Fastener.DRIFT
    return True


def split_by(way: Way, joint: Joint) -> str | None:
    """Return the member that a way splits, so that nothing can rest on it; None for none."""
    return {Way.SPLIT_OUTER: joint.of, Way.SPLIT_INNER: joint.to}.get(way)


def left_in(way: Way, joint: Joint, member: str, figures: WayFigures) -> Left:
    """Return what a way leaves of the fasteners in a member.

    A fastener that breaks leaves its point in the inner member; one that spins keeps its head, and
    its shank stays there as well once the head is off. A cut leaves rods in the outer member,
    most of which can be punched out, and stubs in the inner one.
    """
    if joint.of == joint.to:  # A lap of planks: each is the outer one once, and the inner one.
        lefts = [_left(way, joint, figures, is_outer=is_outer) for is_outer in (True, False)]
        return max(lefts, key=lambda left: (left.is_spoiled, left.metal))
    return _left(way, joint, figures, is_outer=member == joint.of)


def _left(way: Way, joint: Joint, figures: WayFigures, *, is_outer: bool) -> Left:
    metal = 1.0 if joint.fastener.is_metal else 0.0
    success = figures.of(joint.fastener).success
    stuck = (1.0 - joint.state.draws) * (1.0 - success)
    if way in (Way.DRAW, Way.FLAT):
        return Left(0.0 if is_outer else metal * stuck)
    if way is Way.CUT:
        return Left(metal * (1.0 - success) if is_outer else metal)
    if way is Way.BREAK or is_outer == (way is Way.SPLIT_OUTER):
        return SPOILED
    return Left(metal * (1.0 - success))
