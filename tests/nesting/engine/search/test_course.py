"""What wishes come to before and after the search: lots, prices, old places, numbers, words."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting.engine.pack import pack
from nesting.engine.search import reasons
from nesting.engine.search.course import SOLID, course_of
from nesting.engine.search.lots import lots_of
from nesting.engine.search.steering import steering_of
from nesting.engine.state.board_state import Laid
from nesting.engine.state.plan_state import empty_plan
from nesting.engine.state.problem import Problem
from nesting.engine.stop import MaxRounds
from nesting.need import Misfit, Need
from nesting.nest import At, Placement
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.wishes import NO_WISHES, Fixed, FromBoards, Later, Matched, Matching, Use, Used, Wishes

RULES = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=0)
AREA = 900.0 * 200.0


def part(name="rail", length=400.0, width=80.0, quantity=4, siding=20.0, **more):
    outline = Outline(box(0, 0, length, width), siding)
    return Need(name, "drawn", outline, ("teak",), quantity, **more)


def board(name, length=900.0, width=200.0, thickness=30.0):
    return Board.rectangle(name, length, width, thickness, "teak")


RAIL = part()
A, B = board("A"), board("B")
LAST = (
    At("A", Placement(RAIL, 450, 1, copy=1)),
    At("A", Placement(RAIL, 1, 1, copy=2)),
    At("B", Placement(RAIL, 1, 1, copy=3)),
)


def pieces(*numbers, of="rail"):
    return tuple((of, number) for number in numbers)


def numbers(lots):
    return [lot.numbers for lot in lots]


def test_pieces_that_are_wished_alike_are_one_lot():
    wishes = Wishes(from_boards=(FromBoards("v", pieces(1), ("A",)),))
    assert numbers(lots_of([RAIL], wishes)) == [(1,), (2, 3, 4)]
    wishes = replace(wishes, matched=(Matched("w", pieces(3, 4)),))
    assert numbers(lots_of([RAIL], wishes)) == [(1,), (2,), (3, 4)]
    assert numbers(lots_of([RAIL], wishes, frozenset(pieces(3)))) == [(1,), (2,), (4,)]
    assert not any(lot.is_later for lot in lots_of([RAIL], wishes))


@pytest.mark.parametrize("worth", [0.2, 3.0, 50.0])
def test_all_pieces_of_later_stages_are_worth_less_than_any_needed_now(worth):
    needs = [part(value=worth), part("scrap", value=0.0), part("lid", quantity=3, value=40.0)]
    asked = Wishes(later=(Later("w", pieces(1, 2, 3, of="lid"), 2),), stage=1)
    rail, scrap, lid = lots_of(needs, asked)
    assert (rail.need.worth, scrap.need.worth) == (worth, 0.0)
    assert 0 < 3 * lid.need.worth < worth
    assert lid.need.worth < 40.0


def test_pieces_of_later_stages_are_worth_no_more_than_ever():
    asked = Wishes(later=(Later("w", pieces(1, of="lid"), 2),), stage=1)
    needs = [part(value=50.0), part("lid", quantity=1, value=2.0)]
    assert [lot.need.worth for lot in lots_of(needs, asked)] == [50.0, 2.0]
    nothing = [part(value=50.0), part("lid", quantity=1, value=0.0)]
    assert [lot.need.worth for lot in lots_of(nothing, asked)] == [50.0, 0.0]


@pytest.mark.parametrize(("kerf", "clear"), [(3.0, 2.0), (3.0, 0.0), (0.0, 0.0)])
def test_part_fits_beside_a_piece_that_stays_with_the_gap_between_them(kerf, clear):
    rules = Rules(kerf_mm=kerf, trim_mm=1, clearances_mm=dict.fromkeys(SOLID, clear))
    rail = part(quantity=2)
    stock = board("A", 802 + rules.part_gap_mm + 0.1, 82.0)
    last = (At("A", Placement(rail, 1, 1)),)
    wishes = Wishes(fixed=(Fixed("w", pieces(1)),))
    plan = pack([rail], [stock], rules, stop=MaxRounds(0), wishes=wishes, last=last)
    assert not plan.unplaced


def test_what_is_wished_of_boards_is_what_opening_them_takes():
    asked = Wishes(
        used=(
            Used("back", ("A",), Use.HELD_BACK, price_mm2=5e4),
            Used("first", ("B",), Use.FIRST, price_mm2=3e4),
            Used("free", ("C",), Use.FIRST),
            Used("whole", ("D",), Use.KEPT_WHOLE),
            Used("rather whole", ("E",), Use.KEPT_WHOLE, price_mm2=2e4),
        )
    )
    boards = [A, B, *map(board, "CDE")]
    steered = course_of([RAIL], boards, RULES, asked).steered()
    assert steered.opening_mm2 == (AREA + 5e4, AREA - 3e4, 0.0, AREA, AREA)
    assert steered.is_open == {1, 2}
    assert (steered.piece_mm2, steered.barred) == ({(0, 4): 2e4}, ({3: "whole"},))
    assert [row.tolist() for row in steered.prices_mm2.values()] == [[0, 0, 0, 0, 2e4]]


@pytest.mark.parametrize("stage", [1, None])
def test_mirrored_pair_that_found_no_room_lies_nowhere_unless_it_is_not_cut_yet(stage):
    later = (Later("v", pieces(2), 2),)
    pair = Matched("w", pieces(1, 2), Matching.MIRRORED)
    asked = Wishes(matched=(pair,), later=later, stage=stage)
    barred = course_of([part(quantity=2)], [A, B], RULES, asked).steered().barred
    assert all(own == ({} if stage else {0: "w", 1: "w"}) for own in barred)


def test_piece_that_stays_opens_its_board():
    asked = Wishes(fixed=(Fixed("w", pieces(1, 2)),), used=(Used("v", ("A",), Use.FIRST),))
    course = course_of([RAIL], [A, B], RULES, asked, LAST)
    steered = course.steered()
    assert steered.locked == {0: "rail, 1 of 4; rail, 2 of 4"}
    assert (steered.opening_mm2, steered.is_open) == ((0.0, AREA), {0})
    assert course.fixed == LAST[:2]
    assert numbers(course.lots) == [(3, 4)]


def test_moving_a_piece_has_to_save_what_its_wish_says_or_what_any_has_to():
    asked = Wishes(fixed=(Fixed("dear", pieces(2), price_mm2=9e4), Fixed("must", pieces(3))))
    alone = course_of([RAIL], [A, B], RULES, asked, LAST)
    assert (alone.homes, alone.locked) == (LAST[1:2], LAST[2:])
    course = course_of([RAIL], [A, B], RULES, asked, LAST, 5e4)
    assert course.homes == LAST[:2]
    on_a, on_b = course.steered().homes
    assert {row[3]: price for row, price in on_a.items()} == {450: 5e4, 1: 9e4}
    assert not on_b
    assert course_of([RAIL], [A, B], RULES, NO_WISHES, LAST).homes == ()


def test_no_wish_costs_more_than_is_said():
    asked = Wishes(
        fixed=(Fixed("w", pieces(2), price_mm2=9e4),),
        from_boards=(FromBoards("v", pieces(1, 4), ("B",), price_mm2=7e3),),
    )
    most = course_of([RAIL], [A, B], RULES, asked, LAST).steered().most_mm2
    assert most == 2 * AREA + 9e4 + 2 * 7e3


def test_search_begins_with_what_may_still_lie_where_it_was():
    asked = Wishes(matched=(Matched("w", pieces(1, 2, 3, 4)),))
    course = course_of([RAIL], [A, B], RULES, asked, LAST, 5e4)
    for held, there in ((None, [2, 1]), ({"w": frozenset({1})}, [0, 1])):
        steered = course.steered(held)
        problem = Problem([lot.need for lot in course.lots], [A, B], RULES, steered)
        plan = course.beginning(problem)
        assert [len(state.laid) for state in plan.states] == there
        assert [len(homes) for homes in steered.homes] == there


def lying(course, *laid):
    """Return what nests come of a plan, each part given as lot, board, x and y."""
    problem = Problem([lot.need for lot in course.lots], course.boards, RULES, course.steered())
    plan = empty_plan(problem)
    for lot, at, x, y in laid:
        one = Laid(lot, problem.figure(lot, 0.0, is_over=False), x, y)
        plan = plan.with_state(plan.states[at].with_part(one))
    return [
        (nest.board.name, [(p.number, p.x_mm) for p in nest.placements])
        for nest in course.nests(plan)
    ]


def test_piece_keeps_its_number_and_its_order_where_it_stays():
    gone = At("Z", Placement(RAIL, 1, 1, copy=4))
    course = course_of([RAIL], [A, B], RULES, NO_WISHES, (*LAST, gone), 5e4)
    assert lying(course, (0, 0, 1, 1), (0, 0, 450, 1), (0, 0, 1, 100), (0, 1, 1, 1)) == [
        ("A", [(1, 450), (2, 1), (4, 1)]),
        ("B", [(3, 1)]),
    ]


def test_piece_that_stays_is_part_of_the_plan():
    asked = Wishes(fixed=(Fixed("w", pieces(3)),))
    course = course_of([RAIL], [A, B], RULES, asked, LAST)
    assert lying(course, (0, 0, 1, 1)) == [("A", [(2, 1)]), ("B", [(3, 1)])]


def test_piece_in_the_place_of_one_that_is_wished_otherwise_has_its_own_number():
    asked = Wishes(from_boards=(FromBoards("w", pieces(1), ("A", "B")),))
    course = course_of([part(quantity=2)], [A, B], RULES, asked, LAST[:1], 5e4)
    assert numbers(course.lots) == [(1,), (2,)]
    assert lying(course, (1, 0, 450, 1), (0, 1, 1, 1)) == [("A", [(2, 450)]), ("B", [(1, 1)])]


LONG = part("long", 800.0, quantity=1)


def told(needs, boards, wishes, last=(), *, lie=(), is_over=lambda: False):
    """Return what is said of the parts left over where only some lie: lots, boards, x and y."""
    made = steering_of(needs, boards, RULES, wishes, last, None)
    problem, plan = made.searcher.problem, made.begin
    for lot, at, x, y in lie:
        one = Laid(lot, problem.figure(lot, 0.0, is_over=False), x, y)
        plan = plan.with_state(plan.states[at].with_part(one))
    return made.told(reasons.unplaced(plan, problem), plan, problem, is_over)


def test_boards_that_a_wish_keeps_a_part_off_are_named_two_and_then_counted():
    boards = [board(name) for name in "ABCDE"]
    asked = Wishes(from_boards=(FromBoards("w", pieces(1, of="long"), ("A",)),))
    (left,) = told([LONG], [board("A", 500.0), *boards[1:]], asked)
    assert left.prospect.wishes == ("w keeps it off B and C and 2 more, with room for it",)
    assert (left.reason, left.prospect.remedies) == (Misfit.WISHED, ())
    (left,) = told([LONG], [board("A", 500.0), *boards[1:4]], asked)
    assert left.prospect.wishes == ("w keeps it off B and C and 1 more, with room for it",)
    (left,) = told([LONG], [board("A", 500.0), *boards[1:3]], asked)
    assert left.prospect.wishes == ("w keeps it off B and C, with room for it",)
    (left,) = told([LONG], boards, asked, is_over=lambda: True)
    assert left.prospect.wishes == ()


def test_board_that_a_wish_keeps_a_part_off_may_have_room_only_while_empty():
    wide = part("wide", 890.0, 180.0, 2)
    asked = Wishes(from_boards=(FromBoards("w", pieces(1, of="long"), ("A",)),))
    lie = [(1, 0, 1, 1), (1, 1, 1, 1)]
    (left,) = told([LONG, wide], [A, B], asked, lie=lie)
    assert left.prospect.wishes == ("w keeps it off B, with room for it while empty",)
    # On A it has room but for what lies there: no wish alone is the reason.
    assert left.reason is Misfit.NO_ROOM
    assert left.prospect.room_on == ("A",)
    (left,) = told([LONG, wide], [A, B, board("C")], asked, lie=lie)
    assert left.prospect.wishes == ("w keeps it off C, with room for it",)


def test_piece_that_stays_where_another_would_lie_is_named():
    rail, shim = part(quantity=4), part("shim", quantity=1, siding=5.0)
    boards = [board("E"), board("D", thickness=10.0), A, B, board("C")]
    last = (
        At("E", Placement(rail, 250, 60, copy=4)),
        At("D", Placement(shim, 250, 60)),
        *(At(name, Placement(rail, 250, 60, copy=n)) for n, name in enumerate("ABC", start=1)),
    )
    fixed = [Fixed(f"w{n}", pieces(n)) for n in (1, 2, 3, 4)]
    asked = Wishes(
        fixed=(*fixed, Fixed("w5", pieces(1, of="shim"))),
        from_boards=(FromBoards("off", pieces(1, of="long"), ("E",), is_off=True),),
    )
    needs = [replace(LONG, outline=replace(LONG.outline, siding_mm=20.0)), rail, shim]
    (left,) = told(needs, boards, asked, last)
    assert left.prospect.wishes == (
        "w1: rail, 1 of 4 stays on A, where it would lie",
        "w2: rail, 2 of 4 stays on B, where it would lie",
    )
    (left,) = told(needs, boards, asked, last, is_over=lambda: True)
    assert left.prospect.wishes == ()


def test_board_with_room_beside_the_piece_that_stays_is_not_said_to_lack_it():
    rail = part(quantity=1)
    last = (At("A", Placement(rail, 1, 1)),)
    (left,) = told([LONG, rail], [A], Wishes(fixed=(Fixed("w", pieces(1)),)), last)
    assert left.prospect.wishes == ()


def test_wood_in_view_for_a_later_stage_is_named_by_its_boards_alone():
    lid = part("lid", 300.0, 90.0, 2)
    asked = Wishes(later=(Later("w", pieces(1, 2, of="lid"), 2),), stage=1)
    lie = [(0, 0, 1, 1), (1, 1, 1, 1)]
    _, left = told([part(quantity=1), lid], [A, B], asked, lie=lie)
    assert (left.reason, left.count) == (Misfit.LATER, 1)
    assert left.prospect.wishes[1] == "wood for it is in view on B"
