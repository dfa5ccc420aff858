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

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from parts.curves import Points

Mask = NDArray[np.bool_]
Numbers = NDArray[np.int64]

STRAIGHT = 30.0
"""Variance of the straight part of the prior over that of the bent part, before it is chosen by
the figures: large, so that a tilted or shifted line costs little; much larger ones lose digits."""

LEAST_ACROSS = 0.7
"""Least length of every coordinate but the first: on a hull whose figures lie at the same heights
at all stations, a wrong one lies a little beside them, where a shorter batten would bend to it."""

LEAST_OF_PANEL = 2.0
"""The same of a panel between chines: all its breadth. It has no bilge in it, and its few figures
beside each other would let a shorter batten swing between them and an edge (14 mm on a bottom that
two waterlines and a buttock cross)."""

MOST_NOISE = 20.0
"""Factor on the figures' scatter beyond which they are no table."""

NUGGETS = (0.0, 1e-15, 1e-14, 1e-13, 1e-12)
"""Share of the largest variance that is added to that of each figure, the least of these with which
the covariance has a root: figures that lie nearly on a stiff batten leave it none in doubles."""


MANY = 400
"""Figures from which a part of them tells how the batten bends: to find it from 2,000 takes a
hundred times as long, as the third power of their number."""


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
    straight
        For each coordinate, the variance of the straight part over that of the bent one;
        :data:`STRAIGHT` where none is given.
    """

    lengths: tuple[float, ...]
    amplitude: float
    noise: float = 1.0
    straight: tuple[float, ...] = ()

    @property
    def shares(self) -> tuple[float, ...]:
        """The straight part's variance for each coordinate."""
        return self.straight or (STRAIGHT,) * len(self.lengths)


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
    least_across
        Least length of every coordinate but the first.
    firm
        (n,) standard deviation that each has besides, which does not grow with the figures' noise;
        None for none.
    most_noise
        What the noise may be at the most.
    """

    places: Points
    figures: Points
    scatter: Points
    stiffness: Stiffness
    least_across: float = LEAST_ACROSS
    firm: Points | None = None
    most_noise: float = MOST_NOISE

    def at(self, places: Points) -> Points:
        """Return the function at (m, k) places, (m,)."""
        return np.asarray(self._covariance(places, self.places) @ self._weights)

    def doubt_at(self, places: Points) -> Points:
        """Return the standard deviation of the function at (m, k) places, (m,)."""
        across = self._covariance(places, self.places)
        own = np.full(len(places), self.stiffness.amplitude**2)
        for axis, share in enumerate(self.stiffness.shares):
            own *= share * (1.0 + places[:, axis] ** 2) + 1.0
        known = ((across @ self._inverse) * across).sum(axis=1)
        return np.asarray(np.sqrt(np.maximum(own - known, 0.0)))

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
        (first, second), shares = self.stiffness.lengths, self.stiffness.shares
        weights = self.stiffness.amplitude**2 * self._weights
        pulls = alike(along, self.places[:, 0], first, shares[0]) * weights
        return np.array(
            [
                alike(line, self.places[:, 1], second, shares[1]) @ pull
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

    def moved(self, ways: Points) -> tuple[Points, Points]:
        """Return what moving all figures together along (n, k) ways gains and costs, (k,) each.

        Along each they are least surprising if moved by the first over the second, and then less
        surprising by the first squared over twice the second, in the logarithm.
        """
        return self._weights @ ways, ((self._inverse @ ways) * ways).sum(axis=0)

    def gain_of_moving(self, ways: Points) -> float:
        """Return by how much less surprising figures are, each moved along (n, k) ways as it likes.

        In the logarithm, with the stiffness of all: Rao's score test of all ways together.
        """
        share, cost = self._weights @ ways, ways.T @ self._inverse @ ways
        return float(share @ np.linalg.lstsq(cost, share, rcond=None)[0]) / 2

    def gains_of_two(self, one: Numbers, other: Numbers) -> tuple[Points, Points]:
        """Return what moving two figures as they like gains, and the better of them, (k,) each.

        Parameters
        ----------
        one, other
            (k,) numbers of the two figures.
        """
        own, its, both = (self._inverse[at] for at in ((one, one), (other, other), (one, other)))
        a, b = self._weights[one], self._weights[other]
        together = (a**2 * its - 2.0 * a * b * both + b**2 * own) / (own * its - both**2)
        return together / 2.0, np.maximum(a**2 / own, b**2 / its) / 2.0

    @property
    def is_large(self) -> bool:
        """Whether it is through so many figures that a part of them tells how it bends."""
        return len(self.figures) > MANY

    def thinned(self) -> Kriging:
        """Return the function through :data:`MANY` of its figures, spread evenly over them."""
        kept = np.linspace(0, len(self.figures) - 1, MANY).round().astype(int)
        return self.without(~np.isin(np.arange(len(self.figures)), kept))

    def without(self, dropped: Mask) -> Kriging:
        """Return the function without some figures, a (n,) mask."""
        keep = ~dropped
        return Kriging(
            self.places[keep],
            self.figures[keep],
            self.scatter[keep],
            self.stiffness,
            self.least_across,
            None if self.firm is None else self.firm[keep],
            self.most_noise,
        )

    @cached_property
    def noise(self) -> Points:
        """Variance of each figure about the fair function, (n,)."""
        return np.asarray((self.scatter * self.stiffness.noise) ** 2 + self.firm_variance)

    @property
    def firm_variance(self) -> Points | float:
        """Variance of each figure that does not grow with the noise, (n,)."""
        return 0.0 if self.firm is None else self.firm**2

    @cached_property
    def _root(self) -> Points:
        """Lower triangle of the figures' covariance, (n, n), times its turned self."""
        return root_of(self._covariance(self.places, self.places), self.noise)

    @cached_property
    def _inverse(self) -> Points:
        """Inverse of the figures' covariance, (n, n)."""
        half, info = lapack.dpotri(self._root, lower=True)
        assert info == 0
        # Above the diagonal the root is 0, and so is what is left there.
        full = half + half.T
        full[np.diag_indices_from(full)] = np.diag(half)
        return np.asarray(full)

    @cached_property
    def _weights(self) -> Points:
        solved, info = lapack.dpotrs(self._root, self.figures, lower=True)
        assert info == 0
        return np.asarray(solved)

    def _covariance(self, a: Points, b: Points) -> Points:
        product = np.full((len(a), len(b)), self.stiffness.amplitude**2)
        pairs = zip(self.stiffness.lengths, self.stiffness.shares, strict=True)
        for axis, (length, share) in enumerate(pairs):
            product *= alike(a[:, axis], b[:, axis], length, share)
        return product

    def misfit(self) -> float:
        """Return how unlikely the figures are under the prior; less is better.

        Minus the logarithm of their likelihood, without its constant.
        """
        strange = float(self.figures @ self._weights) / 2
        return strange + float(np.log(np.diag(self._root)).sum())


