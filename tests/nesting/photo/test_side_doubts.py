"""A side past which it looks like the board is told."""

import numpy as np
import pytest
from shapely.geometry import Polygon
from test_board_bays import BOARD, GROUND, WOOD, plan

from nesting.photo.board_face import Frame
from nesting.photo.side_doubts import alike_sides

PLACED = Frame((0.0, 0.0), 0.0)


def beside(shade):
    """Return a strip below the board, a dark seam between them."""
    seam = [(0, -4), (1200, -4), (1200, 0), (0, 0)]
    strip = [(0, -60), (1200, -60), (1200, -4), (0, -4)]
    return [(strip, shade), (seam, np.multiply(WOOD, 0.4))]


@pytest.mark.parametrize(
    ("more", "sides"),
    [((), 0), (beside(np.multiply(GROUND, 0.6)), 0), (beside(WOOD), 1)],
    ids=["alone", "in its shadow", "a seam"],
)
def test_a_side_past_which_wood_goes_on_is_told_and_one_in_its_shadow_is_not(more, sides):
    found = list(alike_sides(plan(more=more), PLACED, Polygon(BOARD)))
    assert len(found) == sides
    for line in found:
        assert np.abs(line[:, 1]).max() < 1.0 and np.ptp(line[:, 0]) > 1000


def test_the_upper_side_is_looked_at_as_the_lower_one_is():
    seam = [(15, 150), (1180, 150), (1180, 154), (15, 154)]
    strip = [(15, 154), (1180, 154), (1180, 210), (15, 210)]
    seen = plan(more=[(strip, WOOD), (seam, np.multiply(WOOD, 0.4))])
    (line,) = alike_sides(seen, PLACED, Polygon(BOARD))
    assert np.abs(line[:, 1] - 150).max() < 1.0 and np.ptp(line[:, 0]) > 1000


def test_a_board_too_short_for_its_sides_to_be_looked_at_is_told_nothing_of():
    short = [(0, 0), (90, 0), (90, 150), (0, 150)]
    assert list(alike_sides(plan(more=beside(WOOD)), PLACED, Polygon(short))) == []
