"""What to order for parts that no salvaged board gives: as it is sold, piece by piece.

Every part gets the first of its accepted woods that is sold in the form it wants: sawn timber,
or a grown crook where its grain is grown. A part that none can be had for as a crook is glued up
if its bend allows. One whose first wood is sheet goods is cut out of sheets.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.affinity import rotate

from nesting.bend import Bend, bend_of
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import LONGEST_MM, WIDEST_MM, NewTimberRules
from nesting.outline import Outline
from nesting.rules import TOUCH_MM, Rules
from nesting.sheet_goods import is_sheet_goods
from nesting.units import board_feet
from parts.lamella import THINNEST_SAWN_MM, lamella_mm
from parts.wood.sold_as import Form, sold_as

TOO_WIDE = "wider than boards usually are: glue it up of two, or ask"
TOO_LONG = (
    "longer than boards usually are: ask, or scarf it, and order twelve times its thickness more "
    "for each scarf"
)
"""A glued scarf of 1 in 12 or flatter is the strongest (USDA Wood Handbook FPL-GTR-282, 2021,
p. 10-16)."""

TO_ORDER = "sawn to order: no yard has this thickness in stock"
AS_SHEETS = (
    "as thick as the part: nothing is planed off a sheet; sizes have the trim alone, to be laid "
    "out on whole sheets"
)
UNKNOWN = "how this wood is sold is not known here: ask"


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


@dataclass(frozen=True)
class ToBuy:
    """New timber of one wood, form and thickness as sold.

    Attributes
    ----------
    others
        Woods that would serve all these parts as well, best first.
    thickness_mm
        Rough, as sold.
    rules
        What is lost on new timber, and ordered on top of the rough sizes.
    remarks
        What a buyer should know: of the wood, of the thickness.
    """

    species: str
    others: tuple[str, ...]
    form: Form
    thickness_mm: float
    pieces: tuple[Piece, ...]
    rules: NewTimberRules
    remarks: tuple[str, ...] = ()

    @property
    def net_mm3(self) -> float:
        """The parts themselves."""
        return sum(piece.net_mm3 for piece in self.pieces)

    @property
    def order_mm3(self) -> float | None:
        """Volume to order; None for crooks, which are sold by the piece."""
        if self.form is Form.CROOK:
            return None
        more = 0.0 if self.form is Form.SHEET else self.rules.defects_percent
        return self.order_mm2 * self.thickness_mm * (1 + more / 100)

    @property
    def order_mm2(self) -> float:
        """Area of all rough pieces."""
        return sum(p.pieces * p.length_mm * p.width_mm for p in self.pieces)

    @property
    def order_board_feet(self) -> float | None:
        """Volume to order, in board feet."""
        return None if self.order_mm3 is None else board_feet(self.order_mm3, 1.0)

    @property
    def waste_percent(self) -> float | None:
        """How much of what is ordered is in no part."""
        return None if self.order_mm3 is None else 100 * (1 - self.net_mm3 / self.order_mm3)


@dataclass(frozen=True)
class _Wood:
    """Which wood is bought for a part, in which form."""

    species: str
    others: tuple[str, ...]
    form: Form
    remarks: tuple[str, ...]


def buy_list(unplaced: Sequence[Unplaced], rules: Rules) -> tuple[ToBuy, ...]:
    """Return what to order for parts left over, by wood, form and thickness."""
    groups: dict[tuple[str, Form, float], list[tuple[_Wood, Piece]]] = defaultdict(list)
    for left in unplaced:
        if left.reason is Misfit.LATER:  # Wood for it is in view.
            continue
        wood, piece = _chosen(left, rules)
        thickness = piece.finished_mm
        if wood.form is not Form.SHEET:
            thickness = rules.new_timber.rough_for(thickness)
        groups[wood.species, wood.form, thickness].append((wood, piece))
    order = list(Form)
    keys = sorted(groups, key=lambda key: (key[0], order.index(key[1]), key[2]))
    return tuple(_to_buy(key, groups[key], rules) for key in keys)


def is_for_planks(need: Need) -> bool:
    """Return whether a part is sawn out of a straight plank: its grain is not grown, no sheet."""
    return need.outline.grain.is_straight and not _is_sheet(need)


def _is_sheet(need: Need) -> bool:
    return is_sheet_goods(need.species[0])


def wood_for(need: Need) -> str:
    """Return the first of a straight part's accepted woods that is sold as sawn timber."""
    return _wood(need, None).species


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


def _to_buy(
    key: tuple[str, Form, float], rows: Sequence[tuple[_Wood, Piece]], rules: Rules
) -> ToBuy:
    species, form, thickness = key
    first = rows[0][0]
    others = (o for o in first.others if all(o in wood.others for wood, _ in rows))
    remarks = [remark for wood, _ in rows for remark in wood.remarks]
    if form is not Form.SHEET and not rules.new_timber.is_stocked(thickness):
        remarks.append(TO_ORDER)
    pieces = tuple(piece for _, piece in rows)
    return ToBuy(
        species, tuple(others), form, thickness, pieces, rules.new_timber,
        tuple(dict.fromkeys(remarks)),
    )  # fmt: skip


