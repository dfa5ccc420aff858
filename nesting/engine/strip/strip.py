"""The shortest length of a board of given width for a set of outlines.

Answers "what length of 8 in oak do these beams need?", and is the strip problem of the
literature, by which the search is measured.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.arrays import HIGH_X, X
from nesting.engine.jostle.attempt import SHIFT, parted
from nesting.engine.jostle.chart import chart_of, no_chart, with_room
from nesting.engine.jostle.compaction import shortened
from nesting.engine.jostle.field import Chart, Field, Scene
from nesting.engine.jostle.jostling import DONE
from nesting.engine.jostle.layout import (
    Shape,
    bare_wood,
    field_for,
    figures_of,
    layout_of,
    mean_size,
    no_rings,
    scratch_block,
    ways_of,
)
from nesting.engine.jostle.near_pairs import Near
from nesting.engine.jostle.runners_up import Nearly, disturbed, go_on_from, with_another
from nesting.engine.jostle.sum_table import no_table, table_of
from nesting.engine.stop import Stop, over_in
from nesting.engine.strip.strip_fill import StripFiller
from nesting.engine.strip.strip_start import lay_all

Floats = NDArray[np.float64]

LARGEST_STEP, LEAST_STEP = 0.01, 0.004
"""Share of the length by which one attempt shortens it, at most and at least: shifts of all items
at once give back what was too much, and outlines on a lattice go shorter in leaps or not at all."""

STALE, AIM = 15, 0.015
"""Attempts that do not come nearer, after which layouts are begun anew, shorter by a share drawn
between :data:`LEAST_STEP` and this one."""

STARTS, NOISE, SAMPLES = 4, 0.25, 300
"""First layouts made; noise on the order by size; places tried for each item and way."""

FAR = 1e9


@dataclass(frozen=True)
class Strip:
    """A layout on a strip: its length; x, y, angle (radians), face and way of each item (n, 5)."""

    length: float
    places: Floats
    outlines: tuple[int, ...]


@dataclass(frozen=True)
class Standing:
    """Where a search stands: the shortest strip, the next step, and what nearly was shorter.

    ``begun`` are layouts begun anew and not tried yet, ``idle`` the attempts since one came nearer
    than all before it, ``least_step`` what a step may shrink to.
    """

    best: Strip
    step: float = LARGEST_STEP
    nearly: tuple[Nearly[Strip], ...] = ()
    begun: tuple[Strip, ...] = ()
    idle: int = 0
    least_step: float = LEAST_STEP


class StripSearch:
    """Shapes to be laid on a strip of one width, each once for every entry of ``items``."""

    def __init__(self, shapes: Sequence[Shape], items: Sequence[int], width: float, gap: float = 0):
        self.shapes, self.items = tuple(shapes), tuple(items)
        self.width, self.gap = width, gap
        self.figures = figures_of(shapes)
        self.ways = ways_of(shapes)
        self.scratch = scratch_block(self.figures)
        is_leaning = any(shape.lean > 0 for shape in shapes)
        wood = bare_wood((0.0, 0.0, 0.0, width), gap)
        self.table = no_table() if is_leaning else table_of(self.figures, self.ways, wood)
        self.unit = mean_size(shapes, items)
        self.bound = self._bound()
        self.filler = StripFiller(self.shapes, self.items, width, gap)

    @cached_property
    def chart(self) -> Chart:
        """Where attempts look for places; first layouts need none, nor one who only makes those."""
        return chart_of(self.table, self.unit) if len(self.table.pairs) else no_chart()

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

    def started(self, rng: np.random.Generator) -> Strip:
        """Return the shortest of a few first layouts."""
        return min((self.constructed(rng) for _ in range(STARTS)), key=lambda s: s.length)

    def improved(
        self,
        begun: Standing,
        rng: np.random.Generator,
        stop: Stop,
        seen: Callable[[Strip], None] | None = None,
        enough: float = 0.0,
    ) -> Standing:
        """Return where the search stands when the stop rule says end."""
        stands, rounds = begun, 0
        while stop.share_used(rounds) < 1.0 and stands.best.length > max(self.bound + DONE, enough):
            rounds += 1
            if stands.idle >= STALE:
                stands = self._begun_anew(stands, rng, over_in(stop.seconds_left()))
                continue
            before, stands = stands.best, self._after_attempt(stands, rng)
            if seen and stands.best is not before:
                seen(stands.best)
        return stands

    def _begun_anew(
        self, stands: Standing, rng: np.random.Generator, is_over: Callable[[], bool]
    ) -> Standing:
        """Return the standing with other layouts to go on from, or as it is when time was over."""
        step = rng.uniform(LEAST_STEP, AIM)
        length = self._shorter(stands.best, step)
        found = self.filler.layouts(length, rng, is_over)
        if not found:
            return stands
        begun = tuple(Strip(length, places, self.items) for places in found)
        return Standing(stands.best, step, begun=begun, least_step=step)

    def _after_attempt(self, stands: Standing, rng: np.random.Generator) -> Standing:
        """Return where the search stands after one attempt."""
        best, step, nearly = stands.best, stands.step, stands.nearly
        if stands.begun:
            current = stands.begun[0]
        else:
            current = self.disturbed(go_on_from(best, nearly, rng), rng) if nearly else best
        found = self.attempt(current, self._shorter(best, step), best.length, rng)
        if isinstance(found, Strip):
            return Standing(found, min(step * 1.5, LARGEST_STEP))
        known = tuple(with_another(nearly, found))
        is_nearer = not nearly or known[0].overlap < nearly[0].overlap
        return replace(
            stands,
            step=max(step * 0.5, stands.least_step),
            nearly=known,
            begun=stands.begun[1:],
            idle=0 if is_nearer else stands.idle + 1,
        )

    def _shorter(self, strip: Strip, step: float) -> float:
        return max(strip.length * (1 - step), self.bound)

    def attempt(
        self, start: Strip, length: float, longest: float, rng: np.random.Generator
    ) -> Strip | Nearly[Strip]:
        """Cut to ``length`` and jostle: return a legal strip shorter than ``longest``, or not."""
        chart = with_room(self.chart, length, self.width)
        scene = self._scene(self._cut_short(start, length, rng), length, chart)

        def shifted(field: Field, near: Near) -> Strip | None:
            found = shortened(SHIFT * self.unit, longest, field, near, self.scratch, scene)
            scene.wood.box[HIGH_X] = length
            return Strip(found, scene.layout.place.copy(), self.items) if found < longest else None

        least, places, found = parted(scene, self.scratch, self.unit, rng, shifted)
        return found or Nearly(least, Strip(length, places, self.items))

    def _scene(self, places: Floats, length: float, chart: Chart) -> Scene:
        layout = layout_of(self.shapes, self.figures, self.items, places)
        wood = bare_wood((0.0, 0.0, length, self.width), self.gap)
        rings = no_rings(len(self.shapes))
        return Scene(layout, wood, self.ways, self.figures, rings, self.table, chart)

    def _cut_short(self, start: Strip, length: float, rng: np.random.Generator) -> Floats:
        """Return places with all beyond a cut across the strip moved left, or as they are."""
        places = start.places.copy()
        if rng.random() < 0.5:
            places[places[:, X] > rng.uniform(0, start.length), X] -= start.length - length
        return places

    def disturbed(self, strip: Strip, rng: np.random.Generator) -> Strip:
        """Return the strip with two unlike items exchanged, or a few thrown anywhere."""
        box = (0.0, 0.0, strip.length, self.width)
        places = disturbed(strip.places, self.shapes, self.items, box, rng)
        return Strip(strip.length, places, strip.outlines)

    def constructed(self, rng: np.random.Generator) -> Strip:
        """Return a legal strip: largest first with noise, each as far left as it will go."""
        areas = np.array([self.shapes[i].area for i in self.items])
        order = np.argsort(-np.log(areas) - NOISE * rng.standard_normal(len(areas)))
        sizes = [np.ptp(self.shapes[i].pieces.corners, axis=0) for i in self.items]
        reach = sum(float(np.hypot(*size)) + self.gap for size in sizes)
        scene = self._scene(np.tile([FAR, FAR, 0.0, 0.0, 0.0], (len(areas), 1)), reach, no_chart())
        field = field_for(scene.layout, scene.wood, self.figures, self.table)
        seed = int(rng.integers(2**31))
        length = lay_all(seed, order, SAMPLES, self.unit, field, self.scratch, scene)
        return Strip(float(length), scene.layout.place.copy(), self.items)
