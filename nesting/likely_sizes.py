"""Sizes that wood of a boat may have, and hardly has: beyond them the unit is probably another.

All common practice, no source.
"""

BAULK_MM = 310.0
"""Thicker is seldom sawn for a boat: twelve inches."""

WIDEST_MM = 1250.0
"""Wider is no board, nor a sheet of plywood: four feet."""

SHORTEST_MM = 100.0
"""Shorter is no board, but firewood."""

LONGEST_MM = 20_000.0
"""Longer is seldom found in one piece, nor carried off in one."""

ON_EDGE = 2.0
"""What is thicker than so many times its width has the two exchanged: a beam or a keel taken on
edge is seldom more than twice as deep as it is thick."""

FASTENING_MM = 40.0
"""Thicker is hardly a fastening, or its hole: a keel bolt of an inch and a half."""
