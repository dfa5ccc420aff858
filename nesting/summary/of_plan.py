"""The machine-readable summary of a cutting plan."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from nesting.accounts.account import Account, BoardAccount, Shares
from nesting.accounts.buy_words import as_data
from nesting.accounts.strength import PieceStrength, weakened
from nesting.accounts.weigh import out_of_the_ordinary
from nesting.break_down.as_data import break_down_data
from nesting.eased import eased_data
from nesting.ideal import Ideal
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.shop.identity import sheet_identity

SUMMARY_VERSION = 5
"""Form of the file: 5 since it has the word of each sheet and what was fixed, 4 since it holds
break-down cuts, 3 since it names the files that were made beside the sheets."""


def summary(
    plan: CuttingPlan,
    account: Account,
    *,
    project_name: str,
    seed: int,
    files: Mapping[str, str],
    made: Mapping[str, str],
    book_step: int | None = None,
) -> dict[str, Any]:
    """Return everything that is worth keeping of a plan; lengths in mm, areas in mm2.

    ``files`` gives the cut sheet's file name for each board's name, ``made`` the SHA-256 of each
    file that was made beside the sheets; ``book_step`` is the step of the stock book by which
    boards and needs were, if there is a book.
    """
    return {
        "version": SUMMARY_VERSION,
        "project": project_name,
        "seed": seed,
        "parts_placed": sum(len(nest.placements) for nest in plan.nests),
        "parts_freed_by_straight_cuts": account.parts_freed,
        "parts_unplaced": sum(left.count for left in plan.unplaced),
        "value_placed": plan.placed_value,
        "ideal": None if plan.ideal is None else _ideal(plan.ideal),
        "break_down_preferred": eased_data(plan.eased),
        "scrap_percent": account.area.scrap_percent,
        "uncredited_scrap_percent": account.area.uncredited_scrap_percent,
        "area_mm2": _shares(account.area),
        "area_percent": _percents(account.area),
        "volume_mm3": _shares(account.volume),
        "volume_percent": _percents(account.volume),
        "boards": [
            _board(nest, board, files[nest.board.name])
            for nest, board in zip(plan.nests, account.boards, strict=True)
        ],
        "unplaced": [_unplaced(left) for left in plan.unplaced],
        "fixed": [{"board": at.board, **_lie(at.placement)} for at in plan.fixed],
        "bungs": [
            {"diameter_mm": size, "count": count} for size, count in account.bung_counts.items()
        ],
        "to_buy": [as_data(line) for line in account.to_buy],
        "weakened": [
            _weakened(piece) for board in account.boards for piece in weakened(board.pieces)
        ],
        "weigh_before_sawing": [
            {"piece": piece.piece, "board": piece.board, **_strength(piece)}
            for piece in out_of_the_ordinary(plan, account.pieces)
        ],
        "made": dict(made),
        **({} if book_step is None else {"book": {"step": book_step}}),
    }


def _ideal(ideal: Ideal) -> dict[str, Any]:
    return {
        "most_value": ideal.most_value,
        "limit": str(ideal.limit),
        "least_opened_mm2": ideal.least_opened_mm2,
        "value_percent": ideal.value_percent,
        "spare_percent": ideal.spare_percent,
        "proven_best": ideal.is_proven_best,
    }


def _shares(shares: Shares) -> dict[str, float]:
    named = {field.name: getattr(shares, field.name) for field in fields(shares)}
    return {"opened": shares.opened, **named}


def _percents(shares: Shares) -> dict[str, float]:
    return {field.name: shares.percent(field.name) for field in fields(shares)}


def _board(nest: Nest, account: BoardAccount, file: str) -> dict[str, Any]:
    board = nest.board
    return {
        "board": board.name,
        "file": file,
        "sheet": sheet_identity(nest),
        "species": board.species,
        "thickness_mm": board.thickness_mm,
        "member": board.member,
        "came_from": board.came_from,
        "scrap_percent": account.scrap_percent,
        "uncredited_scrap_percent": account.area.uncredited_scrap_percent,
        "area_mm2": _shares(account.area),
        "area_percent": _percents(account.area),
        "parts": [
            {**_placement(placement), **_strength(piece)}
            for placement, piece in zip(nest.placements, account.pieces, strict=True)
        ],
        "bungs": [
            {"part": b.part, "x_mm": b.x_mm, "y_mm": b.y_mm, "diameter_mm": b.diameter_mm}
            for b in account.bungs
        ],
        "offcuts": [
            {
                "x_mm": offcut.x_mm,
                "y_mm": offcut.y_mm,
                "length_mm": offcut.length_mm,
                "width_mm": offcut.width_mm,
                "area_mm2": offcut.area_mm2,
                "defects": {str(kind): count for kind, count in offcut.defect_counts.items()},
            }
            for offcut in account.offcuts
        ],
        "break_down": break_down_data(account.break_down),
    }


def _lie(placement: Placement) -> dict[str, Any]:
    return {
        "part": placement.need.part,
        "label": placement.label,
        "copy": placement.copy,
        "number": placement.number,
        "x_mm": placement.x_mm,
        "y_mm": placement.y_mm,
        "angle_deg": placement.angle_deg,
        "turned_over": placement.is_turned_over,
    }


def _placement(placement: Placement) -> dict[str, Any]:
    return {
        **_lie(placement),
        "bevels": [asdict(bevel) for bevel in placement.need.outline.bevels],
        "notes": list(placement.need.notes),
    }


def _strength(piece: PieceStrength) -> dict[str, float | None]:
    """Return the steepest run-out, 1 in so many, null if none, and the bending strength left.

    Of sheet goods what grain leaves is null: it is not reckoned.
    """
    return {
        "run_out": None if math.isinf(piece.run) else piece.run,
        "left_by_grain_percent": None if piece.is_sheet else 100 * piece.left_by_grain,
        "left_by_holes_percent": 100 * piece.left_by_holes,
        "left_percent": 100 * piece.left,
    }


def _unplaced(left: Unplaced) -> dict[str, Any]:
    prospect = left.prospect
    return {
        "part": left.need.part,
        "count": left.count,
        "reason": str(left.reason),
        "outlook": prospect.outlook,
        "room_on": list(prospect.room_on),
        "lacks_mm": prospect.lacks_mm,
        "would_help": [asdict(remedy) for remedy in prospect.remedies],
        **({"wishes": list(prospect.wishes)} if prospect.wishes else {}),
    }


def _weakened(piece: PieceStrength) -> dict[str, Any]:
    assert piece.weakest is not None, "only holes weaken"
    return {
        "piece": piece.piece,
        "board": piece.board,
        "holes": piece.holes,
        "x_mm": piece.weakest.x_mm,
        "on_edge_percent": 100 * piece.weakest.section.left_on_edge,
        "on_flat_percent": 100 * piece.weakest.section.left_on_flat,
        "as_beam_percent": None if piece.as_beam is None else 100 * piece.as_beam,
    }
