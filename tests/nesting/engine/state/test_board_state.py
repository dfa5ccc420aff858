"""One board during the search: where the next part goes, what is remembered, what is taken off."""

import pytest
from shapely.geometry import Polygon, box

from nesting.engine.state import board_state
from nesting.engine.state.board_state import DRIFTS, TOWARD_LEFT, BoardState, Laid
from nesting.engine.state.placement_rules import is_acceptable
from nesting.engine.state.problem import Problem
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
SAW = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=0)


def bar(length, width=100.0, **given):
    return Need("P", "any", Outline(box(0, 0, length, width), 20), ("oak",), **given)


def problem_of(*lengths, rules=NO_SAW, board=(1000.0, 100.0), keep_outs=(), **given):
    wood = Board("A", box(0, 0, *board), 30, "oak", keep_outs=keep_outs)
    return Problem([bar(length, **given) for length in lengths], [wood], rules)


def box_of(laid):
    return pytest.approx(laid.figure.at(laid.x_mm, laid.y_mm).polygon.bounds)


@pytest.mark.parametrize("drift", DRIFTS)
def test_parts_fill_a_board_from_the_end_or_edge_they_drift_to(drift):
    problem = problem_of(300, width=40.0, rules=SAW)
    first = BoardState(0).spot(0, problem, drift)
    x = 699.0 if drift[0] < 0 else 1.0
    y = 59.0 if drift[1] < 0 else 1.0
    assert box_of(first) == (x, y, x + 300, y + 40)
    second = BoardState(0).with_part(first).spot(0, problem, drift)
    beside = 1 + 40 + 5 if y == 1.0 else 59 - 40 - 5
    x, y = (x, beside) if abs(drift[0]) == 1.0 else (x + 300 + 5, y)
    assert box_of(second) == (x, y, x + 300, y + 40)


def test_a_full_board_has_no_place_and_that_is_remembered_for_fuller_ones():
    problem = problem_of(600, 500)
    one = BoardState(0).with_part(BoardState(0).spot(0, problem))
    assert one.used_mm2 == pytest.approx(60_000)
    assert one.unused_mm2(problem) == pytest.approx(40_000)
    assert one.spot(1, problem) is None  # by area alone
    assert one.failed == {1}
    more = one.with_part(one.laid[0])
    assert more.failed == {1}
    assert more.failed is not one.failed
    assert one.without({0}).failed == set()


def test_parts_taken_off_leave_the_others_as_they_lie():
    problem = problem_of(200, 300, 400)
    state = BoardState(0)
    for need in range(3):
        state = state.with_part(state.spot(need, problem))
    left = state.without({0, 2})
    assert left.laid == state.laid[1:2]
    assert left.used_mm2 == pytest.approx(30_000)
    again = left.spot(0, problem)
    assert box_of(again) == (0, 0, 200, 100)


def test_an_answer_is_remembered_for_its_drift_and_not_when_time_was_over():
    problem = problem_of(300)
    state = BoardState(0)
    assert state.spot(0, problem, is_over=lambda: True) is None
    found = state.spot(0, problem)
    assert found is not None
    assert state.spot(0, problem) is found
    assert state.spot(0, problem, (-1.0, 0.02)) is not found
    assert len(state.spots) == 2
    assert state.failed == state.not_at_once == set()


def test_a_window_keeps_a_part_where_it_is_wanted():
    problem = problem_of(300)
    figure = problem.figure(0, 0.0, is_over=False)
    state, window = BoardState(0), (250.0, -5.0, 400.0, 5.0)
    assert box_of(state.best_place(0, figure, problem, TOWARD_LEFT, window)) == (250, 0, 550, 100)
    right = state.best_place(0, figure, problem, (-1.0, 0.02), window)
    assert box_of(right) == (400, 0, 700, 100)
    assert state.best_place(0, figure, problem, TOWARD_LEFT, (701.0, 0.0, 900.0, 5.0)) is None
    assert box_of(state.best_place(0, figure, problem, TOWARD_LEFT)) == (0, 0, 300, 100)


def test_neighbours_are_kept_off_by_the_gap_and_far_ones_are_not_looked_at():
    problem = problem_of(300, rules=SAW, board=(1400.0, 102.0))
    figure = problem.figure(0, 0.0, is_over=False)
    state = BoardState(0)
    for x in (10.0, 1000.0):
        state = state.with_part(Laid(0, figure, x, 1.0))
    near = state.best_place(0, figure, problem, TOWARD_LEFT)
    assert box_of(near) == (315, 1, 615, 101)
    alone = problem.grounds[0].region(figure, (500.0, 0.0, 600.0, 10.0))
    between_them = state.region(figure, problem, (320.0, 0.0, 690.0, 10.0))
    assert len(between_them.first) == len(alone.first)
    touching = state.region(figure, problem, (315.0, 0.0, 695.0, 10.0))
    assert len(touching.first) == len(alone.first) + 2


def test_part_leans_only_where_it_finds_no_room_true_to_the_grain():
    """300 x 10 in 290 x 100 fits only leaning; turned at once it is not even asked."""
    wanted = Need(
        "P", "any", Outline(box(0, 0, 300, 10), 20, slope_of_grain=3.2305), ("oak",), quantity=2
    )
    wood = Board("A", box(0, 0, 290, 100), 30, "oak")
    problem, state = Problem([wanted], [wood], NO_SAW), BoardState(0)
    assert state.spot(0, problem, is_quick=True) is None
    assert (state.not_at_once, state.failed) == ({0}, set())
    found = state.spot(0, problem)
    assert found is not None
    lean = found.figure.angle_deg % 180
    assert 16.7 < min(lean, 180 - lean) <= 17.2
    assert state.with_part(found).not_at_once == {0}


