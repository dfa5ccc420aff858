"""The fair function through a cloud of points, in the way of laying off that suits it.

The figures themselves choose how stiff the batten is, how much noise they have, and by which of
:mod:`parts.lines.laying_off` the hull is laid off: whatever makes them least surprising (the
greatest likelihood, as REML does for a smoothing spline; see :mod:`parts.lines.kriging`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines.hull_points import END, HIGH, LOW, ON_KEEL_MM, Cloud
from parts.lines.kriging import LEAST_ACROSS, LEAST_OF_PANEL, MANY, MOST_NOISE, Kriging, Stiffness
from parts.lines.laying_off import OTHER_SLANTS, SLANT, Diagonals, Laid, LayingOff, Shares
from parts.lines.likeliest_stiffness import tuned, tuned_again
from parts.lines.odd_ones import EIGHTH_MM

FLAT = 0.2
"""A line that lies so flat on the hull that its figure moves more than five times as far as the
hull itself is judged as if it crossed at one in five: no figure is as exact as it would be."""

LEAST_SCATTER_MM = 0.25
"""A hull is not drawn more exactly than a pencil line, square to itself."""

NAILED_MM = 0.02
"""Scatter of a figure that the hull must pass, square to the hull."""

USUAL = Stiffness((0.7, 2.0), 0.3)
"""Stiffness that a hull's is sought from: what boats come to, within a factor of three."""

EASY = replace(USUAL, noise=10.0)
"""The same for a function that only tells how steep the hull is: one that bent to a wrong figure
would tell of its own bump."""

SLOPE = 0.3
"""Of the value across, taken for all figures before there is a function."""

HALF_WITHIN = 0.6745
"""Standard deviations within which half of all normal figures lie."""

LEAST_SCALE = 0.05
"""However quiet the others are, a figure is not held against less than this part of their noise."""

FEW_STEPS = 20
"""Of the search for the stiffness, from that of nearly the same figures."""

STEP = 0.02
"""Across which a slope is measured."""

ACROSS = np.array([0.0, STEP])
"""A step across the hull."""


@dataclass(frozen=True, eq=False)
class Fit:
    """A cloud's fair function.

    Attributes
    ----------
    used
        (n,) which of the cloud's points have a say.
    function
        Through those, in their order.
    along
        How far the function's value is off where a figure is off by 1 mm in the direction that
        it was measured in, for each of those.
    """

    cloud: Cloud
    way: LayingOff
    used: NDArray[np.bool_]
    function: Kriging
    along: Points
    rounding_mm: float

    @property
    def noise(self) -> float:
        """Factor on the figures' rounding."""
        return self.function.stiffness.noise

    @cached_property
    def sober_noise(self) -> float:
        """The factor that half of the figures speak of: one gross error raises the other."""
        off, doubt = self.left_out
        strange = np.abs(off / doubt)[self.used]
        scale = float(np.median(strange)) / HALF_WITHIN
        return max(1.0, self.noise * float(np.clip(scale, LEAST_SCALE, 1.0)))

    @cached_property
    def misfit(self) -> float:
        """How surprising the figures are, in mm, so that ways of laying off can be compared."""
        # What has no say closes exactly: it is off by its noise alone.
        left = float((~self.used).sum()) * np.log(self.rounding_mm * self.noise)
        return self.function.misfit() - float(np.log(self.along).sum()) + float(left)

    @cached_property
    def left_out(self) -> tuple[Points, Points]:
        """What each of the cloud's points is off without itself, and the doubt, mm, (n,) each."""
        off, doubt = np.zeros(len(self.used)), np.full(len(self.used), np.inf)
        found = self.function.left_out()
        off[self.used], doubt[self.used] = found[0] / self.along, found[1] / self.along
        return off, doubt

    def seen(self, at: int, axis: int) -> tuple[float, float]:
        """Return what half-breadth or height of an edge's point is off, and the doubt, mm."""
        among = int(np.flatnonzero(self.used).searchsorted(at))
        off, doubt = (float(part[among]) for part in self.function.left_out())
        rise = self.way.lay(*self.cloud.points[at : at + 1].T).rise(self.slopes[among : among + 1])
        along, steep = float(rise[0, axis]), float(np.hypot(*rise[0]))
        along = float(np.copysign(max(abs(along), 1e-3 * steep), along or 1.0))
        return off / along, doubt / abs(along)

    @cached_property
    def slopes(self) -> Points:
        """How the value rises across at each of the points used, (n,)."""
        return np.clip(_slope(self.function, self.function.places), -0.5, 0.98)

    def moved(self, by: Points) -> Points:
        """Return what the values change by if the points truly lie elsewhere, (n,).

        Parameters
        ----------
        by
            (n, 3) mm for each of those used: x, y, z.
        """
        return np.asarray((self._rises * by).sum(axis=1))

    @cached_property
    def _rises(self) -> Points:
        """What the value of each point used changes by if it truly lies 1 mm elsewhere, (n, 3)."""
        laid = self.way.lay(*self.cloud.points[self.used].T)
        first, last = self.cloud.panel.ends
        along = _slope(self.function, laid.places, np.array([STEP, 0.0])) * 2.0 / (last - first)
        return np.column_stack([along, -laid.rise(self.slopes)])

    def off(self, point: Points, out: tuple[float, float]) -> tuple[float, float]:
        """Return how far a point lies off the hull in a direction, (y, z), and the doubt, mm.

        That is never less than :data:`LEAST_SCATTER_MM`, square to the hull.
        """
        off, doubt, rise = self.square_off(point)
        # Of a stiff batten the doubt is the difference of two numbers a million times as large.
        doubt = float(np.hypot(doubt, LEAST_SCATTER_MM))
        along = float(rise @ np.array(out))
        along = float(np.copysign(max(abs(along), 1e-3), along or 1.0))
        return off / along, doubt / abs(along)

    def square_off(self, point: Points) -> tuple[float, float, Points]:
        """Return how far a point lies off the hull, square to it in its section, mm.

        With the doubt of that, and the direction, (2,) y and z, in which it lies off.
        """
        laid = self.way.lay(*point[:, None])
        rise = laid.rise(_slope(self.function, laid.places))[0]
        steep = float(np.hypot(*rise))
        off = float(laid.figures[0] - self.function.at(laid.places)[0])
        doubt = float(self.function.doubt_at(laid.places)[0])
        return off / steep, doubt / steep, rise / steep


