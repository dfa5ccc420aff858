"""How placed pieces move across the grain until their wood has come to some moisture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.nest import CuttingPlan, Placement
from nesting.stock.board import Board
from parts.wood import moisture
from parts.wood.moisture import Movement, allowance
from parts.wood.timber import Species, UnknownSpeciesError, species

SOURCES = (
    f"Movement: {moisture.SOURCE}, with the total shrinkage told above for each wood. The lesser "
    "figure is for quarter-sawn wood, the greater for flat-sawn; along the grain nothing is "
    "allowed.",
    f"Moisture: {moisture.INSTALLED_PERCENT:g} % is the average of planking and decking when "
    "installed, 12 to 18 % allowed (US Forest Products Laboratory report R1606, 1945). What a "
    "piece comes to in service depends on where it lies: give that with --moisture.",
)


@dataclass(frozen=True)
class PieceMovement:
    """How one placed piece moves from the moisture at cutting to what it comes to.

    ``size_mm`` is its greatest size across the grain in its face; ``across`` and ``thick`` say
    by how much that and its siding will have changed. A piece that shrinks is cut so much
    larger.
    """

    piece: str
    board: str
    species: str
    from_percent: float
    size_mm: float
    across: Movement
    thick: Movement

    @property
    def most_mm(self) -> float:
        """How much its face or its thickness changes at the most, either way."""
        return max(abs(self.across.most_mm), abs(self.thick.most_mm))


@dataclass(frozen=True)
class Movements:
    """Pieces that move, the most first, and how many nothing can be said of.

    ``unmeasured`` counts pieces on boards whose moisture was never taken, ``no_figures`` those
    of woods whose shrinkage the table does not hold.
    """

    pieces: tuple[PieceMovement, ...]
    unmeasured: int
    no_figures: int

    @property
    def woods(self) -> tuple[Species, ...]:
        """The woods of the pieces, by name: with their shrinkage, its source and standing."""
        return tuple(species(name) for name in sorted({piece.species for piece in self.pieces}))


def movements(plan: CuttingPlan, to_percent: float) -> Movements:
    """Return how every placed piece of a plan moves."""
    found, unmeasured, no_figures = list[PieceMovement](), 0, 0
    for nest in plan.nests:
        for placement in nest.placements:
            if nest.board.moisture_percent is None:
                unmeasured += 1
                continue
            piece = _movement(placement, nest.board, nest.board.moisture_percent, to_percent)
            if piece is None:
                no_figures += 1
            else:
                found.append(piece)
    found.sort(key=lambda piece: (-piece.most_mm, piece.piece))
    return Movements(tuple(found), unmeasured, no_figures)


def _movement(
    placement: Placement, board: Board, from_percent: float, to_percent: float
) -> PieceMovement | None:
    try:
        wood = species(board.species)
    except UnknownSpeciesError:
        return None
    outline = placement.need.outline
    size = _across_grain_mm(placement)
    moved = [allowance(s, wood, from_percent, to_percent) for s in (size, outline.siding_mm)]
    across, thick = moved
    if across is None or thick is None:
        return None
    return PieceMovement(
        placement.label, board.name, board.species, from_percent, size, across, thick
    )


def _across_grain_mm(placement: Placement) -> float:
    """Return the greatest size of a piece square to the line between its grain's ends."""
    outline = placement.need.outline
    start, end = np.asarray(outline.grain.points)[[0, -1]]
    along = (end - start) / np.hypot(*(end - start))
    ring = np.asarray(outline.shape.exterior.coords)
    return float(np.ptp(ring @ np.array([-along[1], along[0]])))
