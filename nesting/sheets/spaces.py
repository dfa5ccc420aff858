"""In which space an entity of a file stands: in the drawing itself, on paper, in a block."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nesting.sheets.entities import HANDLE, IN_PAPER_SPACE, OWNER
from nesting.sheets.records import (
    NAME,
    NONE,
    Pair,
    Pairs,
    Record,
    blocks_of,
    records_of,
)


def spaces_of(tables: Iterable[Record], sections: dict[str, Pairs]) -> dict[str, str]:
    """Return by the handle of each block what drawing it is: ``Model``, a sheet's name, a block."""
    found = {
        record.text(HANDLE): record.text(NAME) for record in tables if record.kind == "BLOCK_RECORD"
    }
    for record in records_of(sections.get("OBJECTS", NONE)):
        if record.kind == "LAYOUT":
            _, own = halves(record)
            owners = [value for code, value in own.pairs if code == OWNER]
            found[owners[-1]] = own.text(1)
    return found


OF_LAYOUT: Pair = (100, "AcDbLayout")
"""From here on a LAYOUT says what is its own; before, how it is plotted (DXF reference, LAYOUT)."""


def halves(layout: Record) -> tuple[Record, Record]:
    """Return how a layout is plotted, and what is its own."""
    middle = list(layout.pairs).index(OF_LAYOUT)
    return Record("", layout.pairs.cut(0, middle)), Record("", layout.pairs.cut(middle))


MODEL, NO_SPACE = "Model", "of no block"

Place = tuple[str, bool]
"""In which space an entity stands, and whether it says that it is on paper."""

IN_MODEL: Place = (MODEL, False)


def place_of(entity: Record, spaces: dict[str, str]) -> Place:
    """Return in which space an entity stands by its owner, and whether it says it is on paper."""
    owner = entity.text(OWNER)
    space = spaces.get(owner, NO_SPACE if owner and spaces else MODEL)
    return space, bool(entity.number(IN_PAPER_SPACE, 0))


def said_elsewhere(entity: Record, place: Place) -> Iterator[str]:
    """Yield what is to be said of an entity that stands elsewhere than in the drawing itself."""
    if entity.kind == "VIEWPORT":
        return
    space, says_paper = place
    if space != MODEL:
        yield f"a {entity.kind} on paper {space!r}"
    if says_paper:
        yield f"a {entity.kind} that is said to be on paper"


def in_blocks(sections: dict[str, Pairs], spaces: dict[str, str]) -> Iterator[str]:
    """Yield what the blocks of the drawing and of the paper hold: none of ours stands there."""
    for block, held in blocks_of(sections.get("BLOCKS", NONE)):
        name = block.text(NAME)
        if name[1:].upper().startswith(("MODEL_SPACE", "PAPER_SPACE")):
            kinds = [one.kind for one in held if one.kind not in ("VIEWPORT", "VERTEX", "SEQEND")]
            space = spaces.get(block.text(OWNER), name)
            yield from (f"a {kind} on paper {space!r}" for kind in kinds)
