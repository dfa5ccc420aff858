"""Hulls by formulas of our own that nothing was tuned on, from 2 to 18 m, each of its own family.

The first ten are of kinds that are modelled; of the others a knuckle begins amidships, between flat
panels or bent ones, or ends there, and a tunnel runs up into the bottom: those are refused.
"""

from __future__ import annotations

import numpy as np
from kinds_of_hull import _up_the_stem
from known_hulls import Known, _both, _chined, _plan, _raised, _vee_boat, along


def pram(length=2150.0):
    """Return a little boat square at both ends, of a flat bottom, a bilge strake and a side."""
    low = lambda x: 20.0 + 190.0 * np.abs(along(x, length) - 0.15) ** 2.2  # noqa: E731
    wide = lambda x: 390.0 - 150.0 * (along(x, length) - 0.2) ** 2  # noqa: E731
    lines = (
        lambda x: (0.0 * np.asarray(x), low(x)),
        lambda x: (0.62 * wide(x), low(x) + 8.0),
        lambda x: (1.2 * wide(x), low(x) + 130.0),
        lambda x: (1.42 * wide(x), 430.0 + 70.0 * along(x, length) ** 2),
    )
    return _chined("pram", lines, length, (), breaks=2)


def broad_boat(length=6100.0):
    """Return a plumb stem, half as broad as long, full aft and shallow."""
    low = lambda x: 120.0 + 330.0 * (np.asarray(x) / length) ** 4  # noqa: E731
    high = lambda x: 880.0 + 260.0 * (1 - np.asarray(x) / length) ** 2  # noqa: E731

    def form(h, x):
        part = np.asarray(x) / length
        return 1 - (1 - h) ** (1.3 + 1.9 * part * (2 - part))

    at = _raised(
        _up_the_stem(low, high, 45.0),
        high,
        lambda x: 30.0 + 1480.0 * np.sin(np.pi * (0.68 * (np.asarray(x) / length) ** 0.85)),
        form,
        30.0,
    )
    return Known("broad boat", at, length, stem=(0.0, 20.0, 50.0, 90.0, 160.0), first=0.07)


def launch(length=9400.0):
    """Return a lean fore body of hollow waterlines that runs aft to a flat floor."""
    low = lambda x: 260.0 - 40.0 * np.asarray(x) / length  # noqa: E731
    high = lambda x: 1420.0 - 330.0 * np.asarray(x) / length + 0.0 * np.asarray(x)  # noqa: E731

    def form(h, x):
        part = np.asarray(x) / length
        hollow = 0.3 * np.exp(-((part / 0.3) ** 2))
        full = 1 - (1 - h) ** (1.25 + 3.0 * part**1.5)
        return (1 - hollow) * full + hollow * h**2

    at = _raised(
        _up_the_stem(low, high, 70.0),
        high,
        lambda x: 28.0 + _plan(x, length, 1080.0, 0.85),
        form,
        28.0,
    )
    return Known("launch", at, length, stem=(0.0, 30.0, 80.0, 140.0, 250.0), first=0.06)


def canoe_yawl(length=5150.0):
    """Return round sterns at both ends and sides that draw in amidships."""
    high = lambda x: 830.0 + 230.0 * np.abs(along(x, length)) ** 2.5  # noqa: E731
    low = lambda x: 130.0 + 0.0 * np.asarray(x)  # noqa: E731
    gap = 830.0 + 230.0 - 130.0

    def raised(x):
        part = np.asarray(x)
        return low(x) + gap * (np.exp(-part / 130.0) + np.exp((part - length) / 200.0))

    def form(h, x):
        middle = 1 - along(x, length) ** 2
        reach = np.pi * (0.46 + 0.14 * middle)
        return np.sin(reach * h) / np.sin(np.minimum(reach, np.pi / 2)) * (0.3 + 0.7 * h**0.15)

    at = _raised(
        raised, high, lambda x: 22 + 640.0 * (1 - along(x, length) ** 2) ** 0.9, form, 22.0
    )
    return Known("canoe yawl", at, length, **_both(length, (0.0, 50.0, 120.0, 230.0, 380.0)))


