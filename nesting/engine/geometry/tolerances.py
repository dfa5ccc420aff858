"""Tolerances of the search, each with its reason. All far inside the referee's 1e-6 mm."""

from __future__ import annotations

import math

STRICT_MM = 1e-7
"""A position counts as inside a forbidden region only if it is this deep in it. Larger would
show in the referee's 1e-6 mm; smaller drowns in rounding, which reaches 1e-9 in a 20 m frame."""

PARALLEL_RAD = 1e-6
"""Edges of a convex sum closer in direction than this become one, outward: 2 m of edge then
move by 2 microns, always away from the neighbour."""

FLAT_SINE = 1e-12
"""Lines with a smaller sine between them run alike: where they cross would be rounding."""

ROUND_STEP_RAD = math.pi / 8
"""Where a gap rounds a corner, its polygon turns by at most this: at most 2 % of the gap is
given away at the corner, nothing along straight edges."""

HULL_MM = 0.4
"""Curved outlines enter the search with fewer corners, nowhere more than this outside the
true line: a tenth of a saw's kerf. The referee measures the true line."""

SEAM_MM = 1e-5
"""Forbidden regions that are tiled, not summed, are grown by this so that no position slips
between two tiles."""

POCKET_MM = 5.0
"""Notches with a narrower mouth are closed in the search. Wider ones may hold a screw stub: with
45 mm, and with 15 mm, puzzles with metal in a notch could not be solved at all, and with 45 mm
the full demo opened 5 % more wood (20 rounds, one seed)."""
