"""The referee's last look: the numbers in a written cut sheet against the plan it came from."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.nest import Bung, Nest
from nesting.referee.fault import Fault
from nesting.referee.matching import corners_apart, matched
from nesting.rules import Rules
from nesting.stock.keep_out import KeepOut

if TYPE_CHECKING:
    from nesting.break_down.cuts import BreakDownCut
    from nesting.sheets.read_back import SheetRecord

SHEET_MM = 0.01
"""Numbers re-read from a sheet agree with the plan to this."""

MILLIMETRES = 4
"""$INSUNITS of a file in mm (DXF reference, HEADER section)."""


def check_sheet(
    record: SheetRecord,
    nest: Nest,
    rules: Rules,
    offcuts: Sequence[Polygon],
    cuts: Sequence[BreakDownCut],
) -> tuple[Fault, ...]:
    """Return every difference between a sheet as read back and the nest it should show.

    ``offcuts`` are the pieces that the account keeps of the board, and ``cuts`` its break-down
    cuts, in its order.
    """
    return (
        *(Fault("sheet: strays", nest.board.name, stray) for stray in record.strays),
        *_check_board(record, nest),
        *_check_cuts(record, nest),
        *_check_keep_outs(record.keep_outs, nest),
        *_check_bungs(record.bungs, nest, rules),
        *_check_offcuts(record.offcuts, offcuts, nest.board.name),
        *_check_break_down(record.break_down, cuts, nest.board.name),
    )


def _check_board(record: SheetRecord, nest: Nest) -> Iterator[Fault]:
    board = nest.board
    if record.board_name != board.name:
        yield Fault("sheet: board", board.name, f"the sheet says {record.board_name!r}")
    if abs(record.thickness_mm - board.thickness_mm) > SHEET_MM:
        yield Fault("sheet: thickness", board.name, f"the sheet says {record.thickness_mm} mm")
    if record.units not in (MILLIMETRES, None):
        said = f"$INSUNITS is {record.units}, must be {MILLIMETRES}, millimetres"
        yield Fault("sheet: units", board.name, said)
    off = _apart(record.outline, board.shape)
    if off > SHEET_MM:
        yield Fault("sheet: board outline", board.name, f"it is {off:.4f} mm off")


def _apart(first: BaseGeometry, second: BaseGeometry) -> float:
    """Return how far the corners of either outline lie from the other outline, mm, or little more.

    Corners that stand one by one within what a sheet may be off need no other look.
    """
    by_corner = corners_apart(first, second)
    if by_corner <= SHEET_MM:
        return by_corner
    return max(
        float(shapely.hausdorff_distance(first.boundary, second.boundary)),
        float(shapely.hausdorff_distance(second.boundary, first.boundary)),
    )


def _check_cuts(record: SheetRecord, nest: Nest) -> Iterator[Fault]:
    name = nest.board.name
    drawn = {cut.label: cut for cut in record.cuts}
    wanted = {placement.label: placement for placement in nest.placements}
    for label in sorted(wanted.keys() ^ drawn.keys()):
        where = "only on the sheet" if label in drawn else "missing on the sheet"
        yield Fault("sheet: parts", name, f"{label} is {where}")
    if len(drawn) != len(record.cuts):
        yield Fault("sheet: parts", name, "a part is drawn twice")
    for label in sorted(wanted.keys() & drawn.keys()):
        placement, cut = wanted[label], drawn[label]
        if (cut.part, cut.copy) != (placement.need.part, placement.copy):
            yield Fault("sheet: parts", name, f"{label} is marked {cut.part!r}, copy {cut.copy}")
        if cut.is_turned_over != placement.is_turned_over:
            yield Fault("sheet: face up", name, f"{label} is drawn the other face up")
        off = _apart(cut.polygon, placement.polygon)
        if off > SHEET_MM:
            yield Fault("sheet: cut line", name, f"{label} is {off:.4f} mm off")


def _check_keep_outs(drawn: Sequence[KeepOut], nest: Nest) -> Iterator[Fault]:
    name = nest.board.name
    kinds, wanted = Counter(k.kind for k in drawn), Counter(k.kind for k in nest.board.keep_outs)
    if kinds != wanted:
        yield Fault(
            "sheet: keep-outs",
            name,
            f"{sum(kinds.values())} drawn, {sum(wanted.values())} recorded",
        )
        return
    for keep_out, nearest in matched(nest.board.keep_outs, drawn):
        is_same = _is_same_circle(nearest, keep_out)
        off = 0.0 if is_same else _apart(nearest.polygon, keep_out.polygon)
        if off > SHEET_MM:
            x, y, _ = keep_out.bounding_circle
            yield Fault(
                "sheet: keep-outs",
                name,
                f"the {keep_out.kind} at ({x:.1f}, {y:.1f}) mm is drawn {off:.4f} mm off",
            )
        if nearest.depth_mm != keep_out.depth_mm:
            x, y, _ = keep_out.bounding_circle
            said = f"the {keep_out.kind} at ({x:.1f}, {y:.1f}) mm is marked with another depth"
            yield Fault("sheet: keep-outs", name, said)


def _is_same_circle(first: KeepOut, second: KeepOut) -> bool:
    """Return whether both are circles, nowhere farther apart than a sheet's numbers may be."""
    if not (first.is_circle and second.is_circle):
        return False
    (x, y, radius), (u, v, other) = first.bounding_circle, second.bounding_circle
    return math.hypot(x - u, y - v) + abs(radius - other) <= SHEET_MM


