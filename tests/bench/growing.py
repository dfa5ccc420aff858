"""Projects of any size, alike in kind: old planks full of holes, a mixed list of parts."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon, box

from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region

SPECIES = ("teak", "oak", "mahogany")
THICKNESSES_MM = (25.0, 32.0, 45.0)
RULES = Rules()


def project(parts: int, boards: int, seed: int = 0) -> tuple[list[Need], list[Board]]:
    """Return a parts list of so many pieces in all, and so many boards."""
    rng = np.random.default_rng([seed, parts, boards])
    wood = [board(rng, f"B{i}") for i in range(boards)]
    needs: list[Need] = []
    left = parts
    while left:
        count = min(left, int(rng.integers(1, 5)))
        needs.append(need(rng, f"P{len(needs)}", count))
        left -= count
    return needs, wood


def board(rng: np.random.Generator, name: str) -> Board:
    """Return a plank with waving edges, rows of holes, some metal and rot."""
    length, width = float(rng.uniform(1500, 4000)), float(rng.choice([120, 150, 200, 260]))
    at = np.linspace(0, length, 7)
    shape = widths_outline(
        list(at), list(width + rng.uniform(-5, 5, 7)), list(rng.uniform(0, 4, 7))
    )
    return Board(
        name,
        shape,
        float(rng.choice(THICKNESSES_MM)),
        str(rng.choice(SPECIES)),
        keep_outs=tuple(keep_outs(rng, length, width)),
    )


def keep_outs(rng: np.random.Generator, length: float, width: float) -> list[KeepOut]:
    """Return two holes at every old frame, here and there a screw stub, a soft end."""
    spacing = float(rng.choice([300, 400, 450]))
    found = []
    for x in np.arange(spacing / 2, length - 20, spacing):
        for y in (0.22 * width, 0.78 * width):
            is_metal = rng.random() < 0.08
            kind = KeepOutKind.METAL if is_metal else KeepOutKind.HOLE
            found.append(circle(kind, float(x + rng.normal(0, 3)), float(y + rng.normal(0, 3)), 6))
    if rng.random() < 0.3:
        ring = [
            (length - 90, 6),
            (length - 6, 6),
            (length - 6, width * 0.6),
            (length - 60, width / 3),
        ]
        found.append(region(KeepOutKind.ROT, ring))
    return found


def need(rng: np.random.Generator, name: str, quantity: int) -> Need:
    """Return a strake, a beam, a floor timber or a knee."""
    form = rng.choice(["strake", "beam", "floor", "knee"], p=[0.35, 0.25, 0.2, 0.2])
    outline = Outline(
        SHAPES[str(form)](rng),
        float(rng.choice([18, 22, 28, 40], p=[0.4, 0.3, 0.2, 0.1])),
        slope_of_grain=12,
    )
    species = tuple(str(s) for s in rng.permutation(SPECIES)[: int(rng.integers(1, 4))])
    holes = Holes.CLEAR if form == "knee" else Holes.PLUGGED
    return Need(name, str(form), outline, species, quantity, holes)


def _strake(rng: np.random.Generator) -> Polygon:
    return box(0, 0, float(rng.uniform(500, 1800)), float(rng.uniform(45, 95)))


def _beam(rng: np.random.Generator) -> Polygon:
    length, rise, depth = rng.uniform(500, 1600), rng.uniform(10, 50), rng.uniform(45, 70)
    return _bent(float(length), float(rise), float(depth), 24)


def _floor(rng: np.random.Generator) -> Polygon:
    length, rise = float(rng.uniform(300, 800)), float(rng.uniform(20, 70))
    top = [(length / 2, rise + 45), (-length / 2, rise + 45)]
    return Polygon([(-length / 2, rise), (0, 0), (length / 2, rise), *top])


def _knee(rng: np.random.Generator) -> Polygon:
    a, b = float(rng.uniform(120, 260)), float(rng.uniform(90, 110))
    throat = [
        (a * (1 - math.sin(t)) * 0.75 + 25, b * (1 - math.cos(t)) * 0.7 + 25)
        for t in np.linspace(0, math.pi / 2, 7)
    ]
    return Polygon([(0, 0), (a, 0), (a, 25), *throat[1:-1], (25, b), (0, b)])


def _bent(length: float, rise: float, depth: float, steps: int) -> Polygon:
    x = np.linspace(-length / 2, length / 2, steps)
    y = rise * (1 - (2 * x / length) ** 2)
    return Polygon(np.vstack([np.column_stack([x, y - depth]), np.column_stack([x, y])[::-1]]))


SHAPES = {"strake": _strake, "beam": _beam, "floor": _floor, "knee": _knee}
