"""All battens that may lie along a line of a dozen figures, each weighed by how likely it is.

A line of so few figures does not tell how stiff its batten is. So many are tried, from limp to
stiff, and what they say of a figure is brought together, each weighed by how well it foretells
the others. One factorisation of each stiffness gives what it says of every figure without that
figure: nothing is faired anew to leave one out.

References
----------
Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 5.12 (leaving one out)
and 5.2 (weighing by the likelihood), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from parts.curves import Points
from parts.lines.kriging import Numbers, Stiffness, alike

LENGTHS = np.exp(np.linspace(np.log(0.12), np.log(8.0), 15))
"""Distances, over half the line, in which a batten may change its mind."""

SHARES = np.exp(np.linspace(np.log(0.1), np.log(1e3), 5))
"""Variances of the straight part over that of the bent one."""

AMPLITUDES = np.exp(np.linspace(np.log(1e-4), np.log(30.0), 32))
"""Sizes of the bent part, over half the rise of the line."""

EASY, EASE = 1.0, 0.8
"""A line of a dozen figures says little of how it bends: its length is about this, and how many
times more or less in the logarithm is no surprise."""


@dataclass(frozen=True, eq=False)
class _Sums:
    """What all battens along a line say together; see the properties of :class:`Battens`."""

    fair: Points
    left_out: tuple[Points, Points]
    likely_without: Points
    misfit: float
    likeliest: int


@dataclass(frozen=True, eq=False)
class _Tried:
    """What each of m battens says of n figures, over the figures' own spread.

    Attributes
    ----------
    likely
        (m,) how likely it is, in the logarithm.
    weights, inverse
        (m, n) each figure's weight, and the diagonal of the inverse covariance.
    left, vectors
        (k, m / k, n) and (k, n, n) of which that inverse is made.
    """

    likely: Points
    weights: Points
    inverse: Points
    left: Points
    vectors: Points

    def across(self, one: Numbers, other: Numbers) -> Points:
        """Return the inverse covariance of two figures, by their numbers, (k,) each, (m, k)."""
        products = self.vectors[:, one, :] * self.vectors[:, other, :]
        sums = np.matmul(self.left, np.swapaxes(products, 1, 2))
        return np.asarray(sums.reshape(-1, len(one)))


@dataclass(frozen=True, eq=False)
class Battens:
    """Many battens along the figures of one line.

    Attributes
    ----------
    ways
        (k, n) ways along the line, -1 to 1: each batten bends evenly along one of them.
    figures, spread
        (n,) values and the standard deviation of each, in half the line's rise.
    """

    ways: Points
    figures: Points
    spread: Points

    def _roots(self) -> tuple[Points, Points]:
        """Eigenvalues (k, n) and vectors (k, n, n) of each shape, over the figures' own spread."""
        n = len(self.figures)
        shapes = np.concatenate([_shapes(way.tobytes()) for way in self.ways])
        over = shapes / np.multiply.outer(self.spread, self.spread)
        values, vectors = np.linalg.eigh(over.reshape(-1, n, n))
        return np.maximum(values, 0.0), vectors

    def _tried(self) -> _Tried:
        """How likely each batten is, and what it says of each figure."""
        values, vectors = self._roots()
        sizes = AMPLITUDES**2
        left = 1.0 / (values[:, None, :] * sizes[:, None] + 1.0)
        along = np.einsum("kij,i->kj", vectors, self.figures / self.spread)
        weights = np.matmul(left * along[:, None, :], np.swapaxes(vectors, 1, 2))
        inverse = np.matmul(left, np.swapaxes(vectors**2, 1, 2))
        likely = 0.5 * (np.log(left) - left * along[:, None, :] ** 2).sum(axis=2)
        likely = likely - np.tile(_unease(), len(self.ways))[:, None]
        n = len(self.figures)
        found = likely.ravel(), weights.reshape(-1, n), inverse.reshape(-1, n)
        return _Tried(*found, left, vectors)

    @cached_property
    def _sums(self) -> _Sums:
        """What they say together. Of each line thousands are tried: they are not kept."""
        tried = self._tried()
        likely, weights, inverse = tried.likely, tried.weights, tried.inverse
        best, share = _shares_without(likely, weights, inverse)
        top = float(likely.max())
        spread = float(np.log(self.spread).sum())
        return _Sums(
            np.asarray(self.figures - self.spread * (parts_of_one(likely) @ weights)),
            self._left_out(share, weights, inverse),
            self._likely_without(best, share),
            spread - top - float(np.log(np.exp(likely - top).mean())),
            int(likely.argmax()),
        )

    def _left_out(self, share: Points, weights: Points, inverse: Points) -> tuple[Points, Points]:
        """Return what each figure is off the others' battens, by their shares, and the doubt."""
        whole, off = share.sum(axis=0), weights / inverse
        mean = np.einsum("mn,mn->n", share, off) / whole
        off -= mean
        spread = off**2
        spread += 1.0 / inverse
        doubt = np.einsum("mn,mn->n", share, spread) / whole
        return mean * self.spread, np.sqrt(doubt) * self.spread

    def _likely_without(self, top: Points, share: Points) -> Points:
        """Return how likely all figures but each are over all battens, in the logarithm."""
        spread = np.log(self.spread)
        return np.asarray(top + np.log(share.mean(axis=0)) - (spread.sum() - spread))

    @property
    def fair(self) -> Points:
        """What the battens have at the figures' places, (n,)."""
        return self._sums.fair

    @property
    def left_out(self) -> tuple[Points, Points]:
        """What each figure is off the battens through the others, and the doubt, (n,) each."""
        return self._sums.left_out

    @property
    def likely_without(self) -> Points:
        """How likely all figures but each are over all battens, in the logarithm, (n,)."""
        return self._sums.likely_without

    def likely_without_both(self, one: Numbers, other: Numbers) -> Points:
        """Return how likely all figures but two are over all battens, in the logarithm, (k,).

        Parameters
        ----------
        one, other
            (k,) numbers of the two figures.
        """
        tried = self._tried()
        across = tried.across(one, other)
        area = tried.inverse[:, one] * tried.inverse[:, other] - across**2
        a, b = tried.weights[:, one], tried.weights[:, other]
        # What both are off the rest, squared, over their covariance.
        strange = a**2 * tried.inverse[:, other] + b**2 * tried.inverse[:, one]
        strange -= 2.0 * a * b * across
        without = 0.5 * (strange / area - np.log(area)) + tried.likely[:, None]
        top, spread = without.max(axis=0), np.log(self.spread)
        said = top + np.log(np.exp(without - top).mean(axis=0))
        return np.asarray(said - (spread.sum() - spread[one] - spread[other]))

    @property
    def misfit(self) -> float:
        """How surprising the figures are over all battens; less is better."""
        return self._sums.misfit

    @property
    def likeliest(self) -> Stiffness:
        """How the likeliest of all bends, of one way along the line."""
        assert len(self.ways) == 1
        shape, size = divmod(self._sums.likeliest, len(AMPLITUDES))
        length, share = divmod(shape, len(SHARES))
        return Stiffness(
            (float(LENGTHS[length]),), float(AMPLITUDES[size]), straight=(float(SHARES[share]),)
        )


