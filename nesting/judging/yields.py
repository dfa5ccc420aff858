"""What a member gives, by what the ways of parting its joints leave in it.

Fasteners stand at regular places along a piece, in rows across it. Where one is in the way a piece
of the new boat ends; where the wood between two rows, or beside one, is wide enough, a narrow piece
runs past them all. Rot takes half a metre at a time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from nesting.judging.clear_runs import Places
from nesting.judging.old_boat import Joint, Member, OldBoat
from nesting.judging.wanted import Wanted
from nesting.judging.ways import Left
from nesting.rules import Rules
from nesting.stock.keep_out import KeepOutKind
from nesting.units import board_feet

ROT_MM = 500.0
"""Length that is lost at a time where wood is not sound (common practice, no source)."""

ACROSS_MM = 4.0
"""Standard deviation of a fastener's place across a piece (common practice, no source)."""

LAP_EDGE_MM = 10.0
"""From the edge of a plank to the middle of its lap on the next one, if nothing else is said: laps
of 3/4 to 1 in (common practice, no source)."""

MOST_PLACES = 500
"""Along a piece that are told apart: more only hold up the reckoning, no run fits between them."""

Parted = Mapping[int, Left]
"""What is left in a member at each of its joints, by the joint's number."""


@dataclass(frozen=True)
class Line:
    """Fasteners of one joint as they stand in a member."""

    joint: Joint
    left: Left
    spacing_mm: float
    rows: int
    from_edge_mm: float

    def across_mm(self, width_mm: float) -> list[float]:
        """Return how far from the lower edge of a piece the rows stand."""
        if self.rows == 1:
            return [self.from_edge_mm or width_mm / 2]
        edge = self.from_edge_mm or width_mm / (self.rows + 1)
        return [float(at) for at in np.linspace(edge, width_mm - edge, self.rows)]


Rows = tuple[tuple[int, float, float], ...]
"""Of each row of fasteners how many there are, how far each reaches, how likely it is there."""


@dataclass(frozen=True)
class Kept:
    """What was reckoned once and holds for other sets of ways too: a member's yields share it.

    Attributes
    ----------
    places
        Along a piece, by the rows of fasteners in it.
    may_plug
        By the width of a part, whether it can lie across the rows.
    """

    places: dict[Rows, Places] = field(default_factory=dict)
    may_plug: dict[float, bool] = field(default_factory=dict)


