"""What suits what: boxes, grain, value against wood; and figures made once."""

import math

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nesting.engine.state.problem import Problem, shared
from nesting.grain import GrainPath, straight_grain
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def bar(length=300.0, width=50.0, *, siding=20.0, grain_deg=0.0, slope=12.0, **given):
    own = straight_grain(grain_deg)
    outline = Outline(box(0, 0, length, width), siding, grain=own, slope_of_grain=slope)
    return Need("P", "any", outline, given.pop("species", ("oak",)), **given)


def board(length=300.0, width=50.0, *, thickness=30.0, species="oak", grain_deg=0.0, name="B"):
    grain = straight_grain(grain_deg)
    return Board(name, box(0, 0, length, width), thickness, species, grain=grain)


@pytest.mark.parametrize(
    ("other", "both"),
    [
        ((5, 4, 20, 30), (5, 4, 10, 10)),
        ((-5, -4, 3, 2), (0, 0, 3, 2)),
        ((10, 2, 20, 3), (10, 2, 10, 3)),
        ((2, 10, 3, 20), (2, 10, 3, 10)),
        ((10.1, 0, 20, 10), None),
        ((0, 10.1, 10, 20), None),
    ],
)
def test_two_boxes_share_where_they_meet(other, both):
    assert shared((0, 0, 10, 10), other) == both
    assert shared(other, (0, 0, 10, 10)) == both


@pytest.mark.parametrize(
    ("wood", "is_suited"),
    [
        (board(), True),
        (board(299.9), False),
        (board(300, 49.9), False),
        (board(50, 300), False),
        (board(50, 300, grain_deg=90.0), True),
        (board(thickness=19.9), False),
        (board(thickness=20), True),
        (board(species="pine"), False),
    ],
    ids=["same", "short", "narrow", "across", "upright", "thin", "as thick", "pine"],
)
def test_board_suits_a_part_whose_box_lies_in_its_own_true_to_the_grain(wood, is_suited):
    problem = Problem([bar()], [board(10, 10, name="tiny"), wood], NO_SAW)
    assert problem.suits == (((1,) if is_suited else ()),)
    assert problem.suit_sets == (frozenset(problem.suits[0]),)
    assert problem.suits_arrays[0].tolist() == list(problem.suits[0])
    assert problem.fits_box(0, 1) == (wood.shape.area >= 300 * 50 - 1 and problem.fits_box(0, 1))


def test_box_keeps_the_trim_on_both_sides():
    rules = Rules(kerf_mm=0, trim_mm=2, cleaning_loss_mm=0)
    sizes = [(304, 54), (303.9, 54), (304, 53.9), (308, 58)]
    problem = Problem([bar()], [board(*size) for size in sizes], rules)
    assert problem.suits == ((0, 3),)
    assert [problem.fits_box(0, b) for b in range(4)] == [True, False, False, True]


def test_part_longer_than_the_board_fits_leaning_as_far_as_its_slope_lets_it():
    """300 x 10 in 290 x 100: 300 cos a + 10 sin a is below 290 from about 16.8 degrees on."""
    run = 1 / math.tan(math.radians(17.2))
    steep, flat = bar(300, 10, slope=run), bar(300, 10, slope=1 / math.tan(math.radians(16.4)))
    problem = Problem([steep, flat], [board(290, 100), board(400, 100), board(290, 90)], NO_SAW)
    assert problem.suits == ((0, 1), (1,))


def test_grown_part_suits_only_boards_on_which_its_grain_finds_its_like():
    bend = GrainPath(((60.0, 420.0), (60.0, 60.0), (420.0, 60.0)))
    knee = Polygon([(0, 0), (300, 0), (300, 60), (60, 60), (60, 300), (0, 300)])
    own = GrainPath(((30.0, 300.0), (30.0, 30.0), (300.0, 30.0)))
    wanted = Need("K", "knee", Outline(knee, 20, grain=own), ("oak",))
    grown = Board("G", box(0, 0, 420, 420), 30, "oak", grain=bend)
    small = Board("S", box(0, 0, 310, 290), 30, "oak", grain=bend)
    straight = board(420, 420)
    assert Problem([wanted], [grown, small, straight], NO_SAW).suits == ((0,),)


def test_boards_of_one_wood_are_asked_once():
    boards = [board(name="A"), board(500, name="B"), board(thickness=40, name="C")]
    problem = Problem([bar()], boards, NO_SAW)
    assert [one.name for one in problem.unlike.values()] == ["B", "C"]
    assert problem.suits == ((0, 1, 2),)
    assert problem.thicknesses.tolist() == [30, 30, 40]
    assert problem.outline_areas.tolist() == [15_000]


def test_the_least_value_that_counts_is_dearer_than_all_wood():
    needs = [bar(value=4.0), bar(value=0.5), bar(value=0.0)]
    problem = Problem(needs, [board(), board()], NO_SAW)
    assert problem.dearness == pytest.approx(2 * 2 * 15_000 / 0.5)
    assert Problem([bar(value=0.0)], [board()], NO_SAW).dearness == pytest.approx(2 * 15_000)


