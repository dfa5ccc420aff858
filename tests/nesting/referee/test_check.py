"""Every rule of the referee, broken once: it must see each, and nothing else."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon, box

from nesting.errors import RefereeError
from nesting.grain import GrainPath, straight_grain
from nesting.need import Holes, Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import BearingZone, Outline
from nesting.referee.check import check_nest, check_plan, require_sound
from nesting.rules import USUAL_CLEARANCES_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import OPENING, KeepOut, KeepOutKind, circle, region, slot

RULES = Rules(
    kerf_mm=3,
    trim_mm=1,
    blade_clearance_mm=6,
    clearances_mm={KeepOutKind.ROT: 10},
    cleaning_loss_mm=1,
    plug_sizes_mm=(10, 20),
    reaming_mm=0.5,
    plug_edge_mm=5,
    plugs_per_metre=3,
)
BOARD = Board("A", box(0, 0, 1000, 200), 30, "oak", member="decking", moisture_percent=15.0)
OUTLINE = Outline(box(0, 0, 300, 80), 20, bearing_zones=(BearingZone(box(0, 0, 40, 80), "end"),))
NEED = Need("beam", "any", OUTLINE, ("oak",), holes=Holes.PLUGGED)


def faults(*placements: Placement, board: Board = BOARD) -> list[str]:
    return [fault.rule for fault in check_nest(Nest(board, placements), RULES)]


def at(x: float, y: float, angle: float = 0.0, need: Need = NEED, **given) -> Placement:
    return Placement(need, x, y, angle, **given)


def with_keep_outs(*keep_outs: KeepOut) -> Board:
    return replace(BOARD, keep_outs=keep_outs)


def with_need(**given) -> Need:
    return replace(NEED, **given)


def test_sound_nest_has_no_fault():
    holes = with_keep_outs(circle(KeepOutKind.HOLE, 200, 50, 6))
    assert faults(at(1, 1), at(306, 1), at(1, 86), board=holes) == []


def test_part_at_exactly_the_trim_from_the_edge_is_sound_and_a_hair_less_is_not():
    assert faults(at(1, 1)) == []
    assert faults(at(1, 0.9999)) == ["trim at the edge"]


def test_part_over_the_edge_is_seen():
    assert faults(at(750, 50)) == ["inside the board"]


def test_part_in_a_notch_of_the_board_is_seen():
    notched = replace(BOARD, shape=BOARD.shape.difference(box(400, 150, 500, 200)))
    assert faults(at(380, 90), board=notched) == ["inside the board"]


def test_neighbours_need_kerf_and_both_trims():
    assert faults(at(1, 1), at(306, 1)) == []
    assert faults(at(1, 1), at(305.999, 1)) == ["kerf and trim"]


def test_overlap_is_seen_even_without_a_saw():
    bare = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
    nest = Nest(BOARD, (at(1, 1), at(200, 1)))
    assert [fault.rule for fault in check_nest(nest, bare)] == ["overlap"]


def piece(*corners: tuple[float, float]) -> Need:
    outline = Outline(Polygon(corners), 10, slope_of_grain=1e6)
    return Need("piece", "any", outline, ("oak",))


def test_edges_that_run_along_each_other_but_for_their_last_digits_are_no_overlap():
    """On these corners GEOS 3.14, without a grid, takes all of the wedge for shared."""
    frame = piece((388, 246), (178, 158), (396, 158), (396, 1000), (0, 1000), (0, 700))
    wedge = piece((388, 246), (0, 700), (0, 158), (178, 158))
    bare = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
    square = replace(BOARD, shape=box(0, 0, 1000, 1000))

    def rules_broken(wedge_x: float) -> list[str]:
        lying = (
            at(999.9999999999999, -158.00000000000003, 180.0, frame, is_turned_over=True),
            at(wedge_x, -158.0, 180.0, wedge, is_turned_over=True),
        )
        return [fault.rule for fault in check_nest(Nest(square, lying), bare)]

    assert rules_broken(999.9999999999999) == []
    assert rules_broken(999.99) == ["overlap"]


def test_part_in_another_s_cut_out_is_not_an_overlap():
    frame = Outline(box(0, 0, 400, 150).difference(box(30, 30, 370, 120)), 20)
    small = Outline(box(0, 0, 320, 70), 20)
    frame_need, small_need = with_need(part="frame", outline=frame), with_need(outline=small)
    assert faults(at(5, 5, need=frame_need), at(45, 45, need=small_need)) == []
    assert faults(at(5, 5, need=frame_need), at(36, 45, need=small_need)) == ["kerf and trim"]


@pytest.mark.parametrize(
    ("keep_out", "rule"),
    [
        (circle(KeepOutKind.METAL, 150, 93.4, 5), "clear of metal"),
        (circle(KeepOutKind.METAL, 150, 40, 5), "clear of metal"),
        (region(KeepOutKind.ROT, [(100, 90), (200, 90), (150, 120)]), "clear of rot"),
        (region(KeepOutKind.ROT, [(100, 20), (200, 20), (150, 60)]), "clear of rot"),
        (slot(KeepOutKind.GROOVE, (0, 82), (900, 82), 6), "clear of groove"),
        (circle(KeepOutKind.KNOT, 150, 40, 20), "clear of knot"),
        (circle(KeepOutKind.HOLE, 150, 81, 6), "clear of hole"),
        (circle(KeepOutKind.HOLE, 150, 76, 6), "bung to cut edge"),
        (circle(KeepOutKind.HOLE, 44, 40, 6), "bearing zone"),
        (circle(KeepOutKind.HOLE, 150, 40, 25), "clear of hole"),
        (circle(KeepOutKind.STAIN, 150, 40, 25), "clear of stain"),
        (region(KeepOutKind.STAIN, [(100, 20), (200, 20), (150, 60)]), "clear of stain"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.kind.value,
)
def test_keep_out_is_respected(keep_out, rule):
    assert faults(at(1, 1), board=with_keep_outs(keep_out)) == [rule]


def test_split_that_no_clearance_is_named_for_keeps_the_usual_one():
    beyond = 81 + USUAL_CLEARANCES_MM[KeepOutKind.SPLIT] + 1
    for y, found in ((beyond - 0.01, ["clear of split"]), (beyond + 0.01, [])):
        end = slot(KeepOutKind.SPLIT, (100, y), (200, y), 2)
        assert faults(at(1, 1), board=with_keep_outs(end)) == found


def test_metal_keeps_blade_clearance_from_the_far_side_of_the_kerf():
    needed = 6 + 3 + 1
    edge = 81 + needed + 2.5
    assert faults(at(1, 1), board=with_keep_outs(circle(KeepOutKind.METAL, 150, edge, 5))) == []


def test_hidden_part_takes_stain_and_surface_checks_only():
    hidden = with_need(holes=Holes.HIDDEN)
    stain = circle(KeepOutKind.STAIN, 150, 40, 60)
    check = replace(slot(KeepOutKind.SPLIT, (20, 40), (200, 42), 2), depth_mm=2)
    assert faults(at(1, 1, need=hidden), board=with_keep_outs(stain, check)) == []
    through = replace(check, depth_mm=None)
    assert faults(at(1, 1, need=hidden), board=with_keep_outs(through)) == ["clear of split"]


def test_clear_part_takes_no_hole():
    holes = with_keep_outs(circle(KeepOutKind.HOLE, 150, 40, 6))
    assert faults(at(1, 1, need=with_need(holes=Holes.CLEAR)), board=holes) == ["clear of hole"]


def test_bungs_may_not_overlap_but_one_bung_closes_a_hole_in_its_recess():
    pair = with_keep_outs(
        circle(KeepOutKind.HOLE, 150, 40, 6), circle(KeepOutKind.HOLE, 158, 40, 6)
    )
    assert faults(at(1, 1), board=pair) == ["bungs overlap"]
    bunged = with_keep_outs(
        circle(KeepOutKind.RECESS, 150, 40, 12), circle(KeepOutKind.HOLE, 150, 40, 6)
    )
    assert faults(at(1, 1), board=bunged) == []
    assert len(Nest(bunged, (at(1, 1),)).bungs(RULES)) == 1


def test_bungs_in_a_metre_are_counted():
    row = [circle(KeepOutKind.HOLE, x, 40, 6) for x in (80, 140, 200, 260)]
    assert faults(at(1, 1), board=with_keep_outs(*row)) == ["bungs in a metre"]
    assert faults(at(1, 1), board=with_keep_outs(*row[:3])) == []


def test_keep_out_that_needs_no_clearance_may_touch_a_part_and_not_reach_into_it():
    for low, found in ((81, []), (80.99, ["clear of stain"])):
        stain = region(KeepOutKind.STAIN, [(50, low), (250, low), (250, 150), (50, 150)])
        assert faults(at(1, 1), board=with_keep_outs(stain)) == found


def test_opening_sawn_out_of_a_board_keeps_the_trim_as_its_edge_does():
    opening = KeepOut("groove", box(400, 50, 600, 150), source=OPENING)
    trim = RULES.trim_mm
    assert faults(at(100 - trim, 60), board=with_keep_outs(opening)) == []
    assert faults(at(100 - trim + 1e-3, 60), board=with_keep_outs(opening)) == ["clear of groove"]
    routed = replace(opening, source="tape")
    assert faults(at(100, 60), board=with_keep_outs(routed)) == []


def test_bung_at_exactly_its_distance_from_the_edge_is_sound_and_a_hair_less_is_not():
    """A hole of 6 takes a bung of 10, with 5 of wood beside it: 10 from the edges at 1 and 81."""
    for y, found in (
        (71, []),
        (71.01, ["bung to cut edge"]),
        (11, []),
        (10.99, ["bung to cut edge"]),
    ):
        assert faults(at(1, 1), board=with_keep_outs(circle(KeepOutKind.HOLE, 150, y, 6))) == found


def test_bung_keeps_its_distance_from_the_edge_of_the_smaller_face_of_a_bevelled_part():
    """Of 300 x 80 mm 12 mm are bevelled off along the upper edge: 68 are left on both faces."""
    bevelled = with_need(outline=replace(OUTLINE, both_faces=box(0, 0, 300, 68)))
    for below, rules in ((10.0, []), (9.999, ["bung to cut edge"]), (-6.0, ["bung to cut edge"])):
        board = with_keep_outs(circle("hole", 250, 60 + 68 - below, 6))
        assert faults(at(50, 60, need=bevelled), board=board) == rules
    gone = with_need(outline=replace(OUTLINE, both_faces=Polygon()))
    assert faults(at(50, 60, need=gone), board=board) == ["bung to cut edge"]


def test_bung_may_touch_a_bearing_zone_and_not_reach_into_it():
    """The zone ends at 41; the bung reaches 5 to each side."""
    for x, found in ((46, []), (45.99, ["bearing zone"]), (20, ["bearing zone"])):
        assert faults(at(1, 1), board=with_keep_outs(circle(KeepOutKind.HOLE, x, 41, 6))) == found


@pytest.mark.parametrize(("dx", "dy"), [(1, 0), (0, 1), (0.6, 0.8)])
def test_bungs_of_two_sizes_may_touch_and_not_overlap(dx, dy):
    """A recess of 12 takes a bung of 20, a hole of 6 one of 10: 15 from middle to middle."""
    recess = circle(KeepOutKind.RECESS, 150, 35, 12)
    sound = 15 if dx == 1 else 15.001
    for apart, found in ((sound, []), (14.99, ["bungs overlap"])):
        hole = circle(KeepOutKind.HOLE, 150 + apart * dx, 35 + apart * dy, 6)
        assert faults(at(1, 1), board=with_keep_outs(recess, hole)) == found
        assert faults(at(1, 1), board=with_keep_outs(hole, recess)) == found


@pytest.mark.parametrize(("dx", "dy"), [(1, 0), (0, 1), (-0.6, 0.8)])
def test_a_hole_is_closed_by_the_bung_of_a_recess_that_holds_all_of_it(dx, dy):
    """The bung reaches 10 from its middle, the hole 3 from its own."""
    recess = circle(KeepOutKind.RECESS, 150, 40, 12)
    for apart, found in ((6.999, []), (7.01, ["bungs overlap"])):
        hole = circle(KeepOutKind.HOLE, 150 + apart * dx, 40 + apart * dy, 6)
        assert faults(at(1, 1), board=with_keep_outs(hole, recess)) == found


LONG = with_need(outline=Outline(box(0, 0, 2400, 80), 20))


@pytest.mark.parametrize("angle", [0, 90, 180])
@pytest.mark.parametrize(
    ("marks", "found"),
    [
        ((100, 400, 700, 1100.01, 1500, 1800), []),
        ((100, 400, 700, 1099.99), ["bungs in a metre"]),
        ((200, 1300, 1500, 1800, 2250), ["bungs in a metre"]),
        ((1800, 2250, 200, 1500, 1300), ["bungs in a metre"]),
    ],
    ids=["a metre and a hair", "a metre less a hair", "a later metre", "in another order"],
)
def test_bungs_are_counted_in_every_metre_along_the_part(angle, marks, found):
    long = at(1200, 1200, angle, LONG)
    holes = [
        circle(KeepOutKind.HOLE, float(x), float(y), 6)
        for x, y in long.to_board(np.array([(mark, 40.0) for mark in marks]))
    ]
    board = Board("A", box(-2000, -2000, 5000, 5000), 30, "oak", keep_outs=tuple(holes))
    board = replace(board, grain=straight_grain(angle))
    assert faults(long, board=board) == found


def test_part_that_takes_no_bung_at_all_is_sound_without_a_hole():
    need = with_need(plugs_per_metre=0)
    assert faults(at(1, 1, need=need)) == []
    one = with_keep_outs(circle(KeepOutKind.HOLE, 150, 40, 6))
    assert faults(at(1, 1, need=need), board=one) == ["bungs in a metre"]


def test_holes_beside_a_part_are_not_counted_among_its_bungs():
    row = [circle(KeepOutKind.HOLE, x, 40, 6) for x in (80, 140, 200)]
    beside = circle(KeepOutKind.HOLE, 260, 95, 6)
    assert faults(at(1, 1), board=with_keep_outs(*row, beside)) == []


def test_slope_of_grain_has_a_limit():
    assert faults(at(50, 50, 4.7)) == []
    assert faults(at(50, 50, 4.8)) == ["slope of grain"]
    slanting = replace(BOARD, grain=straight_grain(4.8))
    assert faults(at(50, 50, 4.8), board=slanting) == []


def test_grown_grain_is_compared_along_the_whole_part():
    crook = replace(BOARD, grain=GrainPath(((0, 50), (150, 50), (260, 120))))
    assert faults(at(10, 20), board=crook) == ["slope of grain"]


def test_part_at_exactly_its_slope_of_grain_is_sound_and_a_hair_more_is_not():
    limit = math.degrees(math.atan(1 / OUTLINE.slope_of_grain))
    for turn in (limit, -limit):
        assert faults(at(50, 50, turn)) == []
        assert faults(at(50, 50, 1.0001 * turn)) == ["slope of grain"]


def test_part_at_exactly_its_limit_of_run_out_is_sound_and_a_hair_more_is_not():
    """Its upper edge rises 1 in 20."""
    taper = Outline(Polygon([(0, 0), (400, 0), (400, 80), (0, 60)]), 20, run_out=20)
    for limit, found in ((20, []), (20.001, ["run-out of grain"])):
        need = with_need(outline=replace(taper, run_out_limit=limit))
        assert faults(at(50, 50, need=need)) == found
        # Turned by as much, the lower edge is off and the upper one true.
        turned = at(50, 50, -math.degrees(math.atan(1 / 20)), need=need)
        assert faults(turned) == found


SWEEP = ((0.0, 0.0), (200.0, 0.0), (340.0, 90.0))
GROWN = with_need(
    outline=Outline(LineString(SWEEP).buffer(25, cap_style="flat"), 20, grain=GrainPath(SWEEP))
)


def grown_along(sweep, x: float, y: float) -> Board:
    return replace(BOARD, grain=GrainPath(tuple((x + u, y + v) for u, v in sweep)))


def test_grown_part_lies_where_its_sweep_is_that_of_the_wood_and_not_beside_it():
    wood = grown_along(SWEEP, 100, 60)
    assert faults(at(100, 60, need=GROWN), board=wood) == []
    assert faults(at(160, 60, need=GROWN), board=wood) == ["slope of grain"]
    assert faults(at(40, 60, need=GROWN), board=wood) == ["slope of grain"]


def test_grown_part_turned_over_sweeps_the_other_way():
    mirrored = grown_along([(u, -v) for u, v in SWEEP], 100, 140)
    assert faults(at(100, 140, need=GROWN, is_turned_over=True), board=mirrored) == []
    over = faults(at(100, 140, need=GROWN, is_turned_over=True), board=grown_along(SWEEP, 100, 60))
    assert over == ["slope of grain"]


def test_bungs_of_a_grown_part_are_counted_along_the_line_between_its_ends():
    """1020 apart along its arm, 1018 along that line, 721 along its first stretch."""
    sweep = ((0.0, 0.0), (200.0, 0.0), (1700.0, 1500.0))
    band = LineString(sweep).buffer(40, cap_style="flat", join_style="mitre")
    grown = with_need(outline=Outline(band, 20, grain=GrainPath(sweep)))
    for last, found in ((1220, []), (1190, ["bungs in a metre"])):
        arm = [200 + mark / math.sqrt(2) for mark in (200, 540, 880, last)]
        holes = tuple(circle(KeepOutKind.HOLE, x, x - 200, 6) for x in arm)
        board = Board("A", box(-100, -100, 2000, 2000), 30, "oak", keep_outs=holes)
        board = replace(board, grain=GrainPath(sweep))
        assert faults(at(0, 0, need=grown), board=board) == found


@pytest.mark.parametrize(
    ("need", "rule"),
    [
        (with_need(species=("teak",)), "species"),
        (with_need(outline=replace(OUTLINE, siding_mm=28.1)), "thickness"),
        (with_need(not_from=("decking",)), "previous use"),
        (with_need(moisture_percent=(16, 18)), "moisture"),
    ],
    ids=["species", "thickness", "previous use", "moisture"],
)
def test_wood_must_suit(need, rule):
    assert faults(at(1, 1, need=need)) == [rule]


@pytest.mark.parametrize(
    "need",
    [
        with_need(species=("teak", "oak")),
        with_need(outline=replace(OUTLINE, siding_mm=28)),
        with_need(not_from=("keelson",)),
        with_need(moisture_percent=(15, 18)),
        with_need(moisture_percent=(12, 15)),
        with_need(heartwood_only=True),
    ],
    ids=["second species", "all that cleaning leaves", "another use", "driest", "wettest", "heart"],
)
def test_wood_that_just_suits_is_sound(need):
    assert faults(at(1, 1, need=need), board=replace(BOARD, heartwood=True)) == []


@pytest.mark.parametrize(("low", "high"), [(15.1, 18), (12, 14.9)], ids=["too dry", "too wet"])
def test_wood_outside_of_the_moisture_asked_for_is_seen(low, high):
    assert faults(at(1, 1, need=with_need(moisture_percent=(low, high)))) == ["moisture"]


def test_what_is_not_known_of_a_board_is_not_held_against_it():
    unknown = Board("A", box(0, 0, 1000, 200), 30, "oak")
    strict = with_need(moisture_percent=(8, 10), heartwood_only=True, not_from=("decking",))
    assert faults(at(1, 1, need=strict), board=unknown) == []
    assert faults(at(1, 1), board=replace(unknown, heartwood=False)) == []


def test_sapwood_is_refused_where_heartwood_is_asked_for():
    sapwood = replace(BOARD, heartwood=False)
    assert faults(at(1, 1, need=with_need(heartwood_only=True)), board=sapwood) == ["heartwood"]


def test_part_with_a_face_stays_face_up():
    faced = with_need(outline=replace(OUTLINE, may_turn_over=False))
    assert faults(at(1, 90, need=faced, is_turned_over=True)) == ["face up"]


def rules_broken(plan: CuttingPlan, needs) -> list[str]:
    return [fault.rule for fault in check_plan(plan, needs, RULES)]


def test_counts_must_match_what_is_wanted():
    needs = [with_need(quantity=2)]
    one = Nest(BOARD, (at(1, 1, need=needs[0]),))
    left = Unplaced(needs[0], 1, Misfit.NO_ROOM)
    assert rules_broken(CuttingPlan((one,), (left,)), needs) == []
    assert rules_broken(CuttingPlan((one,)), needs) == ["quantity"]
    twice = Nest(BOARD, (at(1, 1, need=needs[0]), at(306, 1, need=needs[0])))
    assert rules_broken(CuttingPlan((twice,)), needs) == ["labels"]
    assert rules_broken(CuttingPlan((one,)), []) == ["parts asked for"]


@pytest.mark.parametrize("copy", [-3, 0, 2])
def test_piece_must_be_one_of_those_wanted(copy):
    for need in (NEED, with_need(still=(7,))):
        placed = CuttingPlan((Nest(BOARD, (at(1, 1, need=need, copy=copy),)),))
        assert rules_broken(placed, [need]) == ["quantity"]


def test_board_is_used_once():
    nests = Nest(BOARD, (at(1, 1),)), Nest(BOARD, ())
    assert rules_broken(CuttingPlan(nests), [NEED]) == ["boards"]


def test_unsound_plan_is_refused_with_the_measured_distance():
    plan = CuttingPlan((Nest(BOARD, (at(1, 0.5),)),))
    with pytest.raises(RefereeError, match=r"board A: trim at the edge: beam is 0.500000 mm"):
        require_sound(plan, [NEED], RULES)


def test_outline_turned_over_and_turned_lies_where_it_should():
    wedge = Outline(Polygon([(0, 0), (100, 0), (0, 50)]), 20)
    placement = Placement(replace(NEED, outline=wedge), 10, 20, 90, is_turned_over=True)
    corners = list(placement.polygon.exterior.coords)[:-1]
    assert corners == [
        pytest.approx((10, 20)),
        pytest.approx((10, 120)),
        pytest.approx((60, 20)),
    ]


@pytest.mark.parametrize(
    ("asked", "what"),
    [
        ({"species": ("elm", "oak")}, "species"),
        ({"outline": Outline(box(0, 0, 301, 80), 20)}, "outline"),
        ({"holes": Holes.CLEAR}, "holes"),
        ({"plugs_per_metre": 1}, "plugs_per_metre"),
        ({"moisture_percent": (10.0, 18.0)}, "moisture_percent"),
        ({"heartwood_only": True}, "heartwood_only"),
        ({"not_from": ("stem",)}, "not_from"),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_part_that_is_not_the_one_asked_for_by_that_name_is_seen(asked, what):
    plan = CuttingPlan((Nest(BOARD, (at(1, 1),)),))
    assert check_plan(plan, [with_need()], RULES) == ()
    (fault,) = check_plan(plan, [with_need(**asked)], RULES)
    assert (fault.rule, fault.board) == ("parts asked for", "A")
    assert fault.measured == f"beam is not as it was asked for: {what} differs"


def test_part_wanted_more_often_or_for_more_is_still_the_one_asked_for():
    plan = CuttingPlan((Nest(BOARD, (at(1, 1),)),), (Unplaced(NEED, 1, Misfit.NO_ROOM),))
    assert check_plan(plan, [with_need(quantity=2, value=9.0, notes=("soak it",))], RULES) == ()
