"""Random boards, keep-outs and parts for the engine's tests, each from a seed."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon

from nesting.engine.state.board_state import BoardState
from nesting.engine.state.problem import Problem
from nesting.need import Holes, Need
from nesting.nest import Nest
from nesting.outline import BearingZone, Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region, slot


def star(rng: np.random.Generator, radius_mm: float, corners: int) -> Polygon:
    """Return a star-shaped polygon: simple, mostly not convex."""
    turns = np.sort(rng.uniform(0, 2 * math.pi, corners))
    turns += np.linspace(0, 1e-3, corners)
    reach = radius_mm * rng.uniform(0.35, 1.0, corners)
    shape = Polygon(np.column_stack([reach * np.cos(turns), reach * np.sin(turns)]))
    return shape if shape.is_valid and shape.area > 1 else star(rng, radius_mm, corners)


def random_keep_outs(rng: np.random.Generator, length_mm: float, width_mm: float) -> list[KeepOut]:
    """Return a row of holes or metal, sometimes rot, a split, a groove, a stain."""
    kind = KeepOutKind.METAL if rng.random() < 0.3 else KeepOutKind.HOLE
    spacing = float(rng.choice([90.0, 200.0, 300.0]))
    row = [
        circle(
            kind, float(x), width_mm * float(rng.uniform(0.2, 0.8)), float(rng.choice([5, 9, 13]))
        )
        for x in np.arange(60.0, length_mm - 20.0, spacing)
    ]
    if rng.random() < 0.5:
        end = length_mm
        corner = [(end - 80, 1), (end - 1, 1), (end - 1, width_mm / 2), (end - 50, width_mm / 3)]
        row.append(region(KeepOutKind.ROT, corner))
    if rng.random() < 0.5:
        row.append(slot(KeepOutKind.SPLIT, (5, width_mm / 2), (120, width_mm / 2 + 4), 2.0))
    if rng.random() < 0.5:
        row.append(circle(KeepOutKind.STAIN, length_mm / 2, width_mm / 2, 60.0))
    return row


def random_board(rng: np.random.Generator, name: str) -> Board:
    """Return a plank with slightly waving edges."""
    length = float(rng.uniform(500, 1600))
    width = float(rng.choice([90, 140, 220]))
    at = np.linspace(0, length, 6)
    lower = rng.uniform(-3, 3, 6)
    shape = widths_outline(list(at), list(width + rng.uniform(-6, 6, 6)), list(lower))
    return Board(
        name,
        shape,
        float(rng.choice([25, 32, 45])),
        str(rng.choice(["oak", "pine"])),
        keep_outs=tuple(random_keep_outs(rng, length, width)),
    )


def random_need(rng: np.random.Generator, name: str) -> Need:
    """Return a beam, a knee, a star or a strake."""
    form = int(rng.integers(4))
    if form == 0:
        length, rise = float(rng.uniform(200, 900)), float(rng.uniform(5, 40))
        x = np.linspace(-length / 2, length / 2, 40)
        y = rise * (1 - (2 * x / length) ** 2)
        shape = Polygon(np.vstack([np.column_stack([x, y - 40]), np.column_stack([x, y])[::-1]]))
    elif form == 1:
        a = float(rng.uniform(80, 160))
        shape = Polygon([(0, 0), (a, 0), (a, 25), (40, 40), (25, a), (0, a)])
    elif form == 2:
        shape = star(rng, float(rng.uniform(30, 70)), 9)
    else:
        length = float(rng.uniform(200, 1100))
        shape = Polygon([(0, 0), (length, 5), (length, 45), (length / 2, 60), (0, 50)])
    low_x, low_y, high_x, _ = shape.bounds
    zone = Polygon([(low_x, low_y), (low_x + 40, low_y), (low_x + 40, 500), (low_x, 500)])
    outline = Outline(
        shape,
        float(rng.choice([18, 22, 28])),
        slope_of_grain=float(rng.choice([6, 12])),
        bearing_zones=(BearingZone(zone, "end"),) if high_x - low_x > 150 else (),
        may_turn_over=bool(rng.random() < 0.5),
    )
    species = [("oak",), ("pine",), ("oak", "pine")][int(rng.integers(3))]
    holes = list(Holes)[int(rng.integers(3))]
    return Need(name, "any", outline, species, int(rng.integers(1, 4)), holes)


def nest_of(state: BoardState, problem: Problem) -> Nest:
    """Return what lies on a board during the search as a nest for the referee."""
    placements = tuple(laid.figure.at(laid.x_mm, laid.y_mm) for laid in state.laid)
    return Nest(problem.boards[state.board], placements)


def random_problem(rng, count):
    """Return a problem of one board and so many needs, with a saw and a trim or without."""
    board = random_board(rng, "A")
    needs = [random_need(rng, f"P{i}") for i in range(count)]
    rules = Rules(kerf_mm=float(rng.choice([0, 2])), trim_mm=float(rng.choice([0, 1])))
    return Problem(needs, [board], rules)
