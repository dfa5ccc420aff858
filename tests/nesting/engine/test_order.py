"""Sorting for compiled kernels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba import njit

from nesting.engine.order import RUN, order_of, sort_few


@njit(cache=True)
def order_kernel(keys, count, order, spare):
    order_of(keys, count, order, spare)


@njit(cache=True)
def sort_kernel(values, low, high):
    sort_few(values, low, high)


def order(keys):
    found, spare = np.empty(len(keys), np.int64), np.empty(len(keys), np.int64)
    order_kernel(np.asarray(keys, float), len(keys), found, spare)
    return found.tolist()


@given(st.lists(st.integers(-5, 5), max_size=5 * RUN))
def test_equal_keys_keep_their_order(keys):
    assert order(keys) == np.argsort(keys, kind="stable").tolist()


@pytest.mark.parametrize("count", [0, 1, RUN, RUN + 1, 2 * RUN, 3 * RUN, 1000])
def test_long_lists_are_merged_from_sorted_runs(count):
    keys = np.random.default_rng(count).uniform(size=count)
    assert order(keys) == np.argsort(keys, kind="stable").tolist()


def test_keys_beyond_the_count_are_left_out():
    found = np.full(2, -1)
    order_kernel(np.array([3.0, 1.0, -9.0]), 2, found, np.empty(2, np.int64))
    assert found.tolist() == [1, 0]


@given(st.lists(st.floats(-9, 9), min_size=2, max_size=20))
def test_a_few_are_sorted_where_they_stand(values):
    found = np.array(values)
    sort_kernel(found, 1, len(found))
    assert found.tolist() == [values[0], *sorted(values[1:])]
