"""Where the camera stood, how its lens bends, and how the sheets lie: all from the marks at once.

The sum of squared distances in the pictures is made least (bundle adjustment: Triggs and others
2000, "Bundle adjustment: a modern synthesis", in Vision Algorithms, Springer; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from nesting.errors import PhotographError
from nesting.photo.camera import Lens, View, on_plane
from nesting.photo.first_pose import first_parameters
from nesting.photo.pose_problem import CORNER_PIXELS, Array, Problem


@dataclass(frozen=True)
class Fit:
    """What explains the marks: lens and view of each picture, places of sheets, what is left."""

    lenses: tuple[Lens, ...]
    views: tuple[View, ...]
    sheets: dict[int, tuple[float, float, float]]
    left: dict[tuple[int, int], float]
    """Root mean square of what is left, pixels, by picture and sheet."""
    left_mm: dict[tuple[int, int], float]
    spread: Array
    """Covariance of the parameters."""
    parameters: Array
    problem: Problem


def fitted(problem: Problem) -> Fit:
    """Return what explains the marks best, begun from the sheets seen best in turn."""
    best: tuple[float, Array, Array] | None = None
    for base in range(min(3, len(problem.sheets))):
        start = first_parameters(problem, base)
        if start is None:
            continue
        for loss in ("soft_l1", "linear"):
            found = least_squares(
                problem.residuals,
                start,
                loss=loss,
                f_scale=4.0,
                method="trf",
                x_scale="jac",
                max_nfev=60,
            )
            start = found.x
        if best is None or found.cost < best[0]:
            best = float(found.cost), found.x, np.asarray(found.jac)
        if found.cost < 4.0 * len(problem.seen):
            break
    if best is None:
        raise PhotographError(
            "the pictures hang together by no common sheet: take them so that neighbours share two"
        )
    return _fit(problem, best[1], best[2])


def _fit(problem: Problem, parameters: Array, jacobian: Array) -> Fit:
    misses = problem.misses(parameters)
    degrees = max(1, misses.size - problem.size)
    noise = max(1.0, float(np.sum((misses / CORNER_PIXELS) ** 2)) / degrees)
    # What the pictures do not say (the first sheet's own place) counts for nothing.
    spread = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12, hermitian=True) * noise
    count = len(problem.shots)
    left, left_mm = {}, {}
    for picture in range(count):
        for index, sheet in enumerate(problem.sheets):
            mine = (problem.picture == picture) & (problem.sheet == index)
            if mine.any():
                off = float(np.sqrt(np.mean(np.sum(misses[mine] ** 2, axis=1))))
                left[picture, sheet] = off
                left_mm[picture, sheet] = off * _mm_a_pixel(problem, mine)
    places = problem.places(parameters)
    return Fit(
        tuple(problem.lens(parameters, picture) for picture in range(count)),
        tuple(problem.view(parameters, picture) for picture in range(count)),
        {sheet: tuple(places[i].tolist()) for i, sheet in enumerate(problem.sheets)},
        left,
        left_mm,
        np.asarray(spread, dtype=np.float64),
        parameters,
        problem,
    )


def _mm_a_pixel(problem: Problem, mine: NDArray[np.bool_]) -> float:
    """Return the size of a pixel at a sheet, from the sides of its marks there."""
    seen, model = problem.seen[mine].reshape(-1, 4, 2), problem.model[mine].reshape(-1, 4, 2)
    sides = [np.linalg.norm(np.roll(c, 1, axis=1) - c, axis=2).mean() for c in (model, seen)]
    return float(sides[0] / sides[1])


def length_doubt(
    fit: Fit, one: tuple[int, Array], other: tuple[int, Array], height_mm: float
) -> float:
    """Return the standard deviation of a length, mm, between pixels of two pictures on the
    board.
    """

    def length(parameters: Array) -> float:
        ends = [
            on_plane(
                pixel[None],
                fit.problem.view(parameters, picture),
                fit.problem.lens(parameters, picture),
                height_mm,
            )[0]
            for picture, pixel in (one, other)
        ]
        return float(np.linalg.norm(ends[0] - ends[1]))

    middle = length(fit.parameters)
    slope = np.zeros(len(fit.parameters))
    for i in range(len(slope)):
        moved = fit.parameters.copy()
        moved[i] += 1e-6
        slope[i] = (length(moved) - middle) / 1e-6
    return float(np.sqrt(max(0.0, float(slope @ fit.spread @ slope))))
