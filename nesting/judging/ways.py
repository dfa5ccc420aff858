"""Ways to part a joint: how long each takes, and what it leaves in either member.

Every figure stands in :data:`USUAL_WAYS` with its source, and a file may put its own in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from nesting.judging.old_boat import Fastener, Joint
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
class WayFigures:
    """What one way takes and gives.

    Attributes
    ----------
    minutes
        A fastener that comes as it should.
    stubborn_minutes
        One that breaks or spins, in place of those.
    success
        Share of stubborn ones that are got out all the same.
    fixed_hours
        To set up, whatever the number.
    source
        Where the figures are from.
    """

    minutes: float
    stubborn_minutes: float = 0.0
    success: float = 0.0
    fixed_hours: float = 0.0
    source: str = NO_SOURCE


USUAL_WAYS: Mapping[Way, WayFigures] = {
    Way.DRAW: WayFigures(
        1.5, 4.0, 0.5, source=f"a heated screw about 2 min (a yachtsman's tip page); {NO_SOURCE}"
    ),
    Way.CUT: WayFigures(0.4, 0.5, 0.9),
    Way.SPLIT_OUTER: WayFigures(0.7, 1.5, 0.85),
    Way.SPLIT_INNER: WayFigures(0.6, 1.0, 0.95),
    Way.FLAT: WayFigures(1.0, 2.5, 0.8, 8.0),
    Way.BREAK: WayFigures(0.15),
}
"""By way; for cutting, ``success`` is the share of rods that can be punched out of the outer
member, for splitting that of fasteners which then come out of the one that is kept."""


def minutes_of(way: Way, joint: Joint, count: int, figures: WayFigures) -> float:
    """Return how long a way takes with all fasteners of a joint."""
    stubborn = 1.0 - joint.state.draws
    if way in (Way.DRAW, Way.FLAT):
        each = (1 - stubborn) * figures.minutes + stubborn * figures.stubborn_minutes
    elif way is Way.BREAK:
        each = figures.minutes
    else:
        each = figures.minutes + figures.stubborn_minutes
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
    stuck = (1.0 - joint.state.draws) * (1.0 - figures.success)
    if way in (Way.DRAW, Way.FLAT):
        return Left(0.0 if is_outer else metal * stuck)
    if way is Way.CUT:
        return Left(metal * (1.0 - figures.success) if is_outer else metal)
    if way is Way.BREAK or is_outer == (way is Way.SPLIT_OUTER):
        return SPOILED
    return Left(metal * (1.0 - figures.success))
