"""Which fillings of single boards make the best plan together: a covering programme.

Each board takes one filling at most; each need is placed as often as it is wanted, or is missing
at a price above all wood. A filling may place a need once too often: the surplus is taken off
afterwards, which is always legal.

References
----------
Balinski, Quandt 1964, On an integer program for a delivery problem, Oper. Res. 12:300-304 (set
covering over columns); Rosing, ReVelle 1997, Heuristic concentration, Eur. J. Oper. Res. 97:75-86
(an exact programme over what heuristics met); Subramanian, Uchoa, Ochi 2013, A hybrid algorithm
for a class of vehicle routing problems, Comput. Oper. Res. 40:2519-2531 (a pool of columns inside
a search). All cited from memory. The solver is HiGHS, by scipy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

NODES = 400
"""Nodes of a branch and bound, so that plans do not depend on the machine's speed."""

MOST_COLUMNS = 1500
"""Fillings in the whole programme: those that the programme by fractions thinks nearest to paying."""

SLACK = 1e-6
"""Rounding of the solver, m2."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Columns:
    """Fillings to choose from.

    Attributes
    ----------
    board : (f,) int
        The board that each is on.
    counts : (f, n) int
        How often each places each need.
    cost : (f,) float
        Wood that it opens, m2.
    """

    board: Ints
    counts: Ints
    cost: Floats


@dataclass(frozen=True, eq=False)
class Cover:
    """The cheapest choice of fillings found, and the wood that a copy of each need costs.

    Attributes
    ----------
    chosen
        Numbers of the fillings, None where no choice is cheaper than what is known.
    prices : (n,) float
        m2 that one more copy would take, by the programme in fractions.
    """

    chosen: tuple[int, ...] | None
    prices: Floats


def best_cover(
    columns: Columns, wanted: Sequence[int], missing_cost: Floats, known_cost: float
) -> Cover | None:
    """Return the cheapest choice found, or None where the solver fails.

    Parameters
    ----------
    wanted
        How often each need (n,) is wanted.
    missing_cost
        What a missing copy of each costs, m2.
    """
    asked = np.asarray(wanted, np.float64)
    relaxed = _solved(columns, asked, missing_cost)
    if relaxed is None:
        return None
    least, reduced, prices = relaxed
    # A filling that is dearer by fractions than all there is to gain is in no better choice.
    may = np.flatnonzero(reduced <= known_cost - least + SLACK)
    may = np.sort(may[np.argsort(reduced[may], kind="stable")[:MOST_COLUMNS]])
    some = Columns(columns.board[may], columns.counts[may], columns.cost[may])
    found = _chosen(some, asked, missing_cost) if len(may) else None
    if found is None or found[1] >= known_cost - SLACK:
        return Cover(None, prices)
    return Cover(tuple(int(may[i]) for i in found[0]), prices)


def _programme(
    columns: Columns, wanted: Floats, missing_cost: Floats
) -> tuple[Floats, sparse.csr_array, Floats, optimize.Bounds]:
    """Return costs, rows, their upper sides and bounds of choices and of what is missing."""
    needs, count = len(wanted), len(columns.board)
    boards, place = np.unique(columns.board, return_inverse=True)
    ones = np.ones(count)
    once = sparse.csr_array((ones, (place, np.arange(count))), shape=(len(boards), count))
    placed = sparse.csr_array(-columns.counts.T.astype(np.float64))
    rows = sparse.block_array(
        [[placed, -sparse.eye_array(needs)], [once, sparse.csr_array((len(boards), needs))]]
    )
    cost = np.concatenate([columns.cost, missing_cost])
    sides = np.concatenate([-wanted, np.ones(len(boards))])
    return cost, sparse.csr_array(rows), sides, optimize.Bounds(0, np.concatenate([ones, wanted]))


def _solved(
    columns: Columns, wanted: Floats, missing_cost: Floats
) -> tuple[float, Floats, Floats] | None:
    """Return the cost by fractions, each filling's reduced cost, and the price of each need."""
    cost, rows, sides, bounds = _programme(columns, wanted, missing_cost)
    found = optimize.linprog(
        cost, A_ub=rows, b_ub=sides, bounds=np.column_stack([bounds.lb, bounds.ub]), method="highs"
    )
    if found.status != 0:
        return None
    duals = np.asarray(found.ineqlin.marginals)
    reduced = cost - rows.T @ duals
    return float(found.fun), reduced[: len(columns.board)], -duals[: len(wanted)]


def _chosen(columns: Columns, wanted: Floats, missing_cost: Floats) -> tuple[Ints, float] | None:
    cost, rows, sides, bounds = _programme(columns, wanted, missing_cost)
    whole = np.concatenate([np.ones(len(columns.board)), np.zeros(len(wanted))])
    found = optimize.milp(
        cost,
        integrality=whole,
        bounds=bounds,
        constraints=optimize.LinearConstraint(rows, -np.inf, sides),
        options={"node_limit": NODES, "mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    return np.flatnonzero(found.x[: len(columns.board)] > 0.5), float(found.fun)
