"""The machine-readable summary of a cutting plan, and the plan read back from it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields, replace
from typing import Any

from nesting.accounts.account import Account, BoardAccount, Shares
from nesting.accounts.buy_words import as_data
from nesting.accounts.strength import PieceStrength, weakened
from nesting.accounts.weigh import out_of_the_ordinary
from nesting.break_down.as_data import break_down_data
from nesting.eased import eased_data, eased_from
from nesting.errors import OutputError
from nesting.ideal import Ideal, Limit
from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.need import Misfit, Need
from nesting.nest import At, CuttingPlan, Nest, Placement, Unplaced
from nesting.shop.identity import sheet_identity
from nesting.stock.board import Board
from nesting.summary.fields import (
    flag,
    number,
    number_or_none,
    rows,
    text,
    texts,
    whole,
)
from nesting.unseen import quoted

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
    """Return the steepest run-out, 1 in so many, null if none, and the bending strength left."""
    return {
        "run_out": None if math.isinf(piece.run) else piece.run,
        "left_by_grain_percent": 100 * piece.left_by_grain,
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


def plan_from(
    given: Mapping[str, Any], needs: Sequence[Need], boards: Sequence[Board]
) -> tuple[CuttingPlan, dict[str, str]]:
    """Return the plan that a summary holds, and the cut sheet's file for each board.

    Raises
    ------
    OutputError
        If the summary is of another form, or names parts or boards that the project lacks:
        the project changed since it was nested.
    """
    if given.get("version") != SUMMARY_VERSION:
        raise OutputError(
            f"the summary is of form {quoted(given.get('version'))}, not {SUMMARY_VERSION}"
        )
    need_of = {need.part: need for need in needs}
    board_of = {board.name: board for board in boards}
    try:
        nests = tuple(
            Nest(
                board_of[text(row, "board")],
                tuple(read_placement(part, need_of) for part in rows(row, "parts")),
            )
            for row in rows(given, "boards")
        )
        left = tuple(_read_unplaced(row, need_of) for row in rows(given, "unplaced"))
        files = {text(row, "board"): text(row, "file") for row in rows(given, "boards")}
        fixed = tuple(
            At(text(row, "board"), read_placement(row, need_of)) for row in rows(given, "fixed")
        )
        plan = CuttingPlan(nests, left, fixed=fixed)
        eased = eased_from(given["break_down_preferred"])
        return replace(plan, ideal=_read_ideal(given.get("ideal"), plan), eased=eased), files
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(
            f"the summary does not fit the project ({_lacking(error)}): it was changed, or the "
            "project was since it was nested; nest it again"
        ) from error


def _lacking(error: Exception) -> str:
    """Return what is wrong in words; of a key that is not there, only its name is known."""
    return f"{error} is not known" if isinstance(error, KeyError) else str(error)


def _read_ideal(given: Any, plan: CuttingPlan) -> Ideal | None:
    if given is None:
        return None
    most, least = number(given, "most_value"), number(given, "least_opened_mm2")
    return Ideal(plan.placed_value, most, Limit(text(given, "limit")), plan.opened_mm2, least)


def _read_unplaced(row: Mapping[str, Any], need_of: Mapping[str, Need]) -> Unplaced:
    reason = Misfit(text(row, "reason"))
    return Unplaced(need_of[text(row, "part")], whole(row, "count"), reason, _read_prospect(row))


def _read_prospect(row: Mapping[str, Any]) -> Prospect:
    """Return what was found out; summaries written before anybody looked lack it."""
    blank: dict[str, Any] = {
        "outlook": None,
        "room_on": [],
        "would_help": [],
        "lacks_mm": None,
        "wishes": [],
    }
    row = {**blank, **row}
    outlook = None if row["outlook"] is None else Outlook(text(row, "outlook"))
    remedies = tuple(
        Remedy(
            Cure(text(remedy, "cure")),
            text(remedy, "board"),
            number_or_none(remedy, "amount"),
            text(remedy, "what"),
        )
        for remedy in rows(row, "would_help")
    )
    lacks, wishes = number_or_none(row, "lacks_mm"), texts(row, "wishes")
    return Prospect(outlook, texts(row, "room_on"), remedies, lacks, wishes)


Rectangle = tuple[float, float, float, float]
"""x, y, length and width, mm."""


def kept_from(given: Mapping[str, Any]) -> dict[str, tuple[Rectangle, ...]]:
    """Return the rectangles that a summary says are kept of each board.

    Raises
    ------
    OutputError
        If a rectangle lacks a figure.
    """
    try:
        return {
            text(row, "board"): tuple(_read_rectangle(offcut) for offcut in rows(row, "offcuts"))
            for row in rows(given, "boards")
        }
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(f"the summary's offcuts cannot be read: {_lacking(error)}") from error


def scrap_from(given: Mapping[str, Any]) -> dict[str, float]:
    """Return the scrap percentage that a summary states for each board.

    Raises
    ------
    OutputError
        If a board has none.
    """
    try:
        return {text(row, "board"): number(row, "scrap_percent") for row in rows(given, "boards")}
    except (KeyError, TypeError, ValueError) as error:
        said = f"the summary's scrap percentages cannot be read: {_lacking(error)}"
        raise OutputError(said) from error


def _read_rectangle(row: Mapping[str, Any]) -> Rectangle:
    x, y = number(row, "x_mm"), number(row, "y_mm")
    return x, y, number(row, "length_mm"), number(row, "width_mm")


def read_placement(row: Mapping[str, Any], need_of: Mapping[str, Need]) -> Placement:
    """Return where a summary says that a piece lies; an error if anything of it is missing."""
    return Placement(
        need_of[text(row, "part")],
        number(row, "x_mm"),
        number(row, "y_mm"),
        number(row, "angle_deg"),
        flag(row, "turned_over"),
        whole(row, "copy", 1),
    )
