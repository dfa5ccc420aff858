"""Which placed pieces to weigh before sawing: those out of the ordinary for their cross grain.

Every curved piece sawn of straight wood has cross grain, so to name them all would name none.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import median

from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.strength import PieceStrength

STEEP = 0.5
"""A piece is weighed only if its grain leaves less than this of its bending strength: steeper than
about 1 in 5, the steepest slope that the handbook's table prints (:mod:`parts.cross_grain`)."""

ORDINARY = 2 / 3
"""Out of the ordinary is what keeps less than this share of what its like keep (common practice,
no source)."""

FEW = 3
"""Fewer pieces than this say nothing of what is ordinary: then being steep is enough."""

WORDS = (
    "Cross grain leaves these less than half of straight-grained bending strength, and less than "
    "two thirds of what is usual among the placed pieces of their family, if there are three or "
    "more; grown ones by their grown grain among grown ones, planks not at all"
)
"""What the pieces named have in common, for the report."""


def out_of_the_ordinary(
    plan: CuttingPlan, pieces: Iterable[PieceStrength]
) -> tuple[PieceStrength, ...]:
    """Return the pieces whose cross grain is out of the ordinary, the worst of each part.

    Those that keep least come first.

    Parameters
    ----------
    pieces
        Of the plan's placements, in any order.
    """
    need_of = {p.need.part: p.need for nest in plan.nests for p in nest.placements}
    groups: dict[tuple[str, bool], list[PieceStrength]] = defaultdict(list)
    for piece in pieces:
        if not need_of[piece.part].is_plank:
            groups[_kind(need_of[piece.part])].append(piece)
    found: dict[str, PieceStrength] = {}
    steep = [piece for group in groups.values() for piece in _steep(group)]
    for piece in sorted(steep, key=lambda piece: (piece.left_by_grain, piece.piece)):
        found.setdefault(piece.part, piece)
    return tuple(found.values())


def _kind(need: Need) -> tuple[str, bool]:
    """Return what a piece is held against: others of its family, grown or sawn as it is."""
    return need.family, need.outline.grain.is_straight


def _steep(group: Sequence[PieceStrength]) -> list[PieceStrength]:
    usual = median(piece.left_by_grain for piece in group)
    limit = min(STEEP, ORDINARY * usual) if len(group) >= FEW else STEEP
    return [piece for piece in group if piece.left_by_grain < limit]
