"""All the lettering on the wood: part names first, then what the space left allows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import product

import numpy as np
from shapely.geometry import LineString, Polygon, box

from nesting.outline import Mark
from nesting.sheets.board_view import bung_reach, mark_role, obstacles, scribed_line
from nesting.sheets.break_down_sheet import break_down_numbers, break_down_obstacles, stop_bars
from nesting.sheets.drawing import Entity, Point, Role
from nesting.sheets.figures import size_text
from nesting.sheets.free_space import heart_of
from nesting.sheets.labelling import SMALL_PAPER_MM, Labelling, set_beside, set_block
from nesting.sheets.leaders import needed_beside
from nesting.sheets.part_labels import part_labels
from nesting.sheets.symbols import symbol_reach
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.units import Unit
from nesting.written_measures import exact_length

BEYOND_PAPER_MM = 80.0
"""How far around a window's area nothing may be set: wider than any label."""


WORDS_APART_PAPER_MM = 40.0
"""Nearer than this, the same kind is not named again: its sign says enough."""


ALONG = (0.3, 0.7, 0.15, 0.85)
"""Where else along a keep-out its word is tried, as shares of its length."""


def labels(work: Labelling) -> tuple[Entity, ...]:
    """Return the lettering of one window, no two pieces of which touch."""
    hard, soft = obstacles(work.nest, work.account, work.window)
    hard += break_down_obstacles(work.nest, work.account, work.window)
    work.space.take([*hard, *_beyond(work)])
    work.space.take([*soft, *stop_bars(work.account, work.window)], is_soft=True)
    return (
        *part_labels(work),
        *break_down_numbers(work),
        *_bung_numbers(work),
        *_offcut_names(work),
        *_keep_out_words(work),
        *_mark_words(work),
    )


def _beyond(work: Labelling) -> list[Polygon]:
    """Return four strips around the area; one ring would be slow to test against."""
    low_x, low_y, high_x, high_y = work.area.bounds
    reach = BEYOND_PAPER_MM * work.paper
    return [
        box(low_x - reach, low_y - reach, low_x, high_y + reach),
        box(high_x, low_y - reach, high_x + reach, high_y + reach),
        box(low_x, low_y - reach, high_x, low_y),
        box(low_x, high_y, high_x, high_y + reach),
    ]


def _bung_numbers(work: Labelling) -> Iterable[Entity]:
    for number, bung in enumerate(work.account.bungs, start=1):
        if work.window.shows(bung.x_mm):
            at = work.window.point(bung.x_mm, bung.y_mm)
            reach = bung_reach(bung, work.window)
            yield from needed_beside(work, f"b{number}", at, reach, Role.BUNG)


def _offcut_names(work: Labelling) -> Iterable[Entity]:
    for number, offcut in enumerate(work.account.offcuts, start=1):
        region = work.window.region(offcut.shape)
        if region is None:
            continue
        size = size_text(offcut.length_mm, offcut.width_mm, work.unit)
        for text in (f"keep k{number}: {size}", f"keep k{number}", f"k{number}"):
            height = SMALL_PAPER_MM * work.paper
            block = set_block(work, (text,), height, region, heart_of(region))
            if block:
                yield from block
                break


def _keep_out_words(work: Labelling) -> Iterable[Entity]:
    """Yield the kind in a word, where there is room; not again for a like neighbour.

    Holes, and whatever a bung closes, speak for themselves.
    """
    bungs = {(bung.x_mm, bung.y_mm) for bung in work.account.bungs}
    apart = WORDS_APART_PAPER_MM * work.paper
    named = _Named(apart)
    for keep_out in work.nest.board.keep_outs:
        place = keep_out.bounding_circle[:2]
        if keep_out.kind is KeepOutKind.HOLE or place in bungs:
            continue
        at = work.window.point(*place)
        if named.is_near(keep_out.kind, at):
            continue
        word = _word(work, keep_out)
        if word:
            named.note(keep_out.kind, at)
        yield from word


class _Named:
    """Where which kinds are named, by squares as large as two of a kind stand apart."""

    def __init__(self, apart: float) -> None:
        self._apart = apart
        self._places: dict[tuple[KeepOutKind, int, int], list[Point]] = {}

    def _square(self, at: Point) -> tuple[int, int]:
        return math.floor(at[0] / self._apart), math.floor(at[1] / self._apart)

    def note(self, kind: KeepOutKind, at: Point) -> None:
        """Note that a kind is named at a place."""
        self._places.setdefault((kind, *self._square(at)), []).append(at)

    def is_near(self, kind: KeepOutKind, at: Point) -> bool:
        """Return whether a kind is named near a place."""
        x, y = self._square(at)
        return any(
            math.dist(at, other) < self._apart
            for dx, dy in product((-1, 0, 1), repeat=2)
            for other in self._places.get((kind, x + dx, y + dy), ())
        )


def _word(work: Labelling, keep_out: KeepOut) -> list[Entity]:
    x, y, _ = keep_out.bounding_circle
    text = keep_out.kind.value.upper() if keep_out.kind is KeepOutKind.METAL else keep_out.kind
    if keep_out.is_circle:
        if not work.window.shows(x):
            return []
        reach = symbol_reach(keep_out, work.window)
        return set_beside(work, text, work.window.point(x, y), reach, Role.NOTE)
    region = work.window.region(keep_out.polygon)
    if region is None:
        return []
    low_x, low_y, high_x, high_y = region.bounds
    middle, off = ((low_x + high_x) / 2, (low_y + high_y) / 2), 0.3 * work.paper
    places = [(middle, (high_y - low_y) / 2), *_elsewhere(region)]
    for at, reach in places:
        if found := set_beside(work, text, at, reach + off, Role.NOTE):
            return found
    return needed_beside(work, text, middle, places[0][1] + off, Role.NOTE)


def _elsewhere(region: Polygon) -> Iterable[tuple[Point, float]]:
    """Yield places along a region off its middle, each with half the region's height there."""
    low_x, low_y, high_x, high_y = region.bounds
    for share in ALONG:
        x = low_x + share * (high_x - low_x)
        across = region.intersection(LineString([(x, low_y), (x, high_y)]))
        if not across.is_empty:
            _, low, _, high = across.bounds
            yield (x, (low + high) / 2), (high - low) / 2


def _mark_words(work: Labelling) -> Iterable[Entity]:
    for placement in work.nest.placements:
        for mark in placement.need.outline.marks:
            text = _mark_text(mark, work.unit)
            if len(mark.points) > 1 and scribed_line(mark, placement, work.window).is_empty:
                continue
            x, y = placement.to_board(np.asarray(mark.points, dtype=float)).mean(axis=0)
            if text and work.window.shows(x):
                reach = ((mark.diameter_mm or 0) / 2 * work.window.times) + 1.0 * work.paper
                at = work.window.point(float(x), float(y))
                yield from set_beside(work, text, at, reach, mark_role(mark.kind))


def _mark_text(mark: Mark, unit: Unit) -> str:
    size = f"Ø{exact_length(mark.diameter_mm, unit)}" if mark.diameter_mm else ""
    return " ".join(text for text in (mark.label, size) if text)
