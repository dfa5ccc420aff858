"""Sorting for compiled kernels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.engine.geometry.compiled import door
from nesting.engine.geometry.sorting import SHORT, order_of, sort_few


@door
def order_kernel(keys, count, order):
    order_of(keys, count, order)


@door
def sort_kernel(values, low, high):
    sort_few(values, low, high)


@door
def argsort(keys):
    return np.argsort(keys)


def order(keys):
    found = np.empty(len(keys), np.int64)
    order_kernel(np.asarray(keys, float), len(keys), found)
    return found.tolist()


@given(st.lists(st.integers(-5, 5), max_size=9 * SHORT))
def test_order_is_that_of_argsort_even_of_equal_keys(keys):
    assert order(keys) == argsort(np.asarray(keys, float)).tolist()


@pytest.mark.parametrize("count", [0, 1, SHORT, SHORT + 1, SHORT + 2, 1000, 100_000])
@pytest.mark.parametrize("most", [3, 10**9])
def test_long_lists_are_sorted(count, most):
    keys = np.random.default_rng(count).integers(0, most, count).astype(float)
    found = order(keys)
    assert sorted(found) == list(range(count))
    assert (np.diff(keys[found]) >= 0).all()


@pytest.mark.parametrize("keys", [range(5000), range(5000, 0, -1), [1] * 5000])
def test_lists_in_order_are_sorted_within_the_room_for_stretches_that_wait(keys):
    assert order(keys) == argsort(np.asarray(keys, float)).tolist()


def test_keys_beyond_the_count_are_left_out():
    found = np.full(2, -1)
    order_kernel(np.array([3.0, 1.0, -9.0]), 2, found)
    assert found.tolist() == [1, 0]


@given(st.lists(st.floats(-9, 9), min_size=2, max_size=20))
def test_a_few_are_sorted_where_they_stand(values):
    found = np.array(values)
    sort_kernel(found, 1, len(found))
    assert found.tolist() == [values[0], *sorted(values[1:])]
