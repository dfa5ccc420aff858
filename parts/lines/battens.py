"""How each long line bends, as a loftsman sees who looks along a batten on the floor."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_interp_spline

from parts.curves import Points, distances_along
from parts.lines.faired_figures import FairedFigure
from parts.lines.hull import Hull
from parts.lines.plane_curve import PlaneCurve
from parts.lines.table import EDGES, Line, Measure, measured

PLACES = 81
"""Sections that a line is looked up on."""

SECTION_POINTS = 801
"""Points of each: a line's places are true to 0.002 mm, its bend to a hundredth part."""

END_MM = 1e-3
"""So far within the hull's ends lines are looked up."""

FEWEST_PLACES = 8
"""A shorter line shows no bend."""

LEVEL_MM = 1.0
"""A line that varies by less is straight along the middle."""

OF_GREATEST = 0.05
"""A bend the other way that is less than so much of the greatest is none that an eye would see."""


@dataclass(frozen=True, eq=False)
class Batten:
    """One long line, in the plane that it is laid off in.

    Attributes
    ----------
    x, value
        (n,) places along the boat, and heights, half-breadths or distances along, mm.
    bend
        (n,) curvature, one over the radius in mm; above 0 where the line is hollow to its value's
        side.
    figures
        The table's figures of it.
    """

    title: str
    x: Points
    value: Points
    bend: Points
    figures: tuple[FairedFigure, ...]

    @property
    def least_radius(self) -> tuple[float, float]:
        """Where it bends most, x, and the radius there."""
        at = int(np.abs(self.bend).argmax())
        return float(self.x[at]), float(1.0 / max(abs(self.bend[at]), 1e-9))

    @property
    def turns(self) -> tuple[float, ...]:
        """Where it begins to bend the other way, x."""
        clear = np.abs(self.bend) > OF_GREATEST * np.abs(self.bend).max()
        x, sign = self.x[clear], np.sign(self.bend[clear])
        changes = np.flatnonzero(sign[:-1] != sign[1:])
        return tuple(float((x[n] + x[n + 1]) / 2) for n in changes)


def battens(hull: Hull, figures: Sequence[FairedFigure]) -> tuple[Batten, ...]:
    """Return every long line of a hull's table, in its order, with its own of the figures."""
    return tuple(_battens(hull, figures))


def _battens(hull: Hull, figures: Sequence[FairedFigure]) -> Iterator[Batten]:
    low, high = hull.ends
    x = np.linspace(low + END_MM, high - END_MM, PLACES)
    surface = hull.fairing.surface
    sections = [surface.section(float(at), surface.across(SECTION_POINTS))[0] for at in x]
    curves = {id(row.line): row.curve for edge in hull.edges.each() for row in edge.rows()}
    for number, line in enumerate(hull.table.lines):
        own = tuple(figure for figure in figures if figure.row == number)
        if line.kind in EDGES:
            curve = curves.get(id(line))
            found = None if curve is None else _of_curve(curve)
        else:
            found = _of_sections(line, x, sections)
        if found is not None:
            yield Batten(title_of(line), *found, own)


def title_of(line: Line) -> str:
    """Return what a line is called on the floor, and the view that it is seen in."""
    if line.kind not in EDGES:
        return line.name
    return f"{line.name} in {'profile' if line.measure is Measure.HEIGHT else 'plan'}"


def _of_curve(curve: PlaneCurve) -> tuple[Points, Points, Points] | None:
    way = np.linspace(0.0, curve.length, 4 * PLACES)
    x, value = curve.spline(way).T
    if np.ptp(value) < LEVEL_MM:
        return None
    return x, value, _bend(curve.spline(way, nu=1), curve.spline(way, nu=2))


def _of_sections(
    line: Line, x: Points, sections: list[Points]
) -> tuple[Points, Points, Points] | None:
    """Return the longest run of a line that the hull reaches without a break."""
    met = [measured(section, line) if len(section) > 1 else None for section in sections]
    there = np.array([value is not None for value in met])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(int)))
    runs = edges.reshape(-1, 2)
    if not len(runs) or np.ptp(runs, axis=1).max() < FEWEST_PLACES:
        return None
    first, last = runs[np.ptp(runs, axis=1).argmax()]
    points = np.column_stack([x[first:last], np.array(met[first:last], dtype=float)])
    if np.ptp(points[:, 1]) < LEVEL_MM:
        return None
    way = distances_along(points)
    spline = make_interp_spline(way, points, k=5)
    return points[:, 0], points[:, 1], _bend(spline(way, nu=1), spline(way, nu=2))


def _bend(first: Points, second: Points) -> Points:
    across = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    return np.asarray(across / np.maximum(np.hypot(*first.T), 1e-9) ** 3)
