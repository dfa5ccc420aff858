"""Bounds that no cutting plan beats: the most value that can be placed, the least wood opened.

Quick ones relax the question to areas. Parts grown by half the gap between neighbours never
overlap, so their areas add up to no more than the room on a board, for parts that tolerate no
more than clear wood, plugged holes or hidden faces each for itself. Copies are whole where the
problem is small enough, and boards are opened whole; where the count of branches ends the work
early, the solver's own bound is taken (``relaxed``). The thorough one asks what share of each board
the parts take that any plan of such value has to place (``givers``), and for the cheapest boards so
filled (``least_wood``); that takes seconds.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from functools import cached_property

import numpy as np

from nesting.engine.proof.givers import Givers
from nesting.engine.proof.least_wood import Giver, least_wood
from nesting.engine.proof.relaxed import MOST_EXACT, SLACK, Floats, Relaxed
from nesting.engine.stop import Spell
from nesting.engine.wood.room_bounds import Possible
from nesting.ideal import Ideal, Limit
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board

NEAR = 0.85
"""In larger problems boards count whole only where the bound by fractions of boards is at least
this share of the wood opened: else it adds 1 % and takes seconds (full demo)."""

FEW_PAIRS = 300
"""Pairs of need and board up to which boards always count whole: tenths of a second."""

MOSTLY = 0.5
"""Fillings are only asked for if the parts that have to be placed are this share of the value."""

LOADING_SECONDS = 0.5
"""What loading the solver takes, about: with less time left none is sought that needs it."""


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
    def _relaxed(self) -> Relaxed:
        return Relaxed(self._possible, self._spell)
