"""When a figure is one that no fair line could have: the loft's eye for a typing error.

A figure is odd if the fair lines through all the *other* figures miss it by more than an eighth of
an inch, and by more than the others leave in doubt there. The second half is what keeps a fair
hull quiet: between wide stations or past a hard bilge a batten may well lie an inch elsewhere,
and nobody may call that an error. :mod:`parts.lines.judging` goes by these two.
"""

from __future__ import annotations

from nesting.units import MM_PER_INCH

EIGHTH_MM = MM_PER_INCH / 8
"""What a loftsman lets a batten be off: an eighth of an inch full size."""

SURE = 6.0
"""Standard deviations of doubt past which a figure is odd. Measured on exact tables of twelve known
hulls, eleven stations: the strangest figure of each was 2.0 to 5.1 off."""
