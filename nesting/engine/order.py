"""Sorting for compiled kernels.

Numba's own ``argsort`` and ``sort`` take a second and a half to compile for each kind of array,
longer than the kernels that ask for them; these take a tenth of that.
"""

from __future__ import annotations

from nesting.engine.compiled import inner

RUN = 16
"""Keys sorted by insertion before runs of them are merged."""


@inner
def order_of(keys, count, order, spare):  # type: ignore[no-untyped-def]
    """Fill ``order`` with the indices of the first keys, least first; equal keys as they come.

    ``spare`` has room for as many indices.
    """
    for low in range(0, count, RUN):
        for i in range(low, min(low + RUN, count)):
            k = i
            while k > low and keys[order[k - 1]] > keys[i]:
                order[k] = order[k - 1]
                k -= 1
            order[k] = i
    size = RUN
    while size < count:
        for low in range(0, count, 2 * size):
            _merge(keys, low, min(low + size, count), min(low + 2 * size, count), order, spare)
        for k in range(count):
            order[k] = spare[k]
        size *= 2


@inner
def _merge(keys, low, middle, high, order, spare):  # type: ignore[no-untyped-def]
    """Merge two sorted runs of ``order`` into ``spare``."""
    left, right = low, middle
    for k in range(low, high):
        if left < middle and (right == high or keys[order[left]] <= keys[order[right]]):
            spare[k] = order[left]
            left += 1
        else:
            spare[k] = order[right]
            right += 1


@inner
def sort_few(values, low, high):  # type: ignore[no-untyped-def]
    """Sort values from one index up to another in place; meant for a few."""
    for i in range(low + 1, high):
        value, k = values[i], i
        while k > low and values[k - 1] > value:
            values[k] = values[k - 1]
            k -= 1
        values[k] = value
