"""Which fillings of single boards make the best plan together: a covering programme.

Each board takes one filling at most; each need is placed as often as it is wanted, or is missing
at a price above all wood. Fillings may place a need too often: the surplus is taken off
afterwards, which is always legal.

References
----------
Balinski, Quandt 1964, On an integer program for a delivery problem, Oper. Res. 12:300-304 (set
covering over columns); Rosing, ReVelle 1997, Heuristic concentration, Eur. J. Oper. Res. 97:75-86
(an exact programme over what heuristics met); Subramanian, Uchoa, Ochi 2013, A hybrid algorithm
for a class of vehicle routing problems, Comput. Oper. Res. 40:2519-2531 (a pool of columns that a
search fills). All cited from memory. The solver is HiGHS, by scipy.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy import optimize, sparse

NODES = 50
"""Nodes of a branch and bound, so that plans do not depend on the machine's speed. The first
mostly has the best choice (full demo, pools of 480 to 900 fillings: in all but one in ten)."""

MOST_FILLINGS, MOST_A_BOARD = 500, 4
"""Fillings in the whole programme: so many, or so many for each board where that is more; those
that the programme by fractions thinks nearest to paying. Full demo: 250 lost 0.0004 m2."""

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
        What each takes, m2 of wood.
    """

    board: Ints
    counts: Ints
    cost: Floats

    def only(self, which: Ints) -> Columns:
        """Return some of them."""
        return Columns(self.board[which], self.counts[which], self.cost[which])


@dataclass(frozen=True, eq=False)
class Wanted:
    """How often each need (n,) is wanted, and what a missing copy costs, m2 (n,)."""

    copies: Floats
    missing_cost: Floats


@dataclass(frozen=True, eq=False)
class Cover:
    """The cheapest choice of fillings found, and the wood that a copy of each need takes.

    Attributes
    ----------
    chosen
        Numbers of the fillings, None where no choice found is cheaper than what is known.
    prices : (n,) float
        m2 that one more copy would take, by the programme in fractions.
    """

    chosen: tuple[int, ...] | None
    prices: Floats


def best_cover(
    columns: Columns, wanted: Wanted, known_cost: float, seconds: float | None = None
) -> Cover | None:
    """Return the cheapest choice found, or None where the solver finds nothing.

    Parameters
    ----------
    known_cost
        What is to be beaten, m2.
    seconds
        The solver ends after so many, None: time is no limit.
    """
    start = time.monotonic()
    by_fractions = _relaxed(columns, wanted, seconds)
    if by_fractions is None:
        return None
    least, reduced, prices = by_fractions
    # A filling that by fractions is dearer than all that is left to gain is in no better choice.
    may = np.flatnonzero(reduced <= known_cost - least + SLACK)
    most = max(MOST_FILLINGS, MOST_A_BOARD * len(np.unique(columns.board)))
    left = None if seconds is None else seconds - (time.monotonic() - start)
    may = np.sort(may[np.argsort(reduced[may], kind="stable")[:most]])
    chosen = _whole(columns.only(may), wanted, known_cost, left) if len(may) else None
    return Cover(None if chosen is None else tuple(int(i) for i in may[chosen]), prices)


def _programme(
    columns: Columns, wanted: Wanted
) -> tuple[Floats, sparse.csr_array, Floats, optimize.Bounds]:
    """Return costs, rows, their upper sides and bounds of choices and of what is missing."""
    from scipy import optimize, sparse  # Loaded where it is used: it takes long.

    needs, count = len(wanted.copies), len(columns.board)
    boards, place = np.unique(columns.board, return_inverse=True)
    ones = np.ones(count)
    once = sparse.csr_array((ones, (place, np.arange(count))), shape=(len(boards), count))
    placed = sparse.csr_array(-columns.counts.T.astype(np.float64))
    parts = [[placed, -sparse.eye_array(needs)], [once, sparse.csr_array((len(boards), needs))]]
    rows = sparse.block_array(cast(list[Any], parts))
    cost = np.concatenate([columns.cost, wanted.missing_cost])
    sides = np.concatenate([-wanted.copies, np.ones(len(boards))])
    most = np.concatenate([ones, wanted.copies])
    return cost, sparse.csr_array(rows), sides, optimize.Bounds(0, most)


def _relaxed(
    columns: Columns, wanted: Wanted, seconds: float | None
) -> tuple[float, Floats, Floats] | None:
    """Return the cost by fractions, each filling's reduced cost, and the price of each need."""
    from scipy import optimize

    cost, rows, sides, bounds = _programme(columns, wanted)
    spans = np.column_stack([bounds.lb * np.ones(len(cost)), bounds.ub])
    # Typed as for dense rows alone; sparse ones are taken too.
    found = optimize.linprog(  # type: ignore[call-overload]
        cost, A_ub=rows, b_ub=sides, bounds=spans, method="highs", options=_limit(seconds)
    )
    if found.status != 0:
        return None
    duals = np.asarray(found.ineqlin.marginals)
    reduced = cost - rows.T @ duals
    return float(found.fun), reduced[: len(columns.board)], -duals[: len(wanted.copies)]


def _whole(
    columns: Columns, wanted: Wanted, known_cost: float, seconds: float | None
) -> Ints | None:
    from scipy import optimize

    cost, rows, sides, bounds = _programme(columns, wanted)
    options: Any = {"node_limit": NODES, "mip_rel_gap": 0.0, **_limit(seconds)}
    found = optimize.milp(
        cost,
        integrality=np.concatenate([np.ones(len(columns.board)), np.zeros(len(wanted.copies))]),
        bounds=bounds,
        constraints=optimize.LinearConstraint(rows, -np.inf, sides),
        options=options,
    )
    if found.x is None or found.fun >= known_cost - SLACK:
        return None
    return np.flatnonzero(found.x[: len(columns.board)] > 0.5)


def _limit(seconds: float | None) -> dict[str, Any]:
    """Return the solver's option for so much time; None: time is no limit."""
    return {} if seconds is None else {"time_limit": max(0.0, seconds)}
