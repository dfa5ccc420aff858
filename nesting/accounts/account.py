"""What became of the opened wood, what is to be plugged, and what must still be bought.

The shares of an opened board add up to its area exactly: each is measured on what the ones
before it left over, in this order: parts, offcuts kept, defects, kerf and trim, oddments. In
volume one more share is told apart: wood planed off the parts' faces.

Scrap is all that is neither part nor offcut; oddments are the share of it that is sound wood
too small or too ragged to keep.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import partial

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.accounts.buying import ToBuy, buy_list
from nesting.accounts.strength import PieceStrength, piece_strength
from nesting.break_down.cuts import BreakDown, BreakDownCut
from nesting.break_down.cutting_order import as_cut, broken_down
from nesting.flat_geometry.linked import groups
from nesting.flat_geometry.overlay import shared, united, without
from nesting.flat_geometry.thinned import MANY_CORNERS, thinned_inward, thinned_outward
from nesting.nest import Bung, CuttingPlan, Nest, Placement
from nesting.offcuts import Offcut, offcuts_beside, sawn_about
from nesting.processes.all_cores import MANY_NESTS, on_all_cores
from nesting.rules import Rules
from nesting.words import counted
from parts.wood.timber import density_kg_m3

ROUNDING = 1e-9
"""A share smaller than this part of all that was opened comes from rounding."""


@dataclass(frozen=True)
class Shares:
    """How an area (mm2) or a volume (mm3) of opened wood was used."""

    parts: float = 0.0
    offcuts: float = 0.0
    defects: float = 0.0
    kerf_and_trim: float = 0.0
    planed: float = 0.0
    oddments: float = 0.0

    @property
    def opened(self) -> float:
        """All of it."""
        return float(sum(getattr(self, field.name) for field in fields(self)))

    @property
    def scrap_percent(self) -> float:
        """100 x (opened - parts - offcuts kept) / opened; 0 if nothing was opened."""
        return self._percent(self.opened - self.parts - self.offcuts)

    @property
    def uncredited_scrap_percent(self) -> float:
        """100 x (opened - parts) / opened: scrap as it is published, with no offcut kept."""
        return self._percent(self.opened - self.parts)

    def percent(self, share: str) -> float:
        """Return one share in per cent of all opened."""
        return self._percent(float(getattr(self, share)))

    def _percent(self, share: float) -> float:
        """Return a share in per cent; what is only rounding is nothing."""
        is_something = abs(share) > ROUNDING * self.opened
        return 100.0 * share / self.opened if is_something else 0.0

    def __add__(self, other: Shares) -> Shares:
        return Shares(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True, repr=False)
class BoardAccount:
    """The split of one opened board, its offcuts and bungs, and what is left of each piece.

    ``pieces`` stand in the order of the placements; ``break_down`` is how straight cuts free them.
    """

    board_name: str
    area: Shares
    volume: Shares
    offcuts: tuple[Offcut, ...]
    bungs: tuple[Bung, ...]
    pieces: tuple[PieceStrength, ...]
    break_down: BreakDown

    def __repr__(self) -> str:
        return f"BoardAccount({self.board_name!r}: {_told(self.area)})"

    @property
    def scrap_percent(self) -> float:
        """Of the board's area."""
        return self.area.scrap_percent


@dataclass(frozen=True, repr=False)
class Account:
    """The account of a whole cutting plan."""

    boards: tuple[BoardAccount, ...]
    to_buy: tuple[ToBuy, ...]

    def __repr__(self) -> str:
        bought = f"; {counted(len(self.to_buy), 'line')} to buy" if self.to_buy else ""
        return f"Account({counted(len(self.boards), 'board')}: {_told(self.area)}{bought})"

    @property
    def area(self) -> Shares:
        """All opened boards together."""
        return sum((board.area for board in self.boards), Shares())

    @property
    def volume(self) -> Shares:
        """All opened boards together."""
        return sum((board.volume for board in self.boards), Shares())

    @property
    def pieces(self) -> tuple[PieceStrength, ...]:
        """What is left of every placed piece."""
        return tuple(piece for board in self.boards for piece in board.pieces)

    @property
    def parts_freed(self) -> int:
        """How many parts straight cuts free."""
        return sum(board.break_down.parts_freed for board in self.boards)

    @property
    def bung_counts(self) -> dict[float, int]:
        """How many bungs of each diameter, mm, smallest first."""
        counts = Counter(bung.diameter_mm for board in self.boards for bung in board.bungs)
        return dict(sorted(counts.items()))


def _told(area: Shares) -> str:
    return f"{area.percent('parts'):.1f} % parts, {area.scrap_percent:.1f} % scrap"


def account_for(plan: CuttingPlan, rules: Rules, *, workers: int | None = None) -> Account:
    """Return the account of a plan; ``workers`` processes reckon, or one on each core."""
    if len(plan.nests) < MANY_NESTS or workers == 1:
        boards = tuple(account_board(nest, rules) for nest in plan.nests)
    else:
        boards = tuple(on_all_cores(partial(account_board, rules=rules), plan.nests, workers))
    return Account(boards, buy_list(plan.unplaced, rules))


