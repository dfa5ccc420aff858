"""The problem relaxed to areas: a mixed integer programme whose answers bound every plan.

References
----------
Martello, Toth 1990, Knapsack problems (relaxations; from memory). The solver is HiGHS, by
``scipy.optimize.milp``.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from nesting.engine.stop import Spell
from nesting.engine.wood.room_bounds import Possible
from nesting.need import Holes

if TYPE_CHECKING:
    from scipy import optimize, sparse


MOST_EXACT = 3_000
"""Pairs of need and board up to which copies are whole; beyond, needs alike flow as area."""

MOST_FLOWS = 40_000
"""Pairs of group and board beyond which all needs that tolerate as much are one group."""

BRANCHES = 300
"""Nodes of a branch and bound, so that bounds do not depend on the machine's speed."""

LEVELS = range(len(Holes))
"""What parts tolerate, by number: clear wood only, plugged holes, hidden faces."""

TINY = 1e-4
"""Parts that are together less than this share of the value, or of a square metre each, are
given for nothing: beside large coefficients the solver loses small ones, on either side."""

OUT_OF_TIME = 1
SOLVED = (0, OUT_OF_TIME, 4)
"""Answers of the solver that come with a bound: best found, or stopped at a limit."""

SLACK = 2e-6
"""Relative rounding of the solver, given away on the safe side; half of ``ideal.ROUNDING``."""

Floats = NDArray[np.float64]


