"""The few cheapest of many are those that sorting all of them gives."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.engine.geometry.compiled import door
from nesting.engine.geometry.keep_cheapest import keep


@door
def keep_all(kept, costs):
    for i, cost in enumerate(costs):
        keep(kept, cost, float(i), 2.0 * i, -1.0 * i)


@given(costs=st.lists(st.integers(0, 6), max_size=25), room=st.integers(1, 5))
@settings(max_examples=60)
def test_the_cheapest_are_kept_in_order_and_of_equal_ones_the_earlier(costs, room):
    kept = np.full((room, 4), np.inf)
    keep_all(kept, np.array(costs, float))
    cheapest = sorted(range(len(costs)), key=lambda i: costs[i])[:room]
    assert kept[: len(cheapest)] == pytest.approx(
        np.array([[costs[i], i, 2 * i, -i] for i in cheapest]).reshape(-1, 4)
    )
    assert np.isinf(kept[len(cheapest) :]).all()
