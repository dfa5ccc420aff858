"""What is left of a board: pieces that fall apart, and what each of them inherits."""

import math
from dataclasses import replace

import numpy as np
import pytest
from book_shop import need, plank
from shapely.geometry import Point, Polygon, box

from nesting.book.outlines import wood_of
from nesting.book.rests import kept_in, left_after, rest_of, sawn_away
from nesting.book.wood import board_of
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.keep_out import KeepOutKind, circle, region
from parts.families.knees import Knee

WOOD = box(100, 50, 1100, 250)


def areas(parts):
    return [part.area for part in parts]


def test_saw_takes_the_pieces_and_as_much_around_them():
    taken = sawn_away([box(0, 0, 100, 50), box(200, 0, 300, 50)], 3.0)
    assert taken.area == pytest.approx(2 * (100 * 50 + 3 * 300 + math.pi * 3**2), abs=2)


@pytest.mark.parametrize("degrees", [30, 45, 60])
def test_piece_that_lies_askew_before_the_corner_of_one_that_is_sawn_stays_sound(degrees):
    """The plan has saw and both trims between them: its own trim is left on the one that stays."""
    rules = Rules(kerf_mm=3, trim_mm=1.5, cleaning_loss_mm=1)
    part = Need("bar", "", Outline(box(0, 0, 200, 60), 20), ("teak",))
    turn = math.radians(degrees)
    corner = np.array([400.0, 120.0])
    facing = corner + rules.part_gap_mm * np.array([math.cos(turn), math.sin(turn)])
    # Its lower edge runs square to that way, half of it on either side.
    x, y = facing - 100 * np.array([math.sin(turn), -math.cos(turn)])
    askew = Placement(part, float(x), float(y), degrees - 90.0)
    board = plank(length=1000.0, width=600.0)
    first = box(0, 0, *corner)
    assert askew.polygon.distance(first) == pytest.approx(rules.part_gap_mm)
    taken = sawn_away([first], rules.kerf_mm + rules.trim_mm)
    (left, *_) = left_after(board.shape, taken, [askew.polygon])
    found = check_nest(Nest(replace(board, shape=Polygon(left.exterior)), (askew,)), rules)
    assert [fault.rule for fault in found if fault.rule != "slope of grain"] == []


def test_largest_piece_of_what_falls_apart_comes_first():
    parts = left_after(WOOD, box(300, 0, 310, 300))
    assert areas(parts) == pytest.approx([790 * 200, 200 * 200])


@pytest.mark.parametrize(("web", "count"), [(9.9, 2), (10.1, 1)])
def test_web_as_wide_as_a_board_holds_what_is_left_together(web, count):
    taken = box(300, 50 + web, 900, 300)
    parts = left_after(WOOD, taken)
    assert len(parts) == count
    assert sum(areas(parts)) == pytest.approx(400 * 200 + (600 * web if count == 1 else 0), abs=9)


def test_web_with_a_piece_still_to_be_sawn_stays_but_no_splinter_is_a_board():
    taken = box(300, 59, 900, 300)
    planned = [box(400, 51, 800, 58)]
    (whole,) = left_after(WOOD, taken, planned)
    assert whole.area == pytest.approx(400 * 200 + 600 * 9, rel=1e-3)
    # Where the web hangs on nothing any more it is no board, whatever lies in it.
    assert left_after(WOOD, box(0, 59, 1200, 300), planned) == []
    assert left_after(WOOD, box(109, 0, 1200, 300), [box(101, 60, 108, 240)]) == []


def test_openings_stay_and_what_rounding_leaves_of_them_does_not():
    pinholes = WOOD.difference(Point(200, 100).buffer(0.3))
    whole, hole = box(0, 0, 10, 10), box(500, 100, 600, 200)
    (part,) = left_after(pinholes, whole)
    assert not part.interiors
    (part,) = left_after(WOOD, hole)
    assert part.area == pytest.approx(1000 * 200 - 100 * 100)


