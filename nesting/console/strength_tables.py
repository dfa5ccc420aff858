"""What grain, holes and drying do to each piece, as tables on the terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from nesting.accounts.movement import SOURCES as MOVEMENT_SOURCES
from nesting.accounts.movement import Movements
from nesting.accounts.strength import CAUTION as STRENGTH_CAUTION
from nesting.accounts.strength import NEARLY_WHOLE, PieceStrength
from nesting.accounts.strength import SOURCES as STRENGTH_SOURCES
from nesting.console.bare_tables import bare_table as _table
from nesting.units import MM_PER_INCH, Unit
from nesting.words import counted, whole_percent
from nesting.written_measures import exact_length, format_length, length_no_less
from parts.wood.timber import SHRINKAGE_STATUSES

LEAST_MOVEMENT_MM = 0.5
"""Less than this is planed by eye."""


def strength_report(
    pieces: Sequence[PieceStrength], moved: Movements, to_percent: float, unit: Unit
) -> RenderableType:
    """Return what holes, cross grain and drying do to placed pieces, with the sources."""
    sloped = [piece for piece in pieces if piece.left_by_grain < NEARLY_WHOLE]
    holed = [piece for piece in pieces if piece.left_by_holes < NEARLY_WHOLE]
    shown: list[RenderableType] = []
    if sloped:
        shown.append(_grain_table(sloped, unit))
    if holed:
        shown.append(_holes_table(holed, unit))
    whole = sum(piece.left >= NEARLY_WHOLE for piece in pieces)
    most = whole_percent(NEARLY_WHOLE)
    keep = "keeps" if len(pieces) == 1 else "keep"
    shown.append(Text(f"\n{whole} of {counted(len(pieces), 'piece')} {keep} {most} % or more."))
    shown += _sheet_note(pieces)
    shown += _movement_tables(moved, to_percent, unit)
    shown += [Text(f"\n{line}") for line in (*STRENGTH_SOURCES, *MOVEMENT_SOURCES)]
    shown.append(Text(f"\n{STRENGTH_CAUTION}", style="bold"))
    return Group(*shown)


def _sheet_note(pieces: Sequence[PieceStrength]) -> list[RenderableType]:
    """Return that of sheet goods the grain is not reckoned, if there are any."""
    sheets = sum(piece.is_sheet for piece in pieces)
    if not sheets:
        return []
    are = "is" if sheets == 1 else "are"
    return [Text(
        f"{counted(sheets, 'piece')} {are} of sheet goods: plies cross, so nothing is said of "
        "their grain, and their strength as sheets is for whoever made them; only holes count."
    )]  # fmt: skip


def _grain_table(pieces: Sequence[PieceStrength], unit: Unit) -> Table:
    table = _table(
        "Cross grain: per cent of straight-grained bending strength left at the steepest place, "
        "and the length of edge past the part's limit",
        "piece", "board", "#1 in", "#at x", "#past limit", "#left",
    )  # fmt: skip
    for piece in sorted(pieces, key=lambda piece: piece.left_by_grain):
        past = piece.past_limit_mm
        table.add_row(
            piece.piece, piece.board, f"{piece.run:.1f}", format_length(piece.run_x_mm, unit),
            format_length(past, unit) if past else "", whole_percent(piece.left_by_grain),
        )  # fmt: skip
    return table


def _holes_table(pieces: Sequence[PieceStrength], unit: Unit) -> Table:
    table = _table(
        "\nOld holes, bunged or not: per cent of whole wood's bending strength on edge, on the "
        "flat, and as an evenly loaded beam; and how much deeper a timber, or thicker a plank, "
        "makes up for it",
        "piece", "board", "#holes", "#worst at x", "#edge", "#flat", "#beam", "#more",
    )  # fmt: skip
    for piece in sorted(pieces, key=lambda piece: piece.left_by_holes):
        assert piece.weakest is not None, "only holes weaken"
        section = piece.weakest.section
        table.add_row(
            piece.piece, piece.board, str(piece.holes), format_length(piece.weakest.x_mm, unit),
            whole_percent(section.left_on_edge), whole_percent(section.left_on_flat),
            "" if piece.as_beam is None else whole_percent(piece.as_beam),
            _made_up(piece.weakest.made_up_by_mm, unit),
        )  # fmt: skip
    return table


def _made_up(mm: float, unit: Unit) -> str:
    """Return how much more wood makes up for holes, enough of it; nothing does if all is hole."""
    return length_no_less(mm, unit, denominator=32) if math.isfinite(mm) else "none"


def _movement_tables(moved: Movements, percent: float, unit: Unit) -> list[RenderableType]:
    """Return what to cut larger or smaller, and how many pieces nothing can be said of."""
    told = [piece for piece in moved.pieces if piece.most_mm >= LEAST_MOVEMENT_MM]
    table = _table(
        f"\nTo cut larger (+) or smaller (-) across the grain, {_small_unit(unit)}, "
        f"for wood that comes to {percent:g} %",
        "piece", "board", "wood", "#now %", "#size", "#across", "#in thickness",
    )  # fmt: skip
    for piece in told:
        table.add_row(
            piece.piece, piece.board, piece.species, f"{piece.from_percent:g}",
            format_length(piece.size_mm, unit),
            *(_larger(unit, m.radial_mm, m.tangential_mm) for m in (piece.across, piece.thick)),
        )  # fmt: skip
    still = len(moved.pieces) - len(told)
    note = (
        f"Pieces that move less than {exact_length(LEAST_MOVEMENT_MM, unit)}: {still}; on boards "
        f"whose moisture was never taken: {moved.unmeasured}; with no printed shrinkage: "
        f"{moved.no_figures}."
    )
    return [*([table] if told else [Text("")]), Text(note), *_shrinkage_table(moved)]


def _shrinkage_table(moved: Movements) -> list[RenderableType]:
    """Return where the shrinkage of each wood stands, and how sure it is."""
    if not moved.woods:
        return []
    table = _table(
        "\nShrinkage of these woods, green to oven dry, per cent",
        "wood", "#radial", "#tangential", "standing", "source",
    )  # fmt: skip
    for wood in moved.woods:
        table.add_row(
            wood.name, f"{wood.shrinkage_radial_percent:g}",
            f"{wood.shrinkage_tangential_percent:g}", wood.shrinkage_status,
            wood.shrinkage_source,
        )  # fmt: skip
    met = dict.fromkeys(wood.shrinkage_status for wood in moved.woods)
    meanings = "; ".join(f"{status}: {SHRINKAGE_STATUSES[status]}" for status in met)
    return [table, Text(f"{meanings[0].upper()}{meanings[1:]}.")]


def _small_unit(unit: Unit) -> str:
    """Return what changes too small for a tape are written in."""
    return "in" if unit.is_imperial else "mm"


def _larger(unit: Unit, *changes_mm: float) -> str:
    """Return a change from its least to its most, in thousandths of an inch or tenths of a mm."""
    size, digits = (MM_PER_INCH, 3) if unit.is_imperial else (1.0, 1)
    least, most = sorted((round(-change / size, digits) + 0.0 for change in changes_mm), key=abs)
    return f"{least:+.{digits}f} to {most:+.{digits}f}"
