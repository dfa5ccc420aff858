"""Bounds that no cutting plan beats: the most value that can be placed, the least wood opened.

Quick ones relax the question to areas. Parts grown by half the gap between neighbours never
overlap, so their areas add up to no more than the room on a board, for parts that tolerate no
more than clear wood, plugged holes or hidden faces each for itself. Copies are whole where the
problem is small enough, and boards are opened whole; where the count of branches ends the work
early, the solver's own bound is taken. The thorough one asks what share of each board the parts
take that any plan of such value has to place (``givers``), and for the cheapest boards so filled
(``least_wood``); that takes seconds.

References
----------
Martello, Toth 1990, Knapsack problems (relaxations; from memory). The solver is HiGHS, by
``scipy.optimize.milp``.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from nesting.engine.proof.givers import Givers
from nesting.engine.proof.least_wood import Giver, least_wood
from nesting.engine.stop import Spell
from nesting.engine.wood.room_bounds import Possible
from nesting.ideal import Ideal, Limit
from nesting.need import Holes, Need
from nesting.rules import Rules
from nesting.stock.board import Board

if TYPE_CHECKING:
    from scipy import optimize, sparse

MOST_EXACT = 3_000
"""Pairs of need and board up to which copies are whole; beyond, needs alike flow as area."""

MOST_FLOWS = 40_000
"""Pairs of group and board beyond which all needs that tolerate as much are one group."""

BRANCHES = 300
"""Nodes of a branch and bound, so that bounds do not depend on the machine's speed."""

NEAR = 0.85
"""In larger problems boards count whole only where the bound by fractions of boards is at least
this share of the wood opened: else it adds 1 % and takes seconds (full demo)."""

FEW_PAIRS = 300
"""Pairs of need and board up to which boards always count whole: tenths of a second."""

MOSTLY = 0.5
"""Fillings are only asked for if the parts that have to be placed are this share of the value."""

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

LOADING_SECONDS = 0.5
"""What loading the solver takes, about: with less time left none is sought that needs it."""

Floats = NDArray[np.float64]


class Bounds:
    """The bounds of one problem, each computed when first asked for.

    ``spell`` is the time that they may take: what there is none for is left out, and what is
    then returned still holds, but says less. ``no_board_gives`` are parts that are known already
    to fit no board: they count for nothing, even where there is no time to ask.
    """

    def __init__(
        self,
        needs: Sequence[Need],
        boards: Sequence[Board],
        rules: Rules,
        spell: Spell | None = None,
        *,
        no_board_gives: Callable[[], frozenset[str]] = frozenset,
    ) -> None:
        self.needs, self.boards, self.rules = tuple(needs), tuple(boards), rules
        self._no_board_gives = no_board_gives
        self._spell = spell or Spell()
        self._least: dict[tuple[float, bool], float] = {}
        self._proven = math.inf, 0.0
        self._most: tuple[float, Limit] | None = None

    def ideal(self, value: float, opened_mm2: float, seconds: float = math.inf) -> Ideal:
        """Return a plan's value and opened wood beside the bounds.

        Parameters
        ----------
        seconds
            To be spent at most, besides what the time for all bounds together allows.
        """
        with self._spell.begun(seconds):
            most, limit = self.most_value
            least = self.least_opened_mm2(value, opened_mm2)
        return Ideal(value, most, limit, opened_mm2, least)

    def raise_least(self, value: float, least_mm2: float) -> None:
        """Take note that plans of so much value, or more, are proven to open so much wood."""
        self._proven = value, least_mm2

    @property
    def most_value(self) -> tuple[float, Limit]:
        """An upper bound on the value any plan places, and what sets it."""
        if self._most is None:
            worth = np.array([need.worth * need.quantity for need in self.needs])
            if not self._has_time:
                return self._most_wanted(worth)
            self._most = self._most_value(worth)
        return self._most

    def _most_wanted(self, worth: Floats) -> tuple[float, Limit]:
        """Return the worth (n,) of all that is wanted, but for what no board gives."""
        beyond = self._no_board_gives()
        is_given = np.array([need.part not in beyond for need in self.needs], np.bool_)
        limit = Limit.WANTED if is_given.all() else Limit.NO_BOARD
        return float(worth[is_given].sum()), limit

    @property
    def _has_time(self) -> bool:
        """Whether there is any for what is not known yet, the solver loaded or not."""
        needed = 0.0 if "scipy.optimize" in sys.modules else LOADING_SECONDS
        return self._spell.seconds_left > needed

    def _most_value(self, worth: Floats) -> tuple[float, Limit]:
        wanted = float(worth.sum())
        if not self.boards or not self.needs:
            return 0.0, Limit.NO_BOARD if self.needs else Limit.WANTED
        possible = float(worth[self._possible.may.any(axis=1)].sum())
        by_area = self._relaxed.most_value(is_whole=False)
        if by_area < possible:
            by_area = min(by_area, self._relaxed.most_value(is_whole=True))
        if by_area < possible * (1 - 2 * SLACK):
            return by_area, Limit.AREA
        if possible < wanted * (1 - 2 * SLACK):
            return possible, Limit.NO_BOARD
        return wanted, Limit.WANTED

    def least_opened_mm2(self, value: float, opened_mm2: float) -> float:
        """Return a lower bound on the wood that any plan opens which places so much value.

        ``opened_mm2`` is what a plan does open: far from it the bound may be a quicker one.
        """
        if value <= 0 or not self.boards:
            return 0.0
        from_value, proven = self._proven
        least = self._least_opened(value, is_whole=False)
        if value >= from_value:
            least = max(least, proven)
        is_far = least < NEAR * opened_mm2
        if is_far and self._possible.may.sum() > FEW_PAIRS:
            return least
        return max(least, self._least_opened(value, is_whole=True))

    def least_filled_mm2(self, value: float) -> float:
        """Return a lower bound on the wood of plans that place so much value, by fillings.

        A part worth more than what such plans may leave over has to be placed, all its copies.
        0 where the problem is too large.
        """
        may = self._possible.may
        if value <= 0 or may.sum() > MOST_EXACT:
            return 0.0
        worth = np.array([need.worth for need in self.needs])
        copies = np.array([need.quantity for need in self.needs]) * may.any(axis=1)
        possible = float(worth @ copies)
        is_placed = worth > possible * (1 + SLACK) - value * (1 - SLACK)
        if (worth * copies)[is_placed].sum() < MOSTLY * possible:
            return 0.0
        areas = np.array([board.area_mm2 for board in self.boards])
        least = least_wood(np.where(is_placed, copies, 0), self._givers, areas * 1e-6) * 1e6
        return least * (1 - SLACK)

    @cached_property
    def _givers(self) -> list[Giver]:
        return Givers(self._possible).all()

    def _least_opened(self, value: float, *, is_whole: bool) -> float:
        key = (value, is_whole)
        if key not in self._least and not self._has_time:
            # What plans of less value need is needed by those of more as well.
            known = (least for (v, _), least in self._least.items() if v <= value)
            return max(known, default=0.0)
        if key not in self._least:
            self._least[key] = self._relaxed.least_opened_mm2(value, is_whole=is_whole)
        return self._least[key]

    @cached_property
    def _possible(self) -> Possible:
        return Possible(self.needs, self.boards, self.rules, lambda: self._spell.seconds_left)

    @cached_property
    def _relaxed(self) -> _Relaxed:
        return _Relaxed(self._possible, self._spell)


class _Relaxed:
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
