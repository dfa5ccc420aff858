"""The printed mark sheets: four marks each, of known size and place, and rulers to prove scale.

A sheet's frame has its origin in its middle, x to the right and y up, mm. Sheet n has the marks
4n to 4n + 3: upper left, upper right, lower right, lower left.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.photo.opencv import opencv
from nesting.sheets.drawing import Area, Drawing, Entity, Polyline, Role, Text
from nesting.sheets.lettering import wrapped
from nesting.sheets.pdf import MARGIN_MM
from nesting.shop.kinds import Paper

MARK_MM = 60.0
"""Side of a mark's black square."""

CENTRES_MM = ((-60.0, 95.0), (60.0, 95.0), (60.0, -95.0), (-60.0, -95.0))
"""Middles of the four marks; with them the black lies 15 mm and more off the edges of A4 and
letter, so that every printer has room for it and each mark has white all round."""

MARKS_A_SHEET = len(CENTRES_MM)

MODULES = 8
"""Cells along a mark's side: six of code and the black border on either side."""

MOST_SHEETS = 587 // MARKS_A_SHEET
"""The family 36h11 has 587 codes, any two different in 11 cells and more (OpenCV's table of it)."""

PAPERS = (Paper.A4, Paper.LETTER)

RULER_MM = 250.0
"""Length of the check ruler up the middle of a sheet, as long as from the upper marks' upper edge
to the lower ones' lower edge: read to a quarter of a millimetre it proves 2.4 m to 2.4 mm."""

CROSS_RULER_MM = 170.0
"""Length of the one across: some printers stretch one way alone."""

TOLD_LEFT = (
    "Print at 100 %, never 'fit to page'.",
    "Measure both rulers: {along:g} mm up the sheet, {across:g} mm across.",
    "If the long one is off by 0.3 mm or more tell it: --ruler '249.1 mm'. If only one of the "
    "two is off print anew: this printer stretches one way.",
    "Glue the sheet to something flat: bent paper is refused.",
)
TOLD_RIGHT = (
    "Lay sheets at the height of the board's face, on scraps of its thickness; or all on the "
    "ground, and tell --marks-below.",
    "Three and more along a long board, on both sides, some near its ends, a hand's breadth "
    "clear of it, turned as you like. No number twice.",
    "All marks to be seen, no glare or edge of a shadow on them. Photograph from above the "
    "board's middle.",
)


def sheet_corners(ruler_mm: float = RULER_MM) -> NDArray[np.float64]:
    """Return (4, 4, 2) the corners of a sheet's marks, upper left first and clockwise, mm.

    ``ruler_mm``: what the long check ruler measures on paper.
    """
    half = MARK_MM / 2
    square = np.array([(-half, half), (half, half), (half, -half), (-half, -half)])
    made: NDArray[np.float64] = (np.array(CENTRES_MM)[:, None, :] + square) * (ruler_mm / RULER_MM)
    return made


def dictionary() -> object:
    """Return the family of marks: an open one that OpenCV has, 36h11."""
    aruco = opencv().aruco
    return aruco.getPredefinedDictionary(aruco.DICT_APRILTAG_36h11)


def mark_cells(number: int) -> NDArray[np.bool_]:
    """Return (8, 8) where a mark is black, its upper row first."""
    picture = opencv().aruco.generateImageMarker(dictionary(), number, MODULES)
    made: NDArray[np.bool_] = np.asarray(picture) == 0
    return made


def mark_sheets(count: int, paper: Paper = Paper.A4, *, first: int = 1) -> list[Drawing]:
    """Return so many sheets, numbered from ``first``, a page each."""
    return [_sheet(number, paper) for number in range(first, first + count)]


def _sheet(number: int, paper: Paper) -> Drawing:
    wide, high = (side / 2 - MARGIN_MM for side in paper.size_mm)
    entities: list[Entity] = []
    for place, centre in enumerate(CENTRES_MM):
        mark = MARKS_A_SHEET * (number - 1) + place
        entities.append(_mark(mark_cells(mark), centre))
    entities += [*_rulers(), *_words(number)]
    frame = (-wide, -high, wide, high)
    return Drawing(f"Mark sheet {number}", tuple(entities), frame, 1.0, paper.value)


def _mark(cells: NDArray[np.bool_], centre: tuple[float, float]) -> Area:
    """Return a mark as one area, so that no hair of white shows between its cells."""
    side = MARK_MM / MODULES
    x, y = centre[0] - MARK_MM / 2, centre[1] + MARK_MM / 2
    dark = [
        shapely.box(
            x + column * side, y - (row + 1) * side, x + (column + 1) * side, y - row * side
        )
        for row, column in np.argwhere(cells)
    ]
    rings = list[tuple[tuple[float, float], ...]]()
    for shape in shapely.get_parts(shapely.union_all(dark)):
        turned = shapely.geometry.polygon.orient(shape)
        for ring in (turned.exterior, *turned.interiors):
            rings.append(tuple((float(px), float(py)) for px, py in ring.coords[:-1]))
    return Area(tuple(rings), Role.TITLE)


def _rulers() -> Iterator[Entity]:
    yield from _ruler((0.0, -RULER_MM / 2), (0.0, 1.0), RULER_MM)
    yield from _ruler((-CROSS_RULER_MM / 2, -60.0), (1.0, 0.0), CROSS_RULER_MM)


def _ruler(
    start: tuple[float, float], ahead: tuple[float, float], length: float
) -> Iterator[Entity]:
    def at(along: float, aside: float) -> tuple[float, float]:
        return (
            start[0] + along * ahead[0] - aside * ahead[1],
            start[1] + along * ahead[1] + aside * ahead[0],
        )

    yield Polyline((at(0, 0), at(length, 0)), Role.RULER)
    for tick in range(int(length // 10) + 1):
        yield Polyline(
            (at(10.0 * tick, 0), at(10.0 * tick, 4.0 if tick % 5 == 0 else 2.0)), Role.RULER
        )
    place = at(length / 2 + 4.0, 6.0) if ahead[0] else at(length - 4.0, -6.0)
    yield Text(f"{length:g} mm", place, 2.6, Role.NOTE)


def _words(number: int) -> Iterator[Entity]:
    yield Text(f"Mark sheet {number}", (8.0, 52.0), 5.0, Role.TITLE)
    for x, y, paragraphs in ((-88.0, 54.0, TOLD_LEFT), (8.0, 42.0, TOLD_RIGHT)):
        for paragraph in paragraphs:
            told = paragraph.format(along=RULER_MM, across=CROSS_RULER_MM)
            for line in wrapped(told, LETTER_MM, COLUMN_MM):
                yield Text(line, (x, y), LETTER_MM, Role.NOTE)
                y -= 4.6
            y -= 2.4


LETTER_MM, COLUMN_MM = 2.3, 80.0
