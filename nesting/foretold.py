"""How long what follows a search takes, foretold from how much there is of everything.

The referee and the account cannot be cut short, so the search leaves them what they will take.
"""

from __future__ import annotations

import os
from collections.abc import Sequence

import shapely

from nesting.break_down.straight_lines import MANY_CORNERS
from nesting.engine.stop import (
    NO_HURRY,
    Finish,
    FirstOf,
    MaxRounds,
    MaxSeconds,
    Stop,
    kept_back,
)
from nesting.need import Need
from nesting.processes.all_cores import MANY_NESTS
from nesting.stock.board import Board

A_PIECE, A_BOARD, A_KEEP_OUT, A_CORNER = 0.005, 0.003, 0.0003, 0.000004
"""Seconds that referee and account take for each piece placed, and for each opened board, keep-out
on it and corner of its pieces; measured on loads that are heavy in each."""

A_HULL_CORNER = 0.000001
"""Seconds more for each corner of a piece's hull and each piece on its board: straight cuts are
looked for between any two. 200 round lids of 256 corners on 4 boards: 2.4 s beyond the above."""

LOADING, STARTING = 0.1, 2.0
"""Seconds until both are loaded, and until other processes have done so that share the work."""

WASTE = 1.6
"""Wood opened for the wood that becomes parts, about."""

MOST_SHARE = 0.4
"""Share of a run that is left to both at most: there is no plan without a search."""


def limits(
    seconds: float | None,
    rounds: int | None,
    *,
    usual_seconds: float,
    begun: float,
    needs: Sequence[Need] = (),
    boards: Sequence[Board] = (),
    stops: Sequence[Stop] = (),
) -> tuple[Stop, Finish]:
    """Return when a search ends, and by when what follows it; both count from when a run began.

    Parameters
    ----------
    seconds, rounds
        As they were asked for; seconds are the usual ones where neither was. A limit in rounds
        alone knows no hurry.
    needs, boards
        For which a referee and an account have to follow within the seconds.
    stops
        What else ends the search.
    """
    found = [*stops, *([] if rounds is None else [MaxRounds(rounds)])]
    if seconds is None and rounds is not None:
        return FirstOf(found), NO_HURRY
    given = usual_seconds if seconds is None else seconds
    packing = given - (seconds_kept(given, needs, boards, os.cpu_count() or 1) if boards else 0.0)
    found.append(MaxSeconds(packing - kept_back(packing), begun=begun))
    if given == 0:  # A first plan made in earnest, and no search.
        return FirstOf(found), NO_HURRY
    return FirstOf(found), Finish.of(packing, begun)


def seconds_kept(
    seconds: float, needs: Sequence[Need], boards: Sequence[Board], cores: int = 1
) -> float:
    """Return how much of a run's seconds is left for the referee and the account."""
    return min(MOST_SHARE * seconds, seconds_after(needs, boards, cores))


def seconds_after(needs: Sequence[Need], boards: Sequence[Board], cores: int = 1) -> float:
    """Return how long the referee and the account of a plan will take, about.

    Parameters
    ----------
    cores
        On which many boards are accounted for side by side.
    """
    if not boards:
        return LOADING
    pieces = sum(need.quantity for need in needs)
    wanted = sum(need.quantity * need.outline.area_mm2 for need in needs)
    mean = sum(board.area_mm2 for board in boards) / len(boards)
    opened = min(len(boards), pieces, 1 + WASTE * wanted / mean)
    keep_outs = sum(len(board.keep_outs) for board in boards) * opened / len(boards)
    corners = sum(need.quantity * len(need.outline.shape.exterior.coords) for need in needs)
    one_by_one = A_PIECE * pieces + A_BOARD * opened + A_KEEP_OUT * keep_outs + A_CORNER * corners
    one_by_one += A_HULL_CORNER * sum(map(_hull_corners, needs)) * pieces / max(opened, 1.0)
    if opened < MANY_NESTS:
        return LOADING + one_by_one
    return LOADING + STARTING + one_by_one / cores


def _hull_corners(need: Need) -> int:
    """Return the corners of the hulls of all copies of a need, as far as cuts look at them."""
    corners = len(shapely.get_coordinates(need.outline.shape.convex_hull))
    return need.quantity * min(corners, MANY_CORNERS)
