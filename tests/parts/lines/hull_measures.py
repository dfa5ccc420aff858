"""How far a faired hull lies from one whose shape is known: distances and bevels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from known_hulls import Known
from scipy.interpolate import SmoothBivariateSpline

from nesting.errors import ShapeError
from parts.lines import Hull

SHARES = np.linspace(0.02, 0.98, 25)


@dataclass(frozen=True)
class Errors:
    """Distances square to the hull, mm, and of bevels, degrees: (n,) each."""

    off_mm: np.ndarray
    bevel_deg: np.ndarray

    @property
    def mean(self) -> float:
        return float(np.mean(self.off_mm))

    @property
    def worst(self) -> float:
        return float(np.max(self.off_mm))

    @property
    def bevel_mean(self) -> float:
        return float(np.mean(self.bevel_deg))

    @property
    def bevel_worst(self) -> float:
        return float(np.max(self.bevel_deg))


def places(known: Known, count: int = 41) -> np.ndarray:
    """Return places between the first and the last station."""
    x = known.stations(11)
    return np.linspace(x[0] + 0.004 * known.length, x[-1] - 0.004 * known.length, count)


def errors(hull: Hull, known: Known, x: np.ndarray | None = None) -> Errors:
    """Return the errors of a hull on a net of true points."""
    off, bevel = [], []
    for at in places(known) if x is None else x:
        at = float(np.clip(at, hull.ends[0] + 0.5, hull.ends[1] - 0.5))
        try:
            found = hull.fairing.surface.section(at, np.linspace(0.0, 1.0, 241))
        except ShapeError:
            continue
        for share in SHARES:
            if any(abs(share - chine) < 1e-3 for chine in known.chines):
                continue
            one, two = _compared(hull, known, (at, share), found)
            off.append(one)
            bevel.append(two)
    return Errors(np.array(off), np.array(bevel))


def _compared(hull, known, place, found):
    """Return distance and error of bevel at one true point."""
    point, normal = known.point(*place), known.normal(*place)
    section, parameters = found
    span = np.diff(section, axis=0)
    way = ((point[1:] - section[:-1]) * span).sum(1) / np.maximum((span**2).sum(1), 1e-12)
    way = np.clip(way, 0.0, 1.0)
    gaps = np.hypot(*(section[:-1] + way[:, None] * span - point[1:]).T)
    k = int(gaps.argmin())
    t, u = (parameters[k] + way[k] * (parameters[k + 1] - parameters[k]))[:, None]
    made = hull.fairing.surface.normals(t, u)[0]
    off = gaps[k] * np.hypot(normal[1], normal[2])
    return off, abs(bevel(made) - bevel(normal))


def bevel(normal) -> float:
    """Return the bevel of a frame's edge where the hull has a normal, degrees."""
    return float(np.degrees(np.arctan2(normal[0], np.hypot(normal[1], normal[2]))))


def at_chine(hull: Hull, known: Known, count: int = 41) -> np.ndarray:
    """Return how far true points on and 5 mm beside each chine lie off the hull, mm."""
    found = []
    for at in places(known, count):
        section, _ = hull.fairing.surface.section(float(at), hull.fairing.surface.girth)
        for chine in known.chines:
            for share in (chine - 0.004, chine, chine + 0.004):
                found.append(_gap(section, known.point(at, share)[1:]))
    return np.array(found)


def _gap(section, point):
    span = np.diff(section, axis=0)
    way = ((point - section[:-1]) * span).sum(1) / np.maximum((span**2).sum(1), 1e-12)
    way = np.clip(way, 0.0, 1.0)
    return float(np.hypot(*(section[:-1] + way[:, None] * span - point).T).min())


SMOOTHING = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0)


def best_spline_errors(table, known: Known, mm: float) -> Errors:
    """Return the errors of the best of many smoothing splines of the same figures.

    Half-breadths over x and height, all figures as points; of several weights of smoothness the
    best is taken after the fact, which no loft could.
    """
    points = _figures(table)
    x, y, z = points.T
    best = None
    for factor in SMOOTHING:
        try:
            spline = SmoothBivariateSpline(
                x, z, y, w=np.full(len(x), 1.0 / mm), kx=3, ky=3, s=factor * len(x)
            )
        except (ValueError, UserWarning):
            continue
        found = _spline_errors(spline, known)
        if best is None or found.mean < best.mean:
            best = found
    assert best is not None
    return best


def _spline_errors(spline, known):
    off = []
    for at in places(known):
        for share in SHARES:
            point, normal = known.point(at, share), known.normal(at, share)
            off.append(abs(float(spline.ev(at, point[2])) - point[1]) * abs(normal[1]))
    return Errors(np.array(off), np.zeros(len(off)))


def _figures(table):
    """Return every figure as a point, an edge's two as one, (n, 3)."""
    found = []
    for n, x in enumerate(table.x):
        edges = {}
        for line in table.lines:
            one = line.offsets[n]
            if one is None:
                continue
            if line.kind.value in ("sheer", "rabbet", "chine"):
                edges.setdefault(line.name, {})[line.measure.value] = one.mm
            else:
                found.append((x, *line.point(one)))
        found += [(x, e["half-breadth"], e["height"]) for e in edges.values() if len(e) == 2]
    return np.array(found)
