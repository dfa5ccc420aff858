"""How many pieces lie side by side across rows of old holes, against places tried one by one."""

import numpy as np
import pytest

from nesting.judging.bung_room import ACROSS_MM, HoleRow, abreast

STEP = 0.25


def is_sound(row, low, width):
    """Return whether a bung is wholly in a piece or wholly out of it, by its meaning."""
    is_out = low + width <= row.at_mm - row.outside_mm or low >= row.at_mm + row.outside_mm
    is_in = low <= row.at_mm - row.inside_mm and low + width >= row.at_mm + row.inside_mm
    return is_out or is_in


def most_by_trying(rows, low, high, width, apart):
    """Return the most pieces, all places tried, the best of what lies below kept for each."""
    best, places = 0, np.arange(low, high - width + STEP / 2, STEP)
    ending = {}
    for place in places:
        if all(is_sound(row, place, width) for row in rows):
            below = [n for at, n in ending.items() if at + width + apart <= place]
            ending[place] = 1 + max(below, default=0)
            best = max(best, ending[place])
    return best


@pytest.mark.parametrize("seed", range(40))
def test_as_many_lie_side_by_side_as_any_trial_finds(seed):
    chance = np.random.default_rng(seed)

    def quarter(low, high):
        return float(chance.integers(4 * low, 4 * high)) / 4

    rows = [HoleRow(quarter(0, 200), out := quarter(4, 14), out + quarter(2, 12))
            for _ in range(chance.integers(0, 4))]  # fmt: skip
    width, apart = quarter(20, 90), quarter(0, 8)
    found = abreast(rows, (2.0, 198.0), width, apart)
    assert found == most_by_trying(rows, 2.0, 198.0, width, apart)


def test_bung_needs_its_half_a_deviation_and_inside_the_edge_as_well():
    row = HoleRow.of(50.0, 12.0, 6.0)
    assert (row.outside_mm, row.inside_mm) == (6.0 + ACROSS_MM, 12.0 + ACROSS_MM)


def test_row_that_no_piece_can_hold_is_passed():
    row = HoleRow(50.0, 10.0, 30.0)
    assert abreast([row], (0.0, 100.0), 40.0, 0.0) == 2
    assert abreast([row], (0.0, 100.0), 40.1, 0.0) == 0
    assert abreast([row], (0.0, 100.0), 60.0, 0.0) == 1
