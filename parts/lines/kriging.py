"""A fair function through scattered figures, and how sure it is of each without that figure.

The function is the most likely one under a prior that says *fair*: along each coordinate a
straight line plus a twice smoothly bent rest, in all products of those. That is a smoothing
spline in other words (Kimeldorf and Wahba 1970), for figures that need lie on no grid. As a
batten does, it says at any place what figure the others leave there; and it says, too, how far
they leave it open: by these two a typing error is told from a hard bend.

References
----------
Kimeldorf and Wahba 1970, A correspondence between Bayesian estimation on stochastic processes
and smoothing by splines, Ann. Math. Stat. 41. Rasmussen and Williams 2006, Gaussian Processes
for Machine Learning, eq. 4.17 (Matern covariance), 5.10-5.13 (leaving one out), all from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from parts.curves import Points

Mask = NDArray[np.bool_]

STRAIGHT = 30.0
"""Variance of the straight part of the prior over that of the bent part: large, so that a
tilted or shifted line costs nothing; much larger ones lose digits."""

SHRINK, LEAST_STEP = 0.5, 0.15
"""Steps of the search over the logarithms of the stiffness, in which nothing is sensitive."""

RANGE = np.log([[0.08, 12.0], [1e-4, 100.0], [1.0, 12.0]])
"""Of lengths, amplitude and noise factor, in the logarithm."""


@dataclass(frozen=True)
class Stiffness:
    """How the batten bends.

    Attributes
    ----------
    lengths
        For each coordinate, the distance over which it may change its mind.
    amplitude
        Size of the bent part, in the figures' unit.
    noise
        Factor on the scatter that the figures were said to have.
    """

    lengths: tuple[float, ...]
    amplitude: float
    noise: float = 1.0


@dataclass(frozen=True, eq=False)
class Kriging:
    """The fair function through figures.

    Attributes
    ----------
    places
        (n, k) coordinates, each within about -1 to 1.
    figures
        (n,) values there.
    scatter
        (n,) standard deviation that each figure has by its rounding.
    """

    places: Points
    figures: Points
    scatter: Points
    stiffness: Stiffness
    _parts: dict[tuple[int, float], Points] = field(default_factory=dict, repr=False)
    """Parts of the figures' covariance, by coordinate and length. A function made of this one by
    another stiffness or scatter has them too: a search changes one number at a time."""

    def at(self, places: Points) -> Points:
        """Return the function at (m, k) places, (m,)."""
        return np.asarray(self._covariance(places, self.places) @ self._weights)

    def on_net(self, along: Points, across: Points) -> Points:
        """Return a function of two coordinates on the lines of a net, (n, m).

        The same as :meth:`at`, for half the work: the first coordinate's part is the same all
        along a line.

        Parameters
        ----------
        along
            (n,) first coordinate of each line.
        across
            (n, m) second coordinate of the points on it.
        """
        first, second = self.stiffness.lengths
        weights = self.stiffness.amplitude**2 * self._weights
        pulls = _alike(along, self.places[:, 0], first) * weights
        return np.array(
            [
                _alike(line, self.places[:, 1], second) @ pull
                for line, pull in zip(across, pulls, strict=True)
            ]
        )

    def left_out(self) -> tuple[Points, Points]:
        """Return, for each figure, what it is off the function without it, and the doubt of that.

        Returns
        -------
        tuple
            (n,) figure less prediction; (n,) standard deviation of it, rounding included.
        """
        doubt = 1.0 / np.diag(self._inverse)
        return self._weights * doubt, np.sqrt(doubt)

    def without(self, dropped: Mask) -> Kriging:
        """Return the function without some figures, a (n,) mask."""
        keep = ~dropped
        return Kriging(self.places[keep], self.figures[keep], self.scatter[keep], self.stiffness)

    @cached_property
    def _root(self) -> Points:
        """Lower triangle of the figures' covariance, (n, n), times its turned self."""
        whole = np.full((len(self.places),) * 2, self.stiffness.amplitude**2)
        for axis, length in enumerate(self.stiffness.lengths):
            whole *= self._part(axis, length)
        whole[np.diag_indices_from(whole)] += (self.scatter * self.stiffness.noise) ** 2
        lower, info = lapack.dpotrf(whole, lower=True)
        if info != 0:
            raise np.linalg.LinAlgError("covariance is not positive")
        return np.asarray(lower)

    @cached_property
    def _half_log_determinant(self) -> float:
        return float(np.log(np.diag(self._root)).sum())

    @cached_property
    def _inverse(self) -> Points:
        """Inverse of the figures' covariance, (n, n)."""
        half, info = lapack.dpotri(self._root, lower=True)
        assert info == 0
        full = np.tril(half)
        return np.asarray(full + np.tril(full, -1).T)

    @cached_property
    def _weights(self) -> Points:
        solved, info = lapack.dpotrs(self._root, self.figures, lower=True)
        assert info == 0
        return np.asarray(solved)

    def _part(self, axis: int, length: float) -> Points:
        if (axis, length) not in self._parts:
            places = self.places[:, axis]
            self._parts[axis, length] = _alike(places, places, length)
        return self._parts[axis, length]

    def _covariance(self, a: Points, b: Points) -> Points:
        product = np.full((len(a), len(b)), self.stiffness.amplitude**2)
        for axis, length in enumerate(self.stiffness.lengths):
            product *= _alike(a[:, axis], b[:, axis], length)
        return product

    def misfit(self) -> float:
        """Return how unlikely the figures are under the prior; less is better.

        Minus the logarithm of their likelihood, without its constant.
        """
        strange = float(self.figures @ self._weights) / 2
        return strange + self._half_log_determinant

    def tuned(self) -> Kriging:
        """Return the function with the stiffness that best foretells its own figures."""
        bounds = np.vstack([*[RANGE[:1]] * self.places.shape[1], RANGE[1:]])
        best, least = self, _misfit(self)
        step = np.full(len(bounds), 0.8)
        while step.max() > LEAST_STEP:
            found = _better(best, least, step, bounds)
            if found is None:
                step = step * SHRINK
            else:
                best, least = found
        return best


