"""The tables of a cut sheet: parts, and bungs and offcuts with their places on the wood."""

from __future__ import annotations

from nesting.accounts.account import BoardAccount
from nesting.accounts.strength import PieceStrength
from nesting.marking.marking_out import MarkingOut
from nesting.nest import Nest, Placement
from nesting.offcuts import Offcut
from nesting.sheets.blocks import LETTER_MM, Table, record_table, table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import exact_figure, figure, run_text
from nesting.sheets.lettering import wrapped
from nesting.units import Unit
from nesting.words import counted, whole_percent

NAME_MM = 30.0
"""Width of the column of names; a longer one takes another row."""

LEVEL_DEG = 0.05
"""A base line this level leaves a board's own directions by a millimetre in a metre."""

LEFT, RIGHT = Anchor.LEFT, Anchor.RIGHT


def parts_table(nest: Nest, account: BoardAccount, unit: Unit) -> Table:
    """Return one row a placed part, numbered as on the drawing.

    With its run-out, and what that and old holes leave of its strength.
    """
    columns = (
        "no.",
        "part",
        "long",
        "wide",
        "thick",
        "face",
        "left end",
        "run-out",
        "strength",
    )
    pairs = zip(nest.placements, account.pieces, strict=True)
    rows = [
        _part_rows(number, placement, piece, unit)
        for number, (placement, piece) in enumerate(pairs, start=1)
    ]
    anchors = (RIGHT, LEFT, *[RIGHT] * 3, LEFT, LEFT, RIGHT, RIGHT)
    return record_table(f"Parts, finished sizes {measures(unit)}", columns, anchors, rows)


def _part_rows(
    number: int, placement: Placement, piece: PieceStrength, unit: Unit
) -> list[tuple[str, ...]]:
    """Return a part's row, and more below it where its name is long."""
    outline = placement.need.outline
    first, *others = wrapped(placement.label, LETTER_MM, NAME_MM)
    row = (
        str(number),
        first,
        *(figure(length, unit) for length in (outline.length_mm, outline.width_mm)),
        exact_figure(outline.siding_mm, unit),
        placement.marked_face,
        placement.left_end,
        "plies" if piece.is_sheet else run_text(piece.run),
        f"{whole_percent(piece.left)} %",
    )
    return [row, *(("", more, *[""] * (len(row) - 2)) for more in others)]


def bung_table(nest: Nest, account: BoardAccount, marked: MarkingOut, unit: Unit) -> Table:
    """Return one row a bung, from the board's left, measured from the base line."""
    numbers = {p.label: str(number) for number, p in enumerate(nest.placements, start=1)}
    rows = tuple(
        (
            f"b{number}",
            exact_figure(bung.diameter_mm, unit),
            *(exact_figure(mm, unit) for mm in marked.told(bung.x_mm, bung.y_mm)),
            numbers[bung.part],
        )
        for number, bung in enumerate(account.bungs, start=1)
    )
    columns = ("bung", "Ø", "along", "across", "part no.")
    anchors = (RIGHT,) * 5
    return table(f"Bungs, {measures(unit)}", columns, anchors, rows)


def offcut_table(account: BoardAccount, marked: MarkingOut, unit: Unit) -> Table:
    """Return one row an offcut to keep, with the places of its lower corners.

    One is enough where the base line lies as the board does.
    """
    rows = []
    is_level = abs(marked.base.angle_deg) < LEVEL_DEG
    for number, offcut in enumerate(account.offcuts, start=1):
        lengths = (offcut.length_mm, offcut.width_mm)
        ends = (0.0,) if is_level else (0.0, offcut.length_mm)
        places = [mm for end in ends for mm in marked.told(offcut.x_mm + end, offcut.y_mm)]
        rows.append(
            (
                f"k{number}",
                *(figure(length, unit) for length in lengths),
                *(figure(place, unit) for place in places),
                _defects(offcut),
            )
        )
    more = () if is_level else ("to along", "across")
    columns = ("keep", "long", "wide", "along", "across", *more, "in it")
    anchors = (*[RIGHT] * (len(columns) - 1), LEFT)
    return table(f"Offcuts kept, {measures(unit)}", columns, anchors, tuple(rows))


def _defects(offcut: Offcut) -> str:
    counts = offcut.defect_counts.items()
    return ", ".join(counted(count, kind) for kind, count in counts) or "clear"


def measures(unit: Unit) -> str:
    """Return what the lengths of a table are in, for its heading."""
    words = {Unit.FOOT: "in feet and inches", Unit.INCH: "in inches"}
    return words.get(unit, f"in {unit.value}")
