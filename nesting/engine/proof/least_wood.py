"""The least wood that gives all of certain parts, where boards give what their shares allow.

Whole boards, each filled once with whole copies. All fillings are weighed in a linear programme
that is only ever given the fillings that pay; what a board's dearest filling is worth at the
programme's prices makes a bound, however far the programme has come.

References
----------
Gilmore, Gomory 1961, A linear programming approach to the cutting-stock problem; Dantzig, Wolfe
1960, Decomposition principle for linear programs; Farley 1990, A note on bounding a class of
linear programming problems; Martello, Toth 1990, Knapsack problems. All from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.engine.proof.dearest_filling import dearest
from nesting.flat_geometry.linked import groups

ROUNDS = 60
"""Of the linear programme, at most."""

CLOSE = 5e-4
"""Rounds end when the programme and its bound differ by less than this share."""

HOLD = 0.5
"""Prices asked for lie so far back toward those of the best bound so far."""

ROUGH, FINE = 1_000, 200_000
"""Places looked at for one filling; the bound on its value is taken from there on."""

MOST_PLACES = 3_000_000
"""Once so many places were looked at, fillings are only looked for roughly: seconds."""

MOST_SETS = 12
"""Sets of boards of which the least number is looked for."""

ROUNDING = 1e-6
"""Given away on the safe side, relative, against the rounding of the solver."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Filling = tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class Giver:
    """One board: the parts (n,) it may give, the most copies of each, their shares (r, n)."""

    parts: Ints
    copies: Ints
    shares: Floats

    def only(self, parts: set[int]) -> Giver:
        """Return the board for some of its parts alone."""
        kept = np.array([part in parts for part in self.parts.tolist()], np.bool_)
        return Giver(
            self.parts[kept], self.copies[kept], np.ascontiguousarray(self.shares[:, kept])
        )

    def dearest(self, prices: Floats, floor: float, places: int) -> tuple[float, Filling, int]:
        """Return a bound on the worth of any filling at prices of parts, a dear one, and effort.

        What is worth no more than ``floor`` is not looked for.
        """
        values = prices[self.parts]
        _, bound, taken, looked = dearest(values, self.copies, self.shares, max(0.0, floor), places)
        filling = ((int(self.parts[i]), int(taken[i])) for i in np.flatnonzero(taken))
        return float(bound), tuple(sorted(filling)), int(looked)


TINY = 1e-9
WHOLE = 1e-3
"""Counts of boards are rounded up from so much over a whole number."""


@dataclass(frozen=True, eq=False)
class Cover:
    """Boards that have to give parts: copies wanted (n,), boards, their costs (b,).

    ``least`` are boards (b,) bool of which at least so many are opened.
    """

    wanted: Ints
    givers: tuple[Giver, ...]
    costs: Floats
    least: tuple[tuple[NDArray[np.bool_], int], ...] = ()

    def bound(self, *, is_count: bool = False) -> float:
        """Return a cost that no choice of boards and fillings is below; a count is rounded up."""
        found = _Programme(self).bound(is_count=is_count)
        return float(math.ceil(found - WHOLE)) if is_count else found


def least_wood(wanted: Ints, givers: Sequence[Giver], costs: Floats) -> float:
    """Return a lower bound on the cost of boards that give all parts wanted.

    Parts that no board gives are left out.
    """
    return sum(_least_of(cover) for cover in _apart(Cover(wanted, tuple(givers), costs)))


def _least_of(cover: Cover) -> float:
    """Return the bound of one component, once the least number of some boards is known."""
    sets = {}
    for part in np.flatnonzero(cover.wanted):
        holders = np.array([part in giver.parts for giver in cover.givers])
        sets[holders.tobytes()] = holders
    for holders in sorted(sets.values(), key=lambda holders: int(holders.sum()))[:MOST_SETS]:
        inside = {
            int(part)
            for part in np.flatnonzero(cover.wanted)
            if not any(
                part in giver.parts
                for giver, is_in in zip(cover.givers, holders, strict=True)
                if not is_in
            )
        }
        wanted = np.where([p in inside for p in range(len(cover.wanted))], cover.wanted, 0)
        givers = tuple(giver.only(inside) for giver in cover.givers)
        counted = Cover(wanted, givers, holders.astype(np.float64), cover.least)
        count = int(counted.bound(is_count=True))
        cover = replace(cover, least=(*cover.least, (holders, count)))
    return cover.bound()


def _apart(cover: Cover) -> list[Cover]:
    """Return the components: boards and parts that have nothing to do with each other."""
    parts, boards = len(cover.wanted), len(cover.givers)
    pairs = [(part, parts + b) for b, giver in enumerate(cover.givers) for part in giver.parts]
    label = groups(np.array(pairs, np.int64).reshape(-1, 2).T, parts + boards)
    found = []
    for component in np.unique(label[parts:]):
        inside = np.flatnonzero(label[parts:] == component)
        wanted = np.where(label[:parts] == component, cover.wanted, 0)
        givers = tuple(cover.givers[b] for b in inside)
        if wanted.any():
            found.append(Cover(wanted, givers, cover.costs[inside]))
    return found


