"""More kinds of small hull by formulas of our own; see :mod:`known_hulls` for what they are."""

from __future__ import annotations

import numpy as np
from known_hulls import (
    ENDS,
    Known,
    _both,
    _chined,
    _plan,
    _raised,
    _round,
    _sheer,
    _vee_boat,
    along,
)

STEM = (0.0, 40.0, 100.0, 180.0, 300.0)


def _up_the_stem(low, high, reach=120.0):
    """Return a rabbet that runs up to the sheer at the stem's head."""
    gap = float(high(0.0)) - float(low(0.0))
    return lambda x: low(x) + gap * np.exp(-np.asarray(x) / reach)


def _round_up(h, x):
    return 1 - (1 - h) ** 1.9


def level_keel(length=7000.0):
    """Return a double-ender whose rabbet lies on the base line amidships: heights of 0."""

    def low(x):
        return 1500.0 * (np.maximum(np.abs(along(x, length)) - 0.35, 0) / 0.65) ** 2.5

    at = _raised(
        low,
        lambda x: 1500.0 + 0 * x,
        lambda x: 20 + 900 * (1 - np.abs(along(x, length)) ** 2.2),
        _round_up,
        20.0,
    )
    return Known("level keel", at, length, **_both(length, ENDS))


def full_garboards(length=6500.0):
    """Return garboards that stand nearly upright aft, and a bilge that swells above them."""

    def form(h, x):
        part = np.asarray(x) / length
        aft = np.sin(np.pi / 2 * np.clip((part - 0.25) / 0.75, 0, 1)) ** 2
        glass = h**3 * (10 - 15 * h + 6 * h**2)
        return aft * (0.08 * h + 0.92 * glass) + (1 - aft) * (1 - (1 - h) ** 1.7)

    high = lambda x: _sheer(x, length, 1250.0, 260.0)  # noqa: E731
    low = _up_the_stem(lambda x: 150.0 + 100.0 * (np.asarray(x) / length) ** 3, high)
    at = _raised(low, high, lambda x: 25 + _plan(x, length, 950.0, 0.55), form)
    return Known("full garboards", at, length, stem=STEM, first=0.09)


def shallow_punt(length=4200.0):
    """Return a punt no deeper than a hand, with a hard round bilge."""
    at = _round(
        lambda x: 60.0 * np.abs(along(x, length)) ** 3,
        lambda x: 190.0 + 40.0 * along(x, length) ** 2,
        lambda x: 520.0 - 150.0 * along(x, length) ** 2,
        4.0,
    )
    return Known("shallow punt", at, length)


def s_sheer(length=6000.0):
    """Return a sheer that is high, low, high and low again."""

    def high(x):
        return (
            1000.0
            + 70.0 * np.sin(2.2 * np.pi * np.asarray(x) / length)
            + 120.0 * along(x, length) ** 2
        )

    low = _up_the_stem(lambda x: 180.0 + 200.0 * (np.asarray(x) / length) ** 3, high, 90.0)
    at = _raised(low, high, lambda x: 25 + _plan(x, length, 900.0, 0.6), _round_up)
    return Known("S sheer", at, length, stem=STEM, first=0.09)


def canoe_stern(length=7500.0):
    """Return a double-ender whose rabbet turns up quickly to the stem, and slowly aft."""

    def raised(x):
        return 200.0 + 1000.0 * np.clip((np.asarray(x) / length - 0.6) / 0.4, 0, 1) ** 3

    high = lambda x: 1350.0 + 150.0 * along(x, length) ** 2  # noqa: E731
    fore = _up_the_stem(raised, high, 110.0)
    gap = float(high(length)) - float(raised(length))
    girth = lambda x: np.sin(np.pi * np.asarray(x) / length)  # noqa: E731
    at = _raised(
        lambda x: fore(x) + gap * np.exp((np.asarray(x) - length) / 110.0),
        high,
        lambda x: 25 + 1050.0 * girth(x) ** 0.9,
        lambda h, x: 1 - (1 - h) ** (1.6 + 0.8 * girth(x)),
    )
    return Known("canoe stern", at, length, **_both(length, (0.0, 40.0, 100.0, 200.0, 330.0)))


def drag_of_keel(length=8000.0):
    """Return a straight keel that lies deeper aft, hollow garboards above it."""

    def form(h, x):
        aft = 0.8 * (np.asarray(x) / length) ** 2
        return aft * h**2 * (3 - 2 * h) + (1 - aft) * (1 - (1 - h) ** 1.8)

    high = lambda x: _sheer(x, length, 1600.0, 300.0)  # noqa: E731
    low = _up_the_stem(lambda x: 500.0 - 350.0 * np.asarray(x) / length, high, 140.0)
    at = _raised(low, high, lambda x: 30 + _plan(x, length, 1200.0, 0.66), form, 30.0)
    return Known("drag of keel", at, length, stem=(0.0, 50.0, 120.0, 220.0, 380.0), first=0.09)


def lapped_dory(length=5200.0):
    """Return a flat bottom and two straight strakes of different flare."""
    bottom = lambda x: 140.0 * along(x, length) ** 2  # noqa: E731
    wide = lambda x: 40.0 + 330.0 * (1 - along(x, length) ** 2)  # noqa: E731
    lines = (
        lambda x: (0.0 * np.asarray(x), bottom(x)),
        lambda x: (wide(x), bottom(x)),
        lambda x: (wide(x) * 1.35 + 60.0, bottom(x) + 260.0),
        lambda x: (wide(x) * 1.5 + 170.0, 620.0 + 170.0 * along(x, length) ** 2),
    )
    return _chined("dory of two strakes", lines, length, (), breaks=2)


def bowed_chines():
    """Return two chines between panels that are bent outward."""
    return _vee_boat("bowed chines", 6500.0, 1000.0, [(0.55, 260.0), (0.9, 620.0)], 0.025)


KINDS = (level_keel, full_garboards, shallow_punt, s_sheer, canoe_stern, drag_of_keel)
SHARP = (lapped_dory, bowed_chines)
