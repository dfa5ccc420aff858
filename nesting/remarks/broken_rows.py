"""Rows of fastenings that keep to one spacing but for one: passed over, misread, or one too many.

Only rows whose places were all written down are looked at, each by itself or in one list: who gives
a row by its spacing has said which places are odd. A row speaks only if all the rest of it keeps
its spacing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.errors import Finding
from nesting.project import Project
from nesting.project.entry import Entry
from nesting.project.tape_notes import notes_in, read_note
from nesting.stock.board import Board
from nesting.stock.keep_out import PLURALS, KeepOut, KeepOutKind
from nesting.units import Unit
from nesting.written_measures import format_length

Array = NDArray[np.float64]

FASTENED = (KeepOutKind.HOLE, KeepOutKind.METAL, KeepOutKind.RECESS)
FEWEST = 6
"""Of fewer places nobody can say what the spacing is (common practice, no source)."""

OFF_LINE_MM = 7.0
"""Fastenings that a shipwright set by eye lie this near one line (common practice, no source)."""

STRAY, ODD = 0.1, 0.18
"""Parts of the spacing: all places but one are within the first of it, and the odd one is past the
second (common practice, no source)."""

CLOSEST_MM, WIDEST_MM = 40.0, 900.0
"""Spacings that fastenings through a board come in (common practice, no source)."""

MOST_HOLES = 400
"""Boards with more are not looked through: that takes minutes."""


def broken_rows(project: Project) -> Iterator[Finding]:
    """Yield rows of fastenings with one missing, one out of its place, or one too many."""
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry is None or not _is_one_by_one(entry):
            continue
        place = next(key for key in ("keep_outs", *PLURALS.values()) if key in entry.data)
        for text in broken_in(board, project.unit):
            yield entry.finding((place,), text)


def _is_one_by_one(entry: Entry) -> bool:
    """Return whether the places of all round keep-outs of a board were written down, each."""
    listed = entry.data.get("keep_outs", [])
    if not isinstance(listed, list) or not all(isinstance(one, dict) for one in listed):
        return False
    noted = [
        read_note(kind, note)
        for kind, key in PLURALS.items()
        for note in notes_in(entry.data.get(key, "none"))
    ]
    every = [*listed, *noted]
    return bool(every) and not any(_is_by_rule(one) for one in every)


def _is_by_rule(keep_out: dict[str, Any]) -> bool:
    """Return whether the places of a keep-out follow from a spacing, or are said to be odd."""
    crossings = keep_out.get("crossings")
    if isinstance(crossings, dict) and not {"spacing", "missing", "doubled"} & crossings.keys():
        return False
    return any(key in keep_out for key in ("row", "edge_row", "crossings"))


def broken_in(board: Board, unit: Unit) -> list[str]:
    """Return what is odd about a board's rows, a sentence a row."""
    round_ones = [one for one in board.keep_outs if one.is_circle and one.kind in FASTENED]
    if not FEWEST - 1 <= len(round_ones) <= MOST_HOLES:
        return []
    places = np.array([one.bounding_circle[:2] for one in round_ones])
    lines = list(_lines(places))
    in_rows = [i for line in lines for i in line.members.tolist()]
    loose = np.delete(places, in_rows, axis=0)
    said = (_told(line, loose, board, unit) for line in lines)
    return [text for text in said if text]


@dataclass(frozen=True)
class _Line:
    """Places on one line: which, from where, which way, and how far along each is."""

    members: NDArray[np.intp]
    start: Array
    ahead: Array
    along: Array


def _lines(places: Array) -> Iterator[_Line]:
    """Yield the lines with most places, each place on one of them."""
    left = np.arange(len(places))
    reach = float(np.ptp(places[:, 0]))
    while len(left) >= FEWEST - 1:
        best: NDArray[np.intp] | None = None
        for i in left.tolist():
            span = places[left] - places[i]
            for j in left[span[:, 0] > 0.5 * reach].tolist():
                ahead = places[j] - places[i]
                ahead = ahead / np.hypot(*ahead)
                off = np.abs((places[left] - places[i]) @ np.array([-ahead[1], ahead[0]]))
                near = left[off <= OFF_LINE_MM]
                if best is None or len(near) > len(best):
                    best = near
        if best is None or len(best) < FEWEST - 1:
            return
        for _ in range(2):  # the line through two of them leans as they do
            middle = places[best].mean(axis=0)
            ahead = np.linalg.svd(places[best] - middle)[2][0]
            off = np.abs((places[left] - middle) @ np.array([-ahead[1], ahead[0]]))
            best = left[off <= OFF_LINE_MM]
        ahead = ahead if ahead[0] > 0 else -ahead
        along = (places[best] - middle) @ ahead
        order = np.argsort(along)
        if len(best) < FEWEST - 1:
            return
        yield _Line(best[order], middle, ahead, along[order])
        left = np.setdiff1d(left, best)


