"""Rules that no forbidden region can hold: bungs in a metre, bungs on bungs, grown grain."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.turned import Turned
from nesting.engine.state.problem import Problem
from nesting.grain import GrainPath
from nesting.need import Holes
from nesting.nest import bungs_in
from nesting.plugging import bungs_collide, most_in_a_metre
from nesting.stock.board import Board
from nesting.units import slope_angle

ANGLE_SLACK_DEG = 1e-6
"""Rounding in angles; the referee allows ten times as much."""


def needs_second_look(need: int, board: int, problem: Problem) -> bool:
    """Return whether a legal position may still break one of these rules."""
    wanted, wood = problem.needs[need], problem.boards[board]
    has_holes = wanted.holes is not Holes.CLEAR and bool(wood.keep_outs)
    is_grown = not (wood.grain.is_straight and wanted.outline.grain.is_straight)
    return has_holes or is_grown


def is_acceptable(figure: Turned, x_mm: float, y_mm: float, board: int, problem: Problem) -> bool:
    """Return whether a placement keeps the bung rules and the grain limit."""
    is_along = bool(along_grain(figure, [(0.0, x_mm, y_mm)], problem.boards[board]))
    return is_along and keeps_bung_rules(figure, x_mm, y_mm, board, problem)


def keeps_bung_rules(
    figure: Turned, x_mm: float, y_mm: float, board: int, problem: Problem
) -> bool:
    """Return whether the bungs in a placement are apart, and few enough in a metre."""
    placement = figure.at(x_mm, y_mm)
    bungs = bungs_in(placement, problem.boards[board], problem.rules)
    if bungs_collide(bungs):
        return False
    return most_in_a_metre(bungs, placement) <= figure.need.most_plugs(problem.rules)


def along_grain(
    figure: Turned, spots: Sequence[tuple[float, float, float]], board: Board
) -> list[tuple[float, float, float]]:
    """Return those of some spots (score, x, y) at which a figure keeps its limits on grain.

    All at once, as grown wood refuses most of them.
    """
    outline = figure.need.outline
    if not spots or (outline.grain.is_straight and board.grain.is_straight):
        return list(spots)
    samples, angles = _samples(outline.grain)
    worst = _steepest(figure, samples, angles, spots, board)
    keeps = worst <= slope_angle(outline.slope_of_grain) + ANGLE_SLACK_DEG
    if outline.run_out_limit is not None:
        pieces = outline.weighed
        worst = _steepest(figure, pieces[:, :2], pieces[:, 3], spots, board)
        keeps &= worst <= outline.steepest_deg + ANGLE_SLACK_DEG
    return [spot for spot, kept in zip(spots, keeps, strict=True) if kept]


def _steepest(
    figure: Turned,
    points: NDArray[np.float64],
    angles: NDArray[np.float64],
    spots: Sequence[tuple[float, float, float]],
    board: Board,
) -> NDArray[np.float64]:
    """Return how far (n,) directions at (n, 2) points of a figure are off the grain at most.

    For each of the spots, degrees.
    """
    own = (-angles if figure.is_turned_over else angles) + figure.angle_deg
    lying = figure.at(0.0, 0.0).to_board(points)
    there = lying[None, :, :] + np.array(spots)[:, None, 1:]
    grain = board.grain.angles_at(there.reshape(-1, 2)).reshape(len(spots), -1)
    apart = np.abs(own - grain) % 180.0
    worst: NDArray[np.float64] = np.minimum(apart, 180.0 - apart).max(axis=1)
    return worst


@lru_cache(maxsize=4096)
def _samples(grain: GrainPath) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a grain's sample points (n, 2) and its angle at each (n,), degrees."""
    return grain.samples(), grain.sample_angles
