"""What a hull floats like: displacement, centres, areas, coefficients, upright.

Every figure is for the boat's two sides together and to the outside of planking, mm inside, on an
even keel. Heights are above the base line of the table. What lies below the rabbet (keel, ballast,
rudder) is not in it. The sums go over a closed body (:mod:`parts.lines.planked_body`); the volume
is summed a second time, by Simpson's rule over the areas of sections, as a check.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.afloat import TOUCH_MM, Afloat, afloat
from parts.lines.hull import Hull
from parts.lines.planked_body import Body, body_of
from parts.lines.table import Face

ORDINATES = 81
"""Sections in a sum; halving the interval changes volumes by less than 1 in 2000."""

SALT_KG_M3, FRESH_KG_M3 = 1025.0, 1000.0
"""Density of sea water and of fresh (common practice, no source)."""


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
    """What the part of a hull below a waterline comes to, upright.

    Attributes
    ----------
    length_mm, draught_mm
        Of the waterline, and from it to the lowest rabbet.
    midship_mm2
        Largest section.
    by_sections_mm3
        The volume again, by Simpson's rule over the areas of sections.
    """

    level_mm: float
    length_mm: float
    draught_mm: float
    midship_mm2: float
    by_sections_mm3: float
    water: Afloat

    @property
    def volume_mm3(self) -> float:
        """Displaced volume."""
        return self.water.volume_mm3

    @property
    def breadth_mm(self) -> float:
        """Greatest breadth of the waterline."""
        return self.water.breadth_mm

    @property
    def waterplane_mm2(self) -> float:
        """Area at the waterline."""
        return self.water.waterplane_mm2

    @property
    def centre_mm(self) -> float:
        """Return x of the centre of buoyancy."""
        return self.water.centre[0]

    @property
    def height_mm(self) -> float:
        """Height of the centre of buoyancy above the base line."""
        return self.water.centre[2]

    @property
    def flotation_mm(self) -> float:
        """Return x of the centre of the waterplane."""
        return self.water.flotation_mm

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

    @property
    def midship(self) -> float:
        """Largest section over the rectangle around it."""
        return self.midship_mm2 / (self.breadth_mm * self.draught_mm)

    @property
    def metacentre_across_mm(self) -> float:
        """From the centre of buoyancy up to the metacentre, for small angles of heel."""
        return self.water.inertia_across_mm4 / self.volume_mm3

    @property
    def metacentre_along_mm(self) -> float:
        """From the centre of buoyancy up to the metacentre lengthwise."""
        return self.water.inertia_along_mm4 / self.volume_mm3

    @property
    def metacentre_height_mm(self) -> float:
        """Height of the metacentre above the base line."""
        return self.height_mm + self.metacentre_across_mm

    def displacement_kg(self, density_kg_m3: float = SALT_KG_M3) -> float:
        """Return the mass of water displaced; salt water unless said otherwise."""
        return self.volume_mm3 * 1e-9 * density_kg_m3

    def to_sink_kg(self, by_mm: float, density_kg_m3: float = SALT_KG_M3) -> float:
        """Return the mass that puts her deeper by a little, laid over the centre of flotation."""
        return self.waterplane_mm2 * by_mm * 1e-9 * density_kg_m3

    def to_trim_kg_mm(self, by_mm: float, density_kg_m3: float = SALT_KG_M3) -> float:
        """Return the moment that alters the trim over the waterline's length by a little.

        With the height of the metacentre above the centre of buoyancy, not that of gravity, which
        the lines do not know: a little too much.
        """
        mass = self.displacement_kg(density_kg_m3)
        return mass * self.metacentre_along_mm * by_mm / self.length_mm


@lru_cache(maxsize=4)
def planked(hull: Hull) -> Body:
    """Return the closed body of a hull; of the same one it is made once."""
    return body_of(hull)


def lowest_rabbet(hull: Hull) -> float:
    """Return the height of the lowest rabbet."""
    return planked(hull).lowest_mm


def lowest_sheer(hull: Hull) -> tuple[float, float]:
    """Return x and height of the lowest place of the sheer."""
    sheer = planked(hull).sheer
    at = int(sheer[:, 2].argmin())
    return float(sheer[at, 0]), float(sheer[at, 2])


def hydrostatics(hull: Hull, z: float, ends: tuple[float, float] | None = None) -> Hydrostatics:
    """Return what lies below a height.

    Parameters
    ----------
    ends
        What the length of the coefficients goes between, as perpendiculars; by default the
        waterline's own ends.

    Raises
    ------
    ShapeError
        If the hull nowhere reaches into the water, or the water over the sheer.
    """
    body = planked(hull)
    if z <= body.lowest_mm:
        raise ShapeError(
            f"the hull has no waterline at {z:g} mm: her rabbet is {body.lowest_mm:.1f} mm high "
            "where it is lowest"
        )
    at, lowest = lowest_sheer(hull)
    if z > lowest + TOUCH_MM:
        raise ShapeError(
            f"a waterline at {z:g} mm lies above the sheer, which is {lowest:.1f} mm high at "
            f"{at:.0f} mm from forward: give less draught"
        )
    water = afloat(body, z)
    low, high = ends or water.ends
    # Below a transom that leans forward she reaches past the waterline's end.
    past = [x for x, up in hull.table.transom[:1] if up < z and ends is None]
    x, areas = curve_of_areas(hull, z, (low, max(high, *past, high)))
    return Hydrostatics(
        level_mm=z,
        length_mm=high - low,
        draught_mm=z - body.lowest_mm,
        midship_mm2=float(areas.max()),
        by_sections_mm3=simpson(areas, float(x[1] - x[0])),
        water=water,
    )


def curve_of_areas(hull: Hull, z: float, ends: tuple[float, float]) -> tuple[Points, Points]:
    """Return evenly spaced places and the areas of the sections there up to a height, mm2."""
    x = np.linspace(*ends, ORDINATES)
    inner = np.clip(x, hull.ends[0] + 1e-6, hull.ends[1] - 1e-6)
    return x, np.array([_area(hull, float(place), z) for place in inner])


def _area(hull: Hull, x: float, z: float) -> float:
    """Return the area of a section up to a height, 0 where the hull has ended."""
    low, high = _beside_transom(hull, x)
    try:
        whole = hull.section_area(x, min(z, high), Face.OUTSIDE) if low < min(z, high) else 0.0
        below = hull.section_area(x, low, Face.OUTSIDE) if whole and low > -np.inf else 0.0
        return whole - below
    except ShapeError:
        return 0.0


def _beside_transom(hull: Hull, x: float) -> tuple[float, float]:
    """Return between which heights a section lies forward of the transom's face."""
    if len(hull.table.transom) != 2:
        return -np.inf, np.inf
    (foot_x, foot_z), (head_x, head_z) = hull.table.transom
    if x <= min(foot_x, head_x):
        return -np.inf, np.inf
    if x >= max(foot_x, head_x):
        return np.inf, -np.inf
    face = foot_z + (x - foot_x) / (head_x - foot_x) * (head_z - foot_z)
    return (face, np.inf) if head_x > foot_x else (-np.inf, face)
