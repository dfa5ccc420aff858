"""Areas, volume and centres of a hull by Simpson's rule, as checks on its lines.

Every figure is for the boat's two sides together and to the outside of planking, mm inside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.hull import Hull
from parts.lines.table import Face

ORDINATES = 81
"""Sections in a sum; halving the interval changes volumes by less than 1 in 2000."""


def simpson(ordinates: Points, interval: float) -> float:
    """Return the area under evenly spaced ordinates by Simpson's first rule.

    h/3 (y0 + 4 y1 + 2 y2 + ... + 4 y(n-1) + yn); exact for cubics.

    Raises
    ------
    ShapeError
        If the number of ordinates is not odd and 3 or more.

    Examples
    --------
    >>> simpson([0.0, 3.7, 5.9, 7.6, 7.5, 4.6, 0.1], 20.0) * 2
    1206.6666666666667
    """
    y = np.asarray(ordinates, dtype=float)
    if len(y) < 3 or len(y) % 2 == 0:
        raise ShapeError(f"Simpson's first rule takes 3, 5, 7 ... ordinates, not {len(y)}")
    return float(interval / 3 * (y[0] + 4 * y[1:-1:2].sum() + 2 * y[2:-1:2].sum() + y[-1]))


@dataclass(frozen=True)
class Hydrostatics:
    """What the part of a hull below a waterline comes to.

    Attributes
    ----------
    length_mm, breadth_mm, draught_mm
        Of the waterline, and from it to the lowest rabbet.
    volume_mm3, waterplane_mm2, midship_mm2
        Displaced volume, area at the waterline, largest section.
    centre_mm, flotation_mm
        x of the centre of buoyancy and of the centre of the waterplane.
    """

    length_mm: float
    breadth_mm: float
    draught_mm: float
    volume_mm3: float
    waterplane_mm2: float
    midship_mm2: float
    centre_mm: float
    flotation_mm: float

    @property
    def block(self) -> float:
        """Volume over that of the box around it."""
        return self.volume_mm3 / (self.length_mm * self.breadth_mm * self.draught_mm)

    @property
    def prismatic(self) -> float:
        """Volume over that of the largest section carried on over the length."""
        return self.volume_mm3 / (self.length_mm * self.midship_mm2)

    @property
    def waterplane(self) -> float:
        """Waterplane over the rectangle around it."""
        return self.waterplane_mm2 / (self.length_mm * self.breadth_mm)

    def displacement_kg(self, density_kg_m3: float = 1025.0) -> float:
        """Return the mass of water displaced; salt water unless said otherwise."""
        return self.volume_mm3 * 1e-9 * density_kg_m3


def hydrostatics(hull: Hull, z: float, ends: tuple[float, float] | None = None) -> Hydrostatics:
    """Return what lies below a height.

    Parameters
    ----------
    ends
        Where the sums begin and end, as between perpendiculars; by default where the hull is
        in the water.

    Raises
    ------
    ShapeError
        If the hull nowhere reaches into the water.
    """
    wet = hull.waterline(z)
    if len(wet) < 3:
        raise ShapeError(f"the hull has no waterline at {z:g} mm")
    low, high = ends or _wet_ends(hull, z)
    x = np.linspace(low, high, ORDINATES)
    inner = np.clip(x, hull.ends[0] + 1e-6, hull.ends[1] - 1e-6)
    areas = np.array([_or_nothing(hull.section_area, place, z) for place in inner])
    breadths = 2 * np.array([_or_nothing(_breadth(hull), place, z) for place in inner])
    step = float(x[1] - x[0])
    volume, plane = simpson(areas, step), simpson(breadths, step)
    keel = min(float(hull.keel(float(place))[1]) for place in inner[1:-1])
    return Hydrostatics(
        length_mm=high - low,
        breadth_mm=float(breadths.max()),
        draught_mm=z - keel,
        volume_mm3=volume,
        waterplane_mm2=plane,
        midship_mm2=float(areas.max()),
        centre_mm=simpson(areas * x, step) / volume,
        flotation_mm=simpson(breadths * x, step) / plane,
    )


def _breadth(hull: Hull) -> Callable[[float, float], float]:
    def at(x: float, z: float) -> float:
        section = hull.section(x, Face.OUTSIDE)
        if not section[0, 1] <= z:
            return 0.0
        return float(np.interp(z, section[:, 1], section[:, 0]))

    return at


def _or_nothing(measure: Callable[[float, float], float], x: float, z: float) -> float:
    """Return a measure of a section, 0 where the hull has ended."""
    try:
        return measure(x, z)
    except ShapeError:
        return 0.0


def _wet_ends(hull: Hull, z: float) -> tuple[float, float]:
    """Return where the rabbet goes through the water's surface, or the hull ends in it."""
    profile = hull.fairing.edges.rabbet.profile
    fine = profile.spline(np.linspace(0.0, profile.length, 4001))
    below = np.flatnonzero(fine[:, 1] <= z)
    if not len(below):
        raise ShapeError(f"the rabbet is nowhere below {z:g} mm")
    return float(fine[below[0], 0]), float(fine[below[-1], 0])