def account_board(
    nest: Nest,
    rules: Rules,
    kept: tuple[Offcut, ...] | None = None,
    cuts: Sequence[BreakDownCut] | None = None,
) -> BoardAccount:
    """Return the account of one opened board.

    ``kept`` are its offcuts and ``cuts`` its break-down cuts, if they are known.
    """
    board = nest.board
    # What lies where is told from parts of few corners, how much they cover from the true ones.
    even, outward = (_thin(nest.placements, way) for way in (thinned_inward, thinned_outward))
    thinned_off = sum(
        p.polygon.area - thin.area for p, thin in zip(nest.placements, even, strict=True)
    )
    parts = _parts_of(even, rules)
    offcuts = offcuts_beside(outward, board, rules) if kept is None else kept
    rest = without(without(board.shape, parts), united([offcut.shape for offcut in offcuts]))
    sawn = shared(rest, sawn_about(even, offcuts, rules))
    clusters = _apart([keep_out.polygon for keep_out in board.keep_outs])
    defects, sawn_defects = _shared_area(clusters, rest), _shared_area(clusters, sawn)
    sided = sum(p.polygon.area * p.need.outline.siding_mm for p in nest.placements)
    area = _unrounded(
        parts=parts.area + thinned_off,
        offcuts=board.area_mm2 - parts.area - rest.area,
        defects=defects,
        kerf_and_trim=sawn.area - sawn_defects,
        oddments=rest.area - thinned_off - defects - (sawn.area - sawn_defects),
    )
    thickness = board.thickness_mm
    volume = _unrounded(
        parts=sided,
        offcuts=area.offcuts * thickness,
        defects=area.defects * thickness,
        kerf_and_trim=area.kerf_and_trim * thickness,
        planed=area.parts * thickness - sided,
        oddments=area.oddments * thickness,
    )
    pieces = tuple(piece_strength(placement, board, rules) for placement in nest.placements)
    density = density_kg_m3(board.species, board.moisture_percent)
    if cuts is None:
        break_down = broken_down(nest, offcuts, rules, density_kg_m3=density, may_stop=True)
    else:
        break_down = as_cut(nest, offcuts, rules, cuts, density_kg_m3=density)
    return BoardAccount(board.name, area, volume, offcuts, nest.bungs(rules), pieces, break_down)


def _unrounded(**shares: float) -> Shares:
    """Return shares, what is only rounding as nothing: no wood is there less than none."""
    least = ROUNDING * sum(shares.values())
    return Shares(**{name: 0.0 if abs(share) <= least else share for name, share in shares.items()})


def _parts_of(polygons: Sequence[Polygon], rules: Rules) -> BaseGeometry:
    """Return all parts together; the referee has seen that those with a gap are apart."""
    is_many = shapely.get_num_coordinates(polygons).sum() > MANY_CORNERS
    return MultiPolygon(polygons) if is_many and rules.part_gap_mm > 0 else united(polygons)


def _thin(placements: Sequence[Placement], way: Callable[[Polygon], Polygon]) -> list[Polygon]:
    """Return parts as they lie, thinned: each outline once, however many copies there are."""
    outlines = {id(p.need): p.need.outline.shape for p in placements}
    thin = {key: way(shape) for key, shape in outlines.items()}
    return [placement.placed(thin[id(placement.need)]) for placement in placements]


def _apart(shapes: Sequence[Polygon]) -> list[BaseGeometry]:
    """Return shapes with those that meet united: much faster than to unite thousands at once."""
    if not shapes:
        return []
    shapes = _uncovered(shapes)
    group = groups(shapely.STRtree(shapes).query(shapes, predicate="intersects"), len(shapes))
    members: list[list[Polygon]] = [[] for _ in range(group.max() + 1)]
    for shape, number in zip(shapes, group, strict=True):
        members[number].append(shape)
    return [united(some) if len(some) > 1 else some[0] for some in members]


def _uncovered(shapes: Sequence[Polygon]) -> list[Polygon]:
    """Return shapes without those that another one covers, as a stain its holes."""
    inner, outer = shapely.STRtree(shapes).query(shapes, predicate="covered_by")
    both = set(zip(inner.tolist(), outer.tolist(), strict=True))
    hidden = {i for i, j in both if i != j and ((j, i) not in both or j < i)}
    return [shape for number, shape in enumerate(shapes) if number not in hidden]


def _shared_area(shapes: Sequence[BaseGeometry], wood: BaseGeometry) -> float:
    """Return the area of wood that shapes apart from each other cover."""
    if not shapes:
        return 0.0
    shapely.prepare(wood)
    inside = shapely.contains_properly(wood, shapes)
    across = shapely.intersects(wood, shapes) & ~inside
    whole = sum(shape.area for shape, is_in in zip(shapes, inside, strict=True) if is_in)
    cut = (shared(shape, wood) for shape, is_cut in zip(shapes, across, strict=True) if is_cut)
    return float(whole + sum(shape.area for shape in cut))
