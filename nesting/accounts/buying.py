"""What to order for parts that no salvaged board gives: as it is sold, piece by piece.

Every part gets the first of its accepted woods that is sold in the form it wants: sawn timber,
or a grown crook where its grain is grown. A part that none can be had for as a crook is glued up
if its bend allows. One whose first wood is sheet goods is cut out of sheets.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.accounts.rough_pieces import (
    Lamellae,
    Piece,
    bent_piece,
    flat_piece,
    lamellae_of,
    straight_piece,
)
from nesting.bend import bend_of
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import NewTimberRules
from nesting.rules import Rules
from nesting.sheet_goods import is_sheet_goods
from nesting.units import board_feet
from parts.wood.sold_as import Form, sold_as

TO_ORDER = "sawn to order: no yard has this thickness in stock"
AS_SHEETS = (
    "as thick as the part: nothing is planed off a sheet; sizes have the trim alone, to be laid "
    "out on whole sheets"
)
UNKNOWN = "how this wood is sold is not known here: ask"


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
        return _Wood(first, tuple(others), Form.SHEET, (AS_SHEETS,)), flat_piece(left, rules)
    if is_for_planks(need):
        return _wood(need, None), straight_piece(left, rules)
    bend = bend_of(need.outline)
    lamellae = lamellae_of(bend)
    wood = _wood(need, lamellae)
    return wood, bent_piece(left, rules, bend, lamellae, is_glued=wood.form is Form.LAMINATION)


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
