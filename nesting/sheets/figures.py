"""Figures on a sheet: lengths in the project's unit, short enough for a table."""

from __future__ import annotations

import math

from nesting.stock.along_widths import widths_of_curve
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.written_measures import exact_length, format_length, taped_length

EXACT_RUN = 20.0
"""A slope flatter than 1 in this many is told without a decimal."""


def figure(mm: float, unit: Unit) -> str:
    """Return a length without its unit, for a column that names it; feet keep their marks.

    >>> figure(44.45, Unit.INCH), figure(1711.3, Unit.MM)
    ('1 3/4', '1711')
    >>> print(figure(2247.9, Unit.FOOT))
    7' 4 1/2"
    """
    return _bare(format_length(mm, unit), unit)


def exact_figure(mm: float, unit: Unit) -> str:
    """Return a length that somebody has set without its unit: a thickness, a bung.

    >>> exact_figure(27.78125, Unit.INCH), exact_figure(6.35, Unit.MM)
    ('1 3/32', '6.35')
    """
    return _bare(exact_length(mm, unit), unit)


def taped_figure(mm: float, unit: Unit) -> str:
    """Return a length that was measured or reckoned without its unit: a board's thickness.

    >>> taped_figure(49.7332, Unit.INCH)
    '1 61/64'
    """
    return _bare(taped_length(mm, unit), unit)


def _bare(text: str, unit: Unit) -> str:
    if unit is Unit.FOOT:
        return text.replace(" ft", "'").replace(" in", '"')
    return text.removesuffix(f" {unit.value}")


def size_text(length_mm: float, width_mm: float, unit: Unit) -> str:
    """Return a length and a width with their unit.

    >>> size_text(620.0, 80.0, Unit.MM)
    '620 x 80 mm'
    """
    width = figure(width_mm, unit) if unit is Unit.FOOT else format_length(width_mm, unit)
    return f"{figure(length_mm, unit)} x {width}"


def board_size(board: Board, unit: Unit) -> str:
    """Return a board's length and width; a curved one's by its widths, not as far as it reaches."""
    width, is_curved = board_width(board, unit)
    behind = "" if unit is Unit.FOOT else f" {unit.value}"
    return f"{figure(board.length_mm, unit)} x {width}{behind}{', curved' if is_curved else ''}"


def board_width(board: Board, unit: Unit) -> tuple[str, bool]:
    """Return a board's width without its unit, and whether the board is curved."""
    found = widths_of_curve(board)
    if found is None:
        return figure(board.width_mm, unit), False
    return " to ".join(dict.fromkeys(figure(mm, unit) for mm in found)), True


def run_text(run: float) -> str:
    """Return the run of a slope of grain as it is told, or that there is none.

    >>> run_text(1.23), run_text(24.4), run_text(float("inf"))
    ('1 in 1.2', '1 in 24', 'none')
    """
    if math.isinf(run):
        return "none"
    return f"1 in {run:.1f}" if run < EXACT_RUN else f"1 in {run:.0f}"
