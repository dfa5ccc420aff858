"""The shortest length of a board of given width for a set of outlines.

Answers "what length of 8 in oak do these beams need?", and is the strip problem of the
literature, by which the search is measured.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.engine.layout import (
    GROWN_MM,
    Shape,
    bare_wood,
    figures_of,
    layout_of,
    no_rings,
    scratch_block,
    ways_of,
)
from nesting.engine.no_fit import Region, forbidden, joined, legal_spots
from nesting.engine.separation import DONE, separate
from nesting.engine.stop import Stop
from nesting.engine.turned import Pieces

Floats = NDArray[np.float64]

LARGEST_STEP, LEAST_STEP = 0.01, 0.0005
"""Share of the length by which one attempt shortens it, at most and at least."""

STALL = 200
MOST_PASSES = 4000


@dataclass(frozen=True)
class Strip:
    """A layout on a strip: its length, and x, y, angle (radians), face of each item (n, 4)."""

    length: float
    places: Floats
    outlines: tuple[int, ...]


class StripSearch:
    """Shapes to be laid on a strip of one width, each once for every entry of ``items``."""

    def __init__(self, shapes: Sequence[Shape], items: Sequence[int], width: float, gap: float = 0):
        self.shapes, self.items = tuple(shapes), tuple(items)
        self.width, self.gap = width, gap
        self.figures = figures_of(shapes)
        self.ways = ways_of(shapes)
        self.rings = no_rings(len(shapes))
        self.scratch = scratch_block(self.figures)
        self.unit = math.sqrt(sum(shapes[i].area for i in items) / len(items))
        self.bound = self._bound()

    def _bound(self) -> float:
        """Return a length that no layout can beat: by area, and by the longest item."""
        longest = 0.0
        for i in set(self.items):
            shape = self.shapes[i]
            if shape.lean == 0.0:
                extents = [
                    float(np.ptp(shape.pieces.turned(angle, is_over=over).corners[:, 0]))
                    for angle, over in shape.ways
                ]
                longest = max(longest, min(extents))
        return max(longest, sum(self.shapes[i].area for i in self.items) / self.width)

    def improved(
        self, rng: np.random.Generator, stop: Stop, seen: Callable[[Strip], None] | None = None
    ) -> Strip:
        """Return the shortest strip found until the stop rule ends the search."""
        best = min((self.constructed(rng) for _ in range(4)), key=lambda strip: strip.length)
        if seen:
            seen(best)
        step, rounds, current = LARGEST_STEP, 0, best
        while stop.share_used(rounds) < 1.0 and best.length > self.bound + DONE:
            rounds += 1
            length = max(best.length * (1 - step), self.bound)
            attempt = self.attempt(current, length, rng, is_squashed=rounds % 2 == 0)
            if attempt is not None:
                best = current = attempt
                step = min(step * 1.5, LARGEST_STEP)
                if seen:
                    seen(best)
            else:
                step = max(step * 0.5, LEAST_STEP)
                current = self.disturbed(best, rng)
        return best

    def attempt(
        self, start: Strip, length: float, rng: np.random.Generator, *, is_squashed: bool
    ) -> Strip | None:
        """Return a legal strip of a length, or None: shorten, then separate."""
        places = self._shortened(start, length, rng, is_squashed=is_squashed)
        layout = layout_of(self.shapes, self.figures, self.items, places)
        wood = bare_wood((0.0, 0.0, length, self.width), self.gap + GROWN_MM)
        best = np.empty((len(self.items), 4))
        seed = int(rng.integers(2**31))
        least, _ = separate(
            seed, MOST_PASSES, STALL, self.unit, self.scratch, layout, wood,
            self.ways, self.figures, self.rings, best,
        )  # fmt: skip
        return Strip(length, best, self.items) if least < DONE else None

    def _shortened(
        self, start: Strip, length: float, rng: np.random.Generator, *, is_squashed: bool
    ) -> Floats:
        places, short = start.places.copy(), start.length - length
        if is_squashed:
            return places
        cut = rng.uniform(0, start.length)
        places[places[:, 0] > cut, 0] -= short
        return places

    def disturbed(self, strip: Strip, rng: np.random.Generator) -> Strip:
        """Return the strip with two items exchanged, a few thrown anywhere, or as it is."""
        places, n = strip.places.copy(), len(self.items)
        choice = rng.random()
        if choice < 1 / 3 and n > 1:
            order = np.argsort([-self.shapes[i].area for i in self.items])[: max(2, n // 2)]
            i, j = rng.choice(order, 2, replace=False)
            places[[i, j], :2] = places[[j, i], :2]
        elif choice < 2 / 3:
            most = min(n, max(3, n // 8))
            for i in rng.choice(n, int(rng.integers(1, most + 1)), replace=False):
                places[i, :2] = rng.uniform(0, strip.length), rng.uniform(0, self.width)
        return Strip(strip.length, places, strip.outlines)

    def constructed(self, rng: np.random.Generator) -> Strip:
        """Return a legal strip: largest first with noise, each at its leftmost contact."""
        areas = np.array([self.shapes[i].area for i in self.items])
        keys = np.log(areas) + 0.25 * rng.standard_normal(len(areas))
        places = np.zeros((len(self.items), 4))
        laid: list[tuple[Pieces, float, float]] = []
        for i in np.argsort(-keys):
            places[i], pieces = self._leftmost(self.shapes[self.items[i]], laid)
            laid.append((pieces, places[i, 0], places[i, 1]))
        length = max(float(p.corners[:, 0].max() + x) for p, x, _ in laid)
        return Strip(length, places, self.items)

    def _leftmost(
        self, shape: Shape, laid: Sequence[tuple[Pieces, float, float]]
    ) -> tuple[Floats, Pieces]:
        best: tuple[float, Floats, Pieces] | None = None
        reach = sum(float(np.ptp(self.shapes[i].pieces.corners)) + self.gap for i in self.items)
        for angle, is_over in shape.ways:
            pieces = shape.pieces.turned(angle, is_over=is_over)
            low, high = pieces.corners.min(axis=0), pieces.corners.max(axis=0)
            if high[1] - low[1] > self.width + 1e-9:
                continue
            limit = (-low[0], -low[1], reach, max(-low[1], self.width - high[1]))
            spots = legal_spots(self._blocked(pieces, laid), limit, (1.0, 0.02))
            if not len(spots):
                continue
            score = float(spots[0, 0] + high[0] + 0.02 * high[1])
            if best is None or score < best[0]:
                place = np.array([spots[0, 1], spots[0, 2], angle, float(is_over)])
                best = score, place, pieces
        assert best is not None
        return best[1], best[2]

    def _blocked(self, moving: Pieces, laid: Sequence[tuple[Pieces, float, float]]) -> Region:
        return joined(
            forbidden(fixed, np.full(len(fixed), self.gap + GROWN_MM), moving).moved(x, y)
            for fixed, x, y in laid
        )