def square_off(fit: Fit, function: Kriging, points: Points) -> tuple[Points, Points]:
    """Return how far points, (n, 3), lie off a function laid off as a fit is, and the doubt, mm.

    Square to the hull in their sections, (n,) each; rounding included.
    """
    off, laid, steep = _squared(fit, function, points)
    doubt = function.doubt_at(laid.places) / steep
    return off, np.hypot(doubt, fit.rounding_mm * function.stiffness.noise)


def lies_off(fit: Fit, function: Kriging, points: Points) -> Points:
    """Return the same without the doubt, which takes longer, (n,) mm."""
    return _squared(fit, function, points)[0]


def _squared(fit: Fit, function: Kriging, points: Points) -> tuple[Points, Laid, Points]:
    """Return how far points lie off a function, mm, the points laid off, and how steep it is."""
    laid = fit.way.lay(*points.T)
    steep = np.hypot(*laid.rise(_slope(function, laid.places)).T)
    return (laid.figures - function.at(laid.places)) / steep, laid, steep


def fits_of(cloud: Cloud, rounding_mm: float, before: tuple[Fit, ...] = ()) -> tuple[Fit, ...]:
    """Return the fits of a cloud, the likeliest first.

    Parameters
    ----------
    before
        Fits of the same hull, from whose stiffness these are sought.
    """
    if before and _same(cloud, before[0].cloud):
        return tuple(replace(fit, cloud=cloud, way=fit.way.on(cloud.panel)) for fit in before)
    known = {type(fit.way): fit for fit in before}
    slant = before[0].way.slant if before else SLANT
    fits = _at_slant(cloud, slant, rounding_mm, known)
    if before:
        return fits
    first = _thinned(fits[0]) if fits[0].function.is_large else fits[0]
    likeliest = min((first, *_other_slants(first)), key=lambda fit: fit.misfit)
    if likeliest is first:
        return fits
    return _at_slant(cloud, likeliest.way.slant, rounding_mm, {})