def _chosen(left: Unplaced, rules: Rules) -> tuple[_Wood, Piece]:
    need = left.need
    if _is_sheet(need):
        first, *others = (name for name in need.species if is_sheet_goods(name))
        return _Wood(first, tuple(others), Form.SHEET, (AS_SHEETS,)), _flat(left, rules)
    if is_for_planks(need):
        return _wood(need, None), _straight(left, rules)
    bend = bend_of(need.outline)
    lamellae = _lamellae(bend)
    wood = _wood(need, lamellae)
    return wood, _bent(left, rules, bend, lamellae, is_glued=wood.form is Form.LAMINATION)


def _wood(need: Need, lamellae: Lamellae | None) -> _Wood:
    """Return the first accepted wood that is sold as the part wants it, or what comes nearest."""
    wanted = Form.SAWN if is_for_planks(need) else Form.CROOK
    if found := _sold(need, wanted):
        return found
    if lamellae and (found := _sold(need, Form.SAWN, Form.LAMINATION)):
        return found
    unknown = tuple(name for name in need.species if sold_as(name) is None)
    if unknown:
        return _Wood(unknown[0], unknown[1:], wanted, (UNKNOWN,))
    first = need.species[0]
    known = sold_as(first)
    note = known.notes[wanted] if known else ""
    hint = f" ({note})" if note else ""
    remark = f"not sold as {wanted}{hint}: look for a tree, or accept another wood"
    return _Wood(first, (), wanted, (remark,))


def _sold(need: Need, wanted: Form, form: Form | None = None) -> _Wood | None:
    """Return the first accepted wood sold in a form, or None; woods passed over are remarked."""
    sold = [name for name in need.species if (known := sold_as(name)) and wanted in known.forms]
    if not sold:
        return None
    known = sold_as(sold[0])
    passed = need.species[: need.species.index(sold[0])]
    remarks = [known.notes[wanted]] if known and known.notes[wanted] else []
    remarks += [f"{name} is not known to be sold as {wanted}" for name in passed]
    return _Wood(sold[0], tuple(sold[1:]), form or wanted, tuple(remarks))


def _straight(left: Unplaced, rules: Rules) -> Piece:
    outline, new = left.need.outline, rules.new_timber
    net_length, net_width = straight_size(outline)
    length = new.asked_length(net_length + 2 * (rules.trim_mm + new.end_mm))
    width = new.asked_width(net_width + 2 * (rules.trim_mm + new.edge_mm))
    return Piece(
        part=left.need.part,
        count=left.count,
        finished_mm=outline.siding_mm,
        length_mm=length,
        width_mm=width,
        net_mm3=left.count * outline.area_mm2 * outline.siding_mm,
        leaves=leaves_of(left.need, rules),
        remarks=(
            *_size_remarks(length, width),
            *_grain_remarks(outline),
            *wood_remarks(left.need),
        ),
    )


def _flat(left: Unplaced, rules: Rules) -> Piece:
    """Return a piece out of a sheet: its own size and the trim, as thick as the sheet."""
    outline, new = left.need.outline, rules.new_timber
    length, width = (size + 2 * rules.trim_mm for size in straight_size(outline))
    return Piece(
        part=left.need.part,
        count=left.count,
        finished_mm=outline.siding_mm,
        length_mm=new.asked_length(length),
        width_mm=new.asked_width(width),
        net_mm3=left.count * outline.area_mm2 * outline.siding_mm,
    )


def _size_remarks(length_mm: float, width_mm: float) -> tuple[str, ...]:
    """Return what a straight piece's size means to a buyer."""
    told = {TOO_WIDE: width_mm > WIDEST_MM, TOO_LONG: length_mm > LONGEST_MM}
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


def _bent(
    left: Unplaced, rules: Rules, bend: Bend, lamellae: Lamellae | None, *, is_glued: bool
) -> Piece:
    """Return a crook, or the plank out of which lamellae are ripped, on edge."""
    outline, new = left.need.outline, rules.new_timber
    end = rules.trim_mm + new.end_mm
    length, width = bend.length_mm + 2 * end, bend.depth_mm + 2 * (rules.trim_mm + new.edge_mm)
    if is_glued and lamellae:
        length = bend.outer_length_mm + 2 * end
        each = lamellae.thickness_mm + rules.kerf_mm + 2 * rules.trim_mm
        width = lamellae.count * each + 2 * new.edge_mm
    length, width = new.asked_length(length), new.asked_width(width)
    return Piece(
        part=left.need.part,
        count=left.count,
        finished_mm=outline.siding_mm,
        length_mm=length,
        width_mm=width,
        net_mm3=left.count * outline.area_mm2 * outline.siding_mm,
        bend=bend,
        arms_mm=tuple(new.asked_length(a + end) for a in bend.arms_mm) if bend.has_arms else (),
        lamellae=lamellae,
        remarks=(*(_size_remarks(length, width) if is_glued else ()), *wood_remarks(left.need)),
    )


def _lamellae(bend: Bend) -> Lamellae | None:
    """Return what a bend can be glued up of, cold; None where it is too sharp for sawn wood."""
    thickest = lamella_mm(max(0.0, bend.inner_radius_mm))
    if thickest < THINNEST_SAWN_MM:
        return None
    count = max(2, math.ceil(bend.depth_mm / thickest))
    return Lamellae(count, bend.depth_mm / count)