def test_rest_lies_at_its_own_corner_with_its_keep_outs_and_openings():
    board = plank(keep_outs=[circle("hole", 400, 150, 6), circle("metal", 1500, 100, 4)])
    wood = box(100, 50, 1100, 190).difference(box(500, 80, 600, 120))
    rest = rest_of(board, wood)
    assert (rest.at, rest.wood) == ((100, 50), wood)
    own = board_of("A.1", rest.data)
    assert own.shape.bounds == (0, 0, 1000, 140)
    assert wood_of(rest.data).equals(box(0, 0, 1000, 140).difference(box(400, 30, 500, 70)))
    hole, groove = own.keep_outs
    assert (hole.kind, hole.core.x, hole.core.y) == (KeepOutKind.HOLE, 300, 100)
    assert groove.polygon.bounds == (400, 30, 500, 70)
    assert (own.thickness_mm, own.species) == (board.thickness_mm, board.species)


ROT = region(KeepOutKind.ROT, [(1000, 100), (1200, 100), (1200, 200), (1000, 200)])


def test_keep_out_goes_with_the_wood_that_has_it_whole_or_in_part():
    assert list(kept_in(ROT, box(0, 0, 1300, 300))) == [ROT]
    assert list(kept_in(ROT, box(0, 0, 900, 300))) == []
    (part,) = kept_in(ROT, WOOD)
    assert part.polygon.equals(box(1000, 100, 1100, 200))
    assert part.kind is KeepOutKind.ROT


def test_crumb_of_a_keep_out_is_none_but_a_small_one_that_is_whole_is():
    assert list(kept_in(ROT, box(0, 0, 1000.009, 300))) == []
    (part,) = kept_in(ROT, box(0, 0, 1000.02, 300))
    assert part.polygon.area == pytest.approx(2)
    tack = circle("metal", 300, 100, 0.5)
    assert list(kept_in(tack, WOOD)) == [tack]
    (half,) = kept_in(tack, box(0, 0, 300.1, 300))
    assert half.kind is KeepOutKind.METAL


def test_keep_out_on_both_sides_of_a_notch_is_two():
    notched = Polygon([(100, 50), (1100, 50), (1100, 250), (600, 250), (600, 60), (580, 60),
                       (580, 250), (100, 250)])  # fmt: skip
    rot = region(KeepOutKind.ROT, [(500, 100), (700, 100), (700, 200), (500, 200)])
    parts = list(kept_in(rot, notched))
    assert sorted(part.polygon.area for part in parts) == pytest.approx([8000, 10000])


def test_whichever_piece_of_a_plan_is_sawn_alone_the_others_stay_sound():
    rules = Rules(kerf_mm=3, trim_mm=1.5, cleaning_loss_mm=1)
    shape = {"siding": 20, "beam_arm": 160, "side_arm": 200, "throat": 70, "tip_moulding": 25}
    knee = Knee(kind="hanging", angle=75, bolts=0, slope_of_grain=2, **shape)
    needs = [
        Need.of("knee", knee, ["teak"], quantity=5),
        need("cleat", length=150.0, width=45.0, siding=20.0, quantity=5),
    ]
    boards = [plank(name, length=900.0, width=260.0) for name in "AB"]
    plan = pack(needs, boards, rules, stop=MaxRounds(2))
    looked = 0
    for nest in plan.nests:
        for number, gone in enumerate(nest.placements):
            others = nest.placements[:number] + nest.placements[number + 1 :]
            taken = sawn_away([gone.polygon], rules.kerf_mm + rules.trim_mm)
            left = left_after(nest.board.shape, taken, [other.polygon for other in others])
            rests = [rest_of(nest.board, part) for part in left]
            for other in others:
                (on,) = [rest for rest in rests if rest.wood.intersects(other.polygon)]
                board = board_of("A.1", on.data)
                moved = replace(other, x_mm=other.x_mm - on.at[0], y_mm=other.y_mm - on.at[1])
                assert check_nest(Nest(board, (moved,)), rules) == ()
                looked += 1
    assert looked > 30
