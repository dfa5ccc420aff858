"""Marks found in a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.photo.mark_sheet import MARKS_A_SHEET, dictionary
from nesting.photo.opencv import opencv

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

SEARCH_PIXELS = 2200
"""Longest side of the picture that marks are looked for in; corners are then refined in the
whole one. Marks of 20 pixels there are 36 in a picture of 12 million."""

LEAST_MARK_PIXELS = 22.0
"""Marks smaller in the whole picture are not measured well enough."""


@dataclass(frozen=True)
class SeenMark:
    """One mark: its number, and its (4, 2) corners in the picture, upper left first, clockwise."""

    number: int
    corners: Array

    @property
    def sheet(self) -> int:
        """Number of its sheet, from 1."""
        return self.number // MARKS_A_SHEET + 1

    @property
    def side(self) -> float:
        """Mean length of its sides, pixels."""
        return float(np.mean(np.linalg.norm(np.roll(self.corners, 1, 0) - self.corners, axis=1)))


def seen_marks(grey: Picture) -> tuple[SeenMark, ...]:
    """Return the marks in a grey picture, in the order of their numbers."""
    cv2 = opencv()
    times = min(1.0, SEARCH_PIXELS / max(grey.shape))
    small = (
        grey
        if times == 1.0
        else cv2.resize(grey, None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    )
    found, numbers, _ = cv2.aruco.ArucoDetector(dictionary(), _how(cv2)).detectMarkers(small)
    if numbers is None:
        return ()
    marks = list[SeenMark]()
    for corners, number in zip(found, np.ravel(numbers), strict=True):
        rough = (np.asarray(corners, dtype=np.float64).reshape(4, 2) + 0.5) / times - 0.5
        marks.append(SeenMark(int(number), edge_lines_meet(grey, rough)))
    large = [mark for mark in marks if mark.side >= LEAST_MARK_PIXELS]
    return tuple(sorted(large, key=lambda mark: mark.number))


def rim_width(grey: Picture, marks: Sequence[SeenMark]) -> float:
    """Return how many pixels the middle one of the marks' rims takes from white to black."""
    widths = []
    for mark in marks:
        for i in range(4):
            start, end = mark.corners[i], mark.corners[(i + 1) % 4]
            values, _ = _across(grey, start, end, SAMPLES)
            profile = np.median(values, axis=0)
            steepest = float(np.max(np.diff(profile))) if len(profile) > 1 else 0.0
            widths.append(float(np.ptp(profile)) / max(0.5, steepest) * OFFSET)
    return float(np.median(widths))


RIM_AT = 1 / 16
"""Middle of a mark's black rim, a cell of eight wide, as a share of its side."""


def ink_shade(picture: Picture, marks: Sequence[SeenMark]) -> float:
    """Return how light the marks' black is in a picture, 0 to 255: the lightest of its colours."""
    cv2 = opencv()
    along = np.linspace(RIM_AT, 1 - RIM_AT, 12)
    rim = np.concatenate([np.column_stack([along, np.full(12, at)]) for at in (RIM_AT, 1 - RIM_AT)])
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], np.float32)
    shades = []
    for mark in marks:
        matrix = cv2.getPerspectiveTransform(square, mark.corners.astype(np.float32))
        places = cv2.perspectiveTransform(rim.astype(np.float32)[None], matrix)
        shades.append(cv2.remap(picture, places, None, cv2.INTER_LINEAR).max(axis=2).ravel())
    return float(np.median(np.concatenate(shades)))


def _how(cv2: Any) -> Any:
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    how.adaptiveThreshWinSizeMin, how.adaptiveThreshWinSizeMax = 7, 47
    how.adaptiveThreshWinSizeStep = 20
    how.minMarkerPerimeterRate = 0.02
    return how


def edge_lines_meet(grey: Picture, rough: Array) -> Array:
    """Return the (4, 2) corners in which lines fitted to a square's edges meet."""
    lines = [_edge_line(grey, rough[i], rough[(i + 1) % 4]) for i in range(4)]
    corners = rough.copy()
    for i in range(4):
        before, after = lines[i - 1], lines[i]
        if before is None or after is None:
            continue
        met = _meet(before, after)
        if met is not None and np.linalg.norm(met - rough[i]) < REACH_SHARE * _side(rough):
            corners[i] = met
    return corners


REACH_SHARE = 0.12
"""How far off its rough place an edge is looked for, as a share of the mark's side: less than a
cell, so that the code inside is never taken for the border."""

SAMPLES = 24


def _side(corners: Array) -> float:
    return float(np.mean(np.linalg.norm(np.roll(corners, 1, 0) - corners, axis=1)))


def _edge_line(grey: Picture, start: Array, end: Array) -> tuple[Array, Array] | None:
    """Return a point and the direction of the edge from start to end: white outside, black in."""
    along = np.linspace(0.1, 0.9, SAMPLES)[:, None] * (end - start) + start
    values, out = _across(grey, start, end, SAMPLES)
    offsets = _offsets(float(np.linalg.norm(end - start)))
    smooth = opencv().GaussianBlur(values, (5, 1), 1.0)
    slope = np.clip(np.diff(smooth, axis=1), 0, None)
    middle = (offsets[:-1] + offsets[1:]) / 2
    peak = np.argmax(slope, axis=1)
    near = np.abs(np.arange(slope.shape[1]) - peak[:, None]) <= 3
    weight = slope * near
    total = weight.sum(axis=1)
    good = total > 0.25 * np.max(total)
    if np.count_nonzero(good) < SAMPLES // 2:
        return None
    at = (weight[good] @ middle) / total[good]
    points = along[good] + at[:, None] * out
    return _line(points)


OFFSET = 0.5
"""Pixels from one sample across an edge to the next."""


def _offsets(length: float) -> Array:
    reach = max(2.0, REACH_SHARE * length)
    made: Array = np.arange(-reach, reach + 1e-9, OFFSET)
    return made


def _across(grey: Picture, start: Array, end: Array, count: int) -> tuple[Array, Array]:
    """Return (count, m) shades on lines across an edge, from black to white, and which way is
    out.
    """
    span = end - start
    length = float(np.linalg.norm(span))
    out = np.array([span[1], -span[0]]) / length  # clockwise corners, y down
    along = np.linspace(0.1, 0.9, count)[:, None] * span + start
    places = along[:, None, :] + _offsets(length)[None, :, None] * out
    cv2 = opencv()
    values = cv2.remap(grey, places.astype(np.float32), None, cv2.INTER_LINEAR)
    return values.astype(np.float64), out


def _line(points: Array) -> tuple[Array, Array] | None:
    """Return a point and direction of the line through points, far ones left out twice."""
    kept = points
    for _ in range(3):
        middle = kept.mean(axis=0)
        direction = np.linalg.svd(kept - middle)[2][0]
        off = np.abs((points - middle) @ np.array([-direction[1], direction[0]]))
        limit = max(0.3, 2.5 * float(np.median(off)))
        kept = points[off <= limit]
        if len(kept) < 6:
            return None
    return middle, direction


def _meet(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array | None:
    (p, d), (q, e) = one, other
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) < 0.2:
        return None
    along = ((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross
    met: Array = p + along * d
    return met