def root_of(covariance: Points, noise: Points) -> Points:
    """Return the root of figures' covariance, (n, n), with their noise, (n,), on its diagonal.

    The lower triangle is looked at alone, and returned with 0 above it.

    Raises
    ------
    numpy.linalg.LinAlgError
        If it has none in doubles.
    """
    place = np.diag_indices_from(covariance)
    bare = covariance[place] + noise
    for share in NUGGETS:
        covariance[place] = bare + share * bare.max()
        lower, info = lapack.dpotrf(covariance, lower=True)
        if info == 0:
            return np.asarray(lower)
    raise np.linalg.LinAlgError("covariance is not positive")


def parts_of(
    apart: Points, products: Points, length: float, share: float
) -> tuple[Points, Points, Points]:
    """Return of one coordinate's covariance the bent part, its rise and the straight part."""
    way = apart * (np.sqrt(7.0) / length)
    fading = np.exp(-way)
    bent = way / 15.0
    bent += 0.4
    bent *= way
    bent += 1.0
    bent *= way
    bent += 1.0
    bent *= fading
    # How the bent part rises with the logarithm of the length.
    rise = way / 3.0
    rise += 1.0
    rise *= way
    rise += 1.0
    rise *= way
    rise *= way
    rise *= fading
    rise /= 5.0
    return bent, rise, share * products


def alike(a: Points, b: Points, length: float, share: float = STRAIGHT) -> Points:
    """Return the covariance of a fair function of one coordinate between places, (n, m).

    Parameters
    ----------
    a, b
        (n,) and (m,) places.
    length
        Over which the function may change its mind.
    share
        Variance of its straight part.
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
    straight = np.multiply.outer(a * share, b, out=apart)
    straight += share
    bent += straight
    return np.asarray(bent)
