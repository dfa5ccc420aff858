"""What share of a board each part takes at the least, by points that few parts can do without.

Parts never cover a point twice. So weights on points of a board, that add up to 1, give shares:
of each part the weight of the points that it covers, from wherever it lies, at the least. The
weights are chosen so that the least share is as large as can be: a linear programme over the
berths met so far, to which those of the least share are added until it hardly changes.

References
----------
Kelley 1960, The cutting-plane method for solving convex programs (rows added as they are met).
Weights on points are the fractional relaxation of packing as stable sets; Padberg 1973, On the
facial structure of set packing polyhedra: its cliques are what parts at one point make. Both
from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.wood.berths import Berths
from nesting.engine.wood.berths_numba import HALF_SIDE, weighed

SPACING_MM = 16.0
"""Between points, or more where there would be too many."""

MOST_POINTS = 900
"""On one board: the linear programme has a column for each."""

MOST_COVERED = 60_000_000
"""Berths times points: more are not weighed, as that would take seconds."""

ROUNDS = 80
"""Of the linear programme, at most."""

CLOSE = 0.06
"""Weights are good enough once the least share and the programme's differ by less than this."""

HOLD = 0.5
"""Weights asked for lie so far back toward the best so far."""

ADDED = 12
"""Berths of each part added a round, of those within 2 % of the least."""

NEARLY = 1.02

FAR = 1.5
"""Rows of this many times the least share are forgotten, until they are met again."""

FINEST_MM = 1.0
"""Boxes of which half a side is less are not halved."""

LEAST = 1e-3
"""Shares under this tell nothing: no aim is set by them."""

OVER = 2.0
"""Share of a part that can lie nowhere."""

ROUNDING = 1e-4
"""Given away on the safe side, relative, against rounding."""

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Covers = NDArray[np.uint8]


def points_on(shape: Polygon) -> Floats:
    """Return points (m, 2) spread evenly over a board."""
    spacing = max(SPACING_MM, math.sqrt(shape.area / MOST_POINTS))
    low_x, low_y, high_x, high_y = shape.bounds
    xs = np.arange(low_x + spacing / 2, high_x, spacing)
    ys = np.arange(low_y + spacing / 2, high_y, spacing)
    points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    return points[shapely.contains_xy(shape, points[:, 0], points[:, 1])]


def shares_of_points(parts: Sequence[Sequence[Berths]], points: Floats) -> Floats:
    """Return what each part (n,) takes of a board at the least, by points on it.

    Parameters
    ----------
    parts
        The berths of each part, all faces.
    """
    shares = np.array([0.0 if any(len(b.boxes) for b in part) else OVER for part in parts])
    faces = [(p, berths) for p, part in enumerate(parts) for berths in part if len(berths.boxes)]
    if not faces or sum(len(berths.boxes) for _, berths in faces) * len(points) > MOST_COVERED:
        return shares
    weighing = _Weighing(faces, points)
    found = weighing.least()
    for part in {part for part, _ in faces}:
        shares[part] = min(
            (s for (p, _), s in zip(weighing.faces, found, strict=True) if p == part), default=OVER
        )
    return shares


class _Weighing:
    """Weights on points, and berths, halved where they take too little to tell."""

    def __init__(self, faces: Sequence[tuple[int, Berths]], points: Floats) -> None:
        self.faces, self._points = list(faces), points
        self._covers = [berths.covered(points) for _, berths in faces]
        self._weights = np.full(len(points), 1.0 / len(points))
        self._rows: dict[bytes, Covers] = {}

    def least(self) -> Floats:
        """Return the least share of each face at the best weights found."""
        taken = self._taken()
        best, held, wanted = _least(taken), self._weights, 1.0
        for turn in range(ROUNDS):
            least = _least(taken)
            if least.min() >= best.min():
                best, held = least, self._weights
            if least.min() >= wanted * (1 - CLOSE):
                if not self._halve(taken, least.min()):
                    break
                taken = self._taken()
                best, held = _least(taken), self._weights
            for cover, shares in zip(self._covers, taken, strict=True):
                self._rows |= {row.tobytes(): row for row in _worst(cover, shares, turn)}
            if not self._rows:
                break
            found, wanted = self._asked()
            self._weights = HOLD * held + (1 - HOLD) * found
            taken = self._taken()
        return best * (1 - ROUNDING)

    def _asked(self) -> tuple[Floats, float]:
        """Return the programme's weights and least share; forget the rows far from the least."""
        rows = np.array(list(self._rows.values()))
        weights, wanted = _programme(rows)
        near = weighed(rows, np.flatnonzero(weights), weights[weights > 0]) <= FAR * wanted
        self._rows = {row.tobytes(): row for row in rows[near]}
        return weights, wanted

    def _taken(self) -> list[Floats]:
        """Return for each face the weight that the part covers from each of its berths, (n,)."""
        some = np.flatnonzero(self._weights)
        return [weighed(cover, some, self._weights[some]) for cover in self._covers]

    def _halve(self, taken: Sequence[Floats], least: float) -> bool:
        """Halve the berths that let one more part onto the board; tell whether there are any.

        As many as go into 1 fit; a share must be over 1 part in so many for one fewer to fit.
        """
        aim = (1 + CLOSE / 2) / math.floor(1 / max(least, LEAST))
        low = [
            (shares < aim) & (berths.boxes[:, HALF_SIDE] / 2 >= FINEST_MM)
            for shares, (_, berths) in zip(taken, self.faces, strict=True)
        ]
        count = sum(len(few) + 7 * int(few.sum()) for few in low)
        is_any = any(few.any() for few in low)
        if not is_any or count * len(self._points) > MOST_COVERED:
            return False
        for f, few in enumerate(low):
            part, berths = self.faces[f]
            finer = berths.halved(few)
            for row in self._covers[f][few]:
                self._rows.pop(row.tobytes(), None)
            boxes = np.concatenate([berths.boxes[~few], finer.boxes])
            self.faces[f] = part, replace(berths, boxes=boxes)
            covers = [self._covers[f][~few], finer.covered(self._points)]
            self._covers[f] = np.concatenate(covers)
        return True


def _least(taken: Sequence[Floats]) -> Floats:
    return np.array([float(shares.min(initial=OVER)) for shares in taken])


def _worst(cover: Covers, shares: Floats, turn: int) -> Covers:
    """Return some of the berths that take the least, other ones each time."""
    if not len(cover):
        return cover
    near = np.flatnonzero(shares <= shares.min() * NEARLY + 1e-9)
    spread = np.linspace(turn % 7, len(near) - 1, ADDED).astype(np.int64)
    chosen = near[spread.clip(0, len(near) - 1)]
    return np.asarray(cover[np.unique(np.append(chosen, shares.argmin()))])


def _programme(rows: Covers) -> tuple[Floats, float]:
    """Return the weights at which the least of rows is as large as can be, and that."""
    from scipy import optimize  # Loaded where it is used: it takes long.

    count, points = rows.shape
    matrix = np.column_stack([-rows.astype(np.float64), np.ones(count)])
    sums = np.append(np.ones(points), 0.0)[None]
    aim = np.append(np.zeros(points), -1.0)
    found = optimize.linprog(
        aim, matrix, np.zeros(count), sums, [1.0], bounds=(0, None), method="highs-ds"
    )
    solved = np.asarray(found.x)
    weights = np.maximum(0.0, solved[:points])
    return weights / weights.sum(), float(solved[-1])
