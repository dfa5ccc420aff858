"""Paper for recording: a blank form, and labels for the boards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.sheets.drawing import Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.lettering import cut_short, name_short, wrapped
from nesting.sheets.pdf import MARGIN_MM
from nesting.sheets.title import face_up
from nesting.shop.kinds import Paper
from nesting.shop.print_furniture import code_area
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.written_measures import format_length, taped_length

ASKED = (
    ("board", "species", "thickness", "count"),
    ("length", "width", "leaf (1 of 2)", "resaw (into)"),
    ("member", "came from"),
    ("moisture", "heartwood (yes, no)", "grain (degrees)"),
    ("widths (station: width)",),
    ("string (station: lower to upper edge)",),
    ("metal",),
    ("holes",),
    ("recesses",),
    ("grooves",),
    ("rot",),
    ("splits", "knots"),
    ("stains", "worn edges"),
    ("note",),
)
"""What a form asks, a line each, in the order and by the names of the table's columns."""

LINE_MM, LETTER_MM, SMALL_MM = 8.6, 2.2, 2.0


def room_of(paper: Paper) -> Point:
    """Return width and height of an upright page inside its margin."""
    wide, high = paper.size_mm
    return wide - 2 * MARGIN_MM, high - 2 * MARGIN_MM


def blank_form(unit: Unit, paper: Paper = Paper.A4) -> Drawing:
    """Return a page of two forms, half a page a board."""
    wide, high = room_of(paper)
    entities = [entity for half in range(2) for entity in _form(high - half * high / 2, wide, unit)]
    return page_of("Recording form", entities, paper)


def _form(top: float, width: float, unit: Unit) -> Iterator[Entity]:
    told = f"Unit: {unit.value}. Taped from the butt end, on the left; up from the lower edge."
    yield Text(told, (2.0, top - 5.0), LETTER_MM, Role.NOTE)
    y = top - 7.0
    for names in ASKED:
        y -= LINE_MM
        wide = width / len(names)
        for place, name in enumerate(names):
            yield Text(name, (2.0 + place * wide, y + 5.4), SMALL_MM, Role.TABLE)
            ends = ((2.0 + place * wide, y), ((place + 1) * wide - 2.0, y))
            yield Polyline(ends, Role.TABLE)


QR_MM, LABEL_HIGH_MM = 28.0, 34.0
"""Side of a label's code, its white border included, and what a label takes of the page."""


NAMES = ((5.0, 2), (3.5, 3), (2.5, 4))
"""Heights of a name on a label, the wanted one first, and how many lines of each have room."""

NAME_PITCH = 1.4


def labels(boards: Sequence[Board], unit: Unit, paper: Paper = Paper.A4) -> list[Drawing]:
    """Return pages of labels: a QR code of each board's name, and the name to be read."""
    wide, high = room_of(paper)
    across, rows = 2, int(high // LABEL_HIGH_MM)
    pages = []
    for first in range(0, len(boards), across * rows):
        entities = list[Entity]()
        for place, board in enumerate(boards[first : first + across * rows]):
            x = (place % across) * wide / across
            y = high - (place // across + 1) * LABEL_HIGH_MM
            entities.extend(_label(board, (x + 3.0, y + 3.0), wide / across, unit))
        pages.append(page_of("Labels", entities, paper))
    return pages


def _name_set(name: str, room: float) -> tuple[float, tuple[str, ...]]:
    """Return the height and the lines of a name on a label: whole, as large as can be."""
    for height, most in NAMES:
        lines = wrapped(name, height, room)
        if len(lines) <= most:
            return height, lines
    return height, name_short(name, height, room, most=most)


def _label(board: Board, at: Point, wide: float, unit: Unit) -> Iterator[Entity]:
    x, y = at
    yield code_area(board.name, at, QR_MM)
    left, room = x + QR_MM + 1.0, wide - QR_MM - 8.0
    height, lines = _name_set(board.name, room)
    for line, text in enumerate(lines):
        at = (left, y + QR_MM - 1.0 - height - NAME_PITCH * height * line)
        yield Text(text, at, height, Role.TITLE)
    size = f"{format_length(board.length_mm, unit)}, {taped_length(board.thickness_mm, unit)} thick"
    leaf = [] if board.leaf is None else [face_up(board)]
    for line, told in enumerate([*leaf, size, board.species]):
        (text,) = cut_short(told, LETTER_MM, room)
        yield Text(text, (left, y + 2.0 + 3.6 * line), LETTER_MM, Role.NOTE)


def page_of(title: str, entities: Sequence[Entity], paper: Paper) -> Drawing:
    """Return an upright page in a thin frame."""
    wide, high = room_of(paper)
    corners = ((0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high))
    frame = Polyline(corners, Role.GRID, is_closed=True)
    return Drawing(title, (*entities, frame), (0.0, 0.0, wide, high), 1.0, paper.value)
