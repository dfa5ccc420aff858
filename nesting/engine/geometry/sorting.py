"""Sorting for compiled kernels.

Numba's own ``argsort`` and ``sort`` take a second and a half to compile for each kind of array,
longer than the kernels that ask for them; these take a fraction of that.

References
----------
Sedgewick 1978, Implementing quicksort programs, Commun. ACM 21:847-857 (median of three,
insertion for what is short, the longer side later; from memory).
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import Floats, Ints
from nesting.engine.geometry.compiled import inner

SHORT = 15
"""Stretches that reach no farther than this are sorted by insertion."""

DEEPEST = 64
"""Stretches that wait: the longer side waits, so no more than binary digits of a count."""


@inner
def order_of(keys: Floats, count: int, order: Ints) -> None:
    """Fill ``order`` with the indices of the first keys, least first.

    Equal keys come in the order in which numba's ``argsort`` leaves them, for it decides about
    the last digits of places.
    """
    for i in range(count):
        order[i] = i
    waiting, depth = np.empty((DEEPEST, 2), np.int64), 1
    waiting[0, 0], waiting[0, 1] = 0, count - 1
    while depth > 0:
        depth -= 1
        low, high = waiting[depth, 0], waiting[depth, 1]
        while high - low > SHORT - 1:
            middle = _parted(keys, order, low, high)
            if high - middle > middle - low:
                waiting[depth, 0], waiting[depth, 1] = middle + 1, high
                high = middle - 1
            else:
                waiting[depth, 0], waiting[depth, 1] = low, middle - 1
                low = middle + 1
            depth += 1
        _insert(keys, order, low, high)


@inner
def _swap(order: Ints, i: int, j: int) -> None:
    order[i], order[j] = order[j], order[i]


@inner
def _parted(keys: Floats, order: Ints, low: int, high: int) -> int:
    """Bring lesser keys before a middling one and greater ones behind it; return its place."""
    middle = (low + high) // 2
    if keys[order[middle]] < keys[order[low]]:
        _swap(order, low, middle)
    if keys[order[high]] < keys[order[middle]]:
        _swap(order, high, middle)
    if keys[order[middle]] < keys[order[low]]:
        _swap(order, low, middle)
    pivot = keys[order[middle]]
    _swap(order, high, middle)
    left, right = low, high - 1
    while True:
        while left < high and keys[order[left]] < pivot:
            left += 1
        while right >= low and pivot < keys[order[right]]:
            right -= 1
        if left >= right:
            break
        _swap(order, left, right)
        left, right = left + 1, right - 1
    _swap(order, left, high)
    return left


@inner
def _insert(keys: Floats, order: Ints, low: int, high: int) -> None:
    for i in range(low + 1, high + 1):
        own, k = order[i], i
        while k > low and keys[own] < keys[order[k - 1]]:
            order[k] = order[k - 1]
            k -= 1
        order[k] = own


@inner
def sort_few(values: Floats, low: int, high: int) -> None:
    """Sort values from one index up to another in place; meant for a few."""
    for i in range(low + 1, high):
        value, k = values[i], i
        while k > low and values[k - 1] > value:
            values[k] = values[k - 1]
            k -= 1
        values[k] = value
