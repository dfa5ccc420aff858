"""Rules that no forbidden region can hold: bungs in a metre, bungs on bungs, grown grain."""

from __future__ import annotations

import numpy as np

from nesting.engine.problem import Problem
from nesting.engine.turned import Turned
from nesting.need import Holes
from nesting.nest import Placement, bungs_in
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
    placement = figure.at(x_mm, y_mm)
    wood = problem.boards[board]
    if not _follows_grain(placement, wood):
        return False
    bungs = bungs_in(placement, wood, problem.rules)
    if bungs_collide(bungs):
        return False
    return most_in_a_metre(bungs, placement) <= figure.need.most_plugs(problem.rules)


def _follows_grain(placement: Placement, board: Board) -> bool:
    outline = placement.need.outline
    if outline.grain.is_straight and board.grain.is_straight:
        return True
    return worst_lean(placement, board) <= slope_angle(outline.slope_of_grain) + ANGLE_SLACK_DEG


def worst_lean(placement: Placement, board: Board) -> float:
    """Return the greatest angle between part grain and board grain along the part, degrees."""
    grain = placement.need.outline.grain
    own = -grain.sample_angles if placement.is_turned_over else grain.sample_angles
    there = board.grain.angles_at(placement.to_board(grain.samples()))
    apart = np.abs(own + placement.angle_deg - there) % 180.0
    return float(np.minimum(apart, 180.0 - apart).max())
