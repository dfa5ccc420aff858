"""Which pieces run into each other in the boat: how much wood is there twice, and where.

The boat is cut at planes along her, across and level, as close to each other as will not step over
what is worth telling; on each plane the sections of the pieces lie side by side, and any that
overlap are looked at again, by themselves and on many more planes. No solid is cut by another:
where faces lie on each other, as in a boat they do everywhere, that takes seconds a pair.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.linked import groups
from parts.curves import Points
from parts.model.sections import Skin, areas_of, sections

LEAST_MM3 = 100.0
"""Told is what overlaps by more: 0.1 cm3, a pinch of sawdust."""

PITCH_MM = 4.5
"""From plane to plane: whatever lies between the planes all three ways fits into its cube, which is
less than is told."""

CONTACT_MM = 0.2
"""Pieces lie on each other where they overlap by no more than this anywhere: facets leave the
surfaces of two neighbours by a quarter of it each, and no saw or plane comes nearer."""

CLOSE_PLANES = 48
"""Planes, each way, by which one overlap is measured: a wedge comes out within a thousandth."""

GRID_MM = 1e-6
"""Corners of sections are rounded to this, so that GEOS is sure of what they share."""

LOT = 120
"""Planes that are cut in one go."""

Box = tuple[Points, Points]
_Spot = tuple[tuple[int, int], Box]
_Measure = tuple[float, Box]

Spread = Callable[[Callable[[Any], Any], Sequence[Any]], Iterable[Any]]
"""How the same work is done for each of many things: as ``map`` does it, or beside each other."""


@dataclass(frozen=True)
class Overlap:
    """Wood that two pieces both have.

    Attributes
    ----------
    first, second
        Their labels, in the order of the parts list.
    low, high
        Corners of the box about it, mm, in the boat's frame; about most of it, where it is in
        several places.
    places
        How many they are.
    """

    first: str
    second: str
    volume_mm3: float
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    places: int = 1


@dataclass(frozen=True, eq=False)
class _Hits:
    """Sections that overlap: (n, 2) numbers of the pieces, (n, 3) corners of the boxes there."""

    pairs: Points
    low: Points
    high: Points


def overlaps(skins: Mapping[str, Skin], spread: Spread = map) -> tuple[Overlap, ...]:
    """Return every two pieces that run into each other, the worst first.

    Parameters
    ----------
    skins
        The skin of each piece in the boat's frame, by its label.
    spread
        Has planes cut, and overlaps measured, in other processes too.
    """
    labels, known = list(skins), tuple(skins.values())
    if len(known) < 2:
        return ()
    hits = list(spread(partial(_cut, known), _lots(known)))
    pairs, low, high = (
        np.concatenate([getattr(hit, name) for hit in hits]) for name in ("pairs", "low", "high")
    )
    spots = _spots(pairs.astype(int), low, high)
    tasks = [((known[i], known[j]), box) for (i, j), box in spots]
    measured = spread(_measured, tasks)
    of_pair = dict[tuple[int, int], list[_Measure]]()
    for (pair, _), measure in zip(spots, measured, strict=True):
        of_pair.setdefault(pair, []).append(measure)
    found = [_overlap(labels[i], labels[j], each) for (i, j), each in of_pair.items()]
    told = [overlap for overlap in found if overlap.volume_mm3 > LEAST_MM3]
    return tuple(sorted(told, key=lambda overlap: -overlap.volume_mm3))


def _overlap(first: str, second: str, each: Sequence[_Measure]) -> Overlap:
    """Return what two pieces both have, in all places together."""
    _, (low, high) = max(each, key=lambda measure: measure[0])
    volume, places = sum(volume for volume, _ in each), sum(volume > 0 for volume, _ in each)
    return Overlap(first, second, volume, _corner(low), _corner(high), places)


def _corner(point: Points) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return x, y, z


def _lots(skins: Sequence[Skin]) -> list[tuple[int, Points]]:
    """Return the planes as lots: which way they stand, and where."""
    low = np.min([skin.low for skin in skins], axis=0)
    high = np.max([skin.high for skin in skins], axis=0)
    lots = []
    for axis in range(3):
        places = np.arange(low[axis] + PITCH_MM / 2, high[axis], PITCH_MM)
        lots += [(axis, places[at : at + LOT]) for at in range(0, len(places), LOT)]
    return lots


def _cut(skins: Sequence[Skin], lot: tuple[int, Points]) -> _Hits:
    """Return where sections of two pieces overlap on some planes."""
    axis, places = lot
    on_plane: list[list[tuple[int, BaseGeometry]]] = [[] for _ in places]
    for number, skin in enumerate(skins):
        for plane, shape in sections(skin, axis, places):
            on_plane[plane].append((number, shape))
    found: list[tuple[tuple[int, int], Points, Points]] = []
    for place, shapes in zip(places.tolist(), on_plane, strict=True):
        if len(shapes) > 1:
            found += _side_by_side(axis, place, shapes)
    empty = np.zeros((0, 3))
    return _Hits(
        np.array([pair for pair, _, _ in found], dtype=float).reshape(-1, 2),
        np.array([low for _, low, _ in found]) if found else empty,
        np.array([high for _, _, high in found]) if found else empty,
    )


def _side_by_side(
    axis: int, place: float, shapes: Sequence[tuple[int, BaseGeometry]]
) -> list[tuple[tuple[int, int], Points, Points]]:
    areas = np.array([shape for _, shape in shapes])
    one, other = shapely.STRtree(areas).query(areas)
    one, other = one[one < other], other[one < other]
    shared = shapely.intersection(areas[one], areas[other], grid_size=GRID_MM)
    found = []
    for i, j, wood in zip(one, other, shared, strict=True):
        for part in _deep(wood):
            low, high = _in_boat(axis, place, part.bounds)
            found.append(((shapes[i][0], shapes[j][0]), low, high))
    return found


def _deep(shared: BaseGeometry) -> list[BaseGeometry]:
    """Return the parts of an overlap that are more than a contact."""
    if shared.is_empty:
        return []
    parts = [part for part in shapely.get_parts(areas_of(shared)) if part.area > CONTACT_MM**2]
    return [part for part in parts if not part.buffer(-CONTACT_MM / 2, quad_segs=2).is_empty]


def _in_boat(axis: int, place: float, bounds: tuple[float, float, float, float]) -> Box:
    """Return the corners of a box on a plane, as thick as planes are apart."""
    low = np.insert(np.array(bounds[:2]), axis, place - PITCH_MM)
    high = np.insert(np.array(bounds[2:]), axis, place + PITCH_MM)
    return low, high


def _spots(pairs: Any, low: Points, high: Points) -> list[_Spot]:
    """Return the boxes that overlapping sections make, those of a pair that touch as one."""
    spots = []
    for pair in np.unique(pairs, axis=0) if len(pairs) else ():
        rows = np.flatnonzero((pairs == pair).all(axis=1))
        under, over = low[rows] - PITCH_MM / 2, high[rows] + PITCH_MM / 2
        touch = (under[:, None] <= over[None]).all(axis=2)
        one, other = np.nonzero(touch & touch.T)
        of_row = groups(np.vstack([one, other]), len(rows))
        for group in range(of_row.max() + 1):
            mine = of_row == group
            box = under[mine].min(axis=0), over[mine].max(axis=0)
            spots.append(((int(pair[0]), int(pair[1])), box))
    return spots


def _measured(task: tuple[tuple[Skin, Skin], Box]) -> _Measure:
    """Return the volume of an overlap in a box, mm3, and the box that it fills.

    Faces that lie on each other nearly square to a plane's direction look deep on that plane; on
    those of the two other ways they do not. So the least of the three volumes holds.
    """
    skins, box = task
    box = (
        np.maximum(box[0], np.maximum(skins[0].low, skins[1].low)),
        np.minimum(box[1], np.minimum(skins[0].high, skins[1].high)),
    )
    for _ in range(2):
        if (box[1] <= box[0]).any():
            return 0.0, box
        volumes, lows, highs = zip(*(_along(skins, axis, box) for axis in range(3)), strict=True)
        if min(volumes) <= 0:
            return 0.0, box
        box = np.min(lows, axis=0), np.max(highs, axis=0)
    return min(volumes), box


def _along(skins: tuple[Skin, Skin], axis: int, box: Box) -> tuple[float, Points, Points]:
    """Return the volume of an overlap in a box by planes one way, and the box that it fills."""
    low, high = box
    step = (high[axis] - low[axis]) / CLOSE_PLANES
    places = low[axis] + step * (np.arange(CLOSE_PLANES) + 0.5)
    window = shapely.box(*np.delete(low, axis), *np.delete(high, axis))
    one, other = (dict(sections(skin, axis, places)) for skin in skins)
    volume, least, most = 0.0, np.full(3, np.inf), np.full(3, -np.inf)
    for plane in one.keys() & other.keys():
        shared = areas_of(shapely.intersection(one[plane], other[plane], grid_size=GRID_MM))
        for part in _deep(shapely.intersection(shared, window, grid_size=GRID_MM)):
            volume += part.area * step
            at, to = part.bounds[:2], part.bounds[2:]
            least = np.minimum(least, np.insert(np.array(at), axis, places[plane] - step / 2))
            most = np.maximum(most, np.insert(np.array(to), axis, places[plane] + step / 2))
    return volume, least, most
