"""An end that is doubtful in several places is told as one, with what lies between them."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from nesting.photo.edge_doubts import MUCH_OPEN, Stretch, doubtful_ends, joined_at_ends, told_of

BOARD = box(0, 0, 2000, 200)


def stretch(*corners):
    line = LineString(corners).segmentize(2.0)
    return Stretch(np.array(line.coords), "leaves its fair course")


LOW, HIGH = stretch((0, 20), (0, 60)), stretch((0, 150), (0, 180))
CORNER = stretch((40, 0), (90, 0))
SIDE = stretch((900, 200), (1000, 200))
FAR = stretch((2000, 20), (2000, 60))


def told(*stretches, board=BOARD):
    return told_of(joined_at_ends(stretches, board), board, 1)


@pytest.mark.parametrize("board", [BOARD, BOARD.reverse()], ids=["one way", "the other"])
def test_two_places_of_an_end_are_one_stretch_whichever_way_the_ring_runs(board):
    (one,) = joined_at_ends([LOW, HIGH], board)
    assert one.why == MUCH_OPEN
    assert LineString(one.line).length == pytest.approx(160, abs=1)
    assert LineString(one.line).distance(Point(0, 100)) < 1
    (words,) = told_of([one], board, 7)
    assert words.startswith("edge 7, left end, 20 to 180 mm up: doubtful in several")
    assert doubtful_ends([one], board) == ("left",)


def test_corner_cut_off_beside_a_doubtful_end_belongs_to_it():
    (one,) = joined_at_ends([HIGH, CORNER], BOARD)
    assert LineString(one.line).length == pytest.approx(180 + 90, abs=2)


def test_single_places_sides_and_other_ends_stay_as_they_are():
    assert joined_at_ends([LOW, SIDE, FAR], BOARD) == [LOW, SIDE, FAR]
    # Two by the sides before an end, and none of the end itself.
    upper = stretch((40, 200), (90, 200))
    assert joined_at_ends([CORNER, upper], BOARD) == [CORNER, upper]


def test_both_ends_are_joined_each_by_itself():
    upper = stretch((2000, 150), (2000, 190))
    found = joined_at_ends([LOW, HIGH, SIDE, FAR, upper], BOARD)
    assert found[0] is SIDE
    assert [one.why for one in found[1:]] == [MUCH_OPEN, MUCH_OPEN]
    assert "right end, 20 to 190 mm up" in told(FAR, upper)[0]
