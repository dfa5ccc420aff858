"""Boards chosen for pieces that are to match, and pairs laid over each other."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting.engine.search.course import course_of
from nesting.engine.search.matching import held_boards, with_mirrored
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.nest import At, Placement, lie_of
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.wishes import Fixed, FromBoards, Later, Matched, Matching, Wishes

RULES = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=0)


def part(name="rail", length=400.0, width=80.0, quantity=2, siding=20.0):
    outline = Outline(box(0, 0, length, width), siding)
    return Need(name, "drawn", outline, ("teak",), quantity)


def board(name, length=900.0, width=90.0, thickness=30.0, keep_outs=()):
    return Board.rectangle(name, length, width, thickness, "teak", keep_outs=keep_outs)


def pieces(*numbers, of="rail"):
    return tuple((of, number) for number in numbers)


RAIL = part()
ONE = Matched("w", pieces(1, 2))
PAIR = Matched("pair", pieces(1, 2), Matching.MIRRORED)


def held(needs, boards, wishes=(ONE,), last=(), is_over=lambda: False, **more):
    """Return the names of the boards that each group is held on."""
    asked = Wishes(matched=tuple(wishes), **more)
    course = course_of(needs, boards, RULES, asked, last)
    lots = [lot.need for lot in course.lots]
    problem = Problem(lots, course.boards_left, RULES, course.steered())
    found = held_boards(course, problem, is_over)
    return {title: {boards[n].name for n in own} for title, own in found.items()}


def test_group_is_held_where_the_whole_plan_takes_least_wood():
    boards = [board("A", 900), board("B", 2000)]
    assert held([RAIL], boards) == {"w": {"A"}}
    long = part("long", 1100, quantity=1)
    assert held([RAIL, long], boards) == {"w": {"B"}}  # B is opened in any case.


def test_group_that_no_board_holds_is_held_where_most_of_it_lies():
    boards = [board("A", 450), board("B", 900), board("C", 460)]
    assert held([part(quantity=3)], boards, [Matched("w", pieces(1, 2, 3))]) == {"w": {"B"}}


def test_groups_are_held_one_after_another_each_by_its_own_wood():
    rib = part("rib", 300, quantity=2)
    wishes = [ONE, Matched("v", pieces(1, 2, of="rib"))]
    assert held([RAIL, rib], [board("A", 650), board("B", 850)], wishes) == {"w": {"B"}, "v": {"A"}}


def test_group_is_held_unasked_when_time_is_over_on_the_least_wood_of_its_area():
    boards = [board("A", 450), board("B", 2000), board("C", 900), board("D", 1100)]
    assert held([RAIL], boards, is_over=lambda: True) == {"w": {"C"}}
    assert held([RAIL], boards[:1], is_over=lambda: True) == {"w": {"A"}}
    small = [board("A", 420), board("E", 500), board("F", 450)]
    assert held([RAIL], small, is_over=lambda: True) == {"w": {"E"}}


def test_group_is_held_where_a_piece_of_it_stays():
    last = (At("B", Placement(RAIL, 1, 1)),)
    boards = [board("A", 900), board("B", 450)]
    assert held([RAIL], boards, last=last, fixed=(Fixed("f", pieces(1)),)) == {"w": {"B"}}


def test_piece_of_no_group_that_stays_draws_none_to_its_board():
    rib = part("rib", 300, quantity=1)
    last = (At("B", Placement(rib, 1, 1)),)
    boards = [board("A", 900), board("B", 450)]
    fixed = (Fixed("f", pieces(1, of="rib")),)
    assert held([RAIL, rib], boards, last=last, fixed=fixed) == {"w": {"A"}}


def test_board_with_room_for_all_is_found_behind_many_that_have_none():
    boards = [board(f"S{n}", 450) for n in range(9)]
    assert held([RAIL], [*boards, board("A", 2000)]) == {"w": {"A"}}


def test_group_may_lie_on_neighbours_no_more_than_it_has_pieces():
    near = replace(ONE, how=Matching.NEIGHBOURS)
    boards = [board("A", 450), board("X", 440), board("B", 450), board("C", 425)]
    rows = ("A", "X", "B"), ("B", "C")
    assert held([RAIL], boards, [near], rows=rows) == {"w": {"B", "C"}}
    assert held([RAIL], boards, [near], rows=rows[:1]) == {"w": {"X", "A"}}
    assert held([RAIL], [*boards, board("D", 850)], [near], rows=rows) == {"w": {"D"}}


def test_pairs_are_held_on_no_board():
    assert held([RAIL], [board("A")], [PAIR]) == {}
    rib = part("rib", 300)
    ribs = Matched("v", pieces(1, 2, of="rib"))
    assert held([RAIL, rib], [board("A")], [PAIR, ribs]) == {"v": {"A"}}
    asked = Wishes(matched=(ribs, PAIR), leaves=(("L/1", "L/2"),))
    course = with_mirrored(course_of([RAIL, rib], leaves(), RULES, asked))
    assert [at.board for at in course.locked] == ["L/1", "L/2"]


def paired(boards, needs=(RAIL,), wishes=(PAIR,), last=(), moving=None, **more):
    """Return the board, number and place of each piece that stays for a pair."""
    asked = Wishes(matched=tuple(wishes), leaves=(tuple(b.name for b in boards),), **more)
    course = with_mirrored(course_of(needs, boards, RULES, asked, last, moving))
    over = {lie_of(at.placement) for at in course.locked if at.piece[0] == "rail"}
    assert len(over) <= 1
    left = {piece for lot in course.lots for piece in lot.pieces}
    assert not left & {at.piece for at in course.locked}
    assert not {at.piece for at in course.homes} & {at.piece for at in course.locked}
    return [(at.board, at.placement.copy, at.placement.x_mm) for at in course.locked]


def leaves(count=2, **more):
    return [board(f"L/{n}", **more) for n in range(1, count + 1)]


def test_pair_lies_on_neighbouring_leaves_those_that_take_the_least_wood():
    assert paired(leaves()) == [("L/1", 1, 1), ("L/2", 2, 1)]
    wide = board("L/1", 900, 150)
    assert paired([wide, *leaves(3)[1:]]) == [("L/2", 1, 1), ("L/3", 2, 1)]


@pytest.mark.parametrize("flawed", [1, 2])
def test_pair_keeps_clear_of_what_either_leaf_has(flawed):
    metal = (circle("metal", 100, 45, 6),)
    both = [board(f"L/{n}", keep_outs=metal if n == flawed else ()) for n in (1, 2)]
    (_, _, first), (_, _, second) = paired(both)
    assert first == second > 106


@pytest.mark.parametrize("thin", [1, 2])
def test_pair_is_left_over_where_one_leaf_is_too_thin(thin):
    both = [board(f"L/{n}", thickness=15 if n == thin else 30) for n in (1, 2)]
    assert paired(both) == []


def test_pair_is_no_pair_yet_where_a_piece_is_of_a_later_stage():
    later = (Later("l", pieces(2), 2),)
    assert paired(leaves(), later=later, stage=1) == []


def over_each_other(x=300.0):
    return tuple(At(f"L/{n}", Placement(RAIL, x, 5, copy=n)) for n in (1, 2))


def test_pair_that_lies_over_itself_stays_where_it_was():
    assert paired(leaves(), last=over_each_other(), moving=5e4) == [
        ("L/1", 1, 300),
        ("L/2", 2, 300),
    ]


def test_one_of_a_pair_goes_over_the_other_where_that_lay_rather_than_both_elsewhere():
    stays = [("L/1", 1, 300), ("L/2", 2, 300)]
    apart = (over_each_other()[0], over_each_other(310)[1])
    assert paired(leaves(), last=apart, moving=5e4) == stays
    far = (over_each_other()[0], replace(over_each_other()[1], board="L/3"))
    assert paired(leaves(3), last=far, moving=5e4) == stays
    assert paired(leaves(), last=apart[:1], moving=5e4) == stays  # The other is new.
    second = (replace(apart[0], board="L/2", placement=replace(apart[0].placement, copy=2)),)
    assert sorted(paired(leaves(), last=second, moving=5e4)) == stays


def test_one_of_a_pair_goes_over_the_second_where_the_first_lies_in_the_way_of_something():
    nailed = [board("L/1"), board("L/2", keep_outs=(circle("metal", 400, 45, 6),))]
    last = (over_each_other(300)[0], over_each_other(450)[1])
    assert sorted(paired(nailed, last=last, moving=5e4)) == [("L/1", 1, 450), ("L/2", 2, 450)]
    rib = part("rib", 300, quantity=1)
    lying = (*last[:1], At("L/2", Placement(rib, 350, 1)))
    found = paired(leaves(), [RAIL, rib], last=lying, moving=5e4)
    assert len(found) == 2 and not {300} & {x for _, _, x in found}


@pytest.mark.parametrize("stays", [1, 2])
def test_one_of_a_pair_goes_over_the_other_that_stays(stays):
    fixed = (Fixed("f", pieces(stays)),)
    found = paired(leaves(), last=over_each_other(), fixed=fixed)
    assert sorted(found) == [("L/1", 1, 300), ("L/2", 2, 300)]


def test_pair_of_which_both_stay_is_left_alone():
    fixed = (Fixed("f", pieces(1, 2)),)
    found = paired(leaves(3), last=over_each_other(), fixed=fixed)
    assert found == [("L/1", 1, 300), ("L/2", 2, 300)]


def test_one_of_a_pair_goes_nowhere_where_the_place_over_the_other_is_not_sound():
    fixed = (Fixed("f", pieces(1)),)
    nailed = [board("L/1"), board("L/2", keep_outs=(circle("metal", 400, 45, 6),))]
    assert paired(nailed, last=over_each_other(), fixed=fixed) == [("L/1", 1, 300)]


def test_pair_is_laid_on_no_leaf_that_a_must_keeps_it_off():
    off = FromBoards("off", pieces(2), ("L/1",), is_off=True)
    assert paired(leaves(), from_boards=(off,)) == []
    assert paired(leaves(3), from_boards=(off,)) == [("L/2", 1, 1), ("L/3", 2, 1)]
    priced = replace(off, price_mm2=1e3)
    assert paired(leaves(), from_boards=(priced,)) == [("L/1", 1, 1), ("L/2", 2, 1)]


def test_pair_gives_no_piece_to_another_pair_that_found_no_room():
    """A piece of two pairs lies nowhere unless both have room."""
    rails = part(quantity=3)
    other = Matched("other", pieces(2, 3), Matching.MIRRORED)
    off = FromBoards("off", pieces(3), ("L/1", "L/2"), is_off=True)
    assert paired(leaves(), [rails], [other, PAIR], from_boards=(off,)) == []
    priced = replace(other, price_mm2=1e3)
    assert len(paired(leaves(), [rails], [priced, PAIR], from_boards=(off,))) == 2


@pytest.mark.parametrize(("x", "length", "kept"), [(1, 900, 1), (500, 900, 1), (1, 600, 0)])
def test_what_lay_there_before_a_pair_keeps_its_place_where_the_pair_has_room_beside_it(
    x, length, kept
):
    rib = part("rib", 300, quantity=1)
    last = (At("L/1", Placement(rib, x, 1)),)
    asked = Wishes(matched=(PAIR,), leaves=(("L/1", "L/2"),))
    course = with_mirrored(course_of([RAIL, rib], leaves(length=length), RULES, asked, last, 5e4))
    assert [at.board for at in course.locked] == ["L/1", "L/2"]
    assert course.homes == last[:kept]
