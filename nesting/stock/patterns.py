"""Keep-outs that come in patterns: fastenings in rows, along edges, where beams crossed.

Nobody chalks every nail of a deck: the survey records the first, the spacing and how they
stood. All lengths mm, in the board's frame.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.given import finite, made, numbers, point, whole, word, yes_or_no
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle
from nesting.stock.long_edges import across, edge_of, feet_and_inward
from nesting.stock.odd_places import ALL_THERE, OddPlaces
from nesting.stock.odd_places import Edge as Edge

MOST_HOLES = 2_000
"""Most keep-outs of one pattern: a 12 m plank nailed every 12 mm in two rows."""

HAIR = 1e-6
"""mm, or part of a step: keeps a last hole that rounding would put past the end."""


def row(
    kind: KeepOutKind | str,
    start: tuple[float, float],
    end: tuple[float, float],
    *,
    diameter_mm: float,
    spacing_mm: float | None = None,
    count: int | None = None,
    stagger_mm: float = 0.0,
    odd: OddPlaces = ALL_THERE,
) -> tuple[KeepOut, ...]:
    """Return round keep-outs along a line, the first at its start.

    Parameters
    ----------
    spacing_mm, count
        One of them: ``spacing_mm`` sets one at each whole step up to the end, ``count`` spreads
        that many evenly from end to end.
    stagger_mm
        Distance square to the line between the two ranks of a zigzag; 0 is a single rank.
    odd
        Places that are missing or doubled.

    Raises
    ------
    ShapeError
        If both or neither of spacing and count are given, the ends are one point, or the
        keep-outs are more than 2,000.

    Examples
    --------
    >>> len(row("hole", (100, 60), (3100, 60), diameter_mm=5, spacing_mm=300))
    11
    """
    start, end = point(start, "start"), point(end, "end")
    stagger_mm, odd = finite(stagger_mm, "stagger_mm"), _odd(odd)
    span = np.subtract(end, start)
    length = float(np.hypot(*span))
    if length == 0:
        raise ShapeError(f"a row must have two ends, both are at ({start[0]:g}, {start[1]:g}) mm")
    along, number = _standing(_marks_on(length, spacing_mm, count), odd)
    ahead = span / length
    aside = np.array([-ahead[1], ahead[0]]) * stagger_mm / 2
    points = np.asarray(start) + along[:, None] * ahead + _side_of(number)[:, None] * aside
    return _circles(kind, points, diameter_mm)


def edge_row(
    kind: KeepOutKind | str,
    shape: Polygon,
    edge: Edge | str,
    *,
    inset_mm: float,
    diameter_mm: float,
    start_mm: float,
    spacing_mm: float,
    stop_mm: float | None = None,
    stagger_mm: float = 0.0,
    odd: OddPlaces = ALL_THERE,
) -> tuple[KeepOut, ...]:
    """Return round keep-outs along a long edge of a board, however it curves.

    Parameters
    ----------
    inset_mm
        Distance from the edge, square to it.
    start_mm, spacing_mm
        First one and step, measured by a tape laid along the edge from its left end.
    stop_mm
        Last place on the tape; the edge's end less ``start_mm`` if not given.
    stagger_mm
        Every second one lies this much further in.
    odd
        Places that are missing or doubled.

    Raises
    ------
    ShapeError
        If the tape holds none, or more than 2,000.

    Examples
    --------
    >>> import shapely
    >>> board = shapely.box(0, 0, 1000, 120)
    >>> edge_row("metal", board, "upper", inset_mm=20, diameter_mm=4, start_mm=50, spacing_mm=900)
    (KeepOut(metal, 4 mm across, at (50, 100) mm), KeepOut(metal, 4 mm across, at (950, 100) mm))
    """
    edge, odd = word(edge, Edge, "edge"), _odd(odd)
    inset_mm, start_mm = (
        finite(inset_mm, "inset_mm", least=0.0),
        finite(start_mm, "start_mm", least=0.0),
    )
    stagger_mm = finite(stagger_mm, "stagger_mm")
    line = edge_of(_shape(shape), edge)
    stop = line.length - start_mm
    if stop_mm is not None:
        stop = min(finite(stop_mm, "stop_mm"), line.length)
    if start_mm > stop + HAIR:
        raise ShapeError(
            f"the row starts at {start_mm:g} mm and would stop at {stop:g} mm, measured along "
            f"the {edge} edge, which is {line.length:.0f} mm long"
        )
    along, number = _standing(start_mm + _marks_on(stop - start_mm, spacing_mm, None), odd)
    inset = inset_mm + stagger_mm * (number % 2)
    feet, inward = feet_and_inward(line, along, edge)
    return _circles(kind, feet + inset[:, None] * inward, diameter_mm)


def crossings(
    kind: KeepOutKind | str,
    shape: Polygon,
    stations_mm: Sequence[float],
    *,
    diameter_mm: float,
    offsets_mm: Sequence[float] = (),
    insets_mm: Sequence[float] = (),
    uppers_mm: Sequence[float] = (),
    in_middle: bool = False,
    stagger_mm: float = 0.0,
    odd: OddPlaces = ALL_THERE,
) -> tuple[KeepOut, ...]:
    """Return round keep-outs where old beams or frames crossed a board.

    Parameters
    ----------
    stations_mm
        Where the middle of each beam crossed, along x.
    offsets_mm
        Distances from the lower edge, at each station.
    insets_mm
        Distances from *both* edges, so that fastenings follow a tapering board; where the
        board is too narrow for two, one in its middle.
    stagger_mm
        Neighbours in a beam stand this far apart along the board, so as not to split it.

    Raises
    ------
    ShapeError
        If a station is off the board, nothing says how far from the edges, or the keep-outs
        are more than 2,000.

    Examples
    --------
    >>> import shapely
    >>> board = shapely.box(0, 0, 900, 120)
    >>> beams = crossings("hole", board, [200, 650], diameter_mm=6, insets_mm=[25])
    >>> [(round(at.core.x), round(at.core.y)) for at in beams]
    [(200, 25), (200, 95), (650, 25), (650, 95)]
    """
    stations_mm, odd = numbers(stations_mm, "stations_mm"), _odd(odd)
    offsets_mm, insets_mm, uppers_mm = (
        tuple(finite(each, f"each of {name}", least=0.0) for each in numbers(given, name))
        for given, name in (
            (offsets_mm, "offsets_mm"), (insets_mm, "insets_mm"), (uppers_mm, "uppers_mm")
        )
    )  # fmt: skip
    in_middle, shape = yes_or_no(in_middle, "in_middle"), _shape(shape)
    stagger_mm = finite(stagger_mm, "stagger_mm")
    each = len(offsets_mm) + 2 * len(insets_mm) + len(uppers_mm) + in_middle
    if not each:
        raise ShapeError("give offsets from the lower edge, or insets from both edges")
    if each == 1 and stagger_mm:
        raise ShapeError(
            f"staggered by {stagger_mm:g} mm, and one alone at each place: neighbours are two or "
            "more, so say how far up the others are"
        )
    if each == 1 and any(missing.edge for missing in odd.missing):
        raise ShapeError(
            "one alone stands at each place: say which places are missing, without an edge"
        )
    _check_count(len(stations_mm) * each)
    points: list[tuple[float, float]] = []
    for stand in odd.stands(stations_mm):
        low, high = across(shape, stand.at_mm)
        heights = sorted(
            [low + offset for offset in offsets_mm]
            + [height for inset in insets_mm for height in _from_both(low, high, inset)]
            + [high - upper for upper in uppers_mm]
            + ([(low + high) / 2] if in_middle else [])
        )
        shifts = _sides(len(heights)) * stagger_mm / 2
        there = [(stand.at_mm + float(dx), y) for dx, y in zip(shifts, heights, strict=True)]
        points.extend(
            there[stand.without is Edge.LOWER : len(there) - (stand.without is Edge.UPPER)]
        )
    return _circles(kind, np.array(points), diameter_mm)


def stations(
    shape: Polygon, first_mm: float, spacing_mm: float, count: int | None = None
) -> tuple[float, ...]:
    """Return stations from ``first_mm`` at a spacing: ``count`` of them, or to the board's end."""
    end = shape.bounds[2]
    if count is None:
        count = max(0, math.floor((end - first_mm) / spacing_mm + HAIR) + 1)
    if count == 0:
        raise ShapeError(
            f"the first station is {first_mm:g} mm, past the board's end at {end:g} mm"
        )
    _check_count(count)
    return tuple(first_mm + i * spacing_mm for i in range(count))


