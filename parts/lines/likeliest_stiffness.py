"""The stiffness with which a fair function is least surprised by its own figures.

Sought by steps that go by how the misfit curves: first as the covariance alone foretells it
(Fisher's information, which knows nothing of the figures' values), then as each step shows it.
From the stiffness and the curvature of nearly the same figures three or four trials do. Where
figures are far stranger than any covariance has them, a search that knows nothing of it is surer.

References
----------
Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 5.9 (rise of the
likelihood). Nocedal and Wright 2006, Numerical Optimization, eq. 6.19 (BFGS) and 3.4 (when a step
gains enough); Bertsekas 1982, Projected Newton methods for optimization problems with simple
constraints, SIAM J. Control Optim. 20 (bounds). All from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import Bounds, minimize

from parts.curves import Points
from parts.lines.kriging import NUGGETS, Kriging, Stiffness, parts_of

STEPS, ENOUGH = 60, 3e-4
"""Of the search: how many at most, and how little gained in the logarithm ends it."""

FLAT_ENOUGH = 1e-6
"""The same of the search that knows nothing of curvature, over the misfit."""

GROSS = 3.0
"""Misfit, over the number of figures, from which on the curvature that a covariance foretells says
nothing: figures are far stranger than it has them."""

NO_MISFIT = 1e10
"""Where there is none: the covariance has no root in doubles."""

STRAIGHT_RANGE = np.log([0.1, 1e3])
"""Of the straight part's variance, in the logarithm."""

RANGE = np.log([[0.08, 12.0], [1e-4, 100.0], [1.0, 20.0]])
"""Of lengths, amplitude and noise factor, in the logarithm."""

FARTHEST = 1.0
"""A step changes no part of the stiffness by more, in the logarithm: beyond that the misfit is not
what its curvature foretells."""

LEAST_CURVED = 0.05
"""Curvature taken for a part of the stiffness of which the figures say nothing."""

MOST_CURVED = 250
"""Figures by which the curvature is told, of more every other, third and so on: it only leads the
search."""

SHORTENED, MOST_SHORTENED, GAINING = (0.1, 0.5), 6, 1e-4
"""Bounds of how much a step that gains too little is shortened, how often at most, and the part of
what its beginning promises that it must gain."""

Misfit = Callable[[Points], tuple[float, Points]]


def tuned(function: Kriging, *, curvature: Points | None = None, steps: int = STEPS) -> Kriging:
    """Return a function with the stiffness that best foretells its own figures.

    Parameters
    ----------
    curvature
        That of nearly the same figures, (p, p), by :func:`curvature_of`; else its own.
    """
    search = Search(function)
    if curvature is None:
        curvature = curvature_of(function)
    misfit, _ = search(search.start)
    found = None
    if misfit < GROSS * len(function.figures):
        found = _least(search, search.start, search.bounds, curvature, steps)
    if found is None:
        found = minimize(
            search,
            search.start,
            jac=True,
            method="L-BFGS-B",
            bounds=Bounds(*search.bounds),
            options={"maxiter": steps, "ftol": FLAT_ENOUGH},
        ).x
    return replace(function, stiffness=_stiffness(found, search.count))