class _Programme:
    """The linear programme over the fillings met so far."""

    def __init__(self, cover: Cover) -> None:
        self._cover = cover
        self._parts = np.flatnonzero(cover.wanted)
        self._row = {int(part): r for r, part in enumerate(self._parts)}
        self._dear = float(cover.costs.max(initial=0.0)) * 2 + 1.0
        self._known: dict[tuple[int, Filling], None] = {
            (b, ((part, count),)): None
            for b, giver in enumerate(cover.givers)
            for part, count in zip(giver.parts.tolist(), giver.copies.tolist(), strict=True)
            if count and cover.wanted[part] and not (giver.shares * count > 1).any()
        }
        self._looked = 0

    def bound(self, *, is_count: bool) -> float:
        """Return the best bound of all rounds; of a count only as far as rounding up needs it.

        Fillings are looked for roughly as long as that finds new ones.
        """
        asked = self._first_prices(), np.zeros(len(self._cover.least))
        held, best, places = asked, 0.0, ROUGH
        cost, found = self._solve()
        for turn in range(ROUNDS):
            bound, is_new = self._look(*asked, places)
            if bound > best:
                best, held = bound, asked
            if is_new:
                cost, found = self._solve()
            is_new = is_new or turn == 0
            is_near = cost - best <= CLOSE * cost
            if is_count:
                is_near = math.ceil(best - WHOLE) >= math.ceil(cost - WHOLE)
            if is_near or (not is_new and (places == FINE or self._looked >= MOST_PLACES)):
                break
            places = (
                FINE if (not is_new or places == FINE) and self._looked < MOST_PLACES else ROUGH
            )
            share = HOLD if is_new else 0.0
            prices, calls = (share * a + (1 - share) * b for a, b in zip(held, found, strict=True))
            asked = prices, calls
        return max(0.0, best * (1 - ROUNDING))

    def _first_prices(self) -> Floats:
        """Return prices at which a board is worth its cost where it is filled with one part."""
        prices = np.full(len(self._cover.wanted), np.inf)
        for giver, cost in zip(self._cover.givers, self._cover.costs, strict=True):
            each = cost / np.maximum(1, giver.copies)
            prices[giver.parts] = np.minimum(prices[giver.parts], each)
        return np.where(np.isfinite(prices) & (self._cover.wanted > 0), prices, 0.0)

    def _look(self, prices: Floats, calls: Floats, places: int) -> tuple[float, bool]:
        """Return the best bound at prices or a share of them, and whether a filling is new."""
        cover, is_new = self._cover, False
        worths, left = np.zeros(len(cover.givers)), cover.costs.copy()
        for call, (boards, _) in zip(calls, cover.least, strict=True):
            left -= call * boards
        for b, giver in enumerate(cover.givers):
            filling: Filling = ()
            if len(giver.parts):
                worths[b], filling, looked = giver.dearest(prices, left[b], places)
                self._looked += looked
            if worths[b] > left[b] and (b, filling) not in self._known:
                self._known[b, filling] = None
                is_new = True
        called = sum(call * count for call, (_, count) in zip(calls, cover.least, strict=True))
        shares = left / np.maximum(worths, TINY)
        shares = np.append(1.0, shares[(shares > 0) & (shares < 1)])
        over = np.minimum(0.0, left - shares[:, None] * worths).sum(axis=1)
        bounds = called + shares * (prices @ cover.wanted) + over
        return float(bounds.max()), is_new

    def _solve(self) -> tuple[float, tuple[Floats, Floats]]:
        """Return the programme's cost, the prices of parts, and of a board of each set."""
        from scipy import optimize, sparse

        cover, columns = self._cover, list(self._known)
        parts, boards, sets = len(self._parts), len(cover.givers), len(cover.least)
        rows, at, values = [], [], []
        for j, (b, filling) in enumerate(columns):
            entries = [(self._row[part], -count) for part, count in filling if part in self._row]
            entries.append((parts + b, 1))
            entries += [
                (parts + boards + s, -1) for s, (holders, _) in enumerate(cover.least) if holders[b]
            ]
            for row, value in entries:
                rows.append(row)
                at.append(j)
                values.append(float(value))
        spare = np.concatenate([np.arange(parts), parts + boards + np.arange(sets)])
        rows += spare.tolist()
        at += (len(columns) + np.arange(len(spare))).tolist()
        values += [-1.0] * len(spare)
        shape = (parts + boards + sets, len(columns) + len(spare))
        matrix = sparse.csr_array((values, (rows, at)), shape=shape)
        costs = np.concatenate(
            [[cover.costs[b] for b, _ in columns], np.full(len(spare), self._dear)]
        )
        limits = np.concatenate(
            [-cover.wanted[self._parts], np.ones(boards), [-count for _, count in cover.least]]
        )
        # Typed as for dense rows alone; sparse ones are taken too.
        found = optimize.linprog(  # type: ignore[call-overload]
            costs, matrix, limits, bounds=(0, None), method="highs-ds"
        )
        duals = -found.ineqlin.marginals
        prices = np.zeros(len(cover.wanted))
        prices[self._parts] = np.maximum(0.0, duals[:parts])
        return float(found.fun), (prices, np.maximum(0.0, duals[parts + boards :]))