def test_places_that_crowd_a_metre_with_bungs_are_passed_over():
    """Ten holes in a row, then clear wood: at most three may lie in a part."""
    holes = tuple(circle(KeepOutKind.HOLE, x, 50, 4) for x in range(50, 550, 50))
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, plugs_per_metre=3)
    problem = problem_of(
        500, rules=rules, board=(1020.0, 100.0), keep_outs=holes, holes=Holes.PLUGGED
    )
    found = BoardState(0).spot(0, problem)
    assert found is not None
    inside = [k for k in holes if found.x_mm < k.core.x < found.x_mm + 500]
    assert 2 <= len(inside) <= 3
    assert 350 < found.figure.at(found.x_mm, found.y_mm).polygon.bounds[0] < 400


def test_nothing_left_of_all_that_was_proposed_is_not_called_impossible(monkeypatch):
    """What other rules refuse may find room another day; only regions prove that none is left."""
    problem = problem_of(500, holes=Holes.PLUGGED, keep_outs=(circle(KeepOutKind.HOLE, 50, 50, 4),))
    monkeypatch.setattr(board_state, "keeps_bung_rules", lambda *_: False)
    state = BoardState(0)
    assert state.spot(0, problem) is None
    assert state.failed == set()


WEDGE = Polygon([(0, 0), (300, 0), (300, 60), (0, 20)])


def wedges(keep_outs=()):
    wanted = Need("P", "any", Outline(WEDGE, 20), ("oak",), 3)
    return Problem(
        [wanted], [Board("A", box(0, 0, 1000, 100), 30, "oak", keep_outs=keep_outs)], SAW
    )


def far(laid, drift):
    """Return how far the far corner of a part's box lies, as a drift weighs it."""
    return drift[0] * (laid.x_mm + laid.figure.box[2]) + drift[1] * (laid.y_mm + laid.figure.box[3])


@pytest.mark.parametrize("drift", DRIFTS)
def test_the_way_that_lies_nearest_with_its_far_corner_is_taken(drift):
    """Every way asked by itself: the best of them all, metal in one corner of the board."""
    problem = wedges((circle(KeepOutKind.METAL, 40, 80, 30), circle(KeepOutKind.METAL, 950, 10, 9)))
    state = BoardState(0)
    for _ in range(3):
        ways = problem.turnings(0, 0, is_leaning=False)
        assert len(ways) > 2
        each = (state.best_place(0, way, problem, drift) for way in ways)
        found = state.spot(0, problem, drift)
        assert far(found, drift) == pytest.approx(min(far(laid, drift) for laid in each if laid))
        others = [p.figure.at(p.x_mm, p.y_mm).polygon for p in state.laid]
        lying = found.figure.at(found.x_mm, found.y_mm).polygon
        assert all(other.distance(lying) >= SAW.part_gap_mm - 1e-6 for other in others)
        state = state.with_part(found)


@pytest.mark.parametrize(
    ("length", "height", "at"), [(1600.0, 45.0, (600, 0)), (910.0, 20.0, (0, 20))]
)
def test_the_lowest_place_is_found_beside_a_flaw_or_above_it(length, height, at):
    """Height counts 20 times what length does, and a flaw lies along the first 600 mm."""
    knot = region(KeepOutKind.KNOT, [(0, 0), (600, 0), (600, height), (0, height)])
    problem = problem_of(300, width=40.0, board=(length, 100.0), keep_outs=(knot,))
    found = BoardState(0).spot(0, problem, (0.05, 1.0))
    assert box_of(found) == (at[0], at[1], at[0] + 300, at[1] + 40)


def test_a_board_that_is_taken_is_not_learnt_to_have_no_room_when_empty():
    problem = problem_of(600, 390, width=60.0)
    state = BoardState(0).with_part(BoardState(0).spot(0, problem))
    narrow = problem.figure(0, 0.0, is_over=False)
    assert state.spot(0, problem) is None
    assert not problem.is_closed(narrow, 0)
    assert BoardState(0).spot(0, problem) is not None


def test_places_on_grown_grain_are_true_to_it():
    bend = GrainPath(((0.0, 50.0), (400.0, 50.0), (1000.0, 200.0)))
    wood = Board("A", box(0, 0, 1000, 300), 30, "oak", grain=bend)
    problem = Problem([bar(300, 40.0)], [wood], NO_SAW)
    for drift in DRIFTS:
        each = [
            BoardState(0).best_place(0, way, problem, drift)
            for way in problem.turnings(0, 0, is_leaning=False)
        ]
        found = [laid for laid in [BoardState(0).spot(0, problem, drift), *each] if laid]
        assert len(found) > 1
        assert all(is_acceptable(p.figure, p.x_mm, p.y_mm, 0, problem) for p in found)


def test_quick_places_are_the_first_that_a_way_finds():
    problem, asked = wedges(), []
    plain = BoardState._proposals

    def noted(state, need, figure, *given):
        found = plain(state, need, figure, *given)
        asked.append(figure.angle_deg)
        return found

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BoardState, "_proposals", noted)
        ways = len(problem.turnings(0, 0, is_leaning=False))
        BoardState(0).spot(0, problem, is_quick=True)
        assert len(asked) == 1
        BoardState(0).spot(0, problem)
        assert len(asked) == 1 + ways > 2
        asked.clear()
        state = BoardState(0)
        found = state.spot(0, problem, is_over=lambda: len(asked) > 0)
    assert found is not None  # the best found by then
    assert state.spots == {}
