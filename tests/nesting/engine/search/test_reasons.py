"""Why parts are left over: each kind of reason by a small project, and its cure tried."""

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from nesting.accounts.left_over_words import told
from nesting.engine.pack import pack
from nesting.engine.search import reasons
from nesting.engine.state.plan_state import empty_plan
from nesting.engine.state.problem import Problem
from nesting.engine.stop import MaxRounds
from nesting.grain import GrainPath, straight_grain
from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.need import Holes, Misfit, Need
from nesting.outline import BearingZone, Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region, slot
from nesting.units import Unit, parse_length
from nesting.wishes import FromBoards, Wishes

RULES = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
BAR = Outline(box(0, 0, 900, 90), 20)
HOLED = tuple(circle(KeepOutKind.HOLE, x, 50, 6) for x in (60, 940))


def board(name="A", **given):
    shape = given.pop("shape", box(0, 0, 1000, 100))
    return Board(name, shape, given.pop("thickness", 30), given.pop("species", "oak"), **given)


def bar(outline=BAR, **given):
    return Need("bar", "any", outline, given.pop("species", ("oak",)), **given)


def planned(needs, boards, rules=RULES):
    plan = pack(needs, boards, rules, stop=MaxRounds(0))
    assert check_plan(plan, needs, rules) == ()
    return plan


def left(need, boards, rules=RULES):
    (found,) = planned([need], boards, rules).unplaced
    return found


def is_placed(need, boards, rules=RULES):
    return not planned([need], boards, rules).unplaced


def zoned(*ends):
    zones = tuple(BearingZone(box(*end), "end") for end in ends)
    return replace(BAR, bearing_zones=zones)


ENDS = zoned((0, 0, 80, 90), (820, 0, 900, 90))
SMALLER = {Cure.SHORTER, Cure.NARROWER}


def with_outline(need, **changes):
    return replace(need, outline=replace(need.outline, **changes))


def without(stock, kind):
    return replace(stock, keep_outs=tuple(k for k in stock.keep_outs if k.kind is not kind))


def as_holes(stock):
    drawn = tuple(replace(k, kind=KeepOutKind.HOLE) for k in stock.keep_outs)
    return replace(stock, keep_outs=drawn)


METAL = board(keep_outs=(circle(KeepOutKind.METAL, 500, 50, 6),))
ROTTEN = board(keep_outs=(region(KeepOutKind.ROT, [(480, 30), (520, 30), (520, 70), (480, 70)]),))
KNOTTY = board(keep_outs=(circle(KeepOutKind.KNOT, 500, 50, 40),))
STAINED = board(keep_outs=(circle(KeepOutKind.STAIN, 500, 50, 40),))
WIDE_HOLE = board(keep_outs=(circle(KeepOutKind.HOLE, 500, 50, 25),))
SLOT = slot(KeepOutKind.HOLE, (850, 97), (990, 97), 2)
WIDE_HOLE_AND_SLOT = board(keep_outs=(*WIDE_HOLE.keep_outs, SLOT))
NEAR_EDGE = board(shape=box(0, 0, 1000, 92), keep_outs=(circle(KeepOutKind.HOLE, 500, 8, 6),))
MANY = board(keep_outs=tuple(circle(KeepOutKind.HOLE, x, 50, 6) for x in range(130, 900, 95)))
SLIM = replace(BAR, shape=box(0, 0, 900, 60))
SLANTING = board(shape=Polygon([(0, 0), (1000, 140), (1000, 205), (0, 65)]))
HAND = Outline(Polygon([(0, 0), (900, 0), (900, 90)]), 20, may_turn_over=False)
OTHER_HAND = board(shape=Polygon([(0, 0), (1000, 0), (0, 100)]))

