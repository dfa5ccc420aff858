"""What became of the opened wood, what is to be plugged, and what must still be bought.

The shares of an opened board add up to its area exactly: each is measured on what the ones
before it left over, in this order: parts, offcuts kept, defects, kerf and trim, scrap. In
volume one more share is told apart: wood planed off the parts' faces.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, fields

from nesting.buying import ToBuy, buy_list
from nesting.nest import Bung, CuttingPlan, Nest
from nesting.offcuts import Offcut, offcuts_beside, sawn_about
from nesting.overlay import united, without
from nesting.rules import Rules
from nesting.strength import PieceStrength, piece_strength


@dataclass(frozen=True)
class Shares:
    """How an area (mm2) or a volume (mm3) of opened wood was used."""

    parts: float = 0.0
    offcuts: float = 0.0
    defects: float = 0.0
    kerf_and_trim: float = 0.0
    planed: float = 0.0
    scrap: float = 0.0

    @property
    def opened(self) -> float:
        """All of it."""
        return float(sum(getattr(self, field.name) for field in fields(self)))

    @property
    def scrap_percent(self) -> float:
        """100 x (opened - parts - offcuts kept) / opened; 0 if nothing was opened."""
        return 100.0 * (1 - (self.parts + self.offcuts) / self.opened) if self.opened else 0.0

    def percent(self, share: str) -> float:
        """Return one share in per cent of all opened."""
        return 100.0 * float(getattr(self, share)) / self.opened if self.opened else 0.0

    def __add__(self, other: Shares) -> Shares:
        return Shares(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True)
class BoardAccount:
    """The split of one opened board, its offcuts and bungs, and what is left of each piece.

    ``pieces`` stand in the order of the placements.
    """

    board_name: str
    area: Shares
    volume: Shares
    offcuts: tuple[Offcut, ...]
    bungs: tuple[Bung, ...]
    pieces: tuple[PieceStrength, ...]

    @property
    def scrap_percent(self) -> float:
        """Of the board's area."""
        return self.area.scrap_percent


@dataclass(frozen=True)
class Account:
    """The account of a whole cutting plan."""

    boards: tuple[BoardAccount, ...]
    to_buy: tuple[ToBuy, ...]

    @property
    def area(self) -> Shares:
        """All opened boards together."""
        return sum((board.area for board in self.boards), Shares())

    @property
    def volume(self) -> Shares:
        """All opened boards together."""
        return sum((board.volume for board in self.boards), Shares())

    @property
    def pieces(self) -> tuple[PieceStrength, ...]:
        """What is left of every placed piece."""
        return tuple(piece for board in self.boards for piece in board.pieces)

    @property
    def bung_counts(self) -> dict[float, int]:
        """How many bungs of each diameter, mm, smallest first."""
        counts = Counter(bung.diameter_mm for board in self.boards for bung in board.bungs)
        return dict(sorted(counts.items()))


def account_for(plan: CuttingPlan, rules: Rules) -> Account:
    """Return the account of a plan."""
    boards = tuple(account_board(nest, rules) for nest in plan.nests)
    return Account(boards, buy_list(plan.unplaced, rules))


def account_board(nest: Nest, rules: Rules) -> BoardAccount:
    """Return the account of one opened board."""
    board = nest.board
    polygons = [placement.polygon for placement in nest.placements]
    parts = united(polygons)
    defects = united([keep_out.polygon for keep_out in board.keep_outs])
    sawn = sawn_about(polygons, rules)
    rest = without(board.shape, parts)
    offcuts = offcuts_beside(sawn, board, rules)
    sound = without(without(rest, united([offcut.shape for offcut in offcuts])), defects)
    left = without(sound, sawn)
    kept = sum(offcut.shape.area for offcut in offcuts)
    sided = sum(p.polygon.area * p.need.outline.siding_mm for p in nest.placements)
    area = Shares(
        parts=parts.area,
        offcuts=kept,
        defects=board.area_mm2 - parts.area - kept - sound.area,
        kerf_and_trim=sound.area - left.area,
        scrap=left.area,
    )
    thickness = board.thickness_mm
    volume = Shares(
        parts=sided,
        offcuts=area.offcuts * thickness,
        defects=area.defects * thickness,
        kerf_and_trim=area.kerf_and_trim * thickness,
        planed=area.parts * thickness - sided,
        scrap=area.scrap * thickness,
    )
    pieces = tuple(piece_strength(placement, board, rules) for placement in nest.placements)
    return BoardAccount(board.name, area, volume, offcuts, nest.bungs(rules), pieces)
