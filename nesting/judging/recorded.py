"""What recorded boards teach about the pieces of their member that are still on her.

What the file supposes is held against what was found, and the two are weighed: a supposed share
counts as so many trials as would leave it as uncertain as it is said to be (for a share p that is
known to a standard deviation d, p (1 - p) / d^2 of them: the spread of a share of independent
trials). With every trial found the mean moves towards what is found, and what is left of the doubt
shrinks with the root of the trials. Sizes are not weighed but drawn: a piece to come is as one of
those found, or as the file says, by their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.judging.old_boat import Member
from nesting.judging.rot import likely_manners, whole_chances
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind

STATE_DOUBT, SOUND_DOUBT = 0.1, 0.07
"""Standard deviations, from boat to boat, of the shares of fasteners that draw and of wood that is
sound: nobody knows them before the first plank is off (common practice, no source)."""

SUPPOSED_PIECES = 2.0
"""Sizes and spacings in the file count as so many pieces: somebody measured one or two (common
practice, no source)."""

FASTENED = frozenset({KeepOutKind.METAL, KeepOutKind.HOLE, KeepOutKind.RECESS})
LOST = frozenset({KeepOutKind.ROT, KeepOutKind.SPLIT})

LEAST_SHARE = 0.05
"""A share supposed nearer to none or all than so is doubted as if it were this."""


@dataclass(frozen=True)
class Leaning:
    """A share as supposed and as found, and what is reckoned with in its place.

    >>> one = Leaning(0.8, 0.07, 0.96, 33.0)
    >>> round(one.trials), round(one.mean, 3), round(one.doubt, 3)
    (33, 0.88, 0.049)
    """

    supposed: float
    supposed_doubt: float
    found: float
    found_trials: float

    @property
    def trials(self) -> float:
        """How many trials what is supposed counts as."""
        share = min(1.0 - LEAST_SHARE, max(LEAST_SHARE, self.supposed))
        return share * (1.0 - share) / self.supposed_doubt**2

    @property
    def mean(self) -> float:
        """Supposed and found, weighed by their trials."""
        total = self.trials + self.found_trials
        return (self.trials * self.supposed + self.found_trials * self.found) / total

    @property
    def kept(self) -> float:
        """Share of the doubt that is left."""
        return float((self.trials / (self.trials + self.found_trials)) ** 0.5)

    @property
    def doubt(self) -> float:
        """Standard deviation that is left."""
        return self.supposed_doubt * self.kept


@dataclass(frozen=True)
class Recorded:
    """What was found on the recorded pieces of a member.

    Attributes
    ----------
    sizes
        Length, width and thickness of every piece, mm; no thickness of leaves.
    long_mm
        Length of all boards together: leaves each by themselves.
    lost_mm
        Of that, the length that rot and splits take, where they take all of the width.
    whole
        How many pieces have no rot and no split at all.
    fasteners, metal
        Holes, recesses and metal together, and metal alone.
    """

    sizes: tuple[tuple[float, float, float | None], ...]
    long_mm: float
    lost_mm: float
    whole: int
    fasteners: int
    metal: int

    @property
    def pieces(self) -> int:
        """How many pieces of the old boat they were."""
        return len(self.sizes)

    @property
    def sound(self) -> float:
        """Share of the wood that is sound."""
        return 1.0 - self.lost_mm / self.long_mm

    @property
    def metal_share(self) -> float:
        """Share of the fasteners that are still in, or were sheared off."""
        return self.metal / self.fasteners if self.fasteners else 0.0

    def sound_leaning(self, member: Member, stretch_mm: float) -> Leaning:
        """Return how the share of sound wood leans: a trial is a stretch."""
        return Leaning(member.sound, SOUND_DOUBT, self.sound, self.long_mm / stretch_mm)

    def metal_leaning(self, supposed: float) -> Leaning:
        """Return how the share of fasteners that leave metal leans: a trial is a fastener."""
        return Leaning(supposed, STATE_DOUBT, self.metal_share, self.fasteners)

    def times_as_many(self, a_metre: float) -> float:
        """Return how many fasteners to reckon with, of each that the file supposes."""
        if not a_metre:
            return 1.0
        supposed = SUPPOSED_PIECES * self.long_mm / self.pieces
        found = 1000.0 * self.fasteners / a_metre
        return (supposed + found) / (supposed + self.long_mm)


@dataclass(frozen=True)
class Learnt:
    """What recorded pieces of a member change in what the rest of them is drawn by.

    Attributes
    ----------
    a_metre
        Fasteners in a metre as the file supposes them.
    """

    member: Member
    recorded: Recorded
    sound: Leaning
    metal: Leaning
    a_metre: float

    @property
    def times(self) -> float:
        """How many fasteners are reckoned with for each that the file supposes."""
        return self.recorded.times_as_many(self.a_metre)

    @property
    def manners(self) -> tuple[float, ...]:
        """How likely rot lies in each manner, by how many pieces found are sound all through."""
        chances = whole_chances(self.member, self.sound.mean)
        return likely_manners(chances, self.recorded.whole, self.recorded.pieces)

    @property
    def share_of_found(self) -> float:
        """Share of the pieces to come that are as large as one of those found."""
        return self.recorded.pieces / (self.recorded.pieces + SUPPOSED_PIECES)

    def sound_off(self, off: float) -> float:
        """Return the share of sound wood where the whole boat's is off by so much."""
        return min(1.0, max(LEAST_SHARE, self.sound.mean + off * self.sound.kept))

    def metal_left(self, supposed: float, drawn: float) -> float:
        """Return a share of metal left, drawn by lot about the supposed one, as it leans."""
        leaning = self.metal.mean - self.metal.supposed
        return min(1.0, max(0.0, supposed + leaning + (drawn - supposed) * self.metal.kept))

    def sized(self, chance: np.random.Generator) -> Member:
        """Return the member with the sizes of one piece to come."""
        if chance.random() >= self.share_of_found:
            return self.member
        sizes = self.recorded.sizes
        long, wide, thick = sizes[int(chance.integers(len(sizes)))]
        return replace(
            self.member,
            length_mm=long, width_mm=wide, thickness_mm=thick or self.member.thickness_mm,
        )  # fmt: skip


