"""From the fair function of each panel to the surface, drawn to meet the edges exactly."""

from __future__ import annotations

import numpy as np

from parts.curves import Points
from parts.lines.fits import Fit
from parts.lines.judging import Judged
from parts.lines.patches import patched
from parts.lines.surface import Surface

NET = (129, 49)
"""Lines of the net along and across: a bicubic spline through it differs from the function by
less than 0.01 mm on the hulls of the tests."""

DRAWN_MM, LEFT_MM = 1.5, 4.0
"""A section that nothing crosses near its rabbet may dip below it before it rises. If by less than
the first it is drawn as a bottom that rises; if by more than the second, its figures say so."""

LEVEL_MM = 0.01
"""A dip that nobody can see."""

ABOVE = 3.0
"""How many times its dip a section must have risen from where on it is not drawn anew."""


def surface_of(found: Judged) -> Surface:
    """Return the surface of a judged table."""
    return patched(tuple(_drawn(fit) for fit in found.fits))


def _drawn(fit: Fit) -> Surface:
    t, u = np.linspace(-1.0, 1.0, NET[0]), np.linspace(0.0, 1.0, NET[1])
    panel = fit.cloud.panel
    profile = panel.low.profile
    x = np.maximum.accumulate(profile.spline((t + 1.0) / 2.0 * profile.length)[:, 0])
    low, high = panel.edges_at(x)
    along, across = fit.way.net(x, u)
    section = np.stack(fit.way.back(x, across, fit.function.on_net(along, across)), axis=-1)
    section = _met(section, (low, high), u, panel.rabbet_at(x)[:, :1])
    places = np.broadcast_to(x[:, None], across.shape)
    return Surface(t, u, np.concatenate([places[..., None], section], axis=-1))


def _met(section: Points, edges: tuple[Points, Points], u: Points, centre: Points) -> Points:
    """Return sections that meet both edges; where the hull has closed, on the centreline.

    ``centre`` is the half-breadth of the rabbet, (n, 1).
    """
    low, high = edges
    # Where a hull has closed before its end, it is left to the centreline.
    gone = section[:, -1:, 0] < centre
    for edge, at, share in ((low, 0, (1 - u) ** 3), (high, -1, u**3)):
        off = np.where(gone & (at == -1), 0.0, edge - section[:, at])
        section = section + off[:, None] * share[:, None]
    section[..., 1] = [
        _rising(heights, u, float(least))
        for heights, least in zip(section[..., 1], low[:, 1], strict=True)
    ]
    height = low[:, 1:] + u * (high - low)[:, 1:]
    straight = np.stack([np.broadcast_to(centre, height.shape), height], axis=-1)
    return np.where((section[..., 0] < centre)[..., None], straight, section)


def _rising(heights: Points, u: Points, least: float) -> Points:
    """Return the heights of a section, (n,), so that it does not dip a little below its rabbet.

    From there to where it has risen well above the dip it is drawn as a power of the way, with the
    slope that it has there.
    """
    dip = least - float(heights.min())
    if not LEVEL_MM < dip < LEFT_MM:
        return heights
    rise = ABOVE * dip
    after = int(heights.argmin()) + int((heights[heights.argmin() :] > least + rise).argmax())
    if heights[after] <= least + rise:
        return heights
    slope = (heights[after] - heights[after - 1]) / (u[after] - u[after - 1])
    end = u[after] - (heights[after] - least - rise) / slope
    drawn = least + rise * (np.minimum(u / end, 1.0)) ** max(slope * end / rise, 1.0)
    part = np.clip((LEFT_MM - dip) / (LEFT_MM - DRAWN_MM), 0.0, 1.0)
    return np.asarray(np.where(u < end, heights + part * (drawn - heights), heights))