def schooner(length=17800.0):
    """Return a long raking bow, a keel that lies deeper aft, hollow garboards and a counter."""
    high = lambda x: 2300.0 + 900.0 * (np.asarray(x) / length - 0.62) ** 2  # noqa: E731

    def low(x):
        part = np.asarray(x) / length
        return 900.0 - 650.0 * part + 1500.0 / (1 + np.exp(-(part - 0.86) * 18))

    def form(h, x):
        part = np.asarray(x) / length
        glass = 0.75 * np.exp(-(((part - 0.62) / 0.28) ** 2))
        return glass * h**2 * (3 - 2 * h) + (1 - glass) * (1 - (1 - h) ** (1.5 + 0.5 * part))

    at = _raised(
        _up_the_stem(low, high, 420.0),
        high,
        lambda x: 70.0 + _plan(x, length, 2150.0, 0.5),
        form,
        70.0,
    )
    stem = (0.0, 120.0, 320.0, 620.0, 1050.0)
    return Known("schooner", at, length, stem=stem, first=0.085)


def three_chines(length=11800.0):
    """Return a plated hull's like in wood: a bottom, two bilge panels and a side from a stem."""
    shares = [(0.5, 210.0), (0.8, 420.0), (0.95, 700.0)]
    return _vee_boat("three chines", length, 1500.0, shares)


def drake(length=12500.0):
    """Return a double-ender of low sides, a V bottom amidships and long flaring ends."""
    high = lambda x: 760.0 + 900.0 * np.abs(along(x, length)) ** 4  # noqa: E731

    def low(x):
        return 90.0 + 1570.0 * np.abs(along(x, length)) ** 7

    def form(h, x):
        return 1 - (1 - h) ** (1.15 + 0.5 * (1 - along(x, length) ** 2))

    at = _raised(
        low, high, lambda x: 35 + 1330.0 * (1 - np.abs(along(x, length)) ** 2.4), form, 35.0
    )
    return Known("drake", at, length, **_both(length, (0.0, 110.0, 300.0, 620.0)))


def sharpie(length=7300.0):
    """Return a bottom that lies dead level aft, and flaring sides that draw in at the stern."""

    def low(x):
        return 90.0 + 260.0 * np.clip(1 - np.asarray(x) / (0.45 * length), 0, 1) ** 2.6

    def wide(x):
        return 25.0 + 700.0 * np.sin(0.66 * np.pi * np.asarray(x) / length)

    def sheer(x):
        part = np.asarray(x) / length
        out = 230.0 * np.sin(np.pi * part) * (1 - part) - 60.0 * part**4
        return wide(x) + out, 720.0 + 220.0 * (part - 0.62) ** 2

    def knuckle(x):
        out, up = sheer(x)
        swell = 50.0 * (np.asarray(x) / length) ** 2
        return wide(x) + (out - wide(x)) * 0.55 + swell, low(x) + (up - low(x)) * 0.55

    lines = (
        lambda x: (0.0 * np.asarray(x), low(x)),
        lambda x: (wide(x), low(x)),
        knuckle,
        sheer,
    )
    return _chined("sharpie", lines, length, (), breaks=2)


def catboat(length=6600.0):
    """Return a nearly plumb stem, half as broad as long, a keel deeper aft, sides that draw in."""

    def low(x):
        part = np.asarray(x) / length
        return 130.0 - 40.0 * part + 330.0 * np.clip((part - 0.55) / 0.45, 0, 1) ** 2.5

    high = lambda x: 1150.0 + 330.0 * (1 - np.asarray(x) / length) ** 2.2  # noqa: E731

    def form(h, x):
        part = np.asarray(x) / length
        reach = np.pi * (0.40 + 0.17 * part)
        full = np.sin(reach * h) / np.sin(reach) * (1 - 0.25 * part * h * (1 - h))
        hollow = 0.35 * (1 - part) ** 2
        return (1 - hollow) * full + hollow * h**1.8

    at = _raised(
        _up_the_stem(low, high, 38.0),
        high,
        lambda x: 30 + 1560.0 * np.sin(0.7 * np.pi * (np.asarray(x) / length) ** 0.8),
        form,
        30.0,
    )
    return Known("catboat", at, length, stem=(0.0, 15.0, 40.0, 75.0, 140.0), first=0.06)


