"""Where a section turns far more quickly than just beside it: at a knuckle between bent panels.

Of all its turning that may be less than half, so its part of the whole does not tell it from a hard
bilge. But a bilge gets harder towards its middle, and a knuckle does not: right beside it the
panels bend as they do elsewhere. Only turns that a bilge makes are looked at, from the bottom into
the side: hollows above a garboard turn as quickly on ships that have no knuckle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points

QUICKER, IN_THE_MEAN = 1.6, 2.4
"""How many times as quickly a section must turn there as at the two points to either side: at each
of four stations in a row, and in their geometric mean. Exact tables of round hulls reach 1.2 at
four in a row, with 3 mm of noise 1.5; knuckles of 15 to 45 degrees between bent panels 3 to 10."""

LEAST_DEG = 12.0
"""A knuckle that turns by less is not told from a bend."""

BESIDE = 2
"""Points to either side that are looked at."""


@dataclass(frozen=True, eq=False)
class Broken:
    """The two points between or at which a section turns sharply, and how much it turns there."""

    low: Points
    high: Points
    turn_deg: float
    share: float
    """Of all that it turns."""
    times: float = 1.0
    """As quickly as beside it."""


def quick_turn(section: Points, step: float) -> Broken | None:
    """Return where a section, (n, 2), turns far more quickly than beside it.

    Parameters
    ----------
    step
        To which its figures were read, mm: what that can turn is no turn.
    """
    runs = np.diff(section, axis=0)
    lengths = np.hypot(*runs.T)
    turns = np.degrees(np.diff(np.unwrap(np.arctan2(runs[:, 1], runs[:, 0]))))
    unsure = np.degrees(step / lengths[:-1] + step / lengths[1:])
    reach = (lengths[:-1] + lengths[1:]) / 2
    quickness = np.abs(turns) / reach
    best, found = QUICKER, None
    for first in range(len(turns) - 1):
        # A knuckle lies at one point, or between two that share its turn.
        for last in (first, first + 1):
            beside = (
                quickness[max(first - BESIDE, 0) : first],
                quickness[last + 1 : last + 1 + BESIDE],
            )
            if not all(len(side) for side in beside):
                continue
            turn = float(turns[first : last + 1].sum() - unsure[first : last + 1].max())
            most = max(float(side.max()) for side in beside)
            times = turn / float(reach[first : last + 1].sum()) / max(most, 1e-9)
            if turn > LEAST_DEG and times > best:
                share = turn / float(np.abs(turns).sum())
                best, found = (
                    times,
                    Broken(section[first + 1], section[last + 1], turn, share, times),
                )
    return found


def is_knuckle(run: list[Broken]) -> bool:
    """Whether what turns quickly at stations in a row is a knuckle."""
    return bool(np.log([one.times for one in run]).mean() > np.log(IN_THE_MEAN)) if run else False
