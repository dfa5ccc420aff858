"""Which parts each board may give, and what share of it each takes at the least."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.engine.proof.bands import Heights, shares_of_bands
from nesting.engine.proof.chords import Chords, chords_of
from nesting.engine.proof.common_points import points_on, shares_of_points
from nesting.engine.proof.least_wood import Giver
from nesting.engine.proof.shares import TINY, kept, lines_of, shares_of
from nesting.engine.wood.berths import Berths, GrownWood
from nesting.engine.wood.room_bounds import Possible, free_region
from nesting.grain import GrainPath
from nesting.need import Holes

MOST_GROWN = 64
"""Pairs of part and kind of board of grown grain; each takes a tenth of a second."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Givers:
    """Boards as givers of parts: by areas and, where the grain is straight, by their lines."""

    def __init__(self, possible: Possible) -> None:
        self._possible = possible
        self._copies = np.array([float(need.quantity) for need in possible.needs])
        self._highest = max(
            (max(possible.widths(b)) for b in range(len(possible.boards))), default=0.0
        )
        self._chords: dict[tuple[int, float], Chords] = {}
        self._heights: dict[tuple[int, float], Heights] = {}
        self._grown = self._grown_shares()

    def all(self) -> list[Giver]:
        """Return every board."""
        return [self._giver(board) for board in range(len(self._possible.boards))]

    def _giver(self, board: int) -> Giver:
        may = self._possible.may[:, board]
        rows = [np.empty((0, len(may)))]
        for level in np.unique(self._possible.levels[may]):
            users = np.flatnonzero(may & (self._possible.levels <= level))
            rows += [self._spread(shares, users) for shares in self._shares(board, level, users)]
        if board in self._grown:
            rows.append(self._grown[board])
        shares = kept(np.concatenate(rows), self._copies)
        largest = shares.max(axis=0, initial=0.0)
        fit = np.floor(1 / np.maximum(largest, TINY) + TINY)
        copies = np.minimum(np.where(largest > 0, fit, np.inf), self._copies) * may
        parts = np.flatnonzero(copies > 0)
        return Giver(parts, copies[parts].astype(np.int64), np.ascontiguousarray(shares[:, parts]))

    def _shares(self, board: int, level: int, users: Ints) -> list[Floats]:
        """Return rows (r, u) of shares for parts that tolerate no more than a level."""
        possible, rules = self._possible, self._possible.rules
        room = possible.room(board, level)
        found = [possible.areas[users][None] / room] if room > 0 else []
        grain = possible.boards[board].grain
        if not grain.is_straight:
            return found
        judge = next(need for need in possible.needs if list(Holes).index(need.holes) == level)
        region = free_region(possible.boards[board], judge, rules)
        angle = grain.angles_deg[0]
        chords = [self._chords_of(int(need), angle) for need in users]
        found.append(shares_of(chords, lines_of(region), rules.part_gap_mm))
        heights = [self._heights_of(int(need), angle) for need in users]
        found.append(shares_of_bands(heights, region, rules.part_gap_mm))
        return found

    def _grown_shares(self) -> dict[int, Floats]:
        """Return rows of shares (r, n) of the boards of grown grain, those alike at once.

        What is free on any of boards of one outline and grain is free wood for all of them.
        """
        alike: dict[tuple[bytes, GrainPath], list[int]] = {}
        for b, board in enumerate(self._possible.boards):
            if not board.grain.is_straight:
                alike.setdefault((board.shape.wkb, board.grain), []).append(b)
        users = {
            key: np.flatnonzero(self._possible.may[:, boards].any(axis=1))
            for key, boards in alike.items()
        }
        if sum(map(len, users.values())) > MOST_GROWN:
            return {}
        found = {}
        for key, boards in alike.items():
            shape = self._possible.boards[boards[0]].shape
            wood = GrownWood(shape, key[1])
            berths = [self._berths(wood, int(need), boards) for need in users[key]]
            shares = self._spread(shares_of_points(berths, points_on(shape))[None], users[key])
            found.update(dict.fromkeys(boards, shares))
        return found

    def _berths(self, wood: GrownWood, need: int, boards: list[int]) -> list[Berths]:
        possible = self._possible
        wanted, gap = possible.needs[need], possible.rules.part_gap_mm
        free = [free_region(possible.boards[b], wanted, possible.rules) for b in boards]
        return wood.berths(wanted.outline, shapely.union_all(free), gap)

    def _chords_of(self, need: int, angle_deg: float) -> Chords:
        key = (need, angle_deg)
        if key not in self._chords:
            outline = self._possible.needs[need].outline
            self._chords[key] = chords_of(outline, angle_deg, self._highest)
        return self._chords[key]

    def _heights_of(self, need: int, angle_deg: float) -> Heights:
        key = (need, angle_deg)
        if key not in self._heights:
            outline, gap = self._possible.needs[need].outline, self._possible.rules.part_gap_mm
            self._heights[key] = Heights(outline, angle_deg, gap, self._highest)
        return self._heights[key]

    def _spread(self, shares: Floats, users: Ints) -> Floats:
        spread = np.zeros((len(shares), len(self._copies)))
        spread[:, users] = shares
        return spread