def _shares_without(likely: Points, weights: Points, inverse: Points) -> tuple[Points, Points]:
    """Return how likely all figures but each are of the likeliest batten, in the logarithm, (n,).

    And how many times less likely of each batten, (m, n).
    """
    # A batten's likelihood without a figure is that with it, less how well it foretells it.
    without = weights**2
    without /= inverse
    without -= np.log(inverse)
    without *= 0.5
    without += likely[:, None]
    top = without.max(axis=0)
    without -= top
    return top, np.exp(without, out=without)


def parts_of_one(likely: Points) -> Points:
    """Return likelihoods as parts of one, over the first axis."""
    parts = np.exp(likely - likely.max(axis=0))
    return np.asarray(parts / parts.sum(axis=0))


def _unease() -> Points:
    """Return how much less likely each shape is beforehand, in the logarithm, (k,)."""
    off = np.log(LENGTHS / EASY)
    return np.repeat(off**2 / (2 * EASE**2), len(SHARES))


@lru_cache(maxsize=64)
def _shapes(places: bytes) -> Points:
    """Return the covariance of each shape between places, (lengths, shares, n, n)."""
    at = np.frombuffer(places)
    bent = np.array([alike(at, at, float(length), 0.0) for length in LENGTHS])
    straight = np.multiply.outer(SHARES, 1.0 + np.multiply.outer(at, at))
    return np.asarray(bent[:, None] + straight)
