"""Rules that no forbidden region can hold: bungs in a metre, bungs on bungs, grown grain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.engine.geometry.turned import Turned
from nesting.engine.state.problem import Problem
from nesting.grain import GrainPath
from nesting.need import Holes
from nesting.nest import Placement, bungs_in
from nesting.plugging import bungs_collide, most_in_a_metre
from nesting.run_out import HALF, TURN, WAY, apart_deg, cut_up, spread
from nesting.stock.board import Board
from nesting.units import slope_angle

ANGLE_SLACK_DEG = 1e-6
"""Rounding in angles; the referee allows ten times as much."""

FINEST_MM = 0.01
"""A stretch this short whose grain is off the limit so near is taken to break it."""


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

    All at a few stretches at once, as grown wood refuses most spots by these; the others are
    held to the grain all along.
    """
    outline = figure.need.outline
    if not spots or (outline.grain.is_straight and board.grain.is_straight):
        return list(spots)
    lying = figure.at(0.0, 0.0)
    limits = [(lying.laid(outline.followed), slope_angle(outline.slope_of_grain))]
    if outline.run_out_limit is not None:
        limits.append((lying.laid(outline.weighed), outline.steepest_deg))
    kept = np.ones(len(spots), np.bool_)
    for pieces, limit in limits:
        kept &= _steepest(pieces, spots, board) <= limit + ANGLE_SLACK_DEG
    for spot in np.flatnonzero(kept):
        _, x, y = spots[int(spot)]
        shift = np.array((x, y, 0.0, 0.0, 0.0, 0.0, 0.0))
        moved = [(pieces + shift, limit) for pieces, limit in limits]
        kept[spot] = all(_is_along(pieces, limit, board.grain) for pieces, limit in moved)
        if kept[spot] and outline.grain.is_straight:
            kept[spot] = not _turns_within(figure.at(x, y), board.grain)
    return [spot for spot, keeps in zip(spots, kept, strict=True) if keeps]


def _steepest(
    pieces: NDArray[np.float64], spots: Sequence[tuple[float, float, float]], board: Board
) -> NDArray[np.float64]:
    """Return how far some stretches (n, 7) of a figure are off the grain at most, at each spot.

    In their middles, (k,) degrees.
    """
    few = spread(pieces)
    there = few[None, :, :2] + np.array(spots)[:, None, 1:]
    grain = board.grain.angles_at(there.reshape(-1, 2)).reshape(len(spots), -1)
    worst: NDArray[np.float64] = apart_deg(few[:, WAY], grain).max(axis=1)
    return worst


def _is_along(pieces: NDArray[np.float64], limit_deg: float, grain: GrainPath) -> bool:
    """Return whether stretches (n, 7) that lie on a board are within a limit all along.

    What is nearest to all within half a stretch of its middle lies on segments of the grain that
    are no farther from the middle than the nearest one and a whole stretch more, and there within
    half a stretch of what is nearest to the middle. Where directions are within the limit on all
    of that, so is the stretch; else it is halved.
    """
    limit = limit_deg + ANGLE_SLACK_DEG
    while len(pieces):
        gaps, along = grain.beside(pieces[:, :2])
        halves = np.hypot(*pieces[:, HALF].T)[:, None]
        least = gaps.min(axis=1, keepdims=True)
        off = apart_deg(pieces[:, [WAY]], grain.ways(along))
        if ((gaps <= least + FINEST_MM) & (off > limit)).any():
            return False
        is_near = gaps <= least + 2 * halves
        is_doubtful = (is_near & (_most_off(pieces, along, halves, grain) > limit)).any(axis=1)
        pieces, halves = pieces[is_doubtful], halves[is_doubtful]
        if len(pieces) and 2 * halves.min() < FINEST_MM:
            return False
        pieces = cut_up(pieces, float(halves.max())) if len(pieces) else pieces
    return True


def _most_off(
    pieces: NDArray[np.float64],
    along: NDArray[np.float64],
    halves: NDArray[np.float64],
    grain: GrainPath,
) -> NDArray[np.float64]:
    """Return how far stretches are off segments' directions at most, within ``halves`` of places.

    (n, m) degrees for (n, 7) stretches, places along each of the m segments (n, m) and (n, 1);
    directions are greatest and least at the ends of that, or in a segment's middle.
    """
    sweep = grain.sweep
    low = np.maximum(along - halves, 0.0)
    high = np.minimum(along + halves, sweep.lengths_mm)
    middle = (sweep.lengths_mm / 2).clip(low, high)
    ways = [grain.ways(place) for place in (low, middle, high)]
    off: NDArray[np.float64] = np.max([apart_deg(pieces[:, [WAY]], way) for way in ways], axis=0)
    return off + np.abs(pieces[:, [TURN]])


def _turns_within(placement: Placement, grain: GrainPath) -> bool:
    """Return whether grain turns off a part of straight grain inside it, though not at its edge.

    From wherever in it to the nearest place of the grain all wood has that one's direction: where
    none of the part's edge does, the place lies inside, and so does some segment's middle, where
    the grain turns back.
    """
    outline, line = placement.need.outline, np.asarray(grain.points)
    own = outline.grain.angles_deg[0] * (-1.0 if placement.is_turned_over else 1.0)
    off = apart_deg(np.array(grain.angles_deg), np.array(own + placement.angle_deg))
    limit = min(slope_angle(outline.slope_of_grain), outline.steepest_deg) + ANGLE_SLACK_DEG
    middles = (line[1:] + line[:-1])[off > limit] / 2
    return bool(shapely.contains_xy(placement.polygon, middles[:, 0], middles[:, 1]).any())
