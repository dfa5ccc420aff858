"""The tables of a cut sheet that a part is marked out from: base line, points, bolts and lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.marking.base_line import BaseKind, BaseLine, StringEnd
from nesting.marking.marking_out import (
    MarkedLine,
    MarkedPart,
    MarkedPoint,
    MarkedRing,
    MarkingOut,
)
from nesting.sheets.blocks import CELL_PAD_MM, LETTER_MM, Table, record_table, table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import exact_figure
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.lists import measures
from nesting.units import Unit
from nesting.written_measures import exact_length

WIDEST_MM = 122.0
"""The table of points takes about the width of the parts list that stands over it."""

MOST_ABREAST = 5
"""Points in one row of the table, at most: more than the eye keeps apart."""

SAID_MM = 114.0
"""Width of the lines that say how the base line is struck."""

BEYOND_MM = 1.0
"""Parts that reach further past an edge's end are marked from the edge carried on."""

LEFT, RIGHT = Anchor.LEFT, Anchor.RIGHT


def base_table(marked: MarkingOut, unit: Unit) -> Table:
    """Return how the base line is found, and how the figures are meant."""
    if not marked.parts:
        return table("", ("",), (LEFT,), ())
    told = [_found(marked, unit), *_meant(marked, unit)]
    rows = [[(line,) for line in wrapped(text, LETTER_MM, SAID_MM)] for text in told]
    return record_table("Marking out", ("from the base line",), (LEFT,), rows)


def _found(marked: MarkingOut, unit: Unit) -> str:
    rings = [ring for part in marked.parts for ring in part.rings]
    furthest = max((point.along_mm for ring in rings for point in ring.points), default=0.0)
    return f"Base line: {base_words(marked.base, furthest, unit)}"


def base_words(base: BaseLine, furthest_mm: float, unit: Unit) -> str:
    """Return how a base line is struck; ``furthest_mm`` is how far along it parts lie."""
    if base.kind is BaseKind.STRING:
        left, right = (_end(end, unit) for end in base.ends)
        return (
            f"a string, its left end {left}, its right end {right}; along from its left "
            "end, across square up."
        )
    on = ", carried on straight" if furthest_mm > base.reaches_mm + BEYOND_MM else ""
    return f"the lower edge{on}; along from its left corner, across square up."


def _end(end: StringEnd, unit: Unit) -> str:
    """Return where an end of a string is, in words."""
    run = (end.at[0] - end.from_corner[0], end.at[1] - end.from_corner[1])
    if end.measure_mm == 0:
        return "at the corner of the board there"
    side = "below" if run[1] > 0 else "above"
    if abs(run[0]) > abs(run[1]):
        side = "left of it" if run[0] > 0 else "right of it"
        return f"{exact_length(end.measure_mm, unit)} along the edge from the corner {side}"
    return f"{exact_length(end.measure_mm, unit)} along the edge from the corner {side} it"


def _meant(marked: MarkingOut, unit: Unit) -> Iterator[str]:
    rings = [ring for part in marked.parts for ring in part.rings]
    points = [point for ring in rings for point in ring.points]
    said = "Letters: corners, anticlockwise from lower left."
    within = exact_length(marked.tape.within_mm, unit)
    if any(not point.is_corner and point.radius_mm is None for point in points):
        said += (
            " Numbers: on curves; a batten through them, free at the letters, is within "
            f"{within} of the cut line."
        )
    yield said
    if any(not point.is_corner and point.radius_mm is not None for point in points):
        yield (
            "R: the centre of an arc from the letter before it to the one after, so struck within "
            f"{within} of the cut line."
        )
    if any(ring.diameter_mm is not None for ring in rings):
        yield "Ø: the centre of a round line, and how far across that is."
    if any(point.across_mm < 0 for point in points):
        yield "Across with -: below the line."
    if any(point.along_mm < 0 for point in points):
        yield "Along with -: to the left of 0."


def points_table(marked: MarkingOut, unit: Unit) -> Table:
    """Return the points round each part in order, several in a row."""
    told = [(part, _cells(part, unit)) for part in marked.parts]
    abreast = _abreast([cell for _, cells in told for cell in cells])
    records = []
    for part, cells in told:
        rows = []
        for first in range(0, len(cells), abreast):
            some = cells[first : first + abreast]
            number = str(part.number) if first == 0 else ""
            flat = [text for cell in some for text in cell]
            rows.append((number, *flat, *[""] * (3 * (abreast - len(some)))))
        records.append(rows)
    columns = ("no.", *("point", "along", "across") * abreast)
    anchors = (RIGHT,) * len(columns)
    return record_table(f"Points, {measures(unit)}", columns, anchors, records)


def _cells(part: MarkedPart, unit: Unit) -> list[tuple[str, str, str]]:
    """Return name, along and across of every point of a part as printed."""
    return [cell for ring in part.rings for cell in _ring_cells(ring, unit)]


def _ring_cells(ring: MarkedRing, unit: Unit) -> Iterator[tuple[str, str, str]]:
    for point in ring.points:
        along, across = (exact_figure(mm, unit) for mm in (point.along_mm, point.across_mm))
        yield f"{point.name}{_size(point, ring, unit)}", along, across


def _size(point: MarkedPoint, ring: MarkedRing, unit: Unit) -> str:
    """Return what is struck about a point: nothing about one that is no centre."""
    if ring.diameter_mm is not None:
        return f" Ø{exact_figure(ring.diameter_mm, unit)}"
    return "" if point.radius_mm is None else f" R{exact_figure(point.radius_mm, unit)}"


def _abreast(cells: Sequence[tuple[str, str, str]]) -> int:
    """Return how many points stand in a row: as many as are as wide as the parts list."""
    heads = ("point", "along", "across")
    widths = [
        max(text_width(text, LETTER_MM) for text in (head, *(cell[k] for cell in cells)))
        for k, head in enumerate(heads)
    ]
    each = sum(widths) + 3 * 2 * CELL_PAD_MM
    return max(1, min(MOST_ABREAST, int((WIDEST_MM - text_width("no.", LETTER_MM)) / each)))


def lines_table(marked: MarkingOut, unit: Unit) -> Table:
    """Return bolts, and where scribed lines begin and end."""
    told = [(part.number, line) for part in marked.parts for line in part.lines]
    has_lines = any(len(line.ends) > 1 for _, line in told)
    more = ("to along", "across") if has_lines else ()
    columns = ("no.", "bolt or line", "Ø", "along", "across", *more)
    rows = [(str(number), *_line(line, unit))[: len(columns)] for number, line in told]
    anchors = (RIGHT, LEFT, *[RIGHT] * (len(columns) - 2))
    return table(f"Bolts and scribed lines, {measures(unit)}", columns, anchors, tuple(rows))


def _line(line: MarkedLine, unit: Unit) -> tuple[str, ...]:
    size = "" if line.diameter_mm is None else exact_figure(line.diameter_mm, unit)
    figures = [exact_figure(mm, unit) for end in line.ends for mm in end]
    return (line.name, size, *figures, *[""] * (4 - len(figures)))
