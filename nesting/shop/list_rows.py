"""What a plan's lists hold: parts, boards, the order of cutting, bungs, old holes, offcuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import shapely

from nesting.accounts.account import BoardAccount
from nesting.marking.base_line import BaseLine
from nesting.nest import Nest
from nesting.outline import MarkKind
from nesting.rules import TOUCH_MM, Rules
from nesting.shop.folio import Folio
from nesting.shop.list_data import Column, Kind, ShopList, Value
from nesting.stock.keep_out import PLUGGABLE, KeepOut, KeepOutKind
from nesting.words import counted

Row = tuple[Value, ...]

LONG, WIDE = Column("long", Kind.LENGTH), Column("wide", Kind.LENGTH)
THICK = Column("thick", Kind.TAPED)
ALONG, ACROSS = Column("along", Kind.LENGTH), Column("across", Kind.LENGTH)
BOARD, WOOD, PART = (
    Column("board", wide_mm=34.0),
    Column("wood", wide_mm=36.0),
    Column("part", wide_mm=70.0),
)
NUMBER = Column("no.", Kind.COUNT)


def plan_lists(folio: Folio) -> Iterator[ShopList]:
    """Yield every list that a plan itself gives."""
    yield _parts(folio)
    yield _boards(folio)
    yield _order(folio)
    yield _bungs(folio)
    yield _bung_places(folio)
    yield _holes(folio)
    yield _offcuts(folio)
    yield _account(folio)


def pairs(folio: Folio) -> Iterator[tuple[Nest, BoardAccount]]:
    """Yield each opened board with its account."""
    yield from zip(folio.plan.nests, folio.account.boards, strict=True)


FROM = ", from the base line"
"""What places in a list are counted from; the board's own sheet says how the line is struck."""


def told_at(base: BaseLine, x_mm: float, y_mm: float) -> tuple[float, float]:
    """Return a place on a board along and across from its base line."""
    ((along, across),) = base.measured(np.array([[x_mm, y_mm]])).tolist()
    return along, across


def _parts(folio: Folio) -> ShopList:
    """Return every piece by its name, and the board that gives it, those left over too."""
    rows = list[Row]()
    for nest, _ in pairs(folio):
        for number, placement in enumerate(nest.placements, start=1):
            outline = placement.need.outline
            size = (outline.length_mm, outline.width_mm, outline.siding_mm)
            rows.append(
                (placement.label, nest.board.name, number, nest.board.species, *size, 1.0, "")
            )
    for left in folio.plan.unplaced:
        outline = left.need.outline
        size = (outline.length_mm, outline.width_mm, outline.siding_mm)
        woods = " or ".join(left.need.species)
        rows.append((left.need.part, "", None, woods, *size, left.count, left.reason.value))
    rows.sort(key=lambda row: str(row[0]))
    columns = (
        PART, BOARD, NUMBER, WOOD, LONG, WIDE, THICK, Column("count", Kind.COUNT),
        Column("left over, why", wide_mm=40.0),
    )  # fmt: skip
    return ShopList("parts", "Parts, and the board that gives each", columns, tuple(rows))


def _boards(folio: Folio) -> ShopList:
    """Return every opened board, and where each of its parts lies on it."""
    rows = list[Row]()
    for nest, _ in pairs(folio):
        base = folio.bases[nest.board.name]
        for number, placement in enumerate(nest.placements, start=1):
            low_x, low_y, high_x, high_y = base.reach_of(placement.polygon)
            rows.append((
                nest.board.name, nest.board.species, nest.board.thickness_mm, number,
                placement.label, low_x, high_x, low_y, high_y, placement.marked_face,
            ))  # fmt: skip
    columns = (
        BOARD, WOOD, THICK, NUMBER, PART, ALONG, Column("along to", Kind.LENGTH), ACROSS,
        Column("across to", Kind.LENGTH), Column("marked face"),
    )  # fmt: skip
    return ShopList("boards", f"Boards, and the parts on each{FROM}", columns, tuple(rows))


def _order(folio: Folio) -> ShopList:
    """Return boards in the order of cutting: those first whose parts are hardest to replace.

    If a nail that nobody saw spoils one, the most wood is left to find another in (common
    practice, no source).
    """
    nests = sorted(
        (nest for nest, _ in pairs(folio) if nest.placements),
        key=lambda nest: -max(p.need.worth for p in nest.placements),
    )
    rows = list[Row]()
    for number, nest in enumerate(nests, start=1):
        board, dearest = nest.board, max(nest.placements, key=lambda p: p.need.worth)
        metal = sum(k.kind is KeepOutKind.METAL for k in board.keep_outs)
        rows.append((
            number, board.name, board.species, board.thickness_mm, len(nest.placements),
            float(metal), dearest.label,
        ))  # fmt: skip
    columns = (
        Column("order", Kind.COUNT), BOARD, WOOD, THICK, Column("parts", Kind.COUNT),
        Column("metal in it", Kind.COUNT), Column("hardest to replace", wide_mm=90.0),
    )  # fmt: skip
    return ShopList("order", "Order of cutting: hardest to replace first", columns, tuple(rows))


def _bungs(folio: Folio) -> ShopList:
    """Return how many bungs of each diameter out of each wood: a bung is of its part's wood."""
    counts = Counter(
        (bung.diameter_mm, nest.board.species)
        for nest, account in pairs(folio)
        for bung in account.bungs
    )
    rows = tuple((size, wood, float(count)) for (size, wood), count in sorted(counts.items()))
    columns = (Column("diameter", Kind.EXACT), WOOD, Column("count", Kind.COUNT))
    return ShopList("bungs", "Bungs, by diameter and wood", columns, rows)


