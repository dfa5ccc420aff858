"""Where fasteners stand along a member: all along it, or at its ends alone."""

from dataclasses import replace

import numpy as np
import pytest

from nesting.judging.fastener_lines import FROM_END_MM, Line, lines_of
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates
from nesting.judging.piles import _fasteners
from nesting.judging.wanted import Wanted
from nesting.judging.ways import Left
from nesting.judging.yields import yield_of
from nesting.rules import Rules

BEAM = Member("beam", "oak", 8, 3000.0, 100.0, 80.0)
SHELF = Member("shelf", "pine", 2, 6000.0, 150.0, 60.0)
JOINT = Joint("beam", "shelf", Fastener.BOLT, 12.0, 1500.0, is_at_ends=True)
BOAT = OldBoat("x", (BEAM, SHELF), (JOINT,), Rates(20.0, 20.0))


def ends(count, length=3000.0):
    return Line(JOINT, Left(), length / count, 1, 0.0, is_at_ends=True).along_mm(length)


@pytest.mark.parametrize(
    ("count", "at"),
    [(1, [50]), (2, [50, 2950]), (3, [50, 100, 2950]), (4, [50, 100, 2900, 2950])],
)
def test_half_of_them_stand_at_each_end(count, at):
    assert pytest.approx(50) == FROM_END_MM
    assert ends(count) == pytest.approx(at)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 20])
@pytest.mark.parametrize("length", [60.0, 300.0, 3000.0])
def test_all_of_them_lie_on_the_piece_and_no_two_in_one_place(count, length):
    at = ends(count, length)
    assert len(at) == count
    assert min(at) > 0 and max(at) < length
    assert count == 1 or np.diff(sorted(at)).min() > 1e-6


def test_beam_that_is_bolted_at_its_ends_is_clear_from_end_to_end():
    """Bolts at a quarter and three quarters of it would leave no more than half."""
    long = Wanted("beam", ("oak",), 8, 2700.0, 80.0, 60.0, False, 30.0)
    at_ends = yield_of(BOAT, "beam", {0: Left(metal=1.0)}, Rules())
    along = replace(BOAT, joints=(replace(JOINT, is_at_ends=False),))
    assert at_ends.pieces(long) == pytest.approx(8)
    assert yield_of(along, "beam", {0: Left(metal=1.0)}, Rules()).pieces(long) == 0


def test_bolts_of_beam_ends_stand_all_along_what_carries_them():
    (line,) = lines_of(BOAT, JOINT, Left(), "shelf")
    assert not line.is_at_ends
    assert len(line.along_mm(SHELF.length_mm)) == 8 * 2 / 2


@pytest.mark.parametrize(("length", "count", "most"), [(3000.0, 4, 2), (900.0, 4, 4)])
def test_bungs_in_a_metre_are_those_of_one_end_where_the_piece_is_longer(length, count, most):
    line = Line(JOINT, Left(), length / count, 1, 0.0, is_at_ends=True)
    assert line.in_a_metre(length) == most


def test_drawn_pieces_have_them_at_their_ends_too():
    (line,) = lines_of(BOAT, JOINT, Left(), "beam")
    for seed in range(20):
        held = list(_fasteners(BEAM, line, np.random.default_rng(seed)))
        middles = sorted(one.bounding_circle[0] for one in held)
        assert middles[0] < 100 and middles[1] > 2900
