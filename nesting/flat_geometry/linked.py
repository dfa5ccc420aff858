"""Things that are linked to one another, straight away or by way of others."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def groups(pairs: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """Return the number of the group that each of ``count`` things is in.

    Parameters
    ----------
    pairs
        (2, k) numbers of things linked straight away.
    """
    if not count:
        return np.zeros(0, dtype=np.int64)
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array((np.ones(pairs.shape[1]), tuple(pairs)), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)
