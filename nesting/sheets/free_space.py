"""Room for lettering: what is taken on a sheet and where a box still fits.

The only changing object of the sheets: labels are set one after another, each in what the
ones before it left free.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.sheets.drawing import Arrow, Entity, Point, Polyline, Text
from nesting.sheets.ways import Ways

Box = tuple[float, float, float, float]

PLACES_ALONG, PLACES_ACROSS = 36, 14
"""Places tried for a label within a region: near enough that the hand sees no better one."""

TRIED_FIRST = (12, 72)
"""Of the places, so many are tried first: a label mostly stands near where it is wanted."""

FEW = 40
"""So few places are tried all at once."""

SAMPLES_ALONG, SAMPLES_ACROSS = 64, 24
"""Points of a region's extent that are looked up: a box with one of them outside the region within
it is not in the region, and need not be measured."""

LOOSE, LOOSE_SHARE = 50, 0.05
"""So many things, or such a share of all, are taken before all are sorted anew."""


CROWD = 20
"""With so many things on a sheet it pays to look up first where no label can stand."""


class _Taken:
    """Things in a tree, and the latest in one of their own: a large tree is not made for each."""

    def __init__(self) -> None:
        self.things: list[BaseGeometry] = []
        self._tree = self._latest = shapely.STRtree([])
        self._ways = self._latest_ways = Ways([])
        self._sorted = self._known = self._in_ways = self._ways_known = 0

    def touching(self, shapes: NDArray[np.object_]) -> NDArray[np.intp]:
        """Return which of (n,) geometries touch anything, by their numbers."""
        count = len(self.things)
        if self._known != count:
            if count - self._sorted > max(LOOSE, LOOSE_SHARE * self._sorted):
                self._tree, self._sorted = shapely.STRtree(self.things), count
            self._latest, self._known = shapely.STRtree(self.things[self._sorted :]), count
        trees = [tree for tree in (self._tree, self._latest) if len(tree)]
        found = [tree.query(shapes, predicate="intersects")[0] for tree in trees]
        return np.concatenate(found) if found else np.empty(0, dtype=np.intp)

    def clear_ways(self, start: Point, ends: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return (n,) whether the way from a point to each of (n, 2) ends touches nothing."""
        count = len(self.things)
        if self._ways_known != count:
            if count - self._in_ways > max(LOOSE, LOOSE_SHARE * self._in_ways):
                self._ways, self._in_ways = Ways(self.things), count
            self._latest_ways = Ways(self.things[self._in_ways :])
            self._ways_known = count
        is_clear = self._ways.clear(start, ends)
        is_clear[is_clear] = self._latest_ways.clear(start, ends[is_clear])
        return is_clear


