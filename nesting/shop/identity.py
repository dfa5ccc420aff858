"""Short words that tell a nest, and a plan, from every other: old paper is known by them.

They go by boards and what lies on them alone: another plan that leaves a board as it was leaves
its word as it was.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace

from nesting.nest import Nest, Placement
from nesting.sheets_kept import digest_of

LENGTH = 6
"""Letters and figures of a word: of 10,000 sheets two are alike with a chance of one in twenty."""


def sheet_identity(nest: Nest) -> str:
    """Return the word of a board and what lies on it."""
    return _word(_digest(nest))


def plan_identity(nests: Sequence[Nest]) -> str:
    """Return the word of a whole plan."""
    return identities(nests)[0]


def identities(nests: Sequence[Nest]) -> tuple[str, tuple[str, ...]]:
    """Return the word of a whole plan, and those of its sheets."""
    digests = [_digest(nest) for nest in nests]
    return _word(digest_of(digests)), tuple(map(_word, digests))


def _digest(nest: Nest) -> str:
    """Return a key of a nest; a whole number means the same as one with a point."""
    return digest_of(replace(nest, placements=tuple(map(_as_told, nest.placements))))


def _as_told(placement: Placement) -> Placement:
    """Return a placement as paper tells it: whatever was sawn of its part since changes nothing."""
    need = placement.need
    whole = replace(need, quantity=need.in_all or need.quantity, in_all=0, still=())
    place = float(placement.x_mm), float(placement.y_mm), float(placement.angle_deg)
    return Placement(whole, *place, placement.is_turned_over, placement.number)


def _word(digest: str) -> str:
    """Return capitals and 2 to 7, easily told apart when read aloud (RFC 4648, base 32)."""
    return base64.b32encode(bytes.fromhex(digest))[:LENGTH].decode()
