"""Letters that a DXF cannot hold as they are, refused before anything is searched."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from nesting.project.entry import Entry, Loc
from nesting.unseen import quoted

ON_SHEETS = frozenset({"name", "board", "part", "species", "member", "came_from", "note", "notes"})
"""Keys whose texts are written on sheets."""

LAST_IN_R12 = "\uffff"
"""R12 has letters of four hexadecimal digits, written \\U+0141 (DXF reference, from memory)."""


def note_letters_past_r12(top: Entry, entries: Iterable[Entry]) -> None:
    """Note every text for the sheets that no R12 can hold: emoji, and some rare scripts."""
    _note(top, {"name": top.data.get("name")})
    for entry in entries:
        _note(entry, entry.data)


def _note(entry: Entry, data: Any) -> None:
    for loc, text in texts_on_sheets(data):
        if max(text) > LAST_IN_R12:
            letter = next(letter for letter in text if letter > LAST_IN_R12)
            entry.note(
                loc,
                f"{quoted(text)} holds {letter} (U+{ord(letter):04X}), which a DXF in R12 cannot "
                "hold: leave it out, or write R2010",
            )


def texts_on_sheets(
    data: Any, at: Loc = (), *, is_shown: bool = False
) -> Iterator[tuple[Loc, str]]:
    """Yield the texts for the sheets in a block, each with its path."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from texts_on_sheets(value, (*at, key), is_shown=key in ON_SHEETS)
    elif isinstance(data, list | tuple):
        for number, value in enumerate(data):
            yield from texts_on_sheets(value, (*at, number), is_shown=is_shown)
    elif is_shown and isinstance(data, str) and data:
        yield at, data
