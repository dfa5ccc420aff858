"""A cutting plan read back from its summary."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from nesting.eased import eased_from
from nesting.errors import OutputError
from nesting.ideal import Ideal, Limit
from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.need import Misfit, Need
from nesting.nest import At, CuttingPlan, Nest, Placement, Unplaced
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
from nesting.summary.of_plan import SUMMARY_VERSION
from nesting.unseen import quoted


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
