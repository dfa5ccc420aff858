"""What the parts list has no room for: the bevels of each part, and what else is to be known.

Copies of one part are told once, with all their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby, zip_longest

from nesting.need import Need
from nesting.nest import Nest
from nesting.outline import Bevel
from nesting.sheets.blocks import LETTER_MM, Table, record_table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import figure
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.lists import measures
from nesting.units import Unit

NUMBERS_MM, EDGE_MM = 14.0, 58.0
WIDTHS = (NUMBERS_MM, EDGE_MM, 34.0, 48.0, 64.0)
"""Widths of the columns of bevels; a longer text takes another row."""

NOTE_MM = 104.0
"""Width of the column of notes: with their numbers about that of the parts list above them."""

EDGE, SENSES = "edge, as the marked face is seen", "bevel (standing: far face larger)"

ALL_ALONG = "all along"

SQUARE_DEG = 0.05
"""A bevel that would be written as 0.0 degrees."""

LEFT = Anchor.LEFT


def bevel_table(nest: Nest, unit: Unit) -> Table:
    """Return one row for every bevel, with its edge or edges; places along them if it varies."""
    told = [row for numbers, need in _needs(nest) for row in _told(numbers, need, unit)]
    columns = ("no.", EDGE, "along it", "from", SENSES)
    heading = f"Bevels from square, {measures(unit)} along the edge"
    shown: Sequence[int] = range(len(columns))
    if all(row[2] == ALL_ALONG for row in told):
        # Two columns that say nothing would take the room of an enlargement.
        heading, shown = "Bevels from square, all along the edge", (0, 1, 4)
    widths = tuple(WIDTHS[k] for k in shown)
    rows = [_wrapped(_only(texts, shown), widths) for texts in told]
    return record_table(heading, _only(columns, shown), (LEFT,) * len(shown), rows)


def _only(texts: tuple[str, ...], shown: Iterable[int]) -> tuple[str, ...]:
    return tuple(texts[k] for k in shown)


def note_table(nest: Nest) -> Table:
    """Return the notes on the parts, each told once."""
    numbers: dict[str, list[int]] = {}
    for number, placement in enumerate(nest.placements, start=1):
        for note in placement.need.notes:
            numbers.setdefault(note, []).append(number)
    told = [(_runs(dict.fromkeys(found)), note) for note, found in numbers.items()]
    rows = [_wrapped(texts, (NUMBERS_MM, NOTE_MM)) for texts in told]
    return record_table("Notes", ("no.", "note"), (LEFT,) * 2, rows)


def _needs(nest: Nest) -> list[tuple[str, Need]]:
    """Return every part on a board once, with the numbers of its copies."""
    numbers: dict[str, list[int]] = {}
    needs = {placement.need.part: placement.need for placement in nest.placements}
    for number, placement in enumerate(nest.placements, start=1):
        numbers.setdefault(placement.need.part, []).append(number)
    return [(_runs(numbers[part]), need) for part, need in needs.items()]


def _runs(numbers: Iterable[int]) -> str:
    """Return numbers in rising order with their runs drawn together.

    >>> _runs([1, 2, 3, 7])
    '1-3, 7'
    """
    told = []
    for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        first, *others = [number for _, number in run]
        told.append(f"{first}-{others[-1]}" if others else str(first))
    return ", ".join(told)


def _told(numbers: str, need: Need, unit: Unit) -> list[tuple[str, ...]]:
    """Return number, edges, places, where they count from, and bevels, for each bevel of a part.

    Edges that are bevelled alike share a row if it holds their names.
    """
    edges = dict[tuple[str, ...], list[str]]()
    for edge, bevels in groupby(need.outline.bevels, key=lambda bevel: bevel.edge):
        texts = bevel_texts(list(bevels), unit)
        named = edges.setdefault(texts, [edge])
        joined = f"{named[-1]}, {edge}"
        if edge not in named[-1]:
            if text_width(joined, LETTER_MM) <= EDGE_MM:
                named[-1] = joined
            else:
                named.append(edge)
    return [(numbers, names, *texts) for texts, found in edges.items() for names in found]


def bevel_texts(bevels: list[Bevel], unit: Unit) -> tuple[str, ...]:
    """Return how far along an edge its bevels are told, from where, and they themselves."""
    places = [figure(b.along_mm, unit) for b in bevels if b.along_mm is not None]
    angles = _angles([bevel.angle_deg for bevel in bevels])
    return ", ".join(places) or ALL_ALONG, bevels[0].along_from, angles


def _angles(angles: list[float]) -> str:
    """Return bevels in words; neighbours of one sense have it once, after the last."""
    told = []
    for sense, alike in groupby(angles, key=_sense):
        figures = ", ".join(f"{abs(angle):.1f}°" for angle in alike)
        told.append(f"{figures} {sense}" if sense else figures)
    return ", ".join(told)


def _sense(angle_deg: float) -> str:
    if abs(angle_deg) < SQUARE_DEG:
        return ""
    return "standing" if angle_deg > 0 else "under"


def _wrapped(texts: tuple[str, ...], widths: tuple[float, ...]) -> list[tuple[str, ...]]:
    """Return one row of a table as the rows that its longest text needs."""
    cells = [wrapped(text, LETTER_MM, width) for text, width in zip(texts, widths, strict=True)]
    return list(zip_longest(*cells, fillvalue=""))
