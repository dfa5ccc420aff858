"""The machine-readable summary of a cutting plan, and the plan read back from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

from nesting.account import Account, BoardAccount, Shares, ToBuy
from nesting.errors import OutputError
from nesting.ideal import Ideal
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.stock.board import Board
from nesting.strength import PieceStrength

SUMMARY_VERSION = 1


def summary(
    plan: CuttingPlan,
    account: Account,
    *,
    project_name: str,
    seed: int,
    files: Mapping[str, str],
) -> dict[str, Any]:
    """Return everything that is worth keeping of a plan; lengths in mm, areas in mm2.

    ``files`` gives the cut sheet's file name for each board's name.
    """
    return {
        "version": SUMMARY_VERSION,
        "project": project_name,
        "seed": seed,
        "parts_placed": sum(len(nest.placements) for nest in plan.nests),
        "parts_unplaced": sum(left.count for left in plan.unplaced),
        "value_placed": plan.placed_value,
        "ideal": None if plan.ideal is None else _ideal(plan.ideal),
        "scrap_percent": account.area.scrap_percent,
        "area_mm2": _shares(account.area),
        "area_percent": _percents(account.area),
        "volume_mm3": _shares(account.volume),
        "volume_percent": _percents(account.volume),
        "boards": [
            _board(nest, board, files[nest.board.name])
            for nest, board in zip(plan.nests, account.boards, strict=True)
        ],
        "unplaced": [_unplaced(left) for left in plan.unplaced],
        "bungs": [
            {"diameter_mm": size, "count": count} for size, count in account.bung_counts.items()
        ],
        "to_buy": [_to_buy(line) for line in account.to_buy],
        "weakened": [_weakened(piece) for board in account.boards for piece in board.weakened],
        "cross_grained": [{"part": part, "run_out": run} for part, run in cross_grained(plan)],
    }


def cross_grained(plan: CuttingPlan) -> list[tuple[str, float]]:
    """Return the placed parts whose own curve runs out of the grain past their limit.

    Each with the run of its worst slope, 1 in so many, in order of placing.
    """
    found = {}
    for nest in plan.nests:
        for placement in nest.placements:
            outline = placement.need.outline
            if outline.run_out < outline.slope_of_grain - 1e-9:
                found[placement.need.part] = outline.run_out
    return list(found.items())


def _ideal(ideal: Ideal) -> dict[str, Any]:
    return {
        "most_value": ideal.most_value,
        "limit": str(ideal.limit),
        "least_opened_mm2": ideal.least_opened_mm2,
        "value_percent": ideal.value_percent,
        "gap_percent": ideal.gap_percent,
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
        "species": board.species,
        "thickness_mm": board.thickness_mm,
        "member": board.member,
        "came_from": board.came_from,
        "scrap_percent": account.scrap_percent,
        "area_mm2": _shares(account.area),
        "area_percent": _percents(account.area),
        "parts": [_placement(placement) for placement in nest.placements],
        "bungs": [
            {"part": b.part, "x_mm": b.x_mm, "y_mm": b.y_mm, "diameter_mm": b.diameter_mm}
            for b in account.bungs
        ],
        "offcuts": [
            {"length_mm": o.length_mm, "width_mm": o.width_mm, "area_mm2": o.shape.area}
            for o in account.offcuts
        ],
    }


def _placement(placement: Placement) -> dict[str, Any]:
    return {
        "part": placement.need.part,
        "label": placement.label,
        "copy": placement.copy,
        "x_mm": placement.x_mm,
        "y_mm": placement.y_mm,
        "angle_deg": placement.angle_deg,
        "turned_over": placement.is_turned_over,
        "bevels": [asdict(bevel) for bevel in placement.need.outline.bevels],
        "notes": list(placement.need.notes),
    }


def _unplaced(left: Unplaced) -> dict[str, Any]:
    return {"part": left.need.part, "count": left.count, "reason": str(left.reason)}


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


def _to_buy(line: ToBuy) -> dict[str, Any]:
    return {
        "species": line.species,
        "thickness_mm": line.thickness_mm,
        "parts": [{"part": part, "count": count} for part, count in line.parts],
        "net_m3": line.net_mm3 * 1e-9,
        "rough_m3": line.rough_m3,
        "rough_board_feet": line.rough_board_feet,
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
        raise OutputError(f"the summary is of form {given.get('version')}, not {SUMMARY_VERSION}")
    need_of = {need.part: need for need in needs}
    board_of = {board.name: board for board in boards}
    try:
        nests = tuple(
            Nest(
                board_of[row["board"]],
                tuple(_read_placement(part, need_of) for part in row["parts"]),
            )
            for row in given["boards"]
        )
        left = tuple(
            Unplaced(need_of[row["part"]], row["count"], Misfit(row["reason"]))
            for row in given["unplaced"]
        )
        files = {row["board"]: row["file"] for row in given["boards"]}
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(
            f"the summary does not fit the project ({error}): the project changed since it was "
            "nested; nest it again"
        ) from error
    return CuttingPlan(nests, left), files


def _read_placement(row: Mapping[str, Any], need_of: Mapping[str, Need]) -> Placement:
    return Placement(
        need_of[row["part"]],
        float(row["x_mm"]),
        float(row["y_mm"]),
        float(row["angle_deg"]),
        bool(row["turned_over"]),
        int(row["copy"]),
    )
