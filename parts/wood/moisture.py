"""Shrinking and swelling across the grain, from the moisture at cutting to what it comes to.

Along the grain wood hardly moves and nothing is allowed for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from nesting.errors import PartError
from parts.wood.timber import FIBRE_SATURATION_PERCENT, Species

SOURCE = "USDA Wood Handbook FPL-GTR-190 (2010), eq. 13-3 (its print from memory)"
"""Of the equation; where a wood's total shrinkage stands is said by its row of the table."""

INSTALLED_PERCENT = 15.0
WETTEST_BUILT_IN_PERCENT = 18.0
"""Planking and decking when installed: 15 % on average, at least 12, at most 18 (US Forest
Products Laboratory report R1606, 1945). What they come to in service is another matter: afloat
wood takes up water, above the deck it follows the air."""


@dataclass(frozen=True)
class Movement:
    """Change of one dimension, mm, least (quarter-sawn) and most (flat-sawn); + is swelling."""

    radial_mm: float
    tangential_mm: float

    @property
    def most_mm(self) -> float:
        """The larger of the two, with its sign."""
        return max(self.radial_mm, self.tangential_mm, key=abs)


def share_moved(shrinkage_percent: float, from_percent: float, to_percent: float) -> float:
    """Return the change of a dimension over the dimension itself; negative is shrinking.

    Parameters
    ----------
    shrinkage_percent
        Total shrinkage in that direction, green to oven dry, of the green dimension.
    from_percent, to_percent
        Moisture in per cent of the dry weight; above fibre saturation nothing moves.

    References
    ----------
    USDA Wood Handbook FPL-GTR-190 (2010), eq. 13-3: dD / D = (MF - MI) / (3000/S - 30 + MI).

    Examples
    --------
    >>> round(share_moved(7.6, 10, 9), 5)
    -0.00267
    """
    if not 0 < shrinkage_percent < 50:
        raise PartError(f"a shrinkage of {shrinkage_percent:g} %; must be over 0 and below 50")
    if min(from_percent, to_percent) < 0:
        raise PartError(f"moisture of {min(from_percent, to_percent):g} %; must be 0 or more")
    start, end = (min(m, FIBRE_SATURATION_PERCENT) for m in (from_percent, to_percent))
    return (end - start) / (3000 / shrinkage_percent - FIBRE_SATURATION_PERCENT + start)


def allowance(
    finished_mm: float, wood: Species, from_percent: float, to_percent: float
) -> Movement | None:
    """Return how a piece moves that is to have a dimension in service; None without figures.

    Parameters
    ----------
    finished_mm
        Dimension across the grain in service. A shrinking piece is cut larger by as much as
        it will lose, a swelling one smaller.
    from_percent, to_percent
        Moisture at cutting, and what it comes to.
    """
    radial, tangential = wood.shrinkage_radial_percent, wood.shrinkage_tangential_percent
    if radial is None or tangential is None:
        return None
    shares = [share_moved(total, from_percent, to_percent) for total in (radial, tangential)]
    return Movement(*(finished_mm * share / (1 + share) for share in shares))