def _told(line: _Line, loose: Array, board: Board, unit: Unit) -> str | None:
    """Return what is odd about one row, None if nothing is, or nothing is clear."""
    for without in (None, *range(len(line.along))):
        kept = np.ones(len(line.along), bool)
        if without is not None:
            kept[without] = False
        fitted = _spacing(line.along[kept])
        if fitted is None:
            continue
        first, step, numbers = fitted
        gaps = sorted(set(range(int(numbers[0]), int(numbers[-1]) + 1)) - set(numbers.tolist()))
        if without is None and not gaps:
            return None
        if len(gaps) > 1 or len(numbers) < FEWEST - 1:
            continue
        expected = [line.start + line.ahead * (first + step * gap) for gap in gaps]
        odd = None if without is None else float(line.along[without])
        text = _sentence(line, loose, board, unit, step, len(numbers), expected, odd, first)
        if text:
            return text
    return None


def _spacing(along: Array) -> tuple[float, float, NDArray[np.intp]] | None:
    """Return first place, step and number of each place, if all keep to one spacing."""
    if len(along) < FEWEST - 1:
        return None
    step = float(np.median(np.diff(along)))
    if not CLOSEST_MM <= step <= WIDEST_MM:
        return None
    first = float(along[0])
    for _ in range(4):
        numbers = np.round((along - first) / step).astype(np.intp)
        if len(set(numbers.tolist())) < len(numbers):
            return None
        step, first = (float(figure) for figure in np.polyfit(numbers, along, 1))
        if step <= 0:
            return None
    if np.max(np.abs(along - first - step * numbers)) > STRAY * step:
        return None
    return first, step, numbers


def _sentence(
    line: _Line, loose: Array, board: Board, unit: Unit, step: float, count: int,
    expected: Sequence[Array], odd: float | None, first: float,
) -> str | None:  # fmt: skip
    row = f"{count} fastenings in a row stand {format_length(step, unit)} apart"
    if odd is not None:
        at = line.start + line.ahead * odd
        off = abs((odd - first) / step - round((odd - first) / step))
        if off < ODD:
            return None
        where = format_length(float(at[0]), unit)
        if not expected:
            return (
                f"{row}, and one more stands between them {where} from the left end: is it one of "
                "them?"
            )
        if np.hypot(*(expected[0] - at)) > 0.75 * step:
            return None
        right = format_length(float(expected[0][0]), unit)
        return (
            f"{row}, but one {where} from the left end where {right} was to be expected: tape it "
            "again"
        )
    if not expected or not _is_bare(expected[0], board, step):
        return None
    where = format_length(float(expected[0][0]), unit)
    aside = np.hypot(*(loose - expected[0]).T)
    if len(aside) and aside.min() < 2 * OFF_LINE_MM:
        return None  # it is there, set a little carelessly
    if len(aside) and aside.min() < 0.3 * step:
        off_line = format_length(float(aside.min()), unit)
        return (
            f"{row}, but the one {where} from the left end stands {off_line} aside: tape it again"
        )
    return f"{row}, and none is recorded {where} from the left end: was one passed over?"


def _is_bare(place: Array, board: Board, step: float) -> bool:
    """Return whether there is plain wood at a place: no edge near, nothing recorded over it."""
    point = shapely.Point(place)
    if not board.shape.contains(point) or board.shape.exterior.distance(point) < 0.02 * step:
        return False
    return not any(_covers(one, point) for one in board.keep_outs)


def _covers(keep_out: KeepOut, point: shapely.Point) -> bool:
    return bool(keep_out.core.distance(point) <= keep_out.reach_mm + 2.0)
