"""Tables of hulls whose shape is known: from formulas, and from a published table."""

import csv
from pathlib import Path

import numpy as np

from parts.lines.table import Offset, OffsetTable, Station, waterline

DATA = Path(__file__).parents[2] / "data"
WITHY = Path(__file__).parents[3] / "demo_projects" / "lines" / "withy_offsets.csv"

LENGTH, BREADTH, DRAUGHT = 6000.0, 1500.0, 600.0


def cells(values):
    return tuple(Offset(float(value), f"{value:.2f}", 1) for value in values)


def waterline_table(x, heights, half_breadths, **settings):
    """Return a table of (stations, waterlines) half-breadths."""
    stations = tuple(Station(str(n), float(at)) for n, at in enumerate(x))
    lines = tuple(
        waterline(f"waterline {z:g}", float(z), cells(half_breadths[:, k]))
        for k, z in enumerate(heights)
    )
    return OffsetTable("known", stations, lines, **settings)


def wigley(x, z):
    """Return the half-breadth of the Wigley form, x from its end, z from the keel."""
    along, down = 2 * x / LENGTH - 1, (z - DRAUGHT) / DRAUGHT
    return BREADTH / 2 * (1 - along**2) * (1 - down**2)


def wigley_normal(x, z):
    """Return the outward unit normal: of y - f(x, z) = 0 the gradient (-fx, 1, -fz)."""
    along, down = 2 * x / LENGTH - 1, (z - DRAUGHT) / DRAUGHT
    fx = BREADTH / 2 * (-2 * along * 2 / LENGTH) * (1 - down**2)
    fz = BREADTH / 2 * (1 - along**2) * (-2 * down / DRAUGHT)
    normal = np.array([-fx, 1.0, -fz])
    return normal / np.linalg.norm(normal)


def wigley_table(stations=21, waterlines=7, **settings):
    x, z = np.linspace(0, LENGTH, stations), np.linspace(0, DRAUGHT, waterlines)
    return waterline_table(x, z, wigley(x[:, None], z), **settings)


def box_table(**settings):
    return waterline_table(
        np.arange(9) * 500.0, [0, 200, 400, 600], np.full((9, 4), 600.0), **settings
    )


def wedge_table(**settings):
    """Return a V-bottomed prism: sections straight, 45 degrees, from the keel up."""
    heights = np.linspace(0, 600, 5)
    return waterline_table(np.arange(9) * 500.0, heights, np.tile(heights, (9, 1)), **settings)


SHIP_LENGTH, SHIP_BREADTH, SHIP_DRAUGHT = 7500.0, 1000.0, 400.0


def series_60():
    """Return the published table at the size of a boat: L/B 7.5, B/H 2.5."""
    text = (DATA / "series60_cb060.csv").read_text(encoding="utf-8")
    rows = [row for row in csv.reader(text.splitlines()) if not row[0].startswith("#")]
    greatest = np.array(rows[1][1:9], dtype=float)
    body = np.array([row[:9] for row in rows[2:]], dtype=float)
    heights = SHIP_DRAUGHT * np.array([0, 0.075, 0.25, 0.5, 0.75, 1, 1.25, 1.5])
    half_breadths = body[:, 1:] * greatest * SHIP_BREADTH / 2
    return waterline_table(body[:, 0] * SHIP_LENGTH / 20, heights, half_breadths)
