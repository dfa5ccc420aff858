"""Rough pieces to be bought for parts: what new timber loses, told by size and with remarks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from shapely.affinity import rotate

from nesting.bend import Bend
from nesting.need import Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import LONGEST_MM, WIDEST_MM
from nesting.outline import Outline
from nesting.rules import TOUCH_MM, Rules
from parts.lamella import THINNEST_SAWN_MM, lamella_mm

TOO_WIDE = "wider than boards usually are: glue it up of two, or ask"
TOO_LONG = (
    "longer than boards usually are: ask, or scarf it, and order twelve times its thickness more "
    "for each scarf"
)
"""A glued scarf of 1 in 12 or flatter is the strongest (USDA Wood Handbook FPL-GTR-282, 2021,
p. 10-16)."""


@dataclass(frozen=True)
class Lamellae:
    """What a bend can be glued up of: how many to one piece, and how thick each is, mm."""

    count: int
    thickness_mm: float


@dataclass(frozen=True)
class Piece:
    """The rough pieces for one part, all alike.

    Attributes
    ----------
    count
        How many of the part are wanted.
    length_mm, width_mm
        Rough size of each piece: a crook's along its bend, and its depth; of what lamellae are
        ripped out of, their length and all of them with what the saw takes.
    arms_mm
        Rough lengths of a bend's two arms, if it makes any.
    leaves
        How many of the part one piece is resawn into.
    net_mm3
        Volume of all of the part, finished.
    bend, lamellae
        Of a part of grown grain; lamellae only where its bend allows.
    remarks
        What a buyer should know of its size and grain.
    """

    part: str
    count: int
    finished_mm: float
    length_mm: float
    width_mm: float
    net_mm3: float
    leaves: int = 1
    bend: Bend | None = None
    arms_mm: tuple[float, ...] = ()
    lamellae: Lamellae | None = None
    remarks: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        """How many rough pieces to order."""
        return math.ceil(self.count / self.leaves)


def leaves_of(need: Need, rules: Rules) -> int:
    """Return how many of a part the least thickness that is sold for it is resawn into."""
    new, thick = rules.new_timber, need.outline.siding_mm
    between = rules.kerf_mm + 2 * rules.trim_mm
    free = new.rough_for(thick) - 2 * new.planing_mm + between
    return max(1, math.floor((free + TOUCH_MM) / (thick + between)))


def straight_size(outline: Outline) -> tuple[float, float]:
    """Return a straight-grained outline's extent along its grain and across it, mm."""
    left, low, right, high = rotate(outline.shape, -outline.grain.angles_deg[0]).bounds
    return right - left, high - low


def straight_piece(left: Unplaced, rules: Rules) -> Piece:
    """Return a piece of sawn timber, with what new timber loses, and its leaves."""
    outline, new = left.need.outline, rules.new_timber
    net_length, net_width = straight_size(outline)
    length = net_length + 2 * (rules.trim_mm + new.end_mm)
    width = net_width + 2 * (rules.trim_mm + new.edge_mm)
    rough = _rough(left, length, width, rules)
    remarks = *_size_remarks(rough), *_grain_remarks(outline), *wood_remarks(left.need)
    return replace(rough, leaves=leaves_of(left.need, rules), remarks=remarks)


def flat_piece(left: Unplaced, rules: Rules) -> Piece:
    """Return a piece out of a sheet: its own size and the trim, as thick as the sheet."""
    length, width = (size + 2 * rules.trim_mm for size in straight_size(left.need.outline))
    return _rough(left, length, width, rules)


def _rough(left: Unplaced, length_mm: float, width_mm: float, rules: Rules) -> Piece:
    """Return the plain piece of so large a rough size, as that is asked for."""
    outline, new = left.need.outline, rules.new_timber
    return Piece(
        part=left.need.part,
        count=left.count,
        finished_mm=outline.siding_mm,
        length_mm=new.asked_length(length_mm),
        width_mm=new.asked_width(width_mm),
        net_mm3=left.count * outline.area_mm2 * outline.siding_mm,
    )


def _size_remarks(rough: Piece) -> tuple[str, ...]:
    """Return what a straight piece's size means to a buyer."""
    told = {TOO_WIDE: rough.width_mm > WIDEST_MM, TOO_LONG: rough.length_mm > LONGEST_MM}
    return tuple(remark for remark, is_so in told.items() if is_so)


def _grain_remarks(outline: Outline) -> tuple[str, ...]:
    """Return what is lost by sawing a curve out of straight grain, while the choice is free."""
    if outline.run_out >= outline.slope_of_grain - 1e-9:
        return ()
    return (f"cross grain by its curve, 1 in {outline.run_out:.1f}: better grown or glued up",)


def wood_remarks(need: Need) -> tuple[str, ...]:
    """Return what a part asks of its wood that a buyer has to ask for too."""
    found = ["heartwood only"] if need.heartwood_only else []
    if need.moisture_percent is not None:
        low, high = need.moisture_percent
        found.append(f"at {low:g} to {high:g} % moisture")
    limit = need.outline.run_out_limit
    if limit is not None:
        found.append(f"grain that runs out of it no more than 1 in {limit:g}")
    return tuple(found)


def bent_piece(
    left: Unplaced, rules: Rules, bend: Bend, lamellae: Lamellae | None, *, is_glued: bool
) -> Piece:
    """Return a crook, or the plank out of which lamellae are ripped, on edge."""
    new = rules.new_timber
    end = rules.trim_mm + new.end_mm
    length, width = bend.length_mm + 2 * end, bend.depth_mm + 2 * (rules.trim_mm + new.edge_mm)
    if is_glued and lamellae:
        length = bend.outer_length_mm + 2 * end
        each = lamellae.thickness_mm + rules.kerf_mm + 2 * rules.trim_mm
        width = lamellae.count * each + 2 * new.edge_mm
    rough = _rough(left, length, width, rules)
    return replace(
        rough,
        bend=bend,
        arms_mm=tuple(new.asked_length(a + end) for a in bend.arms_mm) if bend.has_arms else (),
        lamellae=lamellae,
        remarks=(*(_size_remarks(rough) if is_glued else ()), *wood_remarks(left.need)),
    )


def lamellae_of(bend: Bend) -> Lamellae | None:
    """Return what a bend can be glued up of, cold; None where it is too sharp for sawn wood."""
    thickest = lamella_mm(max(0.0, bend.inner_radius_mm))
    if thickest < THINNEST_SAWN_MM:
        return None
    count = max(2, math.ceil(bend.depth_mm / thickest))
    return Lamellae(count, bend.depth_mm / count)
