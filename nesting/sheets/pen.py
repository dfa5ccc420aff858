"""The pens: how thick, what colour and how broken a line of each role is.

Colour never carries a meaning alone: every role also differs by weight, dash or symbol, so
that a sheet copied in black can be worked from. Cuts are the heaviest lines on the sheet. Widths
are those of ISO 128-2, a wide line being twice a narrow one (from memory): 0.7 for cuts, 0.35 and
less for all else but metal.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.sheets.drawing import Role


class Ink(StrEnum):
    """A colour that is dark enough to print and light enough for a dark screen."""

    BLACK = "#000000"
    RED = "#c00000"
    BLUE = "#0048b0"
    GREEN = "#007030"
    BROWN = "#8a4a00"
    VIOLET = "#90209a"
    GREY = "#6a6a6a"


def shaded(ink: Ink, shade: float) -> str:
    """Return a colour of which only a share is laid on white, as ``#rrggbb``.

    >>> shaded(Ink.BLACK, 1.0), shaded(Ink.RED, 0.1)
    ('#000000', '#f9e6e6')
    """
    parts = (int(ink.value[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(255 - shade * (255 - part)):02x}" for part in parts)


class Dash(StrEnum):
    """How a line is broken."""

    SOLID = "solid"
    DASHED = "dashed"
    CHAIN = "chain"
    DOTTED = "dotted"
    DOUBLE_CHAIN = "double chain"


DASH_PAPER_MM: dict[Dash, tuple[float, ...]] = {
    Dash.SOLID: (),
    Dash.DASHED: (3.0, -1.5),
    Dash.CHAIN: (7.0, -1.2, 1.2, -1.2),
    Dash.DOTTED: (0.6, -1.2),
    Dash.DOUBLE_CHAIN: (6.0, -1.0, 0.7, -1.0, 0.7, -1.0),
}
"""Lengths on paper: positive drawn, negative left out."""


@dataclass(frozen=True)
class Pen:
    """One pen; width in paper mm."""

    width_mm: float
    ink: Ink = Ink.BLACK
    dash: Dash = Dash.SOLID


PENS: dict[Role, Pen] = {
    Role.SAW_OPENING: Pen(0.70),
    Role.SAW_OUTLINE: Pen(0.70),
    Role.BOARD: Pen(0.35, Ink.BROWN),
    Role.METAL: Pen(0.50, Ink.RED),
    Role.HOLE: Pen(0.18, Ink.BLUE),
    Role.RECESS: Pen(0.18, Ink.BLUE),
    Role.GROOVE: Pen(0.18, Ink.BLUE),
    Role.ROT: Pen(0.25, Ink.BROWN),
    Role.SPLIT: Pen(0.25, Ink.BROWN),
    Role.KNOT: Pen(0.18, Ink.BROWN),
    Role.STAIN: Pen(0.18, Ink.GREY),
    Role.WORN_EDGE: Pen(0.18, Ink.GREY),
    Role.BUNG: Pen(0.35, Ink.GREEN),
    Role.OFFCUT: Pen(0.25, Ink.GREEN, Dash.DASHED),
    Role.BREAK_DOWN: Pen(0.35, Ink.BLACK, Dash.DOUBLE_CHAIN),
    Role.MARK_CENTRELINE: Pen(0.18, Ink.VIOLET, Dash.CHAIN),
    Role.MARK_FRAME: Pen(0.18, Ink.VIOLET, Dash.DASHED),
    Role.MARK_BOLT: Pen(0.18, Ink.VIOLET, Dash.CHAIN),
    Role.MARK_FACE: Pen(0.25, Ink.VIOLET),
    Role.MARK_REFERENCE: Pen(0.18, Ink.VIOLET, Dash.DOTTED),
    Role.PATTERN: Pen(0.35),
    Role.REGISTER: Pen(0.25),
    Role.ROUT_OPENING: Pen(0.35),
    Role.ROUT_OUTLINE: Pen(0.35),
    Role.BORE_BOLT: Pen(0.25, Ink.VIOLET),
    Role.BORE_BUNG: Pen(0.25, Ink.GREEN),
    Role.NO_CUTTER: Pen(0.50, Ink.RED),
    Role.TIGHT_CORNER: Pen(0.25, Ink.BROWN),
    Role.PART: Pen(0.35),
    Role.SECTION: Pen(0.25),
    Role.WATERLINE: Pen(0.25, Ink.BLUE),
    Role.BUTTOCK: Pen(0.25, Ink.GREEN),
    Role.DIAGONAL: Pen(0.25, Ink.BROWN),
    Role.SHEER: Pen(0.35),
    Role.CHINE: Pen(0.35),
    Role.RABBET: Pen(0.35),
    Role.TRANSOM: Pen(0.35),
    Role.GRID: Pen(0.13, Ink.GREY),
    Role.BATTEN: Pen(0.25, Ink.RED),
    Role.GRAIN: Pen(0.18, Ink.BROWN),
    Role.GRAIN_LINE: Pen(0.18, Ink.BROWN),
    Role.BASE_LINE: Pen(0.18, Ink.BLUE, Dash.CHAIN),
    Role.MARKED_POINT: Pen(0.18, Ink.BLUE),
    Role.LEADER: Pen(0.18, Ink.GREY, Dash.DOTTED),
    Role.PART_NAME: Pen(0.25),
    Role.NOTE: Pen(0.18),
    Role.RULER: Pen(0.18),
    Role.BREAK: Pen(0.18, Ink.GREY, Dash.CHAIN),
    Role.TABLE: Pen(0.18),
    Role.LEGEND: Pen(0.18),
    Role.TITLE: Pen(0.25),
    Role.CAUTION: Pen(0.25, Ink.RED),
    Role.FRAME: Pen(0.25, Ink.GREY),
}
