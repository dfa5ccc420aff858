"""How drawings are told in DXF: layers, colours, line types, lettering, tags.

The layer table below is the whole of the convention: one layer for each role, named in the
trade's words, everything drawn by layer. Layers beginning with ``COPY_`` hold what is drawn
again for reading; a machine takes ``SAW_OPENING``, then ``SAW_OUTLINE``, and nothing else.
How a file holds them is said in ``group_codes``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from nesting.sheets.drawing import Role, Tag, View
from nesting.sheets.pen import Dash, Ink
from nesting.unseen import is_seen

Version = Literal["R2010", "R12"]

LAYERS: dict[Role, str] = {
    Role.SAW_OPENING: "SAW_OPENING",
    Role.SAW_OUTLINE: "SAW_OUTLINE",
    Role.BOARD: "BOARD_EDGE",
    Role.METAL: "METAL",
    Role.HOLE: "OLD_HOLE",
    Role.RECESS: "RECESS",
    Role.GROOVE: "GROOVE",
    Role.ROT: "ROT",
    Role.SPLIT: "SPLIT",
    Role.KNOT: "KNOT",
    Role.STAIN: "STAIN",
    Role.WORN_EDGE: "WORN_EDGE",
    Role.BUNG: "BUNG",
    Role.OFFCUT: "OFFCUT_KEPT",
    Role.BREAK_DOWN: "BREAK_DOWN_CUT",
    Role.MARK_CENTRELINE: "SCRIBE_CENTRELINE",
    Role.MARK_FRAME: "SCRIBE_FRAME",
    Role.MARK_BOLT: "SCRIBE_BOLT",
    Role.MARK_FACE: "SCRIBE_FACE",
    Role.MARK_REFERENCE: "SCRIBE_REFERENCE",
    Role.PATTERN: "PATTERN_EDGE",
    Role.REGISTER: "REGISTER_CROSS",
    Role.ROUT_OPENING: "ROUT_OPENING",
    Role.ROUT_OUTLINE: "ROUT_OUTLINE",
    Role.BORE_BOLT: "BORE_BOLT",
    Role.BORE_BUNG: "BORE_BUNG",
    Role.NO_CUTTER: "METAL_NO_CUTTER",
    Role.TIGHT_CORNER: "TIGHT_CORNER",
    Role.PART: "PART_IN_BOAT",
    Role.SECTION: "SECTION",
    Role.WATERLINE: "WATERLINE",
    Role.BUTTOCK: "BUTTOCK",
    Role.DIAGONAL: "DIAGONAL",
    Role.SHEER: "SHEER",
    Role.CHINE: "CHINE",
    Role.RABBET: "RABBET",
    Role.TRANSOM: "TRANSOM",
    Role.GRID: "GRID",
    Role.BATTEN: "BATTEN",
    Role.GRAIN: "GRAIN",
    Role.GRAIN_LINE: "GRAIN_LINE",
    Role.BASE_LINE: "BASE_LINE",
    Role.MARKED_POINT: "MARKED_POINT",
    Role.LEADER: "LEADER",
    Role.PART_NAME: "PART_NAME",
    Role.NOTE: "NOTE",
    Role.RULER: "RULER",
    Role.BREAK: "BREAK_LINE",
    Role.TABLE: "LISTS",
    Role.LEGEND: "SIGNS",
    Role.TITLE: "TITLE",
    Role.CAUTION: "CAUTION",
    Role.FRAME: "SHEET_FRAME",
}
"""Names fit R12: 31 characters of A-Z 0-9 _ - at most, the prefix counted."""

COPY_PREFIX = "COPY_"

COLOURS: dict[Ink, int] = {
    Ink.BLACK: 7,
    Ink.RED: 1,
    Ink.BLUE: 150,
    Ink.GREEN: 94,
    Ink.BROWN: 34,
    Ink.VIOLET: 202,
    Ink.GREY: 8,
}
"""Numbers of the DXF colour index; 7 is black on white and white on black."""

LINE_TYPES: dict[Dash, str] = {
    Dash.SOLID: "CONTINUOUS",
    Dash.DASHED: "SHEET_DASHED",
    Dash.CHAIN: "SHEET_CHAIN",
    Dash.DOTTED: "SHEET_DOTTED",
    Dash.DOUBLE_CHAIN: "SHEET_DOUBLE_CHAIN",
}

APP_ID = "SALVAGE_NEST"
"""Under this name entities carry what they stand for; ``sheets.read_back`` reads it."""

TEXT_STYLE = "SHEET"
FONTS: dict[Version, str] = {"R2010": "arial.ttf", "R12": "txt"}
"""Found everywhere, or replaced by one as wide; R12 knows no other kind than ``txt``."""

WIDTH_FACTORS: dict[Version, float] = {"R2010": 1.0, "R12": 0.8}
"""``txt`` is set narrower, since its letters are wider than the room reckoned for them."""

LAYOUT_NAME = "Print on "
"""How the name of our paper layout begins; the paper's name ends it."""

UNPRINTED_LAYER = "Defpoints"
"""A layer that no program prints (from memory), there in every file: for edges of viewports."""

INSERT_UNITS_MM = 4
"""$INSUNITS for millimetres (DXF reference, HEADER section)."""


def layer_name(role: Role, view: View = View.FULL_SIZE) -> str:
    """Return the layer of a role."""
    return f"{COPY_PREFIX if view is View.COPY else ''}{LAYERS[role]}"


def text_as_written(text: str) -> str:
    """Return lettering as a file has it, where some signs mean others."""
    return _one_line(text).replace("^", "^ ").replace("%%", "% %").replace("Ø", "%%c")


def _one_line(text: str) -> str:
    if is_seen(text):
        return text
    return "".join(letter if is_seen(letter) else " " for letter in text)


LONGEST_TAG = 230
"""Bytes of one piece of a tag, its name counted: below the 255 that a DXF string may have."""

LONGEST_LETTER = 7
"""Bytes of a letter outside ASCII, ``\\U+0141``; less in UTF-8."""


def tag_as_written(tag: Tag) -> tuple[str, ...]:
    """Return the texts that a file holds for a tag: its subject, then ``name=value`` in turn.

    A long value goes on in more of the same name.
    """
    pieces = [
        f"{name}={piece}" for name, value in tag.fields for piece in _pieces(name, _one_line(value))
    ]
    return (tag.subject, *pieces)


def _pieces(name: str, value: str) -> Iterator[str]:
    room = LONGEST_TAG - len(name) - 1
    if len(value) * LONGEST_LETTER <= room:
        yield value
        return
    start = taken = 0
    for at, letter in enumerate(value):
        size = 1 if letter.isascii() else LONGEST_LETTER
        if taken + size > room:
            yield value[start:at]
            start, taken = at, 0
        taken += size
    yield value[start:]


def tag_of(said: Sequence[str]) -> Tag:
    """Return the tag that such texts were written for.

    >>> tag = Tag("board", (("name", "D-07"), ("note", "long " * 100)))
    >>> tag_of(tag_as_written(tag)) == tag
    True
    """
    subject, *texts = said or ("",)
    fields: dict[str, str] = {}
    for text in texts:
        name, _, value = text.partition("=")
        fields[name] = fields.get(name, "") + value
    return Tag(subject, tuple(fields.items()))