def _alike(a: Points, b: Points, length: float) -> Points:
    """Return the covariance of a fair function of one coordinate between places, (n, m).

    Parameters
    ----------
    a, b
        (n,) and (m,) places.
    length
        Over which the function may change its mind.
    """
    # Worked out in place: moving large arrays about would take most of the time.
    scale = np.sqrt(7.0) / length
    apart = np.abs(np.subtract.outer(a * scale, b * scale))
    bent = apart / 15.0
    bent += 0.4
    bent *= apart
    bent += 1.0
    bent *= apart
    bent += 1.0
    np.negative(apart, out=apart)
    bent *= np.exp(apart, out=apart)
    straight = np.multiply.outer(a * STRAIGHT, b, out=apart)
    straight += STRAIGHT
    bent += straight
    return np.asarray(bent)


def _better(
    best: Kriging, least: float, step: Points, bounds: Points
) -> tuple[Kriging, float] | None:
    """Return the function a step better in one of its stiffnesses, or None."""
    improved = None
    for axis in range(len(step)):
        for sign in (1.0, -1.0):
            trial = _logarithms(best.stiffness)
            trial[axis] = np.clip(trial[axis] + sign * step[axis], *bounds[axis])
            other = replace(best, stiffness=_stiffness(trial))
            misfit = _misfit(other)
            if misfit < least - 1e-2:
                best, least = other, misfit
                improved = best, least
                break
    return improved


def _logarithms(stiffness: Stiffness) -> Points:
    return np.log([*stiffness.lengths, stiffness.amplitude, stiffness.noise])


def _stiffness(logarithms: Points) -> Stiffness:
    *lengths, amplitude, noise = (float(value) for value in np.exp(logarithms))
    return Stiffness(tuple(lengths), amplitude, noise)


def _misfit(function: Kriging) -> float:
    """Return the misfit; infinity where the figures' covariance has lost its digits."""
    try:
        return function.misfit()
    except np.linalg.LinAlgError:
        return np.inf
