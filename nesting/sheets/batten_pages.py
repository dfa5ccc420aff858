"""How long lines bend, a strip each: the line foreshortened as the eye sees it along a batten.

Lengths and heights of a strip have each a scale of their own, so that the line fills it; below the
line its bend is set out, from a straight line up or down, at every place. Where that crosses over,
the batten turns; where it jumps, the line is not fair.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.sheets.drawing import Anchor, Circle, Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.lettering import cut_short
from nesting.shop.kinds import Paper

SIDE_MM, HEAD_MM = 12.0, 26.0
"""Paper mm: free at both sides of a hull's length; the head of a page."""

STRIP_MM, LINE_MM, BEND_MM = 30.0, 9.0, 6.0
"""Height of a strip, of the line in it, and of the greatest bend to either side."""

LETTER_MM, TITLE_MM = 2.5, 4.0

CUT_AT = 3.0
"""A bend is drawn up to so many times the one that nine tenths of its line stay below."""

COMB = 60
"""Ordinates of the bend in a strip, at most."""


@dataclass(frozen=True)
class Strip:
    """One long line: places along the boat and its values, mm, and its bend, 1/mm.

    ``marks`` are the table's figures: place, value, and whether it is odd.
    """

    name: str
    note: str
    line: tuple[Point, ...]
    bend: tuple[Point, ...]
    marks: tuple[tuple[float, float, bool], ...]


def batten_pages(
    strips: Sequence[Strip],
    stations: Sequence[tuple[str, float]],
    ends: tuple[float, float],
    *,
    name: str,
    paper: Paper,
) -> tuple[Drawing, ...]:
    """Return the bends of long lines, as many strips on a page as find room."""
    page = _Page(ends, *paper.lying_mm)
    each = int((page.high - HEAD_MM - 4.0) // STRIP_MM)
    groups = [strips[first : first + each] for first in range(0, len(strips), each)]
    frame = (0.0, 0.0, page.wide, page.high)
    pages = list[Drawing]()
    for number, group in enumerate(groups, start=1):
        title = f"{name}: her long lines along the batten, page {number} of {len(groups)}"
        tops = [page.high - HEAD_MM - row * STRIP_MM for row in range(len(group))]
        captions = [page.caption(strip, top) for strip, top in zip(group, tops, strict=True)]
        entities = [*page.head(title), *page.stations(stations, captions), *captions]
        for strip, top in zip(group, tops, strict=True):
            entities += page.strip(strip, top)
        corners = ((0.0, 0.0), (page.wide, 0.0), (page.wide, page.high), (0.0, page.high))
        entities.append(Polyline(corners, Role.FRAME, is_closed=True))
        pages.append(Drawing(title, tuple(entities), frame, 1.0, paper))
    return tuple(pages)


EXPLAINED = (
    "Above: the line, foreshortened; rings: the table's figures, a cross where one is odd.",
    "Below, a comb: its bend at every place; where that crosses over, the batten turns.",
)


def _clear_of(captions: Sequence[Text], x: float, ends: Point) -> Iterator[Point]:
    """Yield what an upright line is drawn of, from its upper end down, between captions."""
    begin, last = ends
    for low_x, low_y, high_x, high_y in (caption.box for caption in captions):
        if low_x <= x <= high_x + 0.5:
            if begin > high_y:
                yield begin, high_y
            begin = low_y
    yield begin, last


class _Page:
    """A page's frame, ``wide`` and ``high`` in paper mm, and what is drawn in it."""

    def __init__(self, ends: tuple[float, float], wide: float, high: float) -> None:
        self.ends, self.wide, self.high = ends, wide, high
        self.left, self.right = SIDE_MM, wide - SIDE_MM

    def x(self, mm: float) -> float:
        """Return where on the paper a place along the boat lies."""
        low, high = self.ends
        return self.left + (mm - low) / (high - low) * (self.right - self.left)

    def head(self, title: str) -> list[Entity]:
        """Return the title, and what the strips show."""
        (told,) = cut_short(title, TITLE_MM, self.right - self.left)
        rows = enumerate(EXPLAINED)
        return [
            Text(told, (self.left, self.high - 9.0), TITLE_MM, Role.TITLE),
            *(
                Text(words, (self.left, self.high - 14.5 - 4.0 * row), 0.9 * LETTER_MM, Role.NOTE)
                for row, words in rows
            ),
        ]

    def caption(self, strip: Strip, top: float) -> Text:
        """Return what stands over a strip."""
        words = f"{strip.name}: {strip.note}"
        (told,) = cut_short(words, 0.9 * LETTER_MM, self.right - self.left)
        return Text(told, (self.left, top - 3.2), 0.9 * LETTER_MM, Role.PART_NAME)

    def stations(
        self, stations: Sequence[tuple[str, float]], captions: Sequence[Text]
    ) -> Iterator[Entity]:
        """Yield the stations down all strips, named where there is room beside the last.

        None runs through a caption.
        """
        top, before = self.high - HEAD_MM + 1.0, -LETTER_MM
        for name, mm in stations:
            if not self.ends[0] - 1.0 <= mm <= self.ends[1] + 1.0:
                continue
            x = self.x(mm)
            for begin, end in _clear_of(
                captions, x, (top, self.high - HEAD_MM - len(captions) * STRIP_MM)
            ):
                yield Polyline(((x, begin), (x, end)), Role.GRID)
            text = Text(name, (x, top + 1.0), 0.8 * LETTER_MM, Role.NOTE, Anchor.CENTRE)
            if text.box[0] > before:
                yield text
                before = text.box[2] + 0.5

    def strip(self, strip: Strip, top: float) -> Iterator[Entity]:
        """Yield one line and its bend below a height of the paper."""
        values = np.array([value for _, value in strip.line])
        low, span = float(values.min()), max(float(np.ptp(values)), 1.0)
        foot = top - 5.5 - LINE_MM

        def y(value: float) -> float:
            return foot + min(max((value - low) / span, -0.15), 1.15) * LINE_MM

        yield Polyline(tuple((self.x(x), y(value)) for x, value in strip.line), Role.SHEER)
        for mm, value, is_odd in strip.marks:
            at = (self.x(mm), y(value))
            yield from _crossed(at) if is_odd else [Circle(at, 0.6, Role.NOTE)]
        yield from self._bend(strip, foot - 1.5 - BEND_MM)
        end = top - STRIP_MM + 0.5
        yield Polyline(((self.left, end), (self.right, end)), Role.GRID)

    def _bend(self, strip: Strip, zero: float) -> Iterator[Entity]:
        bends = np.array([bend for _, bend in strip.bend])
        most = max(CUT_AT * float(np.quantile(np.abs(bends), 0.9)), 1e-12)
        most = min(most, max(float(np.abs(bends).max()), 1e-12))
        heights = zero + np.clip(bends / most, -1.0, 1.0) * BEND_MM
        points = [(self.x(x), float(up)) for (x, _), up in zip(strip.bend, heights, strict=True)]
        yield Polyline(((points[0][0], zero), (points[-1][0], zero)), Role.NOTE)
        yield Polyline(tuple(points), Role.BATTEN)
        for x, up in points[:: max(1, len(points) // COMB)]:
            if abs(up - zero) > 0.05:
                yield Polyline(((x, zero), (x, up)), Role.BATTEN)


def _crossed(at: Point) -> list[Entity]:
    x, y = at
    return [
        Polyline(((x - 1.2, y - 1.2), (x + 1.2, y + 1.2)), Role.BATTEN),
        Polyline(((x - 1.2, y + 1.2), (x + 1.2, y - 1.2)), Role.BATTEN),
    ]