class Relaxed:
    """The problem as a mixed integer programme over areas in square metres.

    Variables: copies placed (n), units of each group on each of its boards (k), boards opened
    (b). A group is one need and its unit one copy where the problem is small enough; else the
    needs alike, and a square metre.
    """

    def __init__(self, possible: Possible, spell: Spell) -> None:
        self._spell = spell
        self._worth = np.array([need.worth for need in possible.needs])
        self._wood = np.array([board.area_mm2 for board in possible.boards]) * 1e-6
        self._quantity = np.array([float(need.quantity) for need in possible.needs])
        self._is_exact = bool(possible.may.sum() <= MOST_EXACT)
        self._group = _groups(possible, is_exact=self._is_exact)
        groups, boards = int(self._group.max()) + 1, len(possible.boards)
        may = np.zeros((groups, boards), np.bool_)
        np.logical_or.at(may, self._group, possible.may)
        self._of_group, self._of_board = np.nonzero(may)
        self._unit = possible.areas * 1e-6 if self._is_exact else np.ones(groups)
        self._size = possible.areas * 1e-6 / self._unit[self._group]
        self._level = np.zeros(groups, np.int64)
        self._level[self._group] = possible.levels
        rooms = [[possible.room(b, level) for level in LEVELS] for b in range(boards)]
        self._room = np.array(rooms) * (1e-6 * (1 + SLACK))

    def most_value(self, *, is_whole: bool) -> float:
        """Return an upper bound on the value placed; boards and copies whole, or in fractions."""
        scale = max(float(self._worth.max()), 1e-12)
        cost = np.concatenate([-self._worth / scale, np.zeros(self._flows + len(self._wood))])
        return -self._least_cost(cost, is_whole=is_whole) * scale * (1 + SLACK)

    def least_opened_mm2(self, value: float, *, is_whole: bool) -> float:
        """Return a lower bound on the wood, mm2, opened by plans that place so much value."""
        from scipy import optimize, sparse  # Loaded where it is used: it takes long.

        cost = np.concatenate([np.zeros(len(self._worth) + self._flows), self._wood])
        worth = self._worth / value
        is_tiny = worth * self._quantity < TINY
        given = float((worth * self._quantity)[is_tiny].sum())
        worth = np.concatenate(
            [np.where(is_tiny, 0.0, worth), np.zeros(self._flows + len(self._wood))]
        )
        row = sparse.csr_array(worth[None, :])
        enough = optimize.LinearConstraint(row, 1 - SLACK - given, np.inf)
        return max(0.0, self._least_cost(cost, enough, is_whole=is_whole) * 1e6 * (1 - SLACK))

    @property
    def _flows(self) -> int:
        """How many pairs of group and board there are."""
        return len(self._of_group)

    def _least_cost(self, cost: Floats, *more: optimize.LinearConstraint, is_whole: bool) -> float:
        """Return a lower bound on the cost; minus infinity where the solver finds none."""
        from scipy import optimize

        boards = np.ones(len(self._wood))
        copies = np.full(len(self._worth) + self._flows, float(self._is_exact))
        # With presolve HiGHS of scipy 1.17 now and then proves too much: five parts on four
        # planks, 0.2138 for a least of 0.2045 m2 (one in 2,500 such; without it none).
        options: Any = {"node_limit": BRANCHES, "presolve": False, **self._limit}
        found = optimize.milp(
            cost,
            integrality=(np.concatenate([copies, boards]) * is_whole).astype(np.int64),
            bounds=optimize.Bounds(0, np.concatenate([self._quantity, self._most_units, boards])),
            constraints=[self._constraint, *more],
            options=options,
        )
        bound = found.mip_dual_bound if is_whole else found.fun
        if not is_whole and found.status == OUT_OF_TIME:  # Where it stood then bounds nothing.
            return -np.inf
        return float(bound) if found.status in SOLVED and bound is not None else -np.inf

    @property
    def _limit(self) -> dict[str, Any]:
        """The solver's option for the time that is left, if there is a limit."""
        left = self._spell.seconds_left
        return {} if left == math.inf else {"time_limit": left}

    @cached_property
    def _most_units(self) -> Floats:
        """How many units of its group each pair may carry at most, (k,)."""
        rooms = self._room[self._of_board, self._level[self._of_group]]
        units = rooms / self._unit[self._of_group]
        wanted = np.bincount(self._group, self._quantity * self._size)[self._of_group]
        return np.minimum(np.floor(units) if self._is_exact else units, wanted)

    @cached_property
    def _constraint(self) -> optimize.LinearConstraint:
        """What is placed comes from boards; it has room there; and it opens them."""
        from scipy import optimize, sparse

        n, k, b = len(self._worth), self._flows, len(self._wood)
        flow, board, groups = np.arange(k), np.arange(b), len(self._unit)
        placed = _matrix(self._size, self._group, np.arange(n), (groups, n))
        given = _matrix(-np.ones(k), self._of_group, flow, (groups, k))
        rows: list[list[Any]] = [[placed, given, None]]
        for level in LEVELS:
            unit = np.where(self._unit < TINY, 0.0, self._unit)[self._of_group]
            counted = unit * (self._level[self._of_group] <= level)
            taken = _matrix(counted, self._of_board, flow, (b, k))
            rows.append([None, taken, _matrix(-self._room[:, level], board, board, (b, b))])
        opened = _matrix(-self._most_units, flow, self._of_board, (k, b))
        rows.append([None, sparse.eye_array(k), opened])
        return optimize.LinearConstraint(sparse.csr_array(sparse.block_array(rows)), -np.inf, 0.0)


def _groups(possible: Possible, *, is_exact: bool) -> NDArray[np.int64]:
    """Return the group of each need, (n,), numbered from 0."""
    if is_exact:
        return np.arange(len(possible.needs))
    signs = np.column_stack([possible.levels, possible.may])
    found, group = np.unique(signs, axis=0, return_inverse=True)
    if found[:, 1:].sum() > MOST_FLOWS:
        group = np.unique(possible.levels, return_inverse=True)[1]
    return np.asarray(group, np.int64).reshape(-1)


def _matrix(
    values: Floats, rows: NDArray[np.int64], columns: NDArray[np.int64], shape: tuple[int, int]
) -> sparse.csr_array:
    from scipy import sparse

    return sparse.csr_array((values, (rows, columns)), shape=shape)
