"""What of a sheet stands for what: keep-outs the nearest of their kind, corners in their order."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.stock.keep_out import KeepOut, KeepOutKind

SAME_MM = 1e-6
"""Two that stand in one place of the order, no farther apart than figures are rounded, are a pair:
a sheet is drawn in the order of its plan."""

FIRST_ASKED = 8
"""Neighbours asked for first; where all are taken by others, more are."""


def matched(
    wanted: Sequence[KeepOut], drawn: Sequence[KeepOut]
) -> Iterator[tuple[KeepOut, KeepOut]]:
    """Yield each wanted keep-out with the drawn one of its kind that stands for it.

    That is the one in the same place of the order if it lies there too, else the nearest, by the
    corners of their boxes, that none before took. Of each kind there are as many drawn as wanted.
    """
    for kind in KeepOutKind:
        ours = [keep_out for keep_out in wanted if keep_out.kind is kind]
        theirs = [keep_out for keep_out in drawn if keep_out.kind is kind]
        if ours:
            found = _paired(_boxes(ours), _boxes(theirs))
            yield from ((mine, theirs[number]) for mine, number in zip(ours, found, strict=True))


def corners_apart(first: BaseGeometry, second: BaseGeometry) -> float:
    """Return how far apart the corners of two outlines are, one by one in order, mm.

    The outlines themselves are nowhere farther apart. Infinite where their rings do not pair.
    """
    ours, theirs = shapely.get_coordinates(first), shapely.get_coordinates(second)
    if ours.shape != theirs.shape or not len(ours) or _ring_sizes(first) != _ring_sizes(second):
        return math.inf
    return float(np.hypot(*(ours - theirs).T).max())


def _ring_sizes(shape: BaseGeometry) -> list[int]:
    rings = shapely.get_rings(shapely.get_parts(shape))
    return [int(size) for size in shapely.get_num_coordinates(rings)]


def _boxes(keep_outs: Sequence[KeepOut]) -> NDArray[np.float64]:
    cores = np.array([keep_out.core for keep_out in keep_outs], object)
    reach = np.array([keep_out.reach_mm for keep_out in keep_outs])[:, None]
    return np.asarray(shapely.bounds(cores) + np.hstack([-reach, -reach, reach, reach]))


def _paired(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> list[int]:
    """Return for each row (n, 4) of ours a row of theirs, each taken once."""
    found = np.arange(len(ours))
    apart = np.flatnonzero(np.abs(ours - theirs).max(axis=1) > SAME_MM)
    if len(apart):
        found[apart] = apart[_nearest_free(ours[apart], theirs[apart])]
    return [int(number) for number in found]


def _nearest_free(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> list[int]:
    """Return for each row (n, 4) of ours a row of theirs, each taken once."""
    from scipy.spatial import cKDTree  # Loaded where it is used: it takes long.

    tree, taken = cKDTree(theirs), set[int]()
    found = []
    for row in ours:
        asked = FIRST_ASKED
        while True:
            near = np.atleast_1d(tree.query(row, k=min(asked, len(theirs)))[1])
            free = next((int(number) for number in near if int(number) not in taken), None)
            if free is not None:
                break
            asked *= 4
        taken.add(free)
        found.append(free)
    return found
