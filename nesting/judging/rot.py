"""How rot lies in the pieces of a member: nobody knows before they are off, so it is drawn by lot.

However much is rotten, it may lie scattered in short stretches, some pieces sound all through; or
every piece may have its share of it; or few pieces may have it all. Parts come out of one such boat
and not out of the next, so a chance told by one of the manners alone claims to know what nobody
does. All three are drawn as often (common practice, no source) until pieces are recorded: then each
as often as what was found is likely by it (Bayes' rule).
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np

from nesting.judging.old_boat import Member
from nesting.judging.yields import ROT_MM

LOST_OF_BAD = 0.75
"""Share of a bad piece that rot takes where few pieces have it all (common practice, no source)."""

LEAST_CHANCE = 0.05
"""No manner foretells surer than so whether a piece is sound all through: a small patch is passed
over, or one recorded that nobody reckoned with (common practice, no source)."""


class Manner(StrEnum):
    """How rot lies in a boat."""

    SCATTERED = "scattered"
    EVERYWHERE = "in every piece"
    GATHERED = "in few pieces"


def bad_share(sound: float) -> float:
    """Return what share of the pieces is bad where few of them have all the rot.

    >>> bad_share(0.85), bad_share(0.1)
    (0.2, 1.0)
    """
    return min(1.0, round((1.0 - sound) / LOST_OF_BAD, 12))


def whole_chances(member: Member, sound: float) -> tuple[float, ...]:
    """Return how likely a piece is sound all through, by each manner in its order."""
    scattered = sound ** _stretches(member)
    plain = (scattered, 0.0, 1.0 - bad_share(sound))
    return tuple(min(1.0 - LEAST_CHANCE, max(LEAST_CHANCE, one)) for one in plain)


def likely_manners(chances: Sequence[float], whole: int, pieces: int) -> tuple[float, ...]:
    """Return how likely each manner is where so many of the pieces found are sound all through.

    >>> [round(one, 2) for one in likely_manners((0.3, 0.05, 0.8), 9, 10)]
    [0.0, 0.0, 1.0]
    >>> [round(one, 2) for one in likely_manners((0.3, 0.05, 0.8), 0, 0)]
    [0.33, 0.33, 0.33]
    """
    likely = [one**whole * (1.0 - one) ** (pieces - whole) for one in chances]
    return tuple(one / sum(likely) for one in likely)


def manner_drawn(lot: float, likely: Sequence[float] | None) -> Manner:
    """Return the manner at a place from 0 to 1 among all, each as wide as it is likely."""
    wide = np.cumsum(likely if likely is not None else [1.0 / len(Manner)] * len(Manner))
    return list(Manner)[min(int(np.searchsorted(wide, lot, "right")), len(Manner) - 1)]


def rotten(
    member: Member, manner: Manner, chance: np.random.Generator
) -> list[tuple[float, float]]:
    """Return the stretches of one piece that are rotten, from and to, mm along it."""
    if member.sound >= 1.0:
        return []
    if manner is Manner.SCATTERED:
        return _scattered(member, chance)
    if manner is Manner.EVERYWHERE:
        return _its_share(member, chance)
    return _bad_end(member, chance)


def _stretches(member: Member) -> int:
    return max(1, round(member.length_mm / ROT_MM))


def _scattered(member: Member, chance: np.random.Generator) -> list[tuple[float, float]]:
    count = _stretches(member)
    step = member.length_mm / count
    is_rotten = chance.random(count) >= member.sound
    return [(place * step, (place + 1) * step) for place in np.flatnonzero(is_rotten)]


def _its_share(member: Member, chance: np.random.Generator) -> list[tuple[float, float]]:
    """Return a piece's share, in stretches alike, anywhere along it."""
    lost = (1.0 - member.sound) * member.length_mm
    count = max(1, round(lost / ROT_MM))
    step = lost / count
    lows = np.sort(chance.uniform(0.0, member.length_mm - lost, count)) + step * np.arange(count)
    return [(float(low), float(low) + step) for low in lows]


def _bad_end(member: Member, chance: np.random.Generator) -> list[tuple[float, float]]:
    """Return what a bad piece loses, from one of its ends; of others nothing."""
    bad = bad_share(member.sound)
    is_bad, is_first = chance.random() < bad, chance.random() < 0.5
    if not is_bad:
        return []
    lost = (1.0 - member.sound) / bad * member.length_mm
    return [(0.0, lost)] if is_first else [(member.length_mm - lost, member.length_mm)]
