"""The few cheapest of many, in order; compiled."""

from __future__ import annotations

from nesting.engine.geometry.compiled import inner


@inner
def keep(kept, cost, first, second, third):  # type: ignore[no-untyped-def]
    """Take a row into the few cheapest (k, 4), in order; of equal ones the earlier comes first."""
    at = kept.shape[0] - 1
    if cost >= kept[at, 0]:
        return
    while at > 0 and kept[at - 1, 0] > cost:
        for k in range(4):
            kept[at, k] = kept[at - 1, k]
        at -= 1
    kept[at, 0], kept[at, 1], kept[at, 2], kept[at, 3] = cost, first, second, third