def norse(length=9200.0):
    """Return both ends alike, very hollow, under a strong sheer, on a keel that curves up."""
    out = lambda x: np.abs(along(x, length))  # noqa: E731

    def form(h, x):
        end = 0.9 * out(x) ** 2
        return (1 - end) * (1 - (1 - h) ** 1.7) + end * h**2.6

    at = _raised(
        lambda x: 160.0 + 1910.0 * out(x) ** 9,
        lambda x: 820.0 + 1250.0 * out(x) ** 3.2,
        lambda x: 32 + 1180.0 * (1 - out(x) ** 2) ** 1.15,
        form,
        32.0,
    )
    ends = _both(length, (0.0, 35.0, 90.0, 190.0, 380.0))
    return Known("norse", at, length, **ends, first=0.07, last=0.93)


APART = (
    pram, broad_boat, launch, canoe_yawl, schooner, three_chines, drake, sharpie, catboat, norse,
)  # fmt: skip


def fading_knuckle(length=8000.0):
    """Return a round bow whose bilge grows to a hard knuckle aft of amidships."""
    low = lambda x: 200.0 + 0.0 * np.asarray(x)  # noqa: E731
    high = lambda x: 1250.0 + 100.0 * along(x, length) ** 2  # noqa: E731

    def form(h, x):
        part = np.clip((np.asarray(x) / length - 0.35) / 0.2, 0.0, 1.0)
        sharp = part * part * (3 - 2 * part)
        knuckle = np.where(h < 0.35, 2.35 * h, 0.8225 + (h - 0.35) * 0.273)
        return sharp * knuckle + (1 - sharp) * (1 - (1 - h) ** 1.8)

    at = _raised(_up_the_stem(low, high), high, lambda x: 25 + _plan(x, length, 1150.0, 0.7), form)
    return Known("fading knuckle", at, length, stem=(0.0, 40.0, 100.0, 180.0, 300.0), first=0.09)


def bent_knuckle(length=8000.0, power=1.3, place=(0.35, 0.82), begins=0.35, over=0.2):
    """Return a knuckle that begins amidships, between panels that are bent themselves.

    ``over`` less than 0: it begins at the bow, and fades out amidships.
    """
    low = lambda x: 200.0 + 0.0 * np.asarray(x)  # noqa: E731
    high = lambda x: 1250.0 + 100.0 * along(x, length) ** 2  # noqa: E731
    up, out = place

    def form(h, x):
        part = np.clip((np.asarray(x) / length - begins) / over, 0.0, 1.0)
        sharp = part * part * (3 - 2 * part)
        below = out * (1 - (1 - np.clip(h / up, 0, 1)) ** power)
        above = out + (1 - out) * (1 - (1 - np.clip((h - up) / (1 - up), 0, 1)) ** power)
        return sharp * np.where(h < up, below, above) + (1 - sharp) * (1 - (1 - h) ** 1.8)

    at = _raised(_up_the_stem(low, high), high, lambda x: 25 + _plan(x, length, 1150.0, 0.7), form)
    return Known("bent knuckle", at, length, stem=(0.0, 40.0, 100.0, 180.0, 300.0), first=0.09)


def softly_bent_knuckle():
    """Return one whose panels bend by more than twice as much as it turns."""
    return bent_knuckle(power=1.5, place=(0.4, 0.75))


def bow_knuckle():
    """Return one high up at the bow, that fades out amidships."""
    return bent_knuckle(power=1.15, place=(0.5, 0.72), begins=0.75, over=-0.35)


BENT = (bent_knuckle, softly_bent_knuckle, bow_knuckle)


def tunnel(length=7600.0):
    """Return a bottom that is hollow along the centreline aft, as over a screw."""
    deep = lambda x: 150.0 * np.clip((np.asarray(x) / length - 0.45) / 0.4, 0, 1) ** 2  # noqa: E731
    low = lambda x: 180.0 + 0.0 * np.asarray(x)  # noqa: E731
    high = lambda x: 1150.0 + 0.0 * np.asarray(x)  # noqa: E731
    wide = lambda x: 25 + _plan(x, length, 1100.0, 0.8)  # noqa: E731
    raised = _up_the_stem(low, high, 80.0)

    def at(x, share):
        turn = share * np.pi / 2
        y = 25.0 + (wide(x) - 25.0) * np.sin(turn) ** 0.8
        z = raised(x) + (high(x) - raised(x)) * (1 - np.cos(turn) ** 0.8)
        return y, z + deep(x) * np.exp(-((y / 260.0) ** 2))

    return Known("tunnel", at, length, stem=(0.0, 40.0, 100.0, 180.0, 300.0), first=0.09)