def _from_both(low: float, high: float, inset: float) -> list[float]:
    if low + inset >= high - inset - HAIR:
        return [(low + high) / 2]
    return [low + inset, high - inset]


def _marks_on(length: float, spacing: float | None, count: int | None) -> NDArray[np.float64]:
    if (spacing is None) == (count is None):
        raise ShapeError("give a row a spacing or a count, one of the two")
    if count is not None:
        _check_count(whole(count, "count", least=1))
        return np.linspace(0.0, length, count)
    steps = math.floor(length / finite(spacing, "spacing_mm", over=0.0) + HAIR)
    _check_count(steps + 1)
    return np.arange(steps + 1, dtype=np.float64) * float(spacing or 0.0)


def _standing(
    marks: NDArray[np.float64], odd: OddPlaces
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return where along a row those stand that are there, and at which place each."""
    stands = odd.stands(marks.tolist())
    if any(stand.without for stand in stands):
        raise ShapeError("a row along one line has one at each place, none next an edge to leave")
    return np.array([one.at_mm for one in stands]), np.array([one.number for one in stands])


def _sides(count: int) -> NDArray[np.float64]:
    """Return -1, 1, -1, ... : on which side of its line each of a zigzag stands."""
    return _side_of(np.arange(count))


def _side_of(number: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.where(number % 2 == 0, -1.0, 1.0)


def _check_count(count: int) -> None:
    if count > MOST_HOLES:
        raise ShapeError(
            f"the pattern makes {count:,} keep-outs, at most {MOST_HOLES:,} are read: is the "
            "spacing's unit right?"
        )


def _shape(given: Polygon) -> Polygon:
    return made(given, Polygon, "the board's shape", "board_outline() makes one of points")


def _odd(given: OddPlaces) -> OddPlaces:
    return made(given, OddPlaces, "odd", "OddPlaces(missing=..., doubled=...)")


def _circles(
    kind: KeepOutKind | str, points: NDArray[np.float64], diameter_mm: float
) -> tuple[KeepOut, ...]:
    return tuple(circle(kind, float(x), float(y), diameter_mm) for x, y in points)
