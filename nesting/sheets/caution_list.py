"""The cautions in full, as a block of lettering beside the boards of an overview."""

from __future__ import annotations

from nesting.cautions import CAUTIONS, HEADING
from nesting.sheets.blocks import HEADING_MM, LETTER_MM, Block
from nesting.sheets.drawing import Entity, Role, Text
from nesting.sheets.lettering import text_width, wrapped

WIDTH_MM = 128.0
"""Width of the block: lines of some sixty characters, as long as one reads with ease."""

LINE_MM = 4.0
INDENT_MM = 4.0
"""Lines below the first of a caution stand in by so much, so that each caution is seen."""


def caution_list() -> Block:
    """Return every caution in full; lower than any sheet, so it is never torn apart."""
    entities: list[Entity] = [Text(HEADING, (0.0, -HEADING_MM), HEADING_MM, Role.CAUTION)]
    y = -HEADING_MM - 2.0 - LETTER_MM
    for caution in CAUTIONS:
        text = f"{caution.about}: {caution.full}"
        for number, line in enumerate(wrapped(text, LETTER_MM, WIDTH_MM - INDENT_MM)):
            at = (INDENT_MM if number else 0.0, y)
            entities.append(Text(line, at, LETTER_MM, Role.CAUTION))
            y -= LINE_MM
    width = max(WIDTH_MM, text_width(HEADING, HEADING_MM))
    return Block(width, LETTER_MM - LINE_MM - y, tuple(entities))