def curvature_of(function: Kriging) -> Points:
    """Return how the misfit curves with the logarithms of the stiffness, (p, p)."""
    count = len(function.figures)
    some = np.arange(count) % -(-count // MOST_CURVED) == 0
    search = Search(function if some.all() else function.without(~some))
    return np.asarray(search.curvature(search.start) * (count / some.sum()))


@dataclass(frozen=True, eq=False)
class Search:
    """The misfit of a function by the logarithms of its stiffness, and how it rises with each.

    Everything of two figures is worked out once a pair: vectors (m,), m = n (n + 1) / 2.
    """

    function: Kriging

    @property
    def count(self) -> int:
        """Coordinates."""
        return int(self.function.places.shape[1])

    @property
    def start(self) -> Points:
        """The logarithms of the function's own stiffness, within the bounds, (p,)."""
        own = self.function.stiffness
        start = np.log([*own.lengths, *own.shares, own.amplitude, own.noise])
        return np.asarray(np.clip(start, *self.bounds))

    @cached_property
    def bounds(self) -> tuple[Points, Points]:
        """Least and greatest logarithms, (p,) each."""
        rows = [*[RANGE[0]] * self.count, *[STRAIGHT_RANGE] * self.count, RANGE[1], RANGE[2]]
        low, high = np.array(rows).T
        low[1 : self.count] = np.log(self.function.least_across)
        return low, high

    @cached_property
    def _pairs(self) -> NDArray[np.int64]:
        """Where each pair stands in a square, upper triangle, (m,)."""
        n = len(self.function.figures)
        return np.ravel_multi_index(np.triu_indices(n), (n, n))

    @cached_property
    def _own(self) -> NDArray[np.int64]:
        """Numbers of the pairs of a figure with itself, (n,)."""
        n = len(self.function.figures)
        return np.flatnonzero(self._pairs % (n + 1) == 0)

    @cached_property
    def _columns(self) -> list[_Column]:
        return [_Column.of(column, self._pairs) for column in self.function.places.T]

    def _parts(self, stiff: Stiffness) -> list[tuple[Points, Points, Points]]:
        pairs = zip(self._columns, stiff.lengths, stiff.shares, strict=True)
        return [column.parts(length, share) for column, length, share in pairs]

    def _square(self, values: Points) -> Points:
        """Return a value for each pair as a square's upper triangle, (n, n); 0 below it."""
        n = len(self.function.figures)
        full = np.zeros((n, n))
        full.ravel()[self._pairs] = values
        return full

    def _root(self, covariance: Points, noise: Points) -> Points:
        """Return the root of a covariance with the figures' noise, lower and turned over."""
        bare = covariance[self._own] + noise
        for share in NUGGETS:
            covariance[self._own] = bare + share * bare.max()
            lower, info = lapack.dpotrf(self._square(covariance).T, lower=True, overwrite_a=True)
            if info == 0:
                return np.asarray(lower)
        raise np.linalg.LinAlgError("covariance is not positive")

    def __call__(self, logarithms: Points) -> tuple[float, Points]:
        """Return the misfit, and how it rises, (p,)."""
        stiff = _stiffness(logarithms, self.count)
        parts = self._parts(stiff)
        whole = [bent + straight for bent, _, straight in parts]
        covariance = stiff.amplitude**2 * _product(whole)
        figures = self.function.figures
        noise = (self.function.scatter * stiff.noise) ** 2
        try:
            root = self._root(covariance.copy(), noise)
        except np.linalg.LinAlgError:
            return NO_MISFIT, np.zeros(len(logarithms))
        weights, _ = lapack.dpotrs(root, figures, lower=True)
        misfit = float(figures @ weights) / 2 + float(np.log(np.diag(root)).sum())
        inverse, _ = lapack.dpotri(root, lower=True, overwrite_c=True)
        strange = inverse.T.ravel()[self._pairs]
        strange -= np.multiply.outer(weights, weights).ravel()[self._pairs]
        return misfit, self._rise(strange, stiff, parts, whole, noise)

    def _rise(
        self,
        strange: Points,
        stiff: Stiffness,
        parts: list[tuple[Points, Points, Points]],
        whole: list[Points],
        noise: Points,
    ) -> Points:
        """Return how the misfit rises with the logarithms, in their order."""
        by_noise = float(strange[self._own] @ noise)
        strange *= 2.0 * stiff.amplitude**2
        strange[self._own] /= 2.0  # each other pair stands for two
        lengths, shares, size = [], [], 0.0
        for axis, (_, rise, straight) in enumerate(parts):
            others = _product([strange, *whole[:axis], *whole[axis + 1 :]])
            lengths.append(0.5 * float(others @ rise))
            shares.append(0.5 * float(others @ straight))
            size = float(others @ whole[axis])
        return np.array([*lengths, *shares, size, by_noise])

    def curvature(self, logarithms: Points) -> Points:
        """Return how the misfit curves, as the covariance foretells it, (p, p)."""
        stiff = _stiffness(logarithms, self.count)
        parts = self._parts(stiff)
        whole = [bent + straight for bent, _, straight in parts]
        size = stiff.amplitude**2
        noise = (self.function.scatter * stiff.noise) ** 2
        root = self._root(size * _product(whole), noise)
        inverse, _ = lapack.dpotri(root, lower=True, overwrite_c=True)
        inverse = _mirrored(inverse.T)
        rises = list[Points]()
        for which in (1, 2):
            for axis, part in enumerate(parts):
                others = [*whole[:axis], *whole[axis + 1 :]]
                change = size * _product([part[which], *others])
                rises.append(inverse @ _mirrored(self._square(change)))
        by_noise = 2.0 * inverse * noise
        rises += [2.0 * np.eye(len(noise)) - by_noise, by_noise]
        flat = np.array([rise.ravel() for rise in rises])
        turned = np.array([rise.T.ravel() for rise in rises])
        return np.asarray(0.5 * flat @ turned.T)


@dataclass(frozen=True, eq=False)
class _Column:
    """One coordinate of all pairs.

    Attributes
    ----------
    apart, products
        Of every two places: how far apart they lie, and their product and one.
    at
        (m,) which of those each pair has; None where they stand in the order of the pairs.
    """

    apart: Points
    products: Points
    at: NDArray[np.int64] | None = None

    @classmethod
    def of(cls, column: Points, pairs: NDArray[np.int64]) -> _Column:
        """Return a coordinate, (n,); figures of a station share it, so that most is said once."""
        one, other = np.divmod(pairs, len(column))
        values, which = np.unique(column, return_inverse=True)
        if len(values) ** 2 >= len(pairs):
            return cls(np.abs(column[one] - column[other]), column[one] * column[other] + 1.0)
        apart = np.abs(np.subtract.outer(values, values)).ravel()
        products = np.multiply.outer(values, values).ravel() + 1.0
        return cls(apart, products, which[one] * len(values) + which[other])

    def parts(self, length: float, share: float) -> tuple[Points, Points, Points]:
        """Return of the covariance the bent part, its rise and the straight part, (m,) each."""
        bent, rise, straight = parts_of(self.apart, self.products, length, share)
        if self.at is None:
            return bent, rise, straight
        return bent[self.at], rise[self.at], straight[self.at]


def _mirrored(upper: Points) -> Points:
    """Return a square from its upper triangle, 0 or anything below it."""
    upper = np.triu(upper)
    return np.asarray(upper + np.triu(upper, 1).T)


def _product(factors: list[Points]) -> Points:
    product = factors[0]
    for factor in factors[1:]:
        product = product * factor
    return product


def _stiffness(logarithms: Points, count: int) -> Stiffness:
    values = [float(value) for value in np.exp(logarithms)]
    return Stiffness(
        tuple(values[:count]), values[-2], values[-1], straight=tuple(values[count : 2 * count])
    )


def _least(
    misfit: Misfit, start: Points, bounds: tuple[Points, Points], curvature: Points, steps: int
) -> Points | None:
    """Return where the misfit is least between bounds, (p,); None if its curvature leads astray."""
    at, (value, rise) = start, misfit(start)
    curved = curvature + LEAST_CURVED * np.eye(len(start))
    for _ in range(steps):
        step = _step(at, rise, bounds, curved)
        if not -(rise @ step) / 2.0 > ENOUGH:
            return at
        found = _gaining(misfit, (at, value, rise), step, bounds)
        if found is None:
            return None
        after, less, steeper = found
        curved = _curved(curved, after - at, steeper - rise)
        gained, (at, value, rise) = value - less, found
        if gained < ENOUGH:
            return at
    return at if steps < STEPS else None


def _step(at: Points, rise: Points, bounds: tuple[Points, Points], curved: Points) -> Points:
    """Return the step to where the misfit is foretold to be least, (p,)."""
    low, high = bounds
    free = ~(((at <= low) & (rise > 0.0)) | ((at >= high) & (rise < 0.0)))
    step = np.zeros(len(at))
    if free.any():
        step[free] = -np.linalg.solve(curved[np.ix_(free, free)], rise[free])
    longest = float(np.abs(step).max())
    return step * min(1.0, FARTHEST / longest) if longest > 0.0 else step


def _gaining(
    misfit: Misfit,
    here: tuple[Points, float, Points],
    step: Points,
    bounds: tuple[Points, Points],
) -> tuple[Points, float, Points] | None:
    """Return a place along a step, and the misfit and its rise there, that gains; None if none."""
    at, value, rise = here
    share = 1.0
    for _ in range(MOST_SHORTENED):
        after = np.clip(at + share * step, *bounds)
        less, steeper = misfit(after)
        promised = float(rise @ (after - at))
        if less <= value + GAINING * promised:
            return after, less, steeper
        # The least of a parabola through both.
        part = -promised / (2.0 * (less - value - promised)) if less < NO_MISFIT else 0.0
        share *= float(np.clip(part, *SHORTENED))
    return None


def _curved(curved: Points, step: Points, turned: Points) -> Points:
    """Return a curvature that agrees with how the rise changed along a step (BFGS)."""
    bent, along = float(step @ turned), curved @ step
    whole = float(step @ along)
    if bent <= LEAST_CURVED * float(step @ step):
        return curved
    return np.asarray(curved + np.outer(turned, turned) / bent - np.outer(along, along) / whole)
