"""An old boat as members and joints: what she is made of, and what holds it together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from nesting.units import board_feet


class Fastener(StrEnum):
    """What holds a joint."""

    SCREW = "screw"
    NAIL = "nail"
    """Of a kind that nobody knows: reckoned as a boat nail."""
    WIRE_NAIL = "wire nail"
    CUT_NAIL = "cut nail"
    BOAT_NAIL = "boat nail"
    CLENCHED_NAIL = "clenched nail"
    RIVET = "rivet"
    BOLT = "bolt"
    DRIFT = "drift"
    TREENAIL = "treenail"
    STAPLE = "staple"

    @property
    def is_metal(self) -> bool:
        """Whether a saw must keep clear of what is left of it."""
        return self is not Fastener.TREENAIL

    @classmethod
    def _missing_(cls, value: object) -> Fastener | None:
        """Return the fastener of another name of the same thing.

        >>> Fastener("trunnel"), Fastener("rose nail")
        (<Fastener.TREENAIL: 'treenail'>, <Fastener.BOAT_NAIL: 'boat nail'>)
        """
        return OTHER_NAMES.get(value) if isinstance(value, str) else None


OTHER_NAMES: Mapping[str, Fastener] = {
    "trunnel": Fastener.TREENAIL,
    "trenail": Fastener.TREENAIL,
    "rose nail": Fastener.BOAT_NAIL,
    "clench nail": Fastener.CLENCHED_NAIL,
    "clenched": Fastener.CLENCHED_NAIL,
    "roved nail": Fastener.RIVET,
    "rove": Fastener.RIVET,
}
"""What else they are called."""


@dataclass(frozen=True)
class Member:
    """A group of pieces of the old boat, all much alike.

    Attributes
    ----------
    length_mm, width_mm, thickness_mm
        Usual size of a piece.
    sound
        Share of its length that is sound wood, 0 to 1.
    sweep_mm
        How far a piece bows edgewise over its length: 0 for a straight one.
    rests_on
        Members that carry it, and so come off after it.
    holds_her
        Whether it keeps her shape or holds her up: stands until last.
    hazards
        What is on or in it, in words: ``old paint``.
    """

    name: str
    species: str
    count: int
    length_mm: float
    width_mm: float
    thickness_mm: float
    sound: float = 1.0
    sweep_mm: float = 0.0
    rests_on: tuple[str, ...] = ()
    holds_her: bool = False
    hazards: tuple[str, ...] = ()

    @property
    def board_feet(self) -> float:
        """Volume of all its pieces as they are on the boat."""
        return self.count * board_feet(self.length_mm * self.width_mm, self.thickness_mm)


@dataclass(frozen=True)
class State:
    """What becomes of a fastener that somebody tries to draw; the shares make 1."""

    draws: float = 0.6
    breaks: float = 0.25
    spins: float = 0.15

    def drawing(self, more: float) -> State:
        """Return the same where another share draws; what does not breaks or spins as before.

        >>> State(0.6, 0.3, 0.1).drawing(0.2)
        State(draws=0.8, breaks=0.15, spins=0.05)
        """
        draws = min(1.0, max(0.0, self.draws + more))
        rest = self.breaks + self.spins
        share = (1.0 - draws) / rest if rest else 0.0
        breaks = self.breaks * share if rest else 1.0 - draws
        return State(draws, round(breaks, 12), round(self.spins * share, 12))


@dataclass(frozen=True)
class Joint:
    """Fasteners that go through one member into another.

    Attributes
    ----------
    of, to
        The member pierced first, and the one that holds.
    spacing_mm
        From one place of fasteners to the next along ``of``; on ``to`` it follows from numbers
        and lengths.
    rows
        Fasteners at each such place, side by side.
    from_edge_mm
        Of the outer rows from the edge of ``of``.
    bung_mm
        Diameter of the counterbore over the heads, 0 for none.
    is_glued
        No blade parts what is glued.
    is_open_behind
        Whether somebody can get at the points from inside.
    is_at_ends
        Whether they stand at the ends of a piece of ``of`` alone, half of them at each.
    """

    of: str
    to: str
    fastener: Fastener
    diameter_mm: float
    spacing_mm: float
    rows: int = 1
    from_edge_mm: float = 0.0
    bung_mm: float = 0.0
    state: State = field(default_factory=State)
    is_glued: bool = False
    is_open_behind: bool = False
    is_at_ends: bool = False

    @property
    def name(self) -> str:
        """What it is called in lists."""
        return f"{self.of} to {self.to}"

    def other(self, member: str) -> str:
        """Return the member at the other side."""
        return self.to if member == self.of else self.of


@dataclass(frozen=True)
class Rates:
    """What an hour's work and a board foot of new wood cost, in the builder's own money."""

    hour: float
    board_foot: float
    by_wood: Mapping[str, float] = field(default_factory=dict)
    currency: str = ""

    def of(self, species: str) -> float:
        """Return the price of a board foot of a wood."""
        return self.by_wood.get(species, self.board_foot)


@dataclass(frozen=True)
class OldBoat:
    """All of her that is judged; names of members are unique, joints are between them."""

    name: str
    members: tuple[Member, ...]
    joints: tuple[Joint, ...]
    rates: Rates

    @cached_property
    def by_name(self) -> Mapping[str, Member]:
        """Members by their names."""
        return {member.name: member for member in self.members}

    @cached_property
    def joints_of(self) -> Mapping[str, tuple[int, ...]]:
        """Numbers of the joints at each member."""
        return {
            name: tuple(k for k, joint in enumerate(self.joints) if name in (joint.of, joint.to))
            for name in self.by_name
        }

    @cached_property
    def resting_on(self) -> Mapping[str, frozenset[str]]:
        """Names of the members that rest on each: on it itself, not on what that carries."""
        return {
            name: frozenset(one.name for one in self.members if name in one.rests_on)
            for name in self.by_name
        }

    def above(self, names: Iterable[str]) -> set[str]:
        """Return all that rests on members, on what rests on that, and so on."""
        found, asked = set[str](), list(names)
        while asked:
            more = self.resting_on[asked.pop()] - found
            found |= more
            asked.extend(more)
        return found

    def fasteners_in(self, joint: Joint) -> int:
        """Return how many fasteners a joint has in all.

        >>> deck = Member("deck", "teak", 10, 3000.0, 60.0, 30.0)
        >>> beams = Member("beams", "oak", 8, 2000.0, 60.0, 90.0)
        >>> joint = Joint("deck", "beams", Fastener.SCREW, 5.0, 375.0)
        >>> OldBoat("x", (deck, beams), (joint,), Rates(1, 1)).fasteners_in(joint)
        80
        """
        member = self.by_name[joint.of]
        return member.count * joint.rows * max(1, round(member.length_mm / joint.spacing_mm))

    def spacing_on(self, joint: Joint, member: str) -> float:
        """Return from one place of fasteners to the next along a member, mm."""
        if member == joint.of:
            return joint.spacing_mm
        holder = self.by_name[joint.to]
        return holder.length_mm * holder.count / self.fasteners_in(joint)
