"""Boards as givers of parts, held against boards that are sawn up without loss."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, box

from nesting.engine.proof.givers import Givers
from nesting.engine.wood.room_bounds import Possible
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
SAWN = Rules(kerf_mm=4, trim_mm=0, cleaning_loss_mm=0)


def need(part, length, width, quantity, *, species="oak", holes=Holes.CLEAR):
    """Return a need of rectangles along the grain, which lie true to it."""
    outline = Outline(box(0, 0, length, width), 20, slope_of_grain=10_000.0)
    return Need(part, "any", outline, (species,), quantity, holes=holes)


def board(name="B", length=1000.0, width=200.0, **more):
    return Board(name, box(0, 0, length, width), 20, "oak", **more)


def givers(needs, boards, rules=NO_SAW):
    return Givers(Possible(needs, boards, rules)).all()


def may_give(giver, taken):
    """Return whether a board may give so many copies, by the number of each part."""
    assert set(taken) <= set(giver.parts.tolist())
    copies = np.array([taken.get(part, 0) for part in giver.parts.tolist()])
    return bool((copies <= giver.copies).all() and (giver.shares @ copies <= 1 + 1e-9).all())


def test_a_board_gives_what_it_has_wood_and_room_for_and_no_more_of_it_than_is_wanted():
    needs = [
        need("half", 500, 200, 3),
        need("eighth", 250, 100, 20),
        need("one", 250, 100, 1),
        need("too long", 1001, 50, 1),
        need("too wide", 100, 201, 1),
        need("of teak", 100, 50, 1, species="teak"),
    ]
    (giver,) = givers(needs, [board()])
    assert giver.parts.tolist() == [0, 1, 2]
    assert giver.copies.tolist() == [2, 8, 1]


@pytest.mark.parametrize(
    ("taken", "is_given"),
    [
        ({0: 2}, True),
        ({0: 1, 1: 4}, True),
        ({1: 8}, True),
        ({0: 1, 1: 3, 2: 1}, True),
        ({0: 2, 2: 1}, False),
        ({0: 1, 1: 5}, False),
        ({1: 8, 2: 1}, False),
    ],
)
def test_a_board_sawn_up_without_loss_may_be_and_gives_no_piece_more(taken, is_given):
    needs = [need("half", 500, 200, 3), need("eighth", 250, 100, 20), need("one", 250, 100, 1)]
    (giver,) = givers(needs, [board()])
    assert may_give(giver, taken) == is_given


def test_lengths_on_a_line_rule_out_what_areas_do_not():
    """Three of 600 have the area of a board of 1000 by 200, and no two lie on one line."""
    (giver,) = givers([need("long", 600, 65, 9), need("wide", 390, 110, 9)], [board()])
    assert giver.copies.tolist() == [3, 2]
    assert may_give(giver, {0: 3, 1: 1}) and not may_give(giver, {0: 3, 1: 2})


@pytest.mark.parametrize(
    ("length", "width", "is_given"), [(498, 98, True), (499, 98, False), (498, 99, False)]
)
def test_four_parts_come_of_a_board_only_if_it_has_what_the_saw_takes_too(length, width, is_given):
    (giver,) = givers([need("part", length, width, 9)], [board()], SAWN)
    assert may_give(giver, {0: 4}) == is_given


def test_each_board_is_a_giver_of_its_own_in_the_order_of_the_stock():
    boards = [board("A", 400), board("B"), board("C", 500)]
    found = givers([need("half", 500, 200, 9)], boards)
    assert [giver.copies.tolist() for giver in found] == [[], [2], [1]]


def stained():
    """Return a board whose right half is stained, which only hidden parts may lie on."""
    stain = region(KeepOutKind.STAIN, [(500, 0), (1000, 0), (1000, 200), (500, 200)])
    return board(keep_outs=(stain,))


@pytest.mark.parametrize(
    ("taken", "is_given"),
    [
        ({0: 1, 1: 1}, True),
        ({1: 2}, True),
        ({0: 2}, False),
        ({0: 1, 1: 2}, False),
        ({1: 3}, False),
    ],
)
def test_parts_that_tolerate_more_lie_where_others_may_not(taken, is_given):
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, clearances_mm={KeepOutKind.STAIN: 0})
    clear, hidden = need("clear", 500, 200, 5), need("hidden", 500, 200, 5, holes=Holes.HIDDEN)
    (giver,) = givers([clear, hidden], [stained()], rules)
    assert may_give(giver, taken) == is_given


def bent(arm, width):
    """Return a strip of wood round a bend, and the path of its grain, which is its middle."""
    turns = np.radians(np.arange(0, 91, 15))
    bend = 150 * np.column_stack([np.sin(turns), 1 - np.cos(turns)])
    middle = LineString([(-arm, 0), *bend, (150, 150 + arm)])
    shape = middle.buffer(width / 2, cap_style="flat", join_style="mitre")
    return shape, GrainPath(tuple(middle.coords))


def grown(quantity=40):
    """Return a crook, the same with a nail in its first end, and a need of knees that follow it."""
    shape, grain = bent(250, 150)
    one = Board("A", shape, 50.0, "oak", grain=grain)
    nailed = replace(one, name="B", keep_outs=(circle("metal", -235, 0, 6),))
    shape, grain = bent(100, 50)
    outline = Outline(shape, 35.0, grain=grain, slope_of_grain=6.0)
    return one, nailed, Need("knee", "knee", outline, ("oak",), quantity)


def test_grown_boards_give_fewer_than_their_area_has_room_for():
    """Knees follow the bend: all of them want the wood in it."""
    one, nailed, wanted = grown()
    possible = Possible([wanted], [one, nailed], NO_SAW)
    by_area = possible.room(0, int(possible.levels[0])) // possible.areas[0]
    first, second = Givers(possible).all()
    assert 0 < second.copies[0] <= first.copies[0] < by_area


def test_grown_boards_too_many_to_be_looked_at_give_by_their_area(monkeypatch):
    monkeypatch.setattr("nesting.engine.proof.givers.MOST_GROWN", 1)
    one, nailed, wanted = grown()
    possible = Possible([wanted, replace(wanted, part="other")], [one, nailed], NO_SAW)
    level = int(possible.levels[0])
    for number, giver in enumerate(Givers(possible).all()):
        by_area = possible.room(number, level) // possible.areas[0]
        assert giver.copies.tolist() == [by_area, by_area]
