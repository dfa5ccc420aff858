"""Layouts begun on lines for a strip of given length: what to go on from when nothing helps.

The strip is filled as a board is, from one end or from one long edge, and what finds no room lies
anywhere. Such layouts overlap, but owe nothing to the shortest strip found so far.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.engine.front.front import lines_of, look_of, looks_of, step_for
from nesting.engine.front.front_numba import Looks
from nesting.engine.front.front_search import Step, beginnings_of, credits_of, fullest
from nesting.engine.jostle.layout import Shape, starts
from nesting.engine.stop import never

Floats = NDArray[np.float64]

ALLOWANCES = (0.1, 0.5)
"""Length times width that a beginning may lose for each area of item in it: least and most."""

MOST_KEPT, MOST_SEEN = 512, 2**27
"""Beginnings kept at a time; and these times items, figures and lines: some two seconds."""

LAYOUTS = 8
"""Layouts made, of the fullest beginnings."""

LONG = 4.0
"""A strip longer than so many widths is filled from its end only."""

GRID = 1e-6
"""Corners are rounded to this: convex pieces turned by a quarter then still close up."""


@dataclass(frozen=True, eq=False)
class _Seen:
    """Figures on lines, and for each the item's shape, its way and its lowest y."""

    looks: Looks
    figures: tuple[tuple[int, int, float], ...]


class StripFiller:
    """Fills strips of one width with the same items; keeps how these look on lines."""

    def __init__(self, shapes: Sequence[Shape], items: Sequence[int], width: float, gap: float):
        self.shapes, self.items = tuple(shapes), np.array(items)
        self.width, self.gap = width, gap
        self.step = step_for(width)
        self.kinds = sorted(set(items))
        self.first_way = starts([len(shape.ways) for shape in shapes])

    @cached_property
    def _along(self) -> _Seen:
        return self._seen(0.0)

    @cached_property
    def _across(self) -> _Seen:
        """As :attr:`_along`, the strip turned by a quarter so that its long edge is its end."""
        return self._seen(np.pi / 2)

    def layouts(
        self, length: float, rng: np.random.Generator, is_over: Callable[[], bool] = never
    ) -> list[Floats]:
        """Return places of all items (n, 5) for a few strips; none when there was no time."""
        is_across = length <= LONG * self.width and rng.random() < 0.5
        seen = self._across if is_across else self._along
        wood = box(0, 0, self.width, length) if is_across else box(0, 0, length, self.width)
        lines = lines_of([wood], 1, self.step)
        counts = [int((self.items == kind).sum()) for kind in self.kinds]
        areas = np.array([self.shapes[kind].area for kind in self.kinds])
        all_seen = len(self.items) * len(seen.figures) * lines.first.shape[1]
        kept = min(MOST_KEPT, max(1, MOST_SEEN // all_seen))
        credits = credits_of(areas, ALLOWANCES, rng)
        found = beginnings_of(lines, seen.looks, counts, kept, credits, rng, is_over)
        if is_over():
            return []
        return [
            self._places(steps, length, seen, rng, is_across=is_across)
            for _, steps in fullest(found, LAYOUTS)
        ]

    def _seen(self, quarter: float) -> _Seen:
        looks, needs, areas, figures = [], [], [], []
        for need, kind in enumerate(self.kinds):
            shape = self.shapes[kind]
            for way, (angle, is_over) in enumerate(shape.ways):
                lying = _outline(shape, angle + quarter, is_over=is_over)
                looks.append(look_of(lying, lying.buffer(self.gap), self.step))
                needs.append(need)
                areas.append(shape.area)
                figures.append((kind, way, float(lying.bounds[1])))
        packed = looks_of(looks, needs, [0] * len(needs), areas)
        return _Seen(packed, tuple(figures))

    def _places(
        self,
        steps: Sequence[Step],
        length: float,
        seen: _Seen,
        rng: np.random.Generator,
        *,
        is_across: bool,
    ) -> Floats:
        """Return places (n, 5): where the steps say, and anywhere for items that none lays."""
        places = np.empty((len(self.items), 5))
        left = {kind: list(np.flatnonzero(self.items == kind)) for kind in self.kinds}
        for step in steps:
            kind, way, low = seen.figures[step.figure]
            x, y = step.x, step.line * self.step - low
            x, y = (y, self.width - x) if is_across else (x, y)
            places[left[kind].pop()] = self._place(kind, way, x, y)
        for kind, items in left.items():
            for item in items:
                way = int(rng.integers(len(self.shapes[kind].ways)))
                x, y = rng.uniform(0, length), rng.uniform(0, self.width)
                places[item] = self._place(kind, way, x, y)
        return places

    def _place(self, kind: int, way: int, x: float, y: float) -> tuple[float, ...]:
        angle, is_over = self.shapes[kind].ways[way]
        return x, y, angle, float(is_over), float(self.first_way[kind] + way)


def _outline(shape: Shape, angle: float, *, is_over: bool) -> BaseGeometry:
    rings = shape.pieces.turned(angle, is_over=is_over).rings()
    return shapely.union_all([Polygon(ring) for ring in rings], grid_size=GRID)
