"""One plain curve along a whole side: the one that most places lie on, whatever the others do.

A curve fitted to all places follows a long bulge or bay. Here curves are laid through a few
places at a time, and the one stands that most others lie near (random sample consensus: Fischler
and Bolles 1981, Commun. ACM 24(6), but every sample is tried); then it is fitted to those alone.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from nesting.photo.plan_view import Array, Mask

LONG_MM = 800.0
"""A side so long may bend one way and then the other: a cubic; a shorter one is straight."""

PARTS = 10
"""The side is cut into so many parts; curves go through the middle places of some."""

NEAR_MM, FAR_MM, FAR_WEIGHT = 8.0, 60.0, 0.3
"""Places so near a curve speak for it; those farther off than that a little, as long as they are
not as far as the other figure: else a curve that flies off at one end would do."""

BENT, BENT_TWICE = 1.0, 4.0
"""What a curve's figures count against it, as parts of the side's length: planks bend one way
rather than two. A bend of a hundredth costs as much as a hundredth of the places lying off."""

FITTED_MM = (8.0, 6.0, 5.0)
"""What lies farther off counts for nothing, turn by turn."""


def plain_curve(u: Array, v: Array, free: Mask) -> tuple[Array, Array]:
    """Return (n,) weights by, and values of, one plain curve along a side.

    ``u``, ``v``: (n,) along and across, mm; ``free``: (n,) which places tell it.
    """
    x = 2.0 * (u - u.min()) / max(1.0, float(np.ptp(u))) - 1.0
    degree = 3 if np.ptp(u) > LONG_MM else 1
    dear = np.array([BENT_TWICE, BENT, 0.0, 0.0][-degree - 1 :]) / max(1.0, float(np.ptp(u)))
    curve = _most_agreed(x[free], v[free], dear)
    for limit in FITTED_MM:
        weight = free * near_weight(v - np.polyval(curve, x), limit)
        curve = np.polyfit(x, v, degree, w=np.sqrt(weight) + 1e-6)
    smooth = np.polyval(curve, x)
    return free * near_weight(v - smooth, FITTED_MM[-1]) + 1e-6 * free, smooth


def near_weight(off: Array, limit: float) -> Array:
    """Return 1 for what is not off at all, less the farther off, 0 from the limit on (biweight)."""
    made: Array = (1.0 - np.minimum(np.abs(off) / limit, 1.0) ** 2) ** 2
    return made


def _most_agreed(x: Array, v: Array, dear: Array) -> Array:
    """Return the figures of the curve through places in some parts that most places lie near.

    ``dear``: (degree + 1,) what a millimetre of each figure counts against it.
    """
    degree = len(dear) - 1
    if len(x) < 2 * PARTS:
        return np.polyfit(x, v, min(degree, max(0, len(x) - 1)))
    parts = np.array_split(np.arange(len(x)), PARTS)
    at = np.array([[x[part].mean(), np.median(v[part])] for part in parts])
    some = np.array(list(combinations(range(PARTS), degree + 1)))
    powers = np.vander(at[:, 0], degree + 1)[some]
    curves = np.linalg.solve(powers, at[some, 1][..., None])[..., 0]
    off = curves @ np.vander(x, degree + 1).T - v
    worth = (near_weight(off, NEAR_MM) + FAR_WEIGHT * near_weight(off, FAR_MM)).mean(axis=1)
    best: Array = curves[int(np.argmax(worth - np.abs(curves) @ dear))]
    return best
