"""The stiffness with which a fair function is least surprised by its own figures.

References
----------
Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 5.9 (rise of the
likelihood; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import Bounds, minimize

from parts.curves import Points
from parts.lines.kriging import MOST_NOISE, Kriging, Stiffness, parts_of, root_of

STEPS, FLAT_ENOUGH = 60, 1e-6
"""Of the search: how many at most, and how little gained, over the misfit, ends it."""

NO_MISFIT = 1e10
"""Where there is none: the covariance has no root in doubles."""

STRAIGHT_RANGE = np.log([0.1, 1e3])
"""Of the straight part's variance, in the logarithm."""

RANGE = np.log([[0.08, 12.0], [1e-4, 100.0], [1.0, MOST_NOISE]])
"""Of lengths, amplitude and noise factor, in the logarithm."""


def tuned(function: Kriging, *, steps: int = STEPS) -> Kriging:
    """Return a function with the stiffness that best foretells its own figures.

    Of a large one those that are left of it thinned.
    """
    search = Search(function.thinned() if function.is_large else function)
    found = minimize(
        search,
        search.start,
        jac=True,
        method="L-BFGS-B",
        bounds=Bounds(*search.bounds),
        options={"maxiter": steps, "ftol": FLAT_ENOUGH},
    )
    return replace(function, stiffness=_stiffness(found.x, search.count))


def tuned_again(function: Kriging, *, steps: int) -> Kriging:
    """Return the same of one that has the stiffness of nearly the same figures.

    A large one keeps it: no figure, nor any line, bends it by much.
    """
    return function if function.is_large else tuned(function, steps=steps)


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
        high[-1] = np.log(self.function.most_noise)
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

    def __call__(self, logarithms: Points) -> tuple[float, Points]:
        """Return the misfit, and how it rises, (p,)."""
        stiff = _stiffness(logarithms, self.count)
        parts = self._parts(stiff)
        whole = [bent + straight for bent, _, straight in parts]
        covariance = stiff.amplitude**2 * _product(whole)
        figures = self.function.figures
        noise = (self.function.scatter * stiff.noise) ** 2
        try:
            root = root_of(self._square(covariance).T, noise + self.function.firm_variance)
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
