"""The tables of a cut sheet: parts, bungs and offcuts with their places on the wood."""

from __future__ import annotations

from nesting.account import BoardAccount
from nesting.nest import Nest, Placement
from nesting.offcuts import Offcut
from nesting.sheets.blocks import LETTER_MM, Table, table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import exact_figure, figure, run_text
from nesting.sheets.lettering import wrapped
from nesting.strength import PieceStrength
from nesting.units import Unit
from nesting.words import counted

NAME_MM = 38.0
"""Width of the column of names; a longer one takes another row."""

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
        "along",
        "to",
        "across",
        "to",
        "turn",
        "face",
        "run-out",
        "strength",
    )
    pairs = zip(nest.placements, account.pieces, strict=True)
    rows = [
        row
        for number, (placement, piece) in enumerate(pairs, start=1)
        for row in _part_rows(number, placement, piece, unit)
    ]
    anchors = (RIGHT, LEFT, *[RIGHT] * 8, LEFT, RIGHT, RIGHT)
    return table(f"Parts, finished sizes {measures(unit)}", columns, anchors, tuple(rows))


def _part_rows(
    number: int, placement: Placement, piece: PieceStrength, unit: Unit
) -> list[tuple[str, ...]]:
    """Return a part's row, and more below it where its name is long."""
    outline = placement.need.outline
    low_x, low_y, high_x, high_y = placement.polygon.bounds
    places = (low_x, high_x, low_y, high_y)
    turned = round(placement.angle_deg, 1) % 360.0
    first, *others = wrapped(placement.label, LETTER_MM, NAME_MM)
    row = (
        str(number),
        first,
        *(figure(length, unit) for length in (outline.length_mm, outline.width_mm)),
        exact_figure(outline.siding_mm, unit),
        *(figure(place, unit) for place in places),
        f"{turned:.1f}°".replace(".0°", "°"),
        "down" if placement.is_turned_over else "up",
        run_text(piece.run),
        f"{100 * piece.left:.0f} %",
    )
    return [row, *(("", more, *[""] * (len(row) - 2)) for more in others)]


def bung_table(nest: Nest, account: BoardAccount, unit: Unit) -> Table:
    """Return one row a bung, from the board's left."""
    numbers = {p.label: str(number) for number, p in enumerate(nest.placements, start=1)}
    rows = tuple(
        (
            f"b{number}",
            exact_figure(bung.diameter_mm, unit),
            figure(bung.x_mm, unit),
            figure(bung.y_mm, unit),
            numbers[bung.part],
        )
        for number, bung in enumerate(account.bungs, start=1)
    )
    columns = ("bung", "Ø", "along", "across", "part no.")
    anchors = (RIGHT,) * 5
    return table(f"Bungs, {measures(unit)}", columns, anchors, rows)


def offcut_table(account: BoardAccount, unit: Unit) -> Table:
    """Return one row an offcut to keep, with the place of its lower left corner."""
    rows = []
    for number, offcut in enumerate(account.offcuts, start=1):
        lengths = (offcut.length_mm, offcut.width_mm, offcut.x_mm, offcut.y_mm)
        rows.append((f"k{number}", *(figure(length, unit) for length in lengths), _defects(offcut)))
    columns = ("keep", "long", "wide", "along", "across", "in it")
    anchors = (*[RIGHT] * 5, LEFT)
    return table(f"Offcuts kept, {measures(unit)}", columns, anchors, tuple(rows))


def _defects(offcut: Offcut) -> str:
    counts = offcut.defect_counts.items()
    return ", ".join(counted(count, kind) for kind, count in counts) or "clear"


def measures(unit: Unit) -> str:
    """Return what the lengths of a table are in, for its heading."""
    words = {Unit.FOOT: "in feet and inches", Unit.INCH: "in inches"}
    return words.get(unit, f"in {unit.value}")