class FreeSpace:
    """What is taken so far.

    *Hard* things (lettering, holes, bungs) are never written over; *soft* ones (scribed
    marks, hatching) only where nothing else is left.
    """

    def __init__(self) -> None:
        self._hard, self._soft, self._words = _Taken(), _Taken(), _Taken()
        self._blocked: dict[Polygon, _Blocked] = {}
        self._rooms: dict[_Asked, Point | None] = {}

    def take(self, geometries: Iterable[BaseGeometry], *, is_soft: bool = False) -> None:
        """Mark geometries as taken."""
        (self._soft if is_soft else self._hard).things.extend(geometries)

    @property
    def hard_count(self) -> int:
        """How many things may never be written over."""
        return len(self._hard.things)

    def take_box(self, box: Box) -> None:
        """Mark the box of a word as taken."""
        self.take_word(shapely.box(*box))

    def take_word(self, shape: BaseGeometry) -> None:
        """Mark what lettering takes: no leader goes through it."""
        self.take([shape])
        self._words.things.append(shape)

    def are_off_words(self, lines: NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return (n,) whether each of (n,) lines touches no lettering; holes it may cross."""
        free = np.ones(len(lines), dtype=bool)
        if len(lines):
            free[self._words.touching(lines)] = False
        return free

    def take_drawn(self, entities: Iterable[Entity]) -> None:
        """Mark what stands around a view already: lettering, and lines that it keeps off."""
        for entity in entities:
            if isinstance(entity, Text):
                self.take_box(entity.box)
            elif isinstance(entity, Polyline):
                self.take([shapely.LineString(entity.points)])
            elif isinstance(entity, Arrow):
                self.take([shapely.LineString([entity.start, entity.end]).buffer(entity.head_mm)])

    def are_free(
        self, shapes: NDArray[np.object_], *, heeds_soft: bool = True
    ) -> NDArray[np.bool_]:
        """Return (n,) whether each of (n,) geometries touches nothing taken."""
        if not len(shapes):
            return np.ones(0, dtype=bool)
        free = np.ones(len(shapes), dtype=bool)
        for taken in (self._hard, self._soft) if heeds_soft else (self._hard,):
            left = np.flatnonzero(free)
            if len(left):
                free[left[taken.touching(shapes[left])]] = False
        return free

    def are_clear(self, start: Point, ends: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return (n,) whether the way from a point to each of (n, 2) ends touches nothing hard."""
        return self._hard.clear_ways(start, ends)

    def blocked(self, region: Polygon) -> _Blocked:
        """Return what is known beforehand of where in a region no box can stand.

        Once looked up it stays true: things are taken and never given back.
        """
        if region not in self._blocked:
            self._blocked[region] = _Blocked(region, self)
        return self._blocked[region]

    def still_free(self, asked: _Asked) -> tuple[bool, Point | None]:
        """Return whether the answer to a question asked before is still good, and which it was.

        Things are taken and never given back: what had no room has none, and places that were
        passed over are no better than they were, so the one found is good while it is free.
        """
        centre = self._rooms.get(asked)
        if centre is None:
            return asked in self._rooms, None
        is_good = bool(
            self.are_free(boxes_at(np.array([centre]), *asked.size), heeds_soft=asked.heeds_soft)[0]
        )
        return is_good, centre

    def note(self, asked: _Asked, centre: Point | None) -> Point | None:
        """Keep the answer to a question, and return it."""
        self._rooms[asked] = centre
        return centre


@dataclass(frozen=True)
class _Asked:
    """For what box room was looked for, in which region, near which point."""

    region: Polygon
    size: tuple[float, float]
    near: Point
    heeds_soft: bool


def boxes_at(
    centres: NDArray[np.float64], width: float | NDArray[np.float64], height: float
) -> NDArray[np.object_]:
    """Return (n,) boxes about (n, 2) centres, of one width or (n,) of their own."""
    half = np.stack(np.broadcast_arrays(width / 2, height / 2), axis=-1)
    low, high = centres - half, centres + half
    boxes: NDArray[np.object_] = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    return boxes


def room_in(
    space: FreeSpace,
    region: Polygon,
    size: tuple[float, float],
    near: Point,
    *,
    heeds_soft: bool = True,
) -> Point | None:
    """Return the centre of the free box within a region that is nearest to a point, or None."""
    asked = _Asked(region, size, near, heeds_soft)
    is_good, centre = space.still_free(asked)
    return centre if is_good else space.note(asked, _room_in(space, asked))


def _room_in(space: FreeSpace, asked: _Asked) -> Point | None:
    region, size, near = asked.region, asked.size, asked.near
    low_x, low_y, high_x, high_y = region.bounds
    width, height = size
    if width > high_x - low_x or height > high_y - low_y:
        return None
    spans = (low_x + width / 2, high_x - width / 2), (low_y + height / 2, high_y - height / 2)
    shapely.prepare(region)

    def first_of(centres: NDArray[np.float64]) -> Point | None:
        centres = centres[shapely.contains(region, boxes_at(centres, *size))]
        return first_free(space, centres, size, heeds_soft=asked.heeds_soft)

    centres = _grid(*spans, near)
    centres = centres[space.blocked(region).may_hold(centres, size)]
    first = TRIED_FIRST if len(centres) > FEW else ()
    for start, stop in pairwise((0, *first, len(centres))):
        found = first_of(centres[start:stop]) if start < len(centres) else None
        if found is not None:
            return found
    return None


class _Blocked:
    """Which points of a lattice over a region's extent lie outside it, added up from a corner.

    On a crowded sheet also those that lie in what may never be written over.
    """

    def __init__(self, region: Polygon, space: FreeSpace) -> None:
        low_x, low_y, high_x, high_y = region.bounds
        self._low = np.array([low_x, low_y])
        self._step = np.array([high_x - low_x, high_y - low_y]) / (SAMPLES_ALONG, SAMPLES_ACROSS)
        xs = low_x + self._step[0] * (np.arange(SAMPLES_ALONG) + 0.5)
        ys = low_y + self._step[1] * (np.arange(SAMPLES_ACROSS) + 0.5)
        shapely.prepare(region)
        x, y = np.meshgrid(xs, ys, indexing="ij")
        is_out = np.asarray(~shapely.intersects_xy(region, x, y))
        if space.hard_count >= CROWD:
            is_out[~is_out] = ~space.are_free(
                shapely.points(x[~is_out], y[~is_out]), heeds_soft=False
            )
        self._sums = np.zeros((SAMPLES_ALONG + 1, SAMPLES_ACROSS + 1), dtype=np.intp)
        self._sums[1:, 1:] = is_out.cumsum(axis=0).cumsum(axis=1)

    def may_hold(self, centres: NDArray[np.float64], size: Point) -> NDArray[np.bool_]:
        """Return (n,) whether none of the points is well within a box about each (n, 2) centre."""
        half = np.array(size) / 2 - 1e-9 * self._step
        most = np.array([SAMPLES_ALONG, SAMPLES_ACROSS])
        first = np.ceil((centres - half - self._low) / self._step - 0.5).astype(int)
        last = np.floor((centres + half - self._low) / self._step - 0.5).astype(int) + 1
        first = np.clip(first, 0, most)
        last = np.maximum(np.clip(last, 0, most), first)
        sums, (i, j), (k, m) = self._sums, first.T, last.T
        held: NDArray[np.bool_] = sums[k, m] - sums[i, m] - sums[k, j] + sums[i, j] == 0
        return held


def first_free(
    space: FreeSpace, centres: NDArray[np.float64], size: Point, *, heeds_soft: bool = True
) -> Point | None:
    """Return the first of (n, 2) centres whose box is free, or None."""
    if not len(centres):
        return None
    free = space.are_free(boxes_at(centres, *size), heeds_soft=heeds_soft)
    if not free.any():
        return None
    x, y = centres[int(np.argmax(free))]
    return float(x), float(y)


def _grid(span_x: Point, span_y: Point, near: Point) -> NDArray[np.float64]:
    """Return (n, 2) points over a rectangle, the nearest to a point first; it counts too."""
    xs = np.append(np.linspace(*span_x, PLACES_ALONG), np.clip(near[0], *span_x))
    ys = np.append(np.linspace(*span_y, PLACES_ACROSS), np.clip(near[1], *span_y))
    far = np.hypot(xs - near[0], (ys - near[1])[:, None])
    row, column = np.divmod(np.argsort(far, axis=None, kind="stable"), len(xs))
    return np.column_stack([xs[column], ys[row]])


def heart_of(region: Polygon) -> Point:
    """Return where a label sits best: the centre of area, or a point well inside."""
    centre = region.centroid
    if not region.contains(centre):
        centre = shapely.Point(shapely.maximum_inscribed_circle(region).coords[0])
    return float(centre.x), float(centre.y)
