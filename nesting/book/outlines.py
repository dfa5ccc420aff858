"""Outlines as a book keeps them, each made once: a book asks for the same ones many times over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from math import isfinite
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.errors import ShapeError

MOST_KNOWN = 100_000
"""So many outlines are kept at hand: all of a book of 5,000 boards, each cut some times."""

Rings = tuple[tuple[tuple[Any, ...], ...], ...]

Box = tuple[float, float, float, float]

Measured = tuple[Polygon, float, Box]

_known: dict[Rings, Measured] = {}

_asked: dict[int, tuple[object, Measured]] = {}
"""The same by the very list that was asked for, kept so that no other has its number. What a book
holds is never changed in place."""


def wood_of(data: Mapping[str, Any]) -> Polygon:
    """Return the outline of wood, openings and all."""
    return measured(data)[0]


def area_of(data: Mapping[str, Any]) -> float:
    """Return the area of wood, mm2."""
    return measured(data)[1]


def box_of(data: Mapping[str, Any]) -> Box:
    """Return the box around wood: low x, low y, high x, high y."""
    return measured(data)[2]


def measured(data: Mapping[str, Any]) -> Measured:
    """Return the outline of wood, its area (mm2) and its box; asked for many times over."""
    rings = data["outline"]
    if (last := _asked.get(id(rings))) is not None and last[0] is rings:
        return last[1]
    found = _found(_key(data))
    _remember(rings, found)
    return found


def _remember(rings: object, found: Measured) -> None:
    if len(_asked) >= MOST_KNOWN:
        _asked.clear()
    _asked[id(rings)] = rings, found


def _found(key: Rings) -> Measured:
    try:
        found = _known.get(key)
        if found is None:
            if len(_known) >= MOST_KNOWN:
                _known.clear()
            found = _known[key] = _made(key)
    except TypeError as error:
        raise TypeError(f"its outline is not made of points: {error}") from error
    return found


def _key(data: Mapping[str, Any]) -> Rings:
    rings = data["outline"]
    if not isinstance(rings, list) or not rings:
        raise ShapeError("it has no outline")
    return tuple([tuple([tuple(point) for point in ring]) for ring in rings])


def _made(rings: Rings) -> Measured:
    points = [[point_of(point) for point in ring] for ring in rings]
    if any(len(ring) < 3 for ring in points):
        raise ShapeError("an outline needs three points or more")
    shape = Polygon(points[0], points[1:])
    area = float(shape.area)
    if not shape.is_valid or area <= 0:
        raise ShapeError("its outline crosses itself, or encloses nothing")
    return shape, area, shape.bounds


def make_known(data: Iterable[Mapping[str, Any]]) -> None:
    """Make the outlines of many at once, which takes a tenth of the time.

    Only of plain, sound ones: what is wrong with any other is told where it is asked for.
    """
    asked = [(each["outline"], key) for each in data if (key := _plain_key(each)) is not None]
    keys = list(dict.fromkeys(key for _, key in asked if key not in _known))
    if len(keys) <= MOST_KNOWN:
        _make(keys)
    for rings, key in asked:
        if (found := _known.get(key)) is not None:
            _remember(rings, found)


def _make(keys: Sequence[Rings]) -> None:
    """Make the outlines of rings that are plain, each the only one of its key."""
    if not keys:
        return
    points = np.array([point for key in keys for point in key[0]], float)
    which = np.repeat(np.arange(len(keys)), [len(key[0]) for key in keys])
    shapes = np.asarray(shapely.polygons(shapely.linearrings(points, indices=which)), object)
    areas = np.asarray(shapely.area(shapes))
    sound = np.isfinite(areas) & (areas > 0) & shapely.is_valid(shapes)
    boxes = shapely.bounds(shapes).tolist()
    for place in np.flatnonzero(sound).tolist():
        _known[keys[place]] = shapes[place], float(areas[place]), tuple(boxes[place])


def _plain_key(data: Mapping[str, Any]) -> Rings | None:
    """Return the key of an outline without openings, if it is made of points at all."""
    try:
        key = _key(data)
        ring = key[0]
        if len(key) > 1 or len(ring) < 3 or ring[0] == ring[-1]:
            return None
        figures = list(chain.from_iterable(ring))
        is_plain = set(map(len, ring)) == {2} and set(map(type, figures)) == {float}
        is_plain = is_plain and all(map(isfinite, figures))
    except (KeyError, TypeError, ValueError):
        return None
    return key if is_plain else None


def rings_of(shape: Polygon) -> list[list[list[float]]]:
    """Return the rings of an outline, the outer one first; none is closed."""
    return [
        shapely.get_coordinates(ring)[:-1].tolist() for ring in (shape.exterior, *shape.interiors)
    ]


def point_of(given: Sequence[float]) -> tuple[float, float]:
    """Return a point of plain data.

    Raises
    ------
    TypeError, ValueError
        If it is not made of two finite figures.
    """
    x, y = given
    if type(x) is type(y) is float and isfinite(x) and isfinite(y):
        return x, y
    if not all(isinstance(value, int | float) and not isinstance(value, bool) for value in (x, y)):
        raise TypeError("a point is made of figures")
    x, y = float(x), float(y)
    if not (isfinite(x) and isfinite(y)):
        raise ValueError("a point must be made of figures")
    return x, y
