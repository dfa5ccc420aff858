"""Which placed pieces to weigh before sawing: those out of the ordinary for their cross grain.

Every curved piece sawn of straight wood has cross grain, so to name them all would name none;
how many others are as steep, and the worst of them, is told all the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import median

from nesting.accounts.strength import PieceStrength
from nesting.nest import CuttingPlan

STEEP = 0.5
"""A piece is weighed only if its grain leaves less than this of its bending strength: steeper than
about 1 in 5, the steepest slope in the handbook's table (:mod:`parts.wood.cross_grain`)."""

ORDINARY = 2 / 3
"""Out of the ordinary is what keeps less than this share of what its like keep (common practice,
no source)."""

FEW = 3
"""Fewer pieces than this say nothing of what is ordinary. A family of fewer is held against all
that are sawn or grown as it is; where those are fewer too, being steep is enough."""

WORDS = (
    "Cross grain leaves these less than half of straight-grained bending strength, and less than "
    "two thirds of what is usual in their family, or among all pieces where it has fewer than "
    "three; grown ones by their grown grain and among grown ones, strakes not at all"
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
    families: dict[tuple[str, bool], list[PieceStrength]] = defaultdict(list)
    kinds: dict[bool, list[PieceStrength]] = defaultdict(list)
    for piece in pieces:
        need = need_of[piece.part]
        if not need.is_plank and not piece.is_sheet:
            is_sawn = need.outline.grain.is_straight
            families[need.family, is_sawn].append(piece)
            kinds[is_sawn].append(piece)
    steep = [
        piece
        for (_, is_sawn), group in families.items()
        for piece in _steep(group, group if len(group) >= FEW else kinds[is_sawn])
    ]
    found: dict[str, PieceStrength] = {}
    for piece in sorted(steep, key=lambda piece: (piece.left_by_grain, piece.piece)):
        found.setdefault(piece.part, piece)
    return tuple(found.values())


def steep_as_usual(plan: CuttingPlan, pieces: Sequence[PieceStrength]) -> tuple[PieceStrength, ...]:
    """Return the pieces, the worst first, that grain leaves less than half, as it does their like.

    They are in no part that :func:`out_of_the_ordinary` names; strakes are left out here too.
    """
    named = {piece.part for piece in out_of_the_ordinary(plan, pieces)}
    planks = {p.need.part for nest in plan.nests for p in nest.placements if p.need.is_plank}
    steep = [p for p in pieces if p.left_by_grain < STEEP and p.part not in named | planks]
    return tuple(sorted(steep, key=lambda piece: (piece.left_by_grain, piece.piece)))


def _steep(group: Sequence[PieceStrength], like: Sequence[PieceStrength]) -> list[PieceStrength]:
    """Return the pieces of a group that keep too little, and less than what they are like."""
    usual = median(piece.left_by_grain for piece in like)
    limit = min(STEEP, ORDINARY * usual) if len(like) >= FEW else STEEP
    return [piece for piece in group if piece.left_by_grain < limit]