@dataclass(frozen=True)
class Yield:
    """What one member gives when its joints are parted in certain ways."""

    member: Member
    lines: tuple[Line, ...]
    rules: Rules
    kept: Kept = field(default_factory=Kept, compare=False, repr=False)

    @cached_property
    def plugged(self) -> Places:
        """Along a piece of which old holes may be plugged: metal and rot are in the way."""
        return self._places(takes_holes=True)

    @cached_property
    def clear(self) -> Places:
        """Along a piece in which no hole may be."""
        return self._places(takes_holes=False)

    def pieces(self, wanted: Wanted) -> float:
        """Return how many of a part all of the member is expected to give, if it gives no other."""
        member = self.member
        if not wanted.takes(member.species, member.name, member.thickness_mm):
            return 0.0
        length, kerf = wanted.length_mm, self.rules.kerf_mm
        may_plug = wanted.takes_holes and self.may_plug(wanted)
        past = self._beside(wanted, takes_holes=may_plug)
        through = self._across(member.width_mm, wanted, length)
        places = self.plugged if may_plug else self.clear
        found = max(
            through * places.expected_pieces(length, kerf) if through else 0.0,
            past * self._placed(()).expected_pieces(length, kerf) if past else 0.0,
        )
        return member.count * found

    def clear_feet(self, least_mm: float = 0.0) -> float:
        """Return the board feet of clear runs of at least a length that are to be expected."""
        return self._feet(self.clear, least_mm)

    def pluggable_feet(self, least_mm: float = 0.0) -> float:
        """Return the board feet of runs with no metal, holes counted as wood."""
        return self._feet(self.plugged, least_mm)

    def _feet(self, places: Places, least_mm: float) -> float:
        member = self.member
        area = member.count * member.width_mm * places.expected_length(least_mm)
        return board_feet(area, member.thickness_mm)

    def _across(self, width_mm: float, wanted: Wanted, length_mm: float) -> int:
        """Return how many of a part lie side by side in a width, the sweep of the piece off it."""
        member = self.member
        bow = member.sweep_mm * (length_mm / member.length_mm) ** 2
        room = width_mm - bow + self.rules.kerf_mm
        return max(0, math.floor(room / (wanted.width_mm + self.rules.kerf_mm) + 1e-9))

    def may_plug(self, wanted: Wanted) -> bool:
        """Return whether a part can lie across the rows, whatever is left in them."""
        width, kept = wanted.width_mm, self.kept.may_plug
        if width not in kept:
            kept[width] = self._has_room_for_bungs(width)
        return kept[width]

    def _has_room_for_bungs(self, width_mm: float) -> bool:
        """Return whether a part can lie across the rows so that every bung is wholly in it or out.

        However far a row lies off within a deviation, since rows are never quite straight; and not
        more bungs in a metre than the rules allow. The width is that of the wood sawn for the part:
        its own edges lie by the trim within it.
        """
        rules, wide = self.rules, self.member.width_mm
        in_a_metre = sum(1000.0 * line.rows / line.spacing_mm for line in self.lines)
        if not self.lines or in_a_metre > rules.plugs_per_metre:
            return not self.lines
        low = np.arange(rules.trim_mm, wide - width_mm + rules.trim_mm + 1e-6, 1.0)
        high, is_sound = low + width_mm - 2 * rules.trim_mm, np.ones(len(low), np.bool_)
        for line in self.lines:
            bung = self._bung_mm(line)
            if bung is None:
                return False
            out = bung / 2 + ACROSS_MM
            kept = out + rules.plug_edge_mm
            for at in line.across_mm(wide):
                inside = (at - kept >= low) & (at + kept <= high)
                is_sound &= inside | (at + out <= low) | (at - out >= high)
        return bool(is_sound.any())

    def _bung_mm(self, line: Line) -> float | None:
        """Return the diameter of the bung that closes what a fastener left; None if none does."""
        is_outer = line.joint.of == self.member.name
        return self.rules.plug_over(
            max(line.joint.diameter_mm, line.joint.bung_mm if is_outer else 0.0)
        )

    def _beside(self, wanted: Wanted, *, takes_holes: bool) -> int:
        """Return how many of a part lie side by side past all fasteners, between their rows."""
        widths = self._past_holes if takes_holes else self._past_all
        return sum(self._across(width, wanted, wanted.length_mm) for width in widths)

    @cached_property
    def _past_holes(self) -> list[float]:
        """How wide the wood between rows is that have metal in them."""
        return self._widths(takes_holes=True)

    @cached_property
    def _past_all(self) -> list[float]:
        """How wide the wood between all rows is."""
        return self._widths(takes_holes=False)

    def _widths(self, *, takes_holes: bool) -> list[float]:
        kept = [line for line in self.lines if self._is_in_the_way(line, takes_holes)]
        edges = sorted({at for line in kept for at in line.across_mm(self.member.width_mm)})
        reach = max((self._reach(line, takes_holes) for line in kept), default=0.0)
        walls = [-reach, *edges, self.member.width_mm + reach]
        return [high - low - 2 * reach for low, high in pairwise(walls)]

    def _is_in_the_way(self, line: Line, takes_holes: bool) -> bool:
        return line.left.metal > 0.0 or not takes_holes

    def _reach(self, line: Line, takes_holes: bool) -> float:
        """Return how far from its middle a fastener keeps a part: its own half and clearance."""
        half = line.joint.diameter_mm / 2
        if takes_holes:
            return half + self.rules.blade_clearance_mm
        hole = max(half, line.joint.bung_mm / 2 if line.joint.of == self.member.name else 0.0)
        kept = self.rules.clearance_mm(KeepOutKind.HOLE)
        metal = half + self.rules.blade_clearance_mm if line.left.metal > 0.0 else 0.0
        return max(hole + kept, metal)

    def _places(self, *, takes_holes: bool) -> Places:
        """Return the places along a piece."""
        rows = list[tuple[int, float, float]]()
        for line in self.lines:
            stuck = 1.0 - (1.0 - line.left.metal) ** line.rows if takes_holes else 1.0
            if stuck <= 0.0:
                continue
            count = max(1, round(self.member.length_mm / line.spacing_mm))
            if count > MOST_PLACES:  # So many lie at each.
                stuck = 1.0 - (1.0 - stuck) ** (count / MOST_PLACES)
                count = MOST_PLACES
            rows.append((count, self._reach(line, takes_holes), stuck))
        return self._placed(tuple(rows))

    def _placed(self, rows: Rows) -> Places:
        """Return places of rot and of rows: of none, those of rot alone."""
        if rows not in self.kept.places:
            self.kept.places[rows] = self._made(rows)
        return self.kept.places[rows]

    def _made(self, rows: Rows) -> Places:
        at, half, chance = self._rotten()
        for count, reach, stuck in rows:
            step = self.member.length_mm / count
            at += [(k + 0.5) * step for k in range(count)]
            half += [reach] * count
            chance += [stuck] * count
        return Places(self.member.length_mm, at, half, chance)

    def _rotten(self) -> tuple[list[float], list[float], list[float]]:
        """Return places of rot: a piece is so many stretches, each sound or not."""
        member = self.member
        if member.sound >= 1.0:
            return [], [], []
        count = max(1, round(member.length_mm / ROT_MM))
        step = member.length_mm / count
        at = [(k + 0.5) * step for k in range(count)]
        return at, [step / 2] * count, [1.0 - member.sound] * count


def yield_of(
    boat: OldBoat,
    name: str,
    parted: Parted,
    rules: Rules,
    kept: Kept | None = None,
) -> Yield:
    """Return what a member gives; joints that stay together are not its own to judge.

    Parameters
    ----------
    kept
        Shared by all yields of one member at the same joints: what was reckoned once.

    Raises
    ------
    ValueError
        If a way spoils the member.
    """
    lines = []
    for number, left in parted.items():
        joint = boat.joints[number]
        if left.is_spoiled:
            raise ValueError(f"{name} is spoiled where it joins {joint.other(name)}")
        lines += _lines_of(boat, joint, left, name)
    return Yield(boat.by_name[name], tuple(lines), rules, kept or Kept())


def _lines_of(boat: OldBoat, joint: Joint, left: Left, name: str) -> list[Line]:
    """Return the fasteners of a joint as they stand in a member.

    Planks that lap each other are fastened along both edges: to the one below and the one above.
    """
    spacing = boat.spacing_on(joint, name)
    if joint.of == joint.to:
        edge = joint.from_edge_mm or LAP_EDGE_MM
        rows = [edge, boat.by_name[name].width_mm - edge] * joint.rows
        return [Line(joint, left, spacing, 1, at) for at in rows]
    if joint.of == name:
        return [Line(joint, left, spacing, joint.rows, joint.from_edge_mm)]
    return [Line(joint, left, spacing, 1, 0.0)]
