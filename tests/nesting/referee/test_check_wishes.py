"""The referee sees every wish that is broken, by where pieces lie alone."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting.errors import RefereeError
from nesting.need import Need
from nesting.nest import At, CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.referee.wishes import broken_wishes, check_wishes, require_wishes, unsound_fixed
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.wishes import Fixed, FromBoards, Later, Matched, Matching, Use, Used, Wishes

RULES = Rules()
BOARDS = {
    name: Board.rectangle(name, 1000, 200, 30, "teak") for name in ("A", "B", "C", "D/1", "D/2")
}
RAIL = Need("rail", "drawn", Outline(box(0, 0, 600, 50), 20), ("teak",), 2)
CLEAT = Need("cleat", "drawn", Outline(box(0, 0, 200, 50), 20), ("teak",), 3)
ROWS = {"rows": (("A", "B", "C"),), "leaves": (("D/1", "D/2"),)}


def plan(**lying) -> CuttingPlan:
    """Return a plan: ``A=[(RAIL, 1, 10, 10)]`` puts the first rail on A; D1 and D2 are leaves."""
    names = {"D1": "D/1", "D2": "D/2"}
    return CuttingPlan(
        tuple(
            Nest(
                BOARDS[names.get(board, board)],
                tuple(Placement(need, x, y, copy=copy) for need, copy, x, y in parts),
            )
            for board, parts in lying.items()
        )
    )


def wishes(**given) -> Wishes:
    return Wishes(**{key: (wish,) for key, wish in given.items()}, **ROWS)


def measured(made: CuttingPlan, asked: Wishes, last=()) -> list[str]:
    return [str(fault) for fault in check_wishes(made, asked, last)]


BOTH = (("rail", 1), ("rail", 2))
TOGETHER = plan(A=[(RAIL, 1, 10, 10), (RAIL, 2, 10, 80)])
APART = plan(A=[(RAIL, 1, 10, 10)], C=[(RAIL, 2, 10, 10)])
BESIDE = plan(A=[(RAIL, 1, 10, 10)], B=[(RAIL, 2, 10, 10)])
LEAVES = plan(D1=[(RAIL, 1, 10, 10)], D2=[(RAIL, 2, 30, 10)])
MIRRORED = plan(D1=[(RAIL, 1, 10, 10)], D2=[(RAIL, 2, 10, 10)])


@pytest.mark.parametrize(
    ("made", "asked", "words"),
    [
        (TOGETHER, wishes(from_boards=FromBoards("w", BOTH, ("A", "B"))), None),
        (APART, wishes(from_boards=FromBoards("w", BOTH, ("A", "B"))), "board C: w: rail, 2 of 2"),
        (APART, wishes(from_boards=FromBoards("w", BOTH, ("B",), is_off=True)), None),
        (APART, wishes(from_boards=FromBoards("w", BOTH, ("C",), is_off=True)), "is kept off it"),
        (TOGETHER, wishes(used=Used("w", ("A",), Use.HELD_BACK)), "it is held back, and parts lie"),
        (TOGETHER, wishes(used=Used("w", ("B",), Use.HELD_BACK)), None),
        (TOGETHER, wishes(used=Used("w", ("A",), Use.KEPT_WHOLE)), None),
        (
            plan(A=[(RAIL, 1, 10, 10), (CLEAT, 1, 10, 90)]),
            wishes(used=Used("w", ("A",), Use.KEPT_WHOLE)),
            "it is kept whole, and cleat, 1 of 3 is 200.0 mm long, not over half of its 1000.0 mm",
        ),
        (TOGETHER, wishes(used=Used("w", ("B",), Use.FIRST)), None),
        (TOGETHER, wishes(matched=Matched("w", BOTH)), None),
        (APART, wishes(matched=Matched("w", BOTH)), "they are to come from one board"),
        (plan(A=[(RAIL, 1, 10, 10)]), wishes(matched=Matched("w", BOTH)), None),
        (BESIDE, wishes(matched=Matched("w", BOTH, Matching.NEIGHBOURS)), None),
        (LEAVES, wishes(matched=Matched("w", BOTH, Matching.NEIGHBOURS)), None),
        (APART, wishes(matched=Matched("w", BOTH, Matching.NEIGHBOURS)), "neighbouring boards"),
        (MIRRORED, wishes(matched=Matched("w", BOTH, Matching.MIRRORED)), None),
        (LEAVES, wishes(matched=Matched("w", BOTH, Matching.MIRRORED)), "2000.0 mm2 of them do"),
        (BESIDE, wishes(matched=Matched("w", BOTH, Matching.MIRRORED)), "no neighbouring leaves"),
        (TOGETHER, wishes(matched=Matched("w", BOTH, Matching.MIRRORED)), "no neighbouring leaves"),
        (TOGETHER, Wishes(later=(Later("w", BOTH[:1], 2),), stage=1), "rail, 1 of 2 is of stage 2"),
        (TOGETHER, Wishes(later=(Later("w", BOTH[:1], 2),), stage=2), None),
        (TOGETHER, Wishes(later=(Later("w", BOTH[:1], 2),)), None),
    ],
)
def test_referee_sees_a_wish_that_is_broken_and_no_other(made, asked, words):
    found = measured(made, asked)
    assert not found if words is None else len(found) == 1 and words in found[0], found


def test_three_pieces_may_come_from_three_neighbours_and_two_from_two():
    pieces = tuple(("cleat", copy) for copy in (1, 2, 3))
    made = plan(A=[(CLEAT, 1, 9, 9)], B=[(CLEAT, 2, 9, 9)], C=[(CLEAT, 3, 9, 9)])
    asked = wishes(matched=Matched("w", pieces, Matching.NEIGHBOURS))
    assert not measured(made, asked)
    two = wishes(matched=Matched("w", (pieces[0], pieces[2]), Matching.NEIGHBOURS))
    assert len(measured(made, two)) == 1


def test_fixed_piece_is_where_the_last_plan_had_it_to_the_last_digit():
    asked = wishes(fixed=Fixed("w", BOTH))
    last = [At("A", placement) for placement in TOGETHER.nests[0].placements]
    assert not measured(TOGETHER, asked, last)
    off = replace(last[0], placement=replace(last[0].placement, x_mm=10.0000001))
    assert "is fixed at" in measured(TOGETHER, asked, [off, last[1]])[0]
    over = replace(last[0], placement=replace(last[0].placement, is_turned_over=True))
    assert len(measured(TOGETHER, asked, [over, last[1]])) == 1
    assert "lies on board C" in measured(APART, asked, last)[0]
    assert "is fixed there, and left over" in measured(plan(), asked, last)[0]


def test_priced_wishes_are_no_faults_and_cost_each_piece_or_board():
    off = FromBoards("w", BOTH, ("A", "C"), is_off=True, price_mm2=5e4)
    first = Used("v", ("B",), Use.FIRST, price_mm2=3e4)
    asked = Wishes(from_boards=(off,), used=(first,))
    assert not measured(APART, asked)
    assert [(b.wish.title, b.cost_mm2) for b in broken_wishes(APART, asked)] == [
        ("w", 5e4), ("w", 5e4), ("v", 3e4),
    ]  # fmt: skip


def test_priced_match_costs_each_piece_astray():
    pieces = tuple(("cleat", copy) for copy in (1, 2, 3))
    made = plan(A=[(CLEAT, 1, 9, 9), (CLEAT, 2, 9, 90)], C=[(CLEAT, 3, 9, 9)])
    asked = wishes(matched=Matched("w", pieces, price_mm2=7e4))
    assert [broken.cost_mm2 for broken in broken_wishes(made, asked)] == [7e4]


def test_plan_that_breaks_a_must_is_refused():
    with pytest.raises(RefereeError, match="board A: w: it is held back"):
        require_wishes(TOGETHER, wishes(used=Used("w", ("A",), Use.HELD_BACK)))


def test_fixed_pieces_that_may_not_stay_are_told():
    asked = wishes(fixed=Fixed("w", BOTH))
    last = [At("A", placement) for placement in TOGETHER.nests[0].placements]

    def told(boards, stay=last, given=asked):
        found = unsound_fixed(given, stay, boards, RULES, [RAIL, CLEAT], where="the plan in X")
        return [text for _, text in found]

    assert not told(BOARDS.values())
    nailed = replace(BOARDS["A"], keep_outs=(circle("metal", 100, 30, 5),))
    assert "clear of metal: rail, 1 of 2" in told([nailed])[0]
    assert "lay on A, which is no board any more" in told([BOARDS["B"]])[0]
    assert told(BOARDS.values(), []) == [
        f"fixed: rail, {n} of 2 lies nowhere in the plan in X: nest once without this wish"
        for n in (1, 2)
    ]
    held = replace(asked, used=(Used("v", ("A",), Use.HELD_BACK),))
    assert "it is held back" in told(BOARDS.values(), given=held)[0]


CLEATS = tuple(("cleat", copy) for copy in (1, 2, 3))


def test_every_piece_of_a_wish_is_looked_at_after_one_that_breaks_nothing():
    """The first of each is new, left over, kept to or not opened; what comes after is told."""
    last = [At("A", placement) for placement in TOGETHER.nests[0].placements]
    moved = replace(last[1], placement=replace(last[1].placement, x_mm=11))
    assert (
        "rail, 2 of 2 is fixed at (11.000, 80.000) mm, and lies on board A, (10.000, 80.000)"
        in (measured(TOGETHER, wishes(fixed=Fixed("w", BOTH)), [moved])[0])
    )
    gone = [last[0], replace(last[1], board="B")]
    alone = plan(A=[(RAIL, 2, 10, 80)])
    assert len(measured(alone, wishes(fixed=Fixed("w", BOTH)), gone)) == 2
    assert len(measured(alone, wishes(from_boards=FromBoards("w", BOTH, ("B",))))) == 1
    asked = wishes(used=Used("w", ("C", "A"), Use.HELD_BACK))
    assert len(measured(TOGETHER, asked)) == 1
    two = plan(A=[(RAIL, 1, 10, 10)], B=[(RAIL, 2, 10, 10)])
    assert len(measured(two, wishes(used=Used("w", ("A", "B"), Use.HELD_BACK)))) == 2


def test_every_matched_group_is_looked_at():
    one_left = Matched("left over", (("rail", 3), ("rail", 1)))
    pair = Matched("pair", BOTH, Matching.MIRRORED)
    asked = Wishes(matched=(one_left, pair, replace(pair, title="again")), **ROWS)
    assert [fault.rule for fault in check_wishes(APART, asked)] == ["pair", "again"]


def test_boards_that_are_used_first_cost_where_they_are_not_opened():
    first = Used("v", ("A", "B", "C"), Use.FIRST, price_mm2=3e4)
    assert [broken.board for broken in broken_wishes(APART, Wishes(used=(first,)))] == ["B"]


def test_two_of_three_boards_astray_cost_twice():
    made = plan(A=[(CLEAT, 1, 9, 9)], C=[(CLEAT, 2, 9, 9)], D1=[(CLEAT, 3, 9, 9)])
    asked = wishes(matched=Matched("w", CLEATS, price_mm2=7e4))
    assert [broken.cost_mm2 for broken in broken_wishes(made, asked)] == [14e4]


def test_what_is_a_must_has_no_price():
    asked = wishes(matched=Matched("w", BOTH), from_boards=FromBoards("v", BOTH, ("B",)))
    assert [broken.cost_mm2 for broken in broken_wishes(APART, asked)] == [0.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("boards", "words"),
    [
        (("B", "C", "D/1", "D/2"), "is to come from B, C, D/1, D/2"),
        (("B", "C", "D/1", "D/2", "E"), "is to come from B, C, D/1, D/2 and 1 more"),
    ],
)
def test_at_most_four_boards_are_named(boards, words):
    (told,) = measured(plan(A=[(RAIL, 1, 9, 9)]), wishes(from_boards=FromBoards("w", BOTH, boards)))
    assert told.endswith(words)


def test_fixed_pieces_of_a_later_stage_and_on_boards_after_one_that_is_gone_are_told():
    asked = Wishes(
        fixed=(Fixed("first", BOTH[:1]), Fixed("second", BOTH[1:])),
        later=(Later("l", BOTH[1:], 2),),
        stage=1,
    )
    last = [At("A", APART.nests[0].placements[0]), At("C", APART.nests[1].placements[0])]
    nailed = replace(BOARDS["C"], keep_outs=(circle("metal", 100, 30, 5),))
    found = unsound_fixed(asked, last, [nailed], RULES, [RAIL, CLEAT], where="the plan in X")
    told = [(title, text.split(":")[1:3]) for title, text in found]
    assert told[0] == ("second", [" rail, 2 of 2 is of a later stage"])
    assert ("first", [" rail, 1 of 2 lay on A, which is no board any more"]) in told
    assert ("second", [" C", " clear of metal"]) in told


def test_wish_that_is_told_is_that_of_the_piece_in_the_way():
    asked = Wishes(fixed=(Fixed("first", BOTH[:1]), Fixed("second", BOTH[1:])))
    last = [At("A", placement) for placement in TOGETHER.nests[0].placements]
    nailed = replace(BOARDS["A"], keep_outs=(circle("metal", 100, 100, 5),))
    found = list(unsound_fixed(asked, last, [nailed], RULES, [RAIL], where="X"))
    assert [title for title, _ in found] == ["second"]