def recorded_of(boards: Iterable[Board]) -> Mapping[str, Recorded]:
    """Return what was found, by member; leaves of one piece are one piece."""
    pieces = dict[str, dict[str, list[Board]]]()
    for board in boards:
        if board.member:
            pieces.setdefault(board.member, {}).setdefault(piece_of(board), []).append(board)
    return {member: _recorded(list(found.values())) for member, found in pieces.items()}


def piece_of(board: Board) -> str:
    """Return the name of the piece that a board was, or that it is a leaf of."""
    return board.name if board.leaf is None else board.name.rpartition("/")[0] or board.name


def _recorded(pieces: Sequence[Sequence[Board]]) -> Recorded:
    boards = [board for piece in pieces for board in piece]
    held = [keep_out for board in boards for keep_out in board.keep_outs
            if keep_out.kind in FASTENED]  # fmt: skip
    return Recorded(
        tuple(_size(piece[0]) for piece in pieces),
        sum(board.length_mm for board in boards),
        sum(_lost(board) for board in boards),
        sum(not any(map(_lost, piece)) for piece in pieces),
        len(held),
        sum(keep_out.kind is KeepOutKind.METAL for keep_out in held),
    )


def _size(board: Board) -> tuple[float, float, float | None]:
    thick = board.thickness_mm if board.leaf is None else None
    return board.length_mm, board.area_mm2 / board.length_mm, thick


def _lost(board: Board) -> float:
    """Return the length that is lost, a region that takes half of the width as half of its own."""
    wide = board.area_mm2 / board.length_mm
    lost = sum(_box(keep_out, wide) for keep_out in board.keep_outs if keep_out.kind in LOST)
    return min(lost, board.length_mm)


def _box(keep_out: KeepOut, wide_mm: float) -> float:
    low_x, low_y, high_x, high_y = keep_out.polygon.bounds
    return float((high_x - low_x) * min(1.0, (high_y - low_y) / wide_mm))
