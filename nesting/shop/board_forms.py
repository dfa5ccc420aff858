"""Paper for recording: a blank form, labels for the boards, and a contact sheet to check by."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from nesting.sheets.drawing import Drawing, Entity, Polyline, Role, Text, View
from nesting.sheets.lettering import wrapped
from nesting.sheets.symbols import keep_out_entities
from nesting.sheets.window import Window
from nesting.stock.board import Board
from nesting.units import Unit, exact_length, format_length
from nesting.words import counted

WIDE_MM, HIGH_MM = 190.0, 277.0
"""The frame of an upright A4 page, inside its margin of 10 mm."""

ASKED = (
    ("board", "species", "thickness"),
    ("length", "width", "member"),
    ("came from", "moisture", "heartwood"),
    ("string (station: lower to upper edge)",),
    ("metal",),
    ("holes",),
    ("recesses",),
    ("grooves",),
    ("rot",),
    ("splits",),
    ("knots",),
    ("stains",),
    ("worn edges",),
    ("note",),
)
"""What a form asks, a line each, in the order and by the names of the table's columns."""

LINE_MM, LETTER_MM = 8.6, 2.2


def blank_form(unit: Unit) -> Drawing:
    """Return a page of two forms, half a page a board."""
    entities = [entity for half in range(2) for entity in _form(HIGH_MM - half * HIGH_MM / 2, unit)]
    return _page("Recording form", entities)


def _form(top: float, unit: Unit) -> Iterator[Entity]:
    told = f"Unit: {unit.value}. Taped from the butt end, on the left; up from the lower edge."
    yield Text(told, (2.0, top - 5.0), LETTER_MM, Role.NOTE)
    y = top - 7.0
    for names in ASKED:
        y -= LINE_MM
        wide = WIDE_MM / len(names)
        for place, name in enumerate(names):
            yield Text(name, (2.0 + place * wide, y + 5.4), LETTER_MM * 0.8, Role.TABLE)
            ends = ((2.0 + place * wide, y), ((place + 1) * wide - 2.0, y))
            yield Polyline(ends, Role.TABLE)


QR_MM, LABEL_HIGH_MM = 24.0, 34.0
INK_MM = 0.12
"""From one stroke to the next where strokes make a dark square."""


def labels(boards: Sequence[Board], unit: Unit) -> list[Drawing]:
    """Return pages of labels: a QR code of each board's name, and the name to be read."""
    across, rows = 2, int(HIGH_MM // LABEL_HIGH_MM)
    pages = []
    for first in range(0, len(boards), across * rows):
        entities = list[Entity]()
        for place, board in enumerate(boards[first : first + across * rows]):
            x = (place % across) * WIDE_MM / across
            y = HIGH_MM - (place // across + 1) * LABEL_HIGH_MM
            entities.extend(_label(board, (x + 6.0, y + 5.0), unit))
        pages.append(_page("Labels", entities))
    return pages


def _label(board: Board, at: tuple[float, float], unit: Unit) -> Iterator[Entity]:
    import segno

    x, y = at
    code = segno.make_qr(board.name, error="m")
    rows = [bytes(row) for row in code.matrix]
    module = QR_MM / len(rows)
    for number, row in enumerate(rows):
        top = y + QR_MM - number * module
        for column, dark in enumerate(row):
            if dark:
                yield from _dark(x + column * module, top - module, module)
    left = x + QR_MM + 5.0
    for line, text in enumerate(wrapped(board.name, 5.0, WIDE_MM / 2 - QR_MM - 15.0)[:2]):
        yield Text(text, (left, y + 18.0 - 7.0 * line), 5.0, Role.TITLE)
    size = f"{format_length(board.length_mm, unit)}, {exact_length(board.thickness_mm, unit)} thick"
    yield Text(f"{board.species}", (left, y + 5.0), LETTER_MM, Role.NOTE)
    yield Text(size, (left, y + 1.0), LETTER_MM, Role.NOTE)


def _dark(x: float, y: float, side: float) -> Iterator[Entity]:
    """Yield the strokes that make a square dark to its edges: no white shows between two."""
    inset = 0.04  # half the pen
    strokes = max(2, math.ceil((side - 2 * inset) / INK_MM))
    for n in range(strokes + 1):
        level = y + inset + (side - 2 * inset) * n / strokes
        yield Polyline(((x + inset, level), (x + side - inset, level)), Role.TABLE)


def contact_sheets(boards: Sequence[Board], unit: Unit) -> list[Drawing]:
    """Return pages of all boards with their keep-outs, each reduced to the width of the page."""
    pages, entities, y = list[Drawing](), list[Entity](), HIGH_MM
    for board in boards:
        low_x, low_y, high_x, high_y = board.shape.bounds
        times = min((WIDE_MM - 6.0) / (high_x - low_x), 60.0 / (high_y - low_y), 0.5)
        high = (high_y - low_y) * times + 12.0
        if y - high < 0 and entities:
            pages.append(_page("Contact sheet", entities))
            entities, y = [], HIGH_MM
        y -= high
        window = Window(
            1.0, times=times, shift=(3.0 - low_x * times, y + 3.0 - low_y * times), view=View.COPY
        )
        said = (
            f"{board.name}: {board.species}, {format_length(board.length_mm, unit)} x "
            f"{format_length(board.width_mm, unit)}, {exact_length(board.thickness_mm, unit)} "
            f"thick, {counted(len(board.keep_outs), 'keep-out')}"
        )
        line = wrapped(said, LETTER_MM, WIDE_MM - 6.0)[0]
        entities.append(Text(line, (3.0, y + high - 5.5), LETTER_MM, Role.NOTE))
        entities.extend(window.rings(board.shape, (Role.BOARD, Role.BOARD)))
        for number, keep_out in enumerate(board.keep_outs):
            entities.extend(keep_out_entities(keep_out, window, number))
    return [*pages, *([_page("Contact sheet", entities)] if entities else [])]


def _page(title: str, entities: Sequence[Entity]) -> Drawing:
    corners = ((0.0, 0.0), (WIDE_MM, 0.0), (WIDE_MM, HIGH_MM), (0.0, HIGH_MM))
    frame = Polyline(corners, Role.GRID, is_closed=True)
    return Drawing(title, (*entities, frame), (0.0, 0.0, WIDE_MM, HIGH_MM), 1.0, "A4")
