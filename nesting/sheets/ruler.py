"""Rulers along the board and the scale bar: places are carried to the wood by tape."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from nesting.sheets.drawing import Anchor, Entity, Point, Polyline, Role, Text
from nesting.sheets.figures import figure
from nesting.sheets.lettering import text_width
from nesting.sheets.window import Window
from nesting.units import MM_PER_INCH, Unit
from nesting.written_measures import format_length

FIGURE_PAPER_MM = 2.2
"""Height of a ruler's figures on paper."""

RULER_OFF_PAPER_MM = 3.0
"""Paper mm from the board's lower edge to the ruler's line."""

METRIC_STEPS_MM = (10.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
INCH_STEPS_MM = tuple(MM_PER_INCH * inches for inches in (1, 2, 6, 12, 24, 48))
"""Steps a tape is read by. Ticks stand 100 mm or 6 in apart, finer where there is room."""

TICK_MM, TICK_INCH_MM = 100.0, 6 * MM_PER_INCH

LEAST_TICK_PAPER_MM = 1.3
"""Ticks nearer than this run together in print."""


def steps_of(unit: Unit) -> tuple[float, ...]:
    """Return the steps of a tape in a unit, mm."""
    return INCH_STEPS_MM if unit.is_imperial else METRIC_STEPS_MM


def tick_mm(unit: Unit, times_paper: float) -> float:
    """Return the distance of ticks: 100 mm or 6 in, or the finest step that prints apart.

    ``times_paper`` is paper mm for one mm of wood.
    """
    usual = TICK_INCH_MM if unit.is_imperial else TICK_MM
    if usual * times_paper < LEAST_TICK_PAPER_MM:
        return figure_step(unit, times_paper, LEAST_TICK_PAPER_MM)
    fine = [s for s in steps_of(unit) if s <= usual and s * times_paper >= LEAST_TICK_PAPER_MM]
    return fine[0]


def figure_step(unit: Unit, times_paper: float, room_paper_mm: float) -> float:
    """Return the least step whose figures, ``room`` wide, stand apart; the largest if none."""
    steps = steps_of(unit)
    return next((step for step in steps if step * times_paper >= room_paper_mm), steps[-1])


def tape_figure(mm: float, unit: Unit) -> str:
    """Return a round length as it stands on a tape.

    >>> tape_figure(304.8, Unit.INCH), tape_figure(914.4, Unit.FOOT), tape_figure(500, Unit.M)
    ('12', "3'", '0.5')
    """
    if unit.is_imperial:
        return figure(mm, unit)
    return f"{mm / unit.mm + 0.0:g}"


def lower_ruler(
    window: Window, bounds: tuple[float, float, float, float], unit: Unit
) -> list[Entity]:
    """Return the ruler below the stretch of board that a window shows, from its left end."""
    low_x, low_y, high_x, _ = bounds
    start, end = max(low_x, window.from_mm), min(high_x, window.to_mm)
    paper, scale = window.paper_mm, window.times / window.paper_mm
    y = window.point(0.0, low_y)[1] - RULER_OFF_PAPER_MM * paper
    every = _figured_every(unit, scale, _widest(start, end, tick_mm(unit, scale), unit))
    entities: list[Entity] = [
        _line(window, (window.point(start, 0)[0], y), (window.point(end, 0)[0], y))
    ]
    for place in _places(start, end, tick_mm(unit, scale)):
        x = window.point(place, 0.0)[0]
        is_figured = _is_multiple(place, every)
        entities.append(_line(window, (x, y), (x, y - (2.0 if is_figured else 1.0) * paper)))
        if is_figured:
            at = (x, y - 2.6 * paper - FIGURE_PAPER_MM * paper)
            entities.append(_figure(window, place, at, Anchor.CENTRE, unit))
    at = (window.point(start, 0.0)[0] - 6.0 * paper, y - 2.6 * paper - FIGURE_PAPER_MM * paper)
    words = "feet" if unit is Unit.FOOT else unit.value
    height = FIGURE_PAPER_MM * paper
    entities.append(Text(words, at, height, Role.RULER, Anchor.RIGHT, window.view))
    return entities


def _figured_every(unit: Unit, times_paper: float, widest: float) -> float:
    """Return the step of figures: 100 mm or 6 in, finer where there is room to spare."""
    usual = TICK_INCH_MM if unit.is_imperial else TICK_MM
    fine = figure_step(unit, times_paper, 2.5 * widest)
    return fine if fine <= usual else max(usual, figure_step(unit, times_paper, widest + 1.5))


def left_ruler(
    window: Window, bounds: tuple[float, float, float, float], unit: Unit
) -> list[Entity]:
    """Return the ruler across the board, left of its end."""
    low_x, low_y, _, high_y = bounds
    paper, scale = window.paper_mm, window.times / window.paper_mm
    start = max(low_x, window.from_mm)
    x = window.point(start, 0.0)[0] - RULER_OFF_PAPER_MM * paper
    every = figure_step(unit, scale, 2.2 * FIGURE_PAPER_MM)
    ends = [window.point(0.0, y)[1] for y in (low_y, high_y)]
    entities: list[Entity] = [_line(window, (x, ends[0]), (x, ends[1]))]
    for place in _places(low_y, high_y, every):
        y = window.point(0.0, place)[1]
        entities.append(_line(window, (x, y), (x - 1.5 * paper, y)))
        at = (x - 2.2 * paper, y - FIGURE_PAPER_MM / 2 * paper)
        entities.append(_figure(window, place, at, Anchor.RIGHT, unit))
    return entities


def bar_length_mm(unit: Unit) -> float:
    """Return the length that the scale bar stands for: 100 mm, or 12 in."""
    return 12 * MM_PER_INCH if unit.is_imperial else 100.0


def scale_bar(at: Point, scale: float, unit: Unit) -> list[Entity]:
    """Return a bar of 100 mm or 12 in of the drawing, from its left end, with its length.

    Lengths in mm of the drawing; ``scale`` is those in a mm of paper. The bar is checked with
    a rule: on screen it must measure what is written.
    """
    length = bar_length_mm(unit)
    parts = 12 if unit.is_imperial else 10
    x, y = at
    rise = 1.2 * scale
    corners = ((x, y), (x + length, y), (x + length, y + rise), (x, y + rise))
    entities: list[Entity] = [Polyline(corners, Role.RULER, is_closed=True)]
    ticks = parts if length / parts >= LEAST_TICK_PAPER_MM * scale else 2
    for number in range(1, ticks):
        tick = x + length * number / ticks
        entities.append(Polyline(((tick, y), (tick, y + rise)), Role.RULER))
    words = "12 in" if unit.is_imperial else format_length(100.0, unit)
    height = FIGURE_PAPER_MM * scale
    entities.append(Text(words, (x + length + scale, y), height, Role.RULER))
    return entities


def _widest(start: float, end: float, step: float, unit: Unit) -> float:
    """Return the width on paper of the widest figure: in feet that need not be the last one."""
    figures = {tape_figure(place, unit) for place in _places(start, end, step)}
    return max((text_width(told, FIGURE_PAPER_MM) for told in figures), default=0.0)


def _places(start: float, end: float, step: float) -> Iterator[float]:
    first, last = math.ceil((start - 1e-6) / step), math.floor((end + 1e-6) / step)
    yield from (float(place) for place in np.arange(first, last + 1) * step)


def _is_multiple(place: float, step: float) -> bool:
    return abs(place / step - round(place / step)) < 1e-6


def _line(window: Window, start: Point, end: Point) -> Polyline:
    return Polyline((start, end), Role.RULER, view=window.view)


def _figure(window: Window, place: float, at: Point, anchor: Anchor, unit: Unit) -> Text:
    height = FIGURE_PAPER_MM * window.paper_mm
    return Text(tape_figure(place, unit), at, height, Role.RULER, anchor, window.view)
