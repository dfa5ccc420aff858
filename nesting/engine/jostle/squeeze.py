"""Squeeze items onto one board: they may overlap, then by less and less, at last not at all.

On a full board an item that is put where it does not fit seldom finds room: its neighbours must
move too, and theirs. Here all may overlap one another and every obstacle by so much; from a layout
that keeps to this, one that overlaps less deep is looked for, as a strip is made shorter step by
step.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y
from nesting.engine.jostle.attempt import SHIFT, parted
from nesting.engine.jostle.blocks import WAY_ANGLE, WAY_FACE, Wood
from nesting.engine.jostle.chart import chart_of, with_room
from nesting.engine.jostle.compaction import ROUNDS, loosened
from nesting.engine.jostle.field import Field, Scene
from nesting.engine.jostle.holes import Rings
from nesting.engine.jostle.jostling import DONE, total_depth
from nesting.engine.jostle.layout import (
    Shape,
    field_for,
    figures_of,
    layout_of,
    mean_size,
    near_for,
    scratch_block,
    ways_of,
)
from nesting.engine.jostle.near_pairs import Near
from nesting.engine.jostle.runners_up import Nearly, disturbed, go_on_from, with_another
from nesting.engine.jostle.sum_table import table_of, yielding
from nesting.engine.stop import never

Floats = NDArray[np.float64]

Place = tuple[float, float, float, float]

FIRST = 0.15
"""Depth to which the first attempt is to part them, in sizes of a mean item."""

LARGEST_STEP, LEAST_STEP = 0.02, 0.002
"""By how much shallower the next attempt is to be, in sizes of a mean item, at most and least."""

GAIN = 1e-5
"""Share of a mean item's size that one more round must gain."""


@dataclass(frozen=True)
class Squeezed:
    """A layout: by how much items overlap at most, mm, and their places (n, 5)."""

    depth: float
    places: Floats


class Squeeze:
    """Items to be laid on one board, in given ways only."""

    def __init__(
        self,
        shapes: Sequence[Shape],
        items: Sequence[int],
        wood: Wood,
        blocks: NDArray[np.bool_],
        takes: NDArray[np.bool_],
        rings: Rings,
    ) -> None:
        self.shapes, self.items, self.wood, self._rings = tuple(shapes), tuple(items), wood, rings
        self.figures = figures_of(shapes)
        self.ways = ways_of(shapes, blocks, takes)
        self._scratch = scratch_block(self.figures)
        self.unit = mean_size(shapes, items)
        self.table = table_of(self.figures, self.ways, wood)
        x0, y0, x1, y1 = wood.box + self._outward(FIRST * self.unit)
        self._chart = with_room(chart_of(self.table, self.unit), x1 - x0, y1 - y0)

    def places(self, lying: Sequence[Place], rng: np.random.Generator) -> Floats:
        """Return places (n, 5): of the first items as they lie, of the others anywhere.

        Items lie as their nearest way: x, y, angle in radians and face.
        """
        rows, box = [], self.wood.box
        for number, outline in enumerate(self.items):
            first, end = self.ways.first[outline], self.ways.first[outline + 1]
            if number < len(lying):
                x, y, angle, face = lying[number]
                apart = np.cos(self.ways.way[first:end, WAY_ANGLE] - angle)
                way = first + int(
                    np.argmax(apart - 9.0 * (self.ways.way[first:end, WAY_FACE] != face))
                )
            else:
                x = rng.uniform(box[LOW_X], box[HIGH_X])
                y = rng.uniform(box[LOW_Y], box[HIGH_Y])
                way = int(rng.integers(first, end))
            rows.append((x, y, *self.ways.way[way], float(way)))
        return np.array(rows)

    def run(
        self,
        places: Floats,
        stall: int,
        rng: np.random.Generator,
        is_over: Callable[[], bool] = never,
    ) -> Floats | None:
        """Return places (n, 5) at which nothing overlaps, from where items lie now, or None.

        ``stall`` is the number of attempts without headway after which there is no more hope.
        """
        best = Squeezed(np.inf, places)
        nearly: list[Nearly[Floats]] = []
        depth, step, current = FIRST * self.unit, LARGEST_STEP, places
        since = 0
        while since < stall and not is_over():
            found = self._attempt(current, depth, best.depth, rng)
            if isinstance(found, Squeezed):
                best, nearly, current, since = found, [], found.places, 0
                step = min(step * 1.5, LARGEST_STEP)
                if best.depth <= 0.0:
                    return best.places
            else:
                nearly, since = with_another(nearly, found), since + 1
                step = max(step * 0.5, LEAST_STEP)
                start = go_on_from(best.places, nearly, rng)
                current = disturbed(start, self.shapes, self.items, self.wood.box, rng)
            depth = max(0.0, min(depth, best.depth - step * self.unit))
        return None

    def _attempt(
        self, start: Floats, depth: float, most: float, rng: np.random.Generator
    ) -> Squeezed | Nearly[Floats]:
        """Separate to a depth: return a layout that overlaps less than ``most`` deep, or not."""
        scene = self._scene(start, depth)

        def shifted(_field: Field, _near: Near) -> Squeezed | None:
            return self._loosened(scene, depth, most)

        least, places, found = parted(scene, self._scratch, self.unit, rng, shifted)
        if found is None and least < DONE:
            return Squeezed(depth, places)
        return found or Nearly(least, places)

    def _loosened(self, scene: Scene, depth: float, most: float) -> Squeezed | None:
        """Shift all items of a scene at once as often as it helps; None if ``most`` is not met."""
        best: Squeezed | None = None
        for _ in range(ROUNDS):
            depth += loosened(SHIFT * self.unit, depth, near_for(scene), scene)
            if not math.isfinite(depth):
                break
            scene = self._yielding(scene, depth)
            field = field_for(scene.layout, scene.wood, self.figures, scene.table)
            if total_depth(field, self._scratch, scene) >= DONE:
                continue
            if depth >= (best.depth if best else most) - GAIN * self.unit:
                break
            best = Squeezed(depth, scene.layout.place.copy())
        return best

    def _scene(self, places: Floats, depth: float) -> Scene:
        layout = layout_of(self.shapes, self.figures, self.items, places)
        scene = Scene(
            layout, self.wood, self.ways, self.figures, self._rings, self.table, self._chart
        )
        return self._yielding(scene, depth)

    def _yielding(self, scene: Scene, depth: float) -> Scene:
        """Return a scene whose items may overlap by so much."""
        boxes = self.wood.boxes - np.array([0.0, 0.0, 0.0, 0.0, depth])
        box, gap = self.wood.box + self._outward(depth), self.wood.gap - depth
        wood = self.wood._replace(boxes=boxes, box=box, gap=gap)
        return scene._replace(wood=wood, table=yielding(self.table, depth))

    def _outward(self, by: float) -> Floats:
        return np.array([-by, -by, by, by])
