"""Tables of hulls whose shape is known: from formulas, and from a published table."""

import csv
from pathlib import Path

import numpy as np

from parts.lines.table import (
    Line,
    LineKind,
    Measure,
    Offset,
    OffsetTable,
    Station,
    measured,
    waterline,
)

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


def double_ender(x, share):
    """Return half-breadth and height of an invented double-ender, 8 m long.

    ``share`` of the depth, 0 at the rabbet to 1 at the sheer. Stem and sternpost are alike:
    the rabbet rises with the sixth power of the distance from amidships.
    """
    along = np.asarray(x) / 4000.0 - 1.0
    low, high = 250.0 + 1400.0 * along**6, 1500.0 + 150.0 * along**2
    half = 25.0 + 1100.0 * (1 - along**2)
    return 25.0 + (half - 25.0) * (1 - (1 - share) ** 2), low + (high - low) * share


def double_ender_table():
    x = np.array([600.0, 1000.0, *np.arange(1600.0, 6500.0, 600.0), 7000.0, 7400.0])
    (rabbet_y, rabbet_z), (sheer_y, sheer_z) = double_ender(x, 0.0), double_ender(x, 1.0)
    lines = [
        Line(LineKind.SHEER, "sheer", Measure.HEIGHT, cells(sheer_z)),
        Line(LineKind.SHEER, "sheer", Measure.HALF_BREADTH, cells(sheer_y)),
        Line(LineKind.RABBET, "rabbet", Measure.HEIGHT, cells(rabbet_z)),
        Line(LineKind.RABBET, "rabbet", Measure.HALF_BREADTH, cells(0 * x + rabbet_y)),
    ]
    shares = np.linspace(0, 1, 2001)
    sections = [np.column_stack(double_ender(at, shares)) for at in x]
    for z in np.arange(300.0, 1500.0, 150.0):
        line = waterline(f"waterline {z:g}", float(z), ())
        figures = [measured(section, line) for section in sections]
        offsets = tuple(None if figure is None else cells([figure])[0] for figure in figures)
        lines.append(waterline(line.name, float(z), offsets))
    ends = np.array([0.0, 60.0, 150.0, 300.0])
    stem = tuple((float(at), float(double_ender(at, 0.0)[1])) for at in ends)
    stern = tuple((8000.0 - at, z) for at, z in reversed(stem))
    stations = tuple(Station(str(n), float(at)) for n, at in enumerate(x))
    return OffsetTable("double-ender", stations, tuple(lines), stem=stem, stern=stern)


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
