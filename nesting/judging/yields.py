"""What a member gives, by what the ways of parting its joints leave in it.

Fasteners stand at regular places along a piece, or at its ends alone, in rows across it. Where one
is in the way a piece of the new boat ends; where the wood between two rows, or beside one, is wide
enough, a narrow piece runs past them all. Rot takes half a metre at a time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

from nesting.judging.bung_room import HoleRow, abreast
from nesting.judging.clear_runs import Places
from nesting.judging.fastener_lines import Line, lines_of
from nesting.judging.old_boat import Member, OldBoat
from nesting.judging.wanted import Wanted
from nesting.judging.ways import Left
from nesting.rules import Rules
from nesting.stock.keep_out import KeepOutKind
from nesting.units import board_feet

ROT_MM = 500.0
"""Length that is lost at a time where wood is not sound (common practice, no source)."""

MOST_PLACES = 500
"""Along a piece that are told apart: more only hold up the reckoning, no run fits between them."""

Parted = Mapping[int, Left]
"""What is left in a member at each of its joints, by the joint's number."""


Rows = tuple[tuple[tuple[float, ...], float, float], ...]
"""Of each row of fasteners where they are, how far each reaches, how likely it is there."""


@dataclass(frozen=True)
class Kept:
    """What was reckoned once and holds for other sets of ways too: a member's yields share it.

    Attributes
    ----------
    places
        Along a piece, by the rows of fasteners in it.
    abreast
        By the width of a part, how many lie side by side across the rows.
    """

    places: dict[Rows, Places] = field(default_factory=dict)
    abreast: dict[float, int] = field(default_factory=dict)


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
        most = [
            (self._across(member.width_mm, wanted, length), self.clear),
            (self._past_all(wanted), self._placed(())),
        ]
        if wanted.takes_holes and self._is_few_bungs:
            most += [
                (self._abreast(wanted), self.plugged), (self._past_metal(wanted), self._placed(())),
            ]  # fmt: skip
        found = max(n * places.expected_pieces(length, kerf) if n else 0.0 for n, places in most)
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
        room = width_mm - self._bow_mm(length_mm) + self.rules.kerf_mm
        return max(0, math.floor(room / (wanted.width_mm + self.rules.kerf_mm) + 1e-9))

    def _bow_mm(self, length_mm: float) -> float:
        return self.member.sweep_mm * (length_mm / self.member.length_mm) ** 2

    def may_plug(self, wanted: Wanted) -> bool:
        """Return whether a part can lie across the rows, whatever is left in them."""
        return self._is_few_bungs and self._abreast(wanted) > 0

    @cached_property
    def _is_few_bungs(self) -> bool:
        """Whether bungs close all holes, and no more in a metre than the rules allow."""
        in_a_metre = sum(line.in_a_metre(self.member.length_mm) for line in self.lines)
        is_closed = all(self._bung_mm(line) is not None for line in self.lines)
        return in_a_metre <= self.rules.plugs_per_metre and is_closed

    def _abreast(self, wanted: Wanted) -> int:
        """Return how many of a part lie side by side across the rows, every bung in them sound."""
        width, kept = wanted.width_mm, self.kept.abreast
        if width not in kept:
            kept[width] = self._sound_in((0.0, self.member.width_mm), wanted, self.lines)
        return min(kept[width], self._across(self.member.width_mm, wanted, wanted.length_mm))

    def _sound_in(
        self, between_mm: tuple[float, float], wanted: Wanted, lines: Sequence[Line]
    ) -> int:
        """Return how many of a part lie side by side in a strip, bungs of some rows sound in them.

        The width wanted is that of the wood sawn for a part: its edges lie by the trim within it.
        """
        rules, (low, high) = self.rules, between_mm
        rows = [
            HoleRow.of(at, bung, rules.plug_edge_mm)
            for line in lines
            if (bung := self._bung_mm(line)) is not None
            for at in line.across_mm(self.member.width_mm)
        ]
        trim = rules.trim_mm
        width, apart = wanted.width_mm - 2 * trim, rules.kerf_mm + 2 * trim
        return abreast(rows, (low + trim, high - trim), width, apart)

    def _bung_mm(self, line: Line) -> float | None:
        """Return the diameter of the bung that closes what a fastener left; None if none does."""
        is_outer = line.joint.of == self.member.name
        return self.rules.plug_over(
            max(line.joint.diameter_mm, line.joint.bung_mm if is_outer else 0.0)
        )

    def _past_all(self, wanted: Wanted) -> int:
        """Return how many of a part lie side by side between all rows."""
        strips = self._strips_past_all
        return sum(self._across(high - low, wanted, wanted.length_mm) for low, high in strips)

    def _past_metal(self, wanted: Wanted) -> int:
        """Return how many of a part lie side by side between rows of metal, across other rows."""
        holes = [line for line in self.lines if not self._is_in_the_way(line, takes_holes=True)]
        return sum(
            min(
                self._across(high - low, wanted, wanted.length_mm),
                self._sound_in((low, high), wanted, holes),
            )
            for low, high in self._strips_past_metal
        )

    @cached_property
    def _strips_past_metal(self) -> list[tuple[float, float]]:
        """Strips between rows that have metal in them."""
        return self._strips(takes_holes=True)

    @cached_property
    def _strips_past_all(self) -> list[tuple[float, float]]:
        """Strips between all rows."""
        return self._strips(takes_holes=False)

    def _strips(self, *, takes_holes: bool) -> list[tuple[float, float]]:
        """Return from where to where across a piece the wood between rows is."""
        kept = [line for line in self.lines if self._is_in_the_way(line, takes_holes)]
        edges = sorted({at for line in kept for at in line.across_mm(self.member.width_mm)})
        reach = max((self._reach(line, takes_holes) for line in kept), default=0.0)
        walls = [-reach, *edges, self.member.width_mm + reach]
        return [(low + reach, high - reach) for low, high in pairwise(walls)]

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
        rows = list[tuple[tuple[float, ...], float, float]]()
        for line in self.lines:
            stuck = 1.0 - (1.0 - line.left.metal) ** line.rows if takes_holes else 1.0
            if stuck <= 0.0:
                continue
            at = line.along_mm(self.member.length_mm)
            if len(at) > MOST_PLACES:  # So many lie at each.
                stuck = 1.0 - (1.0 - stuck) ** (len(at) / MOST_PLACES)
                step = self.member.length_mm / MOST_PLACES
                at = [(k + 0.5) * step for k in range(MOST_PLACES)]
            rows.append((tuple(at), self._reach(line, takes_holes), stuck))
        return self._placed(tuple(rows))

    def _placed(self, rows: Rows) -> Places:
        """Return places of rot and of rows: of none, those of rot alone."""
        if rows not in self.kept.places:
            self.kept.places[rows] = self._made(rows)
        return self.kept.places[rows]

    def _made(self, rows: Rows) -> Places:
        at, half, chance = self._rotten()
        for places, reach, stuck in rows:
            at += places
            half += [reach] * len(places)
            chance += [stuck] * len(places)
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
        lines += lines_of(boat, joint, left, name)
    return Yield(boat.by_name[name], tuple(lines), rules, kept or Kept())