def _thinned(fit: Fit) -> Fit:
    """Return a fit through a part of its figures, for others to be held against."""
    kept = np.flatnonzero(fit.used)[:: -(-int(fit.used.sum()) // MANY)]
    used = np.isin(np.arange(len(fit.used)), kept)
    return _fit(fit.cloud, fit.way, used, fit.rounding_mm, fit)


def _other_slants(fit: Fit) -> Iterator[Fit]:
    """Yield a fit's likes at other slants, sought from its stiffness."""
    for slant in OTHER_SLANTS:
        way = type(fit.way)(fit.cloud.panel, slant)
        yield _fit(fit.cloud, way, fit.used, fit.rounding_mm, fit)


def _at_slant(
    cloud: Cloud, slant: float, rounding_mm: float, known: dict[type[LayingOff], Fit]
) -> tuple[Fit, ...]:
    """Return the fits by both ways, if both suit the hull, the likelier first."""
    diagonals, shares = Diagonals(cloud.panel, slant), Shares(cloud.panel, slant)
    ways: list[LayingOff] = [diagonals]
    if shares.suits:
        ways.append(shares)
    kept = ~_past_end(cloud, diagonals, rounding_mm)
    fits = [_fit(cloud, way, kept, rounding_mm, known.get(type(way))) for way in ways]
    return tuple(sorted(fits, key=lambda fit: fit.misfit))


def _same(one: Cloud, other: Cloud) -> bool:
    """Return whether two clouds are of the same points between the same edges."""
    return all(
        np.array_equal(a, b)
        for a, b in (
            (one.points, other.points),
            (one.lines, other.lines),
            (one.nailed, other.nailed),
            *(
                (getattr(edge, curve).points, getattr(beside, curve).points)
                for edge, beside in (
                    (one.panel.low, other.panel.low),
                    (one.panel.high, other.panel.high),
                )
                for curve in ("plan", "profile")
            ),
        )
    )


def _fit(
    cloud: Cloud,
    way: LayingOff,
    kept: NDArray[np.bool_],
    rounding_mm: float,
    before: Fit | None,
) -> Fit:
    laid = way.lay(*cloud.points.T)
    used = kept & laid.shaped
    slope = np.full(len(used), SLOPE)
    rough = _few(_function(laid, cloud, slope, used, rounding_mm, EASY))
    slope[used] = np.clip(_slope(rough, laid.places[used]), -0.5, 0.98)
    stiffness = before.function.stiffness if before else None
    function = _function(laid, cloud, slope, used, rounding_mm, stiffness)
    function = tuned_again(function, steps=FEW_STEPS) if before else tuned(function)
    along = _along(laid, cloud.out, slope)[0][used]
    return Fit(cloud, way, used, function, along, rounding_mm)


def _function(
    laid: Laid,
    cloud: Cloud,
    slope: Points,
    used: NDArray[np.bool_],
    rounding_mm: float,
    stiffness: Stiffness | None = None,
) -> Kriging:
    along, steep = _along(laid, cloud.out, slope)
    scatter = np.where(cloud.nailed, 0.0, max(rounding_mm, LEAST_SCATTER_MM) * along)
    whole = np.where(cloud.nailed, NAILED_MM, LEAST_SCATTER_MM) * steep
    firm = np.sqrt(np.maximum(whole**2 - scatter**2, 0.0))
    # Between chines it begins from as stiff a batten as it may end with.
    least = LEAST_ACROSS if cloud.panel.whole is None else LEAST_OF_PANEL
    stiffness = stiffness or USUAL
    lengths = (stiffness.lengths[0], *(max(length, least) for length in stiffness.lengths[1:]))
    return Kriging(
        laid.places[used],
        laid.figures[used],
        scatter[used],
        replace(stiffness, lengths=lengths),
        least_across=least,
        firm=firm[used],
        # What is nailed and off is no noise of the others.
        most_noise=cloud.noise if cloud.nailed.any() else MOST_NOISE,
    )


def _few(function: Kriging) -> Kriging:
    """Return a function that only tells about how a hull lies, through enough figures for that."""
    return function.thinned() if function.is_large else function


def _along(laid: Laid, out: Points, slope: Points) -> tuple[Points, Points]:
    """Return how a point's distance rises in the direction measured, and square to the hull."""
    rise = laid.rise(slope)
    steep = np.hypot(*rise.T)
    along = np.abs((rise * out).sum(axis=1))
    return np.where(out.any(axis=1), np.maximum(along, FLAT * steep), steep), steep


def _slope(function: Kriging, places: Points, step: Points = ACROSS) -> Points:
    return np.asarray((function.at(places + step) - function.at(places - step)) / (2 * STEP))


def _past_end(cloud: Cloud, way: Diagonals, rounding_mm: float) -> NDArray[np.bool_]:
    """Return which points stand on the centreline where the hull has closed already.

    At an end station a table has 0 for a waterline that ends there, and for one that has
    ended before. Faired without them, the hull goes past the centreline at the latter.
    """
    rabbet = cloud.panel.rabbet_at(cloud.points[:, 0])
    shut = (cloud.lines == HIGH) & (cloud.points[:, 1] <= rabbet[:, 0] + ON_KEEL_MM)
    # Where the sheer has closed too, the hull ends there, plumb.
    closed = cloud.closed & ~np.isin(cloud.stations, cloud.stations[shut])
    if not closed.any():
        return closed
    laid = way.lay(*cloud.points.T)
    slope = np.full(len(closed), SLOPE)
    function = _few(_function(laid, cloud, slope, ~closed, rounding_mm))
    along, _ = _along(laid, cloud.out, slope)
    off = (laid.figures - function.at(laid.places)) / along
    past = closed & (off > EIGHTH_MM)
    # With a waterline that has ended, the rabbet below it lies past the end too.
    gone = (cloud.lines == LOW) & np.isin(cloud.stations, cloud.stations[past])
    return np.asarray((past | gone) & (cloud.lines != END))