def test_each_way_to_lie_is_there_once_and_made_once():
    problem = Problem([bar()], [board(), board(500), board(grain_deg=5.0)], NO_SAW)
    ways = problem.turnings(0, 0, is_leaning=False)
    assert [way.angle_deg for way in ways] in ([0.0], [180.0])
    assert problem.turnings(0, 1, is_leaning=False) is ways
    assert {way.angle_deg % 180 for way in problem.turnings(0, 2, is_leaning=False)} == {5.0}
    figure = problem.figure(0, 30.0, is_over=False)
    assert problem.figure(0, 30.0, is_over=False) is figure
    assert problem.figure(0, 30.0, is_over=True).number != figure.number
    assert figure.need is problem.needs[0]


def test_limit_keeps_a_figure_on_its_board_and_is_none_where_it_cannot_lie():
    problem = Problem([bar()], [board(500, 80), board(200, 80)], NO_SAW)
    figure = problem.figure(0, 0.0, is_over=False)
    assert problem.limit(figure, 0) == (0, 0, 200, 30)
    assert problem.limit(figure, 1) is None


def test_figures_are_looked_at_grown_by_the_gap_between_parts():
    rules = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=0)
    for given, gap in ((rules, 5.0), (NO_SAW, 0.0)):
        problem = Problem([bar()], [board()], given)
        figure = problem.figure(0, 0.0, is_over=False)
        grown, wood = problem.looks(figure)
        assert grown.bounds == pytest.approx((-gap, -gap, 300 + gap, 50 + gap), abs=2 * TOUCH_MM)
        assert wood == pytest.approx(np.array([[0, 50]] * 24))
        assert problem.looks(figure)[0] is grown
        apart = problem.between(figure, figure)
        assert problem.between(figure, figure) is apart
        assert apart.boxes[0] == pytest.approx((-300 - gap, -50 - gap, 300 + gap, 50 + gap))


def test_what_is_learnt_of_an_empty_board_is_kept():
    problem = Problem([bar()], [board(), board(299.0)], NO_SAW)
    figure = problem.figure(0, 0.0, is_over=False)
    assert not problem.is_closed(figure, 0)  # not known yet
    assert problem.has_room(figure, 0)
    assert not problem.has_room(figure, 1)
    assert problem.is_closed(figure, 1)
    problem.learn_room(figure, 0, is_there=False)
    assert problem.is_closed(figure, 0)
    assert problem.open_turnings(0, 0, is_leaning=False) == () or figure.angle_deg != 0.0


def test_a_thin_part_whose_least_extents_fit_may_still_fit_at_no_angle():
    """300 x 4 is shorter leaning and lower lying true: with trim 303.5 mm hold it leaning only."""
    rules = Rules(kerf_mm=0, trim_mm=2, cleaning_loss_mm=0)
    problem = Problem([bar(300, 4)], [board(303.5, 20), board(303.5, 40)], rules)
    assert problem.suits == ((1,),)


def test_leaning_ways_are_those_along_the_edges_of_each_board():
    boards = [
        Board("A", Polygon([(0, 0), (1000, 0), (1000, 100 + rise), (0, 100)]), 30, "oak")
        for rise in (20.0, 40.0)
    ]
    problem = Problem([bar()], boards, NO_SAW)
    leans = [{way.angle_deg for way in problem.turnings(0, b, is_leaning=True)} for b in (0, 1)]
    for found, rise in zip(leans, (20.0, 40.0), strict=True):
        assert any(a % 180 == pytest.approx(math.degrees(math.atan(rise / 1000))) for a in found)
    assert leans[0] != leans[1]


def test_angles_of_figures_are_between_nothing_and_a_whole_turn():
    problem = Problem([bar(grain_deg=20.0)], [board(grain_deg=10.0)], NO_SAW)
    found = {way.angle_deg for way in problem.turnings(0, 0, is_leaning=False)}
    assert found <= {350.0, 170.0, 30.0, 210.0}
    assert len(found) == 2


def test_grown_grain_leaves_less_of_a_board_than_its_box():
    bend = GrainPath(((60.0, 420.0), (60.0, 60.0), (420.0, 60.0)))
    grown = Board("G", box(0, 0, 420, 420), 30, "oak", grain=bend)
    problem = Problem([bar(100, 20)], [grown, board(420, 420)], NO_SAW)
    figure = problem.figure(0, 0.0, is_over=False)
    by_box = problem.grounds[0].limit(figure)
    assert problem.limit(figure, 1) == by_box == (0, 0, 320, 400)
    limit = problem.limit(figure, 0)
    assert limit[3] < by_box[3]  # along x it lies below the crook's upright arm
    assert shared(limit, by_box) == limit
    assert problem.free(1, 0).area == pytest.approx(420 * 420, rel=1e-6)
    assert problem.free(1, 0) is problem.free(1, 0)
