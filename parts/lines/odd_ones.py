"""Finding the figures that no fair line could have: the loft's eye for a typing error.

A figure is odd if the fair function through all the *other* figures misses it by more than an
eighth of an inch, and by more than the others leave in doubt there. The second half is what
keeps a fair hull quiet: between wide stations or past a hard bilge a batten may well lie an inch
elsewhere, and nobody may call that an error.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nesting.units import MM_PER_INCH
from parts.curves import Points
from parts.lines.kriging import Kriging, Mask

EIGHTH_MM = MM_PER_INCH / 8
"""What a loftsman lets a batten be off: an eighth of an inch full size."""

SURE = 6.0
"""Standard deviations of doubt past which a figure is odd. Measured on fair hulls: boats reach 3.9
(two thousand figures of eighteen tables), a published ship with a hard bilge 5.2."""

FIRST_SIGHT = 4.0
"""Standard deviations past which a figure has no say in how stiff the batten is."""

HALF_WITHIN = 0.6745
"""Standard deviations within which half of all normal figures lie."""

ROUNDS = 3


def odd_ones(function: Kriging, mm: Points, sure: float = SURE) -> tuple[Mask, Kriging]:
    """Return which figures are odd, (n,) bool, and the fair function through the others.

    The worst is taken out first, as it makes its neighbours look odd too; what no longer is
    odd once the worse ones are out comes back in.

    Parameters
    ----------
    mm
        (n,) mm on the boat in one unit of each figure; 0 where it is beyond question.
    """
    none = np.zeros(len(function.figures), dtype=bool)
    # The stiffness is found without what looks odd at first sight, or it would suit that too.
    odd = _taken_out(_as_rough_as(function), mm, FIRST_SIGHT, none)
    for _ in range(ROUNDS):
        whole = replace(function, stiffness=function.without(odd).tuned().stiffness)
        before, odd = odd, _readmitted(whole, mm, _taken_out(whole, mm, sure, none), sure)
        if (odd == before).all():
            break
    return odd, whole.without(odd)


def _as_rough_as(function: Kriging) -> Kriging:
    """Return the function with the noise that half of its figures, left out, speak of."""
    off, doubt = function.left_out()
    rough = float(np.median(np.abs(off / doubt))) / HALF_WITHIN
    noise = function.stiffness.noise * max(1.0, rough)
    return replace(function, stiffness=replace(function.stiffness, noise=noise))


def _strangeness(function: Kriging, mm: Points) -> Points:
    """Return standard deviations each figure is off; 0 if off by less than an eighth."""
    off, doubt = function.left_out()
    return np.where(np.abs(off) * mm > EIGHTH_MM, np.abs(off) / doubt, 0.0)


def _taken_out(function: Kriging, mm: Points, sure: float, odd: Mask) -> Mask:
    odd = odd.copy()
    while odd.sum() < len(odd) / 3:
        kept = np.flatnonzero(~odd)
        strange = _strangeness(function.without(odd), mm[kept])
        if strange.max() <= sure:
            break
        odd[kept[int(strange.argmax())]] = True
    return odd


def _readmitted(function: Kriging, mm: Points, odd: Mask, sure: float) -> Mask:
    still = odd.copy()
    for one in np.flatnonzero(odd):
        tried = odd.copy()
        tried[one] = False
        among = int(np.flatnonzero(~tried).searchsorted(one))
        strange = _strangeness(function.without(tried), mm[~tried])
        still[one] = strange[among] > sure
    return still
