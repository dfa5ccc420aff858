"""Kinds of arrays that compiled code works on, and names for their columns.

A column's name is an int of a module, which numba takes for a constant: it costs nothing. What
only one room's arrays have is named beside their structure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

X, Y = 0, 1
"""Of points, places, and whatever else has these two first."""

LOW_X, LOW_Y, HIGH_X, HIGH_Y = 0, 1, 2, 3
"""Of boxes."""

FROM_X, FROM_Y, TO_X, TO_Y = 0, 1, 2, 3
"""Of segments, and of edges that run from left to right."""

NORMAL_X, NORMAL_Y, REACH = 0, 1, 2
"""Of half-planes: all points whose product with the normal is less than the reach."""

BEGIN, END = 0, 1
"""Of spans: rows of another array from the first to before the last, or stretches of a line."""
