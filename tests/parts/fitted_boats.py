"""Boats of known shape to fit parts to, and a measure of how far a point lies off a surface.

The measure works on the surface of the table alone: it knows nothing of sections, of surfaces
moved inward or of how a part was drawn.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from nesting.project import Project, read_project
from parts.boat.boat import Boat
from parts.boat.plan import BoatPlan
from parts.lines import Face, OffsetTable, hull_of
from parts.lines.table import Offset, Station, waterline

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_projects" / "tender_to_sloop" / "project.yaml"

PLAN = {
    "lines": "known.csv",
    "frames": {"first": 1000, "spacing": 500, "count": 9, "siding": 30, "moulding": 40},
    "keel": {"siding": 100, "top": 60},
    "beam_mould": {"span": "120 in", "camber": "3.75 in"},
    "clamp": {"thickness": 25, "depth": 150},
    "floor_heads": 150,
    "sole": 250,
}


def known_boat(x, heights, half_breadths, **plan) -> Boat:
    """Return the boat of (stations, waterlines) half-breadths to the inside of planking."""
    stations = tuple(Station(str(n), float(at)) for n, at in enumerate(x))
    lines = tuple(
        waterline(f"waterline {z:g}", float(z), _cells(half_breadths[:, k]))
        for k, z in enumerate(heights)
    )
    table = OffsetTable("known", stations, lines, face=Face.INSIDE)
    return Boat(BoatPlan.model_validate({**PLAN, **plan}), hull_of(table))


def _cells(values):
    return tuple(Offset(float(value), f"{value:.2f}", 1) for value in values)


@cache
def box_boat() -> Boat:
    """Return a box, half as wide as a beam of 96 in."""
    return known_boat(
        np.arange(13) * 500.0, [0, 200, 400, 600], np.full((13, 4), 48 * 25.4), keel={"siding": 100}
    )


TROUGH_RADIUS = 900.0


@cache
def trough_boat() -> Boat:
    """Return half a cylinder of 900 mm radius, its axis 900 mm above the base line."""
    return trough_with()


def trough_with(**plan) -> Boat:
    """Return the same by another plan."""
    z = np.linspace(0, 800, 17)
    section = np.sqrt(TROUGH_RADIUS**2 - (TROUGH_RADIUS - z) ** 2)
    return known_boat(np.arange(13) * 500.0, z, np.tile(section, (13, 1)), **plan)


CONE = 0.4


def cone(x, z):
    """Return the half-breadth of a cone, its apex at x = 0, z = 0: the quadric y^2 = 0.16 x z."""
    return CONE * np.sqrt(x * z)


def cone_bevel(x, z):
    """Return the bevel from the analytic normal of y - f(x, z) = 0, degrees."""
    slope_x, slope_z = CONE / 2 * np.sqrt(z / x), CONE / 2 * np.sqrt(x / z)
    return np.degrees(np.arctan2(-slope_x, np.hypot(1.0, slope_z)))


@cache
def cone_boat() -> Boat:
    x, z = np.linspace(2000.0, 6000.0, 9), 600 * np.linspace(0, 1, 13) ** 2
    return known_boat(x, z, cone(x[:, None], z), sole=450)


LENGTH, BREADTH, DRAUGHT = 6000.0, 1500.0, 600.0


def wigley(x, z):
    along, down = 2 * x / LENGTH - 1, (z - DRAUGHT) / DRAUGHT
    return BREADTH / 2 * (1 - along**2) * (1 - down**2)


def wigley_bevel(x, z):
    """Return the bevel from the analytic normal of y - f(x, z) = 0, degrees."""
    along, down = 2 * x / LENGTH - 1, (z - DRAUGHT) / DRAUGHT
    slope_x = BREADTH / 2 * (-2 * along * 2 / LENGTH) * (1 - down**2)
    slope_z = BREADTH / 2 * (1 - along**2) * (-2 * down / DRAUGHT)
    return np.degrees(np.arctan2(-slope_x, np.hypot(1.0, slope_z)))


@cache
def wigley_boat() -> Boat:
    return wigley_with()


def wigley_with(**plan) -> Boat:
    """Return the same by another plan."""
    x, z = np.linspace(0, LENGTH, 21), np.linspace(0, DRAUGHT, 9)
    return known_boat(x, z, wigley(x[:, None], z), **plan)


@cache
def withy() -> Project:
    """Return the full demo, its parts fitted to a table of offsets."""
    return read_project(DEMO)


@cache
def _seeds(boat: Boat) -> tuple[cKDTree, np.ndarray]:
    surface = boat.hull.surface(boat.hull.table.face)
    t, u = (g.ravel() for g in np.meshgrid(np.linspace(-1, 1, 500), np.linspace(0, 1, 120)))
    return cKDTree(surface.at(t, u)), np.column_stack([t, u])


def depth_below_table(boat: Boat, points: np.ndarray) -> np.ndarray:
    """Return how far (n, 3) points lie from the table's own surface, mm.

    The nearest of 60,000 points of it, then Gauss and Newton's steps on the two parameters.
    """
    surface = boat.hull.surface(boat.hull.table.face)
    points = points * np.where(points[:, 1:2] < 0, [[1, -1, 1]], [[1, 1, 1]])
    tree, parameters = _seeds(boat)
    t, u = parameters[tree.query(points)[1]].T
    for _ in range(6):
        off = points - surface.at(t, u)
        dt, du = surface.at(t, u, dt=1), surface.at(t, u, du=1)
        a, b, c = (dt * dt).sum(1), (dt * du).sum(1), (du * du).sum(1)
        p, q = (off * dt).sum(1), (off * du).sum(1)
        whole = a * c - b * b
        t = np.clip(t + (c * p - b * q) / whole, -1, 1)
        u = np.clip(u + (a * q - b * p) / whole, 0, 1)
    return np.linalg.norm(points - surface.at(t, u), axis=1)