CASES = {
    "plugged": (
        bar(), board(keep_outs=HOLED), Remedy(Cure.PLUGGED, "A"),
        lambda need, wood: (replace(need, holes=Holes.PLUGGED), wood, RULES),
    ),
    "hidden": (
        bar(holes=Holes.PLUGGED), STAINED, Remedy(Cure.HIDDEN, "A"),
        lambda need, wood: (replace(need, holes=Holes.HIDDEN), wood, RULES),
    ),
    "bearing zones": (
        bar(ENDS, holes=Holes.PLUGGED), board(keep_outs=HOLED), Remedy(Cure.ZONES, "A"),
        lambda need, wood: (with_outline(need, bearing_zones=()), wood, RULES),
    ),
    "edges": (
        bar(holes=Holes.PLUGGED), NEAR_EDGE, Remedy(Cure.EDGES, "A", 6.0),
        lambda need, wood: (need, wood, replace(RULES, plug_edge_mm=0.0)),
    ),
    "bungs in a metre": (
        bar(holes=Holes.PLUGGED), MANY, Remedy(Cure.A_METRE, "A", 9.0),
        lambda need, wood: (replace(need, plugs_per_metre=9), wood, RULES),
    ),
    "size of bungs": (
        bar(holes=Holes.PLUGGED), WIDE_HOLE, Remedy(Cure.SIZES, "A", 25.5),
        lambda need, wood: (need, wood, replace(RULES, plug_sizes_mm=(25.5,))),
    ),
    "size of bungs beside a slot that none can close": (
        bar(holes=Holes.PLUGGED), WIDE_HOLE_AND_SLOT, Remedy(Cure.SIZES, "A", 25.5),
        lambda need, wood: (need, wood, replace(RULES, plug_sizes_mm=(25.5,))),
    ),
    "metal": (
        bar(holes=Holes.PLUGGED), METAL, Remedy(Cure.METAL, "A"),
        lambda need, wood: (need, as_holes(wood), RULES),
    ),
    "rot": (
        bar(), ROTTEN, Remedy(Cure.FLAW, "A", what="rot"),
        lambda need, wood: (need, without(wood, KeepOutKind.ROT), RULES),
    ),
    "knots": (
        bar(), KNOTTY, Remedy(Cure.FLAW, "A", what="knots"),
        lambda need, wood: (need, without(wood, KeepOutKind.KNOT), RULES),
    ),
    "old holes": (
        bar(), board(keep_outs=HOLED), Remedy(Cure.FLAW, "A", what="old holes"),
        lambda need, wood: (need, without(wood, KeepOutKind.HOLE), RULES),
    ),
    "turning over": (
        bar(HAND), OTHER_HAND, Remedy(Cure.TURNING, "A"),
        lambda need, wood: (with_outline(need, may_turn_over=True), wood, RULES),
    ),
    "slope of grain": (
        bar(SLIM), SLANTING, Remedy(Cure.SLOPE, "A", 6.0, "oak"),
        lambda need, wood: (with_outline(need, slope_of_grain=6.0), wood, RULES),
    ),
    "another wood": (
        bar(), board(species="teak"), Remedy(Cure.WOOD, "A", what="teak"),
        lambda need, wood: (replace(need, species=("teak",)), wood, RULES),
    ),
    "moisture": (
        bar(moisture_percent=(8, 14)), board(moisture_percent=19), Remedy(Cure.MOISTURE, "A", 19),
        lambda need, wood: (replace(need, moisture_percent=(8, 19)), wood, RULES),
    ),
    "heartwood": (
        bar(heartwood_only=True), board(heartwood=False), Remedy(Cure.HEARTWOOD, "A"),
        lambda need, wood: (replace(need, heartwood_only=False), wood, RULES),
    ),
    "previous use": (
        bar(not_from=("decking",)), board(member="decking"),
        Remedy(Cure.MEMBER, "A", what="decking"),
        lambda need, wood: (replace(need, not_from=()), wood, RULES),
    ),
    "thickness": (
        bar(), board(thickness=17), Remedy(Cure.THINNER, "A", 3.0),
        lambda need, wood: (with_outline(need, siding_mm=17.0), wood, RULES),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("need", "wood", "remedy", "cured"), CASES.values(), ids=CASES)
def test_what_limits_a_part_is_named_and_without_it_the_part_is_placed(need, wood, remedy, cured):
    found = left(need, [wood])
    assert remedy in found.prospect.remedies
    other_need, other_wood, rules = cured(need, wood)
    assert is_placed(other_need, [other_wood], rules)


@pytest.mark.parametrize(
    ("need", "wood", "cures"),
    [
        (bar(ENDS, holes=Holes.PLUGGED), board(keep_outs=HOLED), {Cure.ZONES, *SMALLER}),
        (bar(holes=Holes.PLUGGED), NEAR_EDGE, {Cure.EDGES, *SMALLER}),
        (bar(), ROTTEN, SMALLER),
        (bar(), board(species="teak", thickness=17), set()),
    ],
    ids=["zones", "edge", "rot", "two rules at once"],
)
def test_what_does_not_limit_a_part_is_not_named(need, wood, cures):
    named = {remedy.cure for remedy in left(need, [wood]).prospect.remedies}
    assert named - {Cure.FLAW} <= cures


@pytest.mark.parametrize("cure", [Cure.SHORTER, Cure.NARROWER])
def test_part_smaller_by_what_is_said_fits_and_much_larger_does_not(cure):
    size = (1100, 90) if cure is Cure.SHORTER else (900, 130)
    need = bar(Outline(box(0, 0, *size), 20))
    found = {remedy.cure: remedy for remedy in left(need, [board()]).prospect.remedies}
    assert set(found) == {cure}
    by = found[cure].amount
    assert by == pytest.approx(100 if cure is Cure.SHORTER else 30, abs=0.02 * max(size))
    less = (size[0] - by, 90) if cure is Cure.SHORTER else (900, size[1] - by)
    assert is_placed(bar(Outline(box(0, 0, *less), 20)), [board()])


@pytest.mark.parametrize("cure", sorted(SMALLER))
def test_size_is_told_by_the_board_that_lacks_least_not_by_the_one_with_most_wood(cure):
    wide, long = box(0, 0, 700, 400), box(0, 0, 1000, 100)
    part = Outline(box(0, 0, 1100, 90) if cure is Cure.SHORTER else box(0, 0, 690, 410), 20)
    found = left(bar(part), [board("wide", shape=wide), board("long", shape=long)])
    (told_,) = [remedy for remedy in found.prospect.remedies if remedy.cure is cure]
    nearest, lacks = ("long", 100) if cure is Cure.SHORTER else ("wide", 10)
    assert told_.board == nearest
    assert lacks <= told_.amount <= lacks + 0.02 * 1100


def test_grain_is_told_by_the_board_that_needs_the_flattest():
    # It lies along both: 10 degrees off the grain of the large one, 5 off the other's, 1 in 11.
    large = board("large", shape=box(0, 0, 1000, 100), grain=straight_grain(10))
    small = board("small", shape=box(0, 0, 930, 95), grain=straight_grain(5))
    need = bar(Outline(box(0, 0, 900, 90), 20, slope_of_grain=20))
    (told_,) = [r for r in left(need, [large, small]).prospect.remedies if r.cure is Cure.SLOPE]
    assert (told_.board, told_.amount) == ("small", 10.0)


def test_thickness_that_is_missing_is_said_where_nothing_else_would_do():
    found = left(bar(), [board(thickness=17, shape=box(0, 0, 700, 100)), board("B", thickness=12)])
    assert found.reason is Misfit.TOO_THIN
    assert found.prospect.lacks_mm == pytest.approx(3.0)
    assert [remedy.board for remedy in found.prospect.remedies] == ["B"]


def test_what_no_board_can_hold_is_proven():
    found = left(bar(Outline(box(0, 0, 1200, 90), 20)), [board()])
    assert (found.reason, found.prospect.outlook) == (Misfit.TOO_LONG, Outlook.NEVER)


BENT = GrainPath(((0.0, 50.0), (100.0, 50.0), (150.0, 60.0), (160.0, 110.0), (160.0, 210.0)))
KNEE = Outline(box(0, 0, 210, 210), 20, grain=BENT)
SWEPT = GrainPath(((0.0, 0.0), (500.0, 30.0), (1000.0, 90.0)))


@pytest.mark.parametrize(
    ("outline", "stock", "reason"),
    [
        # Its grain turns by a right angle; the boards have room for it, and no such grain.
        (KNEE, board(shape=box(0, 0, 1000, 600)), Misfit.OFF_GRAIN),
        (KNEE, board(shape=box(0, 0, 1000, 600), grain=SWEPT), Misfit.OFF_GRAIN),
        (KNEE, board(shape=box(0, 0, 1000, 200)), Misfit.TOO_LONG),
        # Straight grain that would have to lie across: too long, as anybody would say.
        (BAR, board(shape=box(0, 0, 600, 1000)), Misfit.TOO_LONG),
    ],
)
def test_grain_that_no_board_follows_is_not_called_too_long(outline, stock, reason):
    found = left(bar(outline), [stock])
    assert found.reason is reason
    assert found.prospect.outlook in (Outlook.NEVER, Outlook.HARDLY)


def test_grain_that_turns_too_little_anywhere_is_proof():
    """However large the boards: the one's grain turns by 5 degrees, the part's by 90."""
    need = bar(replace(KNEE, slope_of_grain=6.0))
    found = left(need, [board(shape=box(0, 0, 1000, 600), grain=SWEPT)])
    assert (found.reason, found.prospect.outlook) == (Misfit.OFF_GRAIN, Outlook.NEVER)
    plan = planned([need], [board(shape=box(0, 0, 1000, 600), grain=SWEPT)])
    assert plan.ideal.most_value == 0


def test_grain_that_leaves_less_than_half_the_strength_is_no_cure():
    # Its grain turns by 60 degrees: at 1 in 1 straight wood would hold it, flatter it does not.
    bend = GrainPath(((0.0, 0.0), (100.0, 0.0), (150.0, 29.0), (200.0, 115.0)))
    knee = Outline(box(0, 0, 200, 115), 20, grain=bend)
    found = left(bar(knee), [board(shape=box(0, 0, 1000, 600))])
    assert is_placed(bar(replace(knee, slope_of_grain=1.0)), [board(shape=box(0, 0, 1000, 600))])
    assert Cure.SLOPE not in {remedy.cure for remedy in found.prospect.remedies}


@pytest.mark.parametrize("stock", [board(), ROTTEN])
def test_when_time_is_over_no_more_is_said_than_that_no_room_was_found(stock):
    problem = Problem([bar()], [stock], RULES)
    (found,) = reasons.unplaced(empty_plan(problem), problem, is_over=lambda: True)
    assert (found.reason, found.prospect) == (Misfit.NO_ROOM, Prospect())


@pytest.mark.parametrize("is_barred", [True, False])
def test_no_cure_is_named_for_a_board_that_a_wish_bars(is_barred):
    named = ("B",) if is_barred else ("A", "B")
    wishes = Wishes(from_boards=(FromBoards("w", (("bar", 1),), named),))
    boards = [ROTTEN, replace(ROTTEN, name="B", species="teak")]
    need = bar(species=("oak", "teak"))
    plan = pack([need], boards, RULES, stop=MaxRounds(0), wishes=wishes)
    remedies = plan.unplaced[0].prospect.remedies
    assert {remedy.board for remedy in remedies} == ({"B"} if is_barred else {"A"})


def test_what_only_places_that_were_tried_rule_out_is_not_called_proven():
    found = left(bar(ENDS, holes=Holes.PLUGGED), [board(keep_outs=HOLED)])
    assert (found.reason, found.prospect.outlook) == (Misfit.NO_CLEAR_WOOD, Outlook.HARDLY)


def two_bars(value_of_second=1.0):
    return [
        replace(bar(value=9.0), part="dear"),
        replace(bar(value=value_of_second), part="cheap"),
    ]


def test_part_whose_board_went_to_another_is_said_to_have_room_on_it_alone():
    (found,) = planned(two_bars(), [board()]).unplaced
    assert (found.need.part, found.reason) == ("cheap", Misfit.NO_ROOM)
    assert found.prospect.room_on == ("A",)


def test_more_time_cannot_help_where_no_plan_places_more_value():
    (found,) = planned(two_bars(), [board()]).unplaced
    assert found.prospect.outlook is Outlook.FULL


def test_more_time_may_help_where_the_bound_on_value_is_not_met():
    arms = box(0, 30, 90, 60).union(box(30, 0, 60, 90))
    need = bar(Outline(arms, 20, slope_of_grain=1000), quantity=12)
    found = left(need, [board()])
    assert found.prospect.outlook is Outlook.TAKEN


def test_board_with_room_beside_what_lies_there_is_named():
    problem = Problem([bar()], [board(), board("B", species="teak")], RULES)
    (found,) = reasons.unplaced(empty_plan(problem), problem)
    assert (found.prospect.outlook, found.prospect.room_on) == (Outlook.SOON, ("A",))
    assert found.prospect.remedies == ()


def test_cure_of_a_part_that_others_displaced_is_one_for_boards_as_they_lie():
    boards = [board(), board("B", species="teak"), board("C", species="ash", thickness=10)]
    (found,) = planned(two_bars(), boards).unplaced
    assert Remedy(Cure.WOOD, "B", what="teak") in found.prospect.remedies
    assert not any(remedy.board == "A" for remedy in found.prospect.remedies)


def test_ctrl_c_keeps_the_plain_reasons(monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(reasons, "remedies", interrupted)
    found = left(bar(), [board(keep_outs=HOLED)])
    assert (found.reason, found.prospect.remedies) == (Misfit.NO_CLEAR_WOOD, ())


def test_words_are_in_the_unit_of_the_project():
    prospect = left(bar(), [board(thickness=20 - 3.175)]).prospect
    assert "the thickest lacks 1/8 in" in told(prospect, Unit.INCH)
    assert "board A, while empty, would hold it if it were 3.2 mm thinner" in told(
        prospect, Unit.MM
    )


@pytest.mark.parametrize("cure", Cure)
def test_every_cure_has_its_words(cure):
    prospect = replace(left(bar(), [ROTTEN]).prospect, remedies=(Remedy(cure, "D-07", 4.0, "rot"),))
    assert any(text.startswith("board D-07, ") for text in told(prospect, Unit.INCH))


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_bungs_as_large_as_is_told_close_the_hole(unit):
    """A hole of 20.17 mm is reamed to 20.67, which is no step of any rule."""
    need = bar(holes=Holes.PLUGGED)
    wood = board(keep_outs=[circle(KeepOutKind.HOLE, 500, 50, 20.17)])
    told_of = next(text for text in told(left(need, [wood]).prospect, unit) if "bungs of" in text)
    size = parse_length(told_of.split("bungs of ")[1])
    assert is_placed(need, [wood], replace(RULES, plug_sizes_mm=(size,)))