def _bung_places(folio: Folio) -> ShopList:
    rows = [
        (
            nest.board.name, f"b{number}", b.diameter_mm, *told_at(base, b.x_mm, b.y_mm), b.part,
            nest.board.species,
        )
        for nest, account in pairs(folio)
        for base in [folio.bases[nest.board.name]]
        for number, b in enumerate(account.bungs, start=1)
    ]  # fmt: skip
    columns = (BOARD, Column("bung"), Column("diameter", Kind.EXACT), ALONG, ACROSS, PART, WOOD)
    return ShopList("bung-places", f"Bungs, and where each goes{FROM}", columns, tuple(rows))


FASTENINGS = PLUGGABLE | {KeepOutKind.METAL}


def _holes(folio: Folio) -> ShopList:
    """Return every old fastening of an opened board, and what becomes of it."""
    rows = list[Row]()
    for nest, account in pairs(folio):
        base = folio.bases[nest.board.name]
        for keep_out in nest.board.keep_outs:
            if keep_out.kind in FASTENINGS:
                x, y, radius = keep_out.bounding_circle
                what = _becomes(keep_out, nest, account, folio.job.rules)
                rows.append((
                    nest.board.name, keep_out.kind.value, *told_at(base, x, y), 2 * radius,
                    keep_out.depth_mm, what,
                ))  # fmt: skip
    columns = (
        BOARD, Column("what"), ALONG, ACROSS, Column("size", Kind.EXACT),
        Column("depth", Kind.EXACT), Column("what to do", wide_mm=90.0),
    )  # fmt: skip
    title = f"Old fastenings to keep clear of or use again{FROM}"
    shown = [row for row in rows if _is_odd(row)]
    return ShopList("holes", title, columns, tuple(rows), tuple(shown))


LEFT_OPEN, PLANED, UNDER = "not in a part: leave it", "planed away", "under a bung beside it"
AGAIN = "use again"


def _is_odd(row: Row) -> bool:
    """Return whether a row says more than that a hole is plugged, as the list of bungs does."""
    return row[1] == KeepOutKind.METAL.value or AGAIN in str(row[-1]) or " offcut " in str(row[-1])


def _becomes(keep_out: KeepOut, nest: Nest, account: BoardAccount, rules: Rules) -> str:
    """Return what is done about an old fastening."""
    if keep_out.kind is KeepOutKind.METAL:
        return "metal: keep every cut clear of it, or draw it first"
    x, y, _ = keep_out.bounding_circle
    for number, bung in enumerate(account.bungs, start=1):
        if abs(bung.x_mm - x) + abs(bung.y_mm - y) <= TOUCH_MM:
            used = _bolt_at(x, y, nest)
            return f"bung b{number}, {bung.part}" + (f"; or {AGAIN}: {used}" if used else "")
    at = shapely.Point(x, y)
    if any(placement.polygon.contains(at) for placement in nest.placements):
        return PLANED if rules.is_planed_away(keep_out) else UNDER
    for number, offcut in enumerate(account.offcuts, start=1):
        if offcut.shape.contains(at):
            return f"stays open, in offcut k{number}"
    return LEFT_OPEN


def _bolt_at(x: float, y: float, nest: Nest) -> str:
    """Return which bolt of a part goes through an old hole's centre, within its own radius."""
    for placement in nest.placements:
        for mark in placement.need.outline.marks:
            if mark.kind is not MarkKind.BOLT:
                continue
            ((px, py),) = placement.to_board(np.asarray(mark.points, dtype=float)[:1])
            if np.hypot(px - x, py - y) <= (mark.diameter_mm or 0.0) / 2:
                return f"bolt of {placement.label}"
    return ""


def _offcuts(folio: Folio) -> ShopList:
    rows = list[Row]()
    for nest, account in pairs(folio):
        base = folio.bases[nest.board.name]
        for number, offcut in enumerate(account.offcuts, start=1):
            held = [counted(count, kind) for kind, count in offcut.defect_counts.items()]
            rows.append((
                nest.board.name, f"k{number}", nest.board.species, nest.board.thickness_mm,
                offcut.length_mm, offcut.width_mm, *told_at(base, offcut.x_mm, offcut.y_mm),
                ", ".join(held) or "clear",
            ))  # fmt: skip
    columns = (BOARD, Column("keep"), WOOD, THICK, LONG, WIDE, ALONG, ACROSS, Column("in it"))
    return ShopList("offcuts", f"Offcuts to keep{FROM}", columns, tuple(rows))


def _account(folio: Folio) -> ShopList:
    """Return what became of each opened board's area, and of all of them."""
    shares = ("opened", "parts", "offcuts", "defects", "kerf_and_trim", "oddments")
    areas = [(nest.board.name, account.area) for nest, account in pairs(folio)]
    rows: list[Row] = [
        (name, *(float(getattr(area, share)) for share in shares), area.scrap_percent)
        for name, area in [*areas, ("all", folio.account.area)]
    ]
    names = ("opened", "parts", "offcuts kept", "defects", "kerf and trim", "oddments")
    columns = (
        BOARD, *(Column(name, Kind.AREA) for name in names), Column("scrap (%)", Kind.FIGURE),
    )  # fmt: skip
    return ShopList("account", "What became of the wood", columns, tuple(rows))
