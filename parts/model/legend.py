"""The lettering of the boat's picture: a title, and a swatch for each board."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from parts.model.colour import Colour
from parts.model.piece import Piece
from parts.model.render import FINER

if TYPE_CHECKING:
    from vtkmodules.vtkRenderingCore import vtkRenderer

LETTER_PX, TITLE_PX, PITCH_PX, COLUMN_PX, MARGIN_PX = 15, 22, 23, 118, 28
"""Heights of lettering and title, from row to row, least width of a column, and the margin."""

INK: Colour = (0.13, 0.14, 0.16)


@dataclass(frozen=True)
class Entry:
    """One line of the legend."""

    text: str
    colour: Colour


@dataclass(frozen=True)
class Legend:
    """Title and entries, laid out in columns for a width; heights in pixels from below."""

    title: str
    entries: tuple[Entry, ...]
    width_px: int

    @property
    def column_px(self) -> int:
        """Width of a column: as the longest entry needs."""
        longest = max((len(entry.text) for entry in self.entries), default=0)
        return max(COLUMN_PX, round(0.58 * LETTER_PX * longest) + 3 * LETTER_PX)

    @property
    def columns(self) -> int:
        """How many columns there are."""
        return max(1, (self.width_px - 2 * MARGIN_PX) // self.column_px)

    @property
    def height_px(self) -> int:
        """Height of the strip that it takes."""
        rows = math.ceil(len(self.entries) / self.columns)
        return 2 * MARGIN_PX + 2 * TITLE_PX + rows * PITCH_PX

    def place(self, k: int) -> tuple[int, int]:
        """Return where the base line of an entry begins; entries run along the rows."""
        row, column = divmod(k, self.columns)
        top = self.height_px - MARGIN_PX - 2 * TITLE_PX
        return MARGIN_PX + column * self.column_px, top - (row + 1) * PITCH_PX + LETTER_PX // 2


def legend_of(pieces: Sequence[Piece], title: str, width_px: int) -> Legend:
    """Return the legend of pieces: their boards in turn, each with how many it gave."""
    counts = Counter(piece.board for piece in pieces)
    colours = {piece.board: piece.colour for piece in pieces}
    named = sorted(counts, key=lambda board: (not board, _in_order(board)))
    entries = tuple(
        Entry(f"{board or 'no board'}: {counts[board]}", colours[board]) for board in named
    )
    return Legend(title, entries, width_px)


def _in_order(name: str) -> list[tuple[int, str]]:
    """Return a key that puts D-9 before D-10."""
    pieces = re.split(r"(\d+)", name)
    return [(int(piece), "") if piece.isdigit() else (-1, piece) for piece in pieces]


def add_legend(renderer: vtkRenderer, legend: Legend) -> None:
    """Draw a legend into a renderer of its own, from its lower left."""
    top = legend.height_px - MARGIN_PX - TITLE_PX // 2
    _add_text(renderer, legend.title, (MARGIN_PX, top), TITLE_PX, is_bold=True)
    for k, entry in enumerate(legend.entries):
        x, y = legend.place(k)
        _add_swatch(renderer, (x, y - 1), entry.colour)
        _add_text(renderer, entry.text, (x + 2 * LETTER_PX, y), LETTER_PX)


def _add_text(
    renderer: vtkRenderer, text: str, at: tuple[int, int], height_px: int, *, is_bold: bool = False
) -> None:
    from vtkmodules.vtkRenderingCore import vtkTextActor

    shown = vtkTextActor()
    shown.SetInput(text)
    look = shown.GetTextProperty()
    look.SetFontSize(height_px * FINER)
    look.SetColor(*INK)
    look.SetBold(is_bold)
    look.SetFontFamilyToArial()
    shown.SetPosition(at[0] * FINER, at[1] * FINER)
    renderer.AddViewProp(shown)


def _add_swatch(renderer: vtkRenderer, at: tuple[int, int], colour: Colour) -> None:
    from vtkmodules.vtkRenderingCore import vtkActor2D, vtkPolyDataMapper2D

    for grow, shade in ((1.0, INK), (0.0, colour)):
        mapper = vtkPolyDataMapper2D()
        mapper.SetInputData(_rectangle(at, grow))
        shown = vtkActor2D()
        shown.SetMapper(mapper)
        shown.GetProperty().SetColor(*shade)
        renderer.AddViewProp(shown)


def _rectangle(at: tuple[int, int], grow: float) -> object:
    import numpy as np

    from parts.model.mesh import Mesh
    from parts.model.render import poly_data

    x, y = at[0] - grow, at[1] - grow
    right, top = x + 1.5 * LETTER_PX + 2 * grow, y + 0.85 * LETTER_PX + 2 * grow
    corners = np.array([[x, y, 0], [right, y, 0], [right, top, 0], [x, top, 0]])
    return poly_data(Mesh(corners * FINER, np.array([[0, 1, 2], [0, 2, 3]])))
