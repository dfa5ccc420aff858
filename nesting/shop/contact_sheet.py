"""All boards of a project on paper with what is recorded of each: to be held against the pile."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from nesting.sheets.drawing import Anchor, Drawing, Entity, Point, Role, Text, View, moved
from nesting.sheets.figures import board_size
from nesting.sheets.lettering import cut_short, name_short, text_width
from nesting.sheets.symbols import keep_out_entities
from nesting.sheets.title import ENTRY_MM, SAMPLE_MM, face_up, keep_out_sample
from nesting.sheets.window import Window
from nesting.shop.board_forms import LETTER_MM, page_of, room_of
from nesting.shop.kinds import Paper
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import taped_length

HEAD_MM, SIDE_MM, LINE_MM = 6.0, 3.0, 3.8
"""Height of the line at a page's head, white at the sides, and from line to line."""

NAME_SHARE = 0.4
"""How much of a line a board's name may take, so that its figures stand behind it."""

HIGHEST_MM, LARGEST = 60.0, 0.5
"""A board is drawn no higher than this, and no larger than so many times its size."""

OWN_SCALE = "each to a scale of its own: go by the figures"


def contact_sheets(
    boards: Sequence[Board], unit: Unit, paper: Paper = Paper.A4, *, project_name: str
) -> list[Drawing]:
    """Return pages of all boards with their keep-outs, each as large as the page allows."""
    told = f"{counted(len(boards), 'board')}, {OWN_SCALE}; {project_name}"
    wide, high = room_of(paper)
    kinds = {keep_out.kind for board in boards for keep_out in board.keep_outs}
    key, key_mm = _key([kind for kind in KeepOutKind if kind in kinds], wide)
    above = [moved(entity, 1.0, (0.0, high - HEAD_MM)) for entity in key]
    pages = list(_pages(boards, unit, (wide, high - HEAD_MM - key_mm)))
    return [
        page_of("Contact sheet", [*_head(told, n, len(pages), (wide, high)), *above, *page], paper)
        for n, page in enumerate(pages, start=1)
    ]


def _head(told: str, number: int, count: int, room: Point) -> Iterator[Entity]:
    wide, y = room[0], room[1] - HEAD_MM + 2.0
    which = f"page {number} of {count}"
    (line,) = cut_short(told, LETTER_MM, wide - text_width(which, LETTER_MM) - 12.0)
    yield Text(line, (SIDE_MM, y), LETTER_MM, Role.TITLE)
    yield Text(which, (wide - SIDE_MM, y), LETTER_MM, Role.TITLE, Anchor.RIGHT)


def _key(kinds: Iterable[KeepOutKind], wide: float) -> tuple[list[Entity], float]:
    """Return the signs of kinds, each with its word, down from 0; and how much height they take."""
    found, x, rows = list[Entity](), wide, 0
    for kind in kinds:
        width = SAMPLE_MM + 2.0 + text_width(kind.value, LETTER_MM) + 5.0
        if x + width > wide - SIDE_MM:
            x, rows = SIDE_MM, rows + 1
        y = ENTRY_MM / 2 - ENTRY_MM * rows
        found += [moved(entity, 1.0, (x, y)) for entity in keep_out_sample(kind)]
        at = (x + SAMPLE_MM + 2.0, y - LETTER_MM / 2)
        found.append(Text(kind.value, at, LETTER_MM, Role.LEGEND))
        x += width
    return found, ENTRY_MM * rows


@dataclass(frozen=True)
class _Entry:
    """A board on a contact sheet: what is said of it, and how many times its size it is drawn."""

    board: Board
    told: tuple[str, ...]
    times: float

    @property
    def high_mm(self) -> float:
        """Height on the page."""
        _, low_y, _, high_y = self.board.shape.bounds
        return (high_y - low_y) * self.times + LINE_MM * len(self.told) + 8.0

    def drawn(self, y: float) -> Iterator[Entity]:
        """Yield the board and its lines over a height of the page."""
        low_x, low_y, _, high_y = self.board.shape.bounds
        shift = (SIDE_MM - low_x * self.times, y + 3.0 - low_y * self.times)
        window = Window(1.0, times=self.times, shift=shift, view=View.COPY)
        top = y + 3.0 + (high_y - low_y) * self.times + 3.0
        for row, line in enumerate(reversed(self.told)):
            yield Text(line, (SIDE_MM, top + LINE_MM * row), LETTER_MM, Role.NOTE)
        yield from window.rings(self.board.shape, (Role.BOARD, Role.BOARD))
        for number, keep_out in enumerate(self.board.keep_outs):
            yield from keep_out_entities(keep_out, window, number)


def _pages(boards: Sequence[Board], unit: Unit, room: Point) -> Iterator[Sequence[Entity]]:
    """Yield what stands on each page below its head."""
    wide, full = room
    entities, y = list[Entity](), full
    for board in boards:
        entry = _entry(board, unit, wide - 2 * SIDE_MM)
        if y < entry.high_mm and entities:
            yield entities
            entities, y = [], full
        y -= entry.high_mm
        entities.extend(entry.drawn(y))
    if entities:
        yield entities


def _entry(board: Board, unit: Unit, wide: float) -> _Entry:
    low_x, low_y, high_x, high_y = board.shape.bounds
    times = min(wide / (high_x - low_x), HIGHEST_MM / (high_y - low_y), LARGEST)
    (name,) = name_short(board.name, LETTER_MM, NAME_SHARE * wide)
    said = (
        f"{name}: {board.species}, {board_size(board, unit)}, "
        f"{taped_length(board.thickness_mm, unit)} thick, {face_up(board)}"
    )
    counts = Counter(keep_out.kind for keep_out in board.keep_outs)
    kinds = ", ".join(f"{kind.value} {counts[kind]}" for kind in KeepOutKind if counts[kind])
    lines = (said, f"recorded: {kinds}" if kinds else "nothing recorded on it")
    told = tuple(line for text in lines for line in cut_short(text, LETTER_MM, wide))
    return _Entry(board, told, times)