def _check_bungs(drawn: Sequence[Bung], nest: Nest, rules: Rules) -> Iterator[Fault]:
    name, wanted = nest.board.name, nest.bungs(rules)
    if len(drawn) != len(wanted):
        yield Fault("sheet: bungs", name, f"{len(drawn)} drawn, {len(wanted)} in the schedule")
        return
    rows = sorted(drawn, key=_bung_key), sorted(wanted, key=_bung_key)
    for first, second in zip(*rows, strict=True):
        off = max(
            abs(first.x_mm - second.x_mm),
            abs(first.y_mm - second.y_mm),
            abs(first.diameter_mm - second.diameter_mm),
        )
        if off > SHEET_MM:
            yield Fault("sheet: bungs", name, f"one of {second.part} is {off:.4f} mm off")
        if first.part != second.part:
            said = f"one of {second.part} is marked as one of {first.part!r}"
            yield Fault("sheet: bungs", name, said)


def _check_offcuts(
    drawn: Sequence[Polygon], wanted: Sequence[Polygon], name: str
) -> Iterator[Fault]:
    if len(drawn) != len(wanted):
        yield Fault("sheet: offcuts", name, f"{len(drawn)} drawn, {len(wanted)} in the account")
        return
    for number, (first, second) in enumerate(zip(drawn, wanted, strict=True), start=1):
        off = _apart(first, second)
        if off > SHEET_MM:
            yield Fault("sheet: offcuts", name, f"k{number} is {off:.4f} mm off")


def _check_break_down(
    drawn: Sequence[BreakDownCut], wanted: Sequence[BreakDownCut], name: str
) -> Iterator[Fault]:
    if len(drawn) != len(wanted):
        said = f"{len(drawn)} drawn, {len(wanted)} in the account"
        yield Fault("sheet: break-down cuts", name, said)
        return
    for number, (first, second) in enumerate(zip(drawn, wanted, strict=True), start=1):
        off = max(math.dist(first.start, second.start), math.dist(first.end, second.end))
        if off > SHEET_MM:
            yield Fault("sheet: break-down cuts", name, f"c{number} is {off:.4f} mm off")
        if (first.stops, first.by_hand) != (second.stops, second.by_hand):
            yield Fault("sheet: break-down cuts", name, f"c{number} stops otherwise")
        if first.kind is not second.kind:
            said = f"c{number} is marked as a {first.kind}, it is a {second.kind}"
            yield Fault("sheet: break-down cuts", name, said)


def _bung_key(bung: Bung) -> tuple[float, float]:
    return round(bung.x_mm, 1), round(bung.y_mm, 1)
