import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Polygon, box

from nesting.accounts.movement import movements
from nesting.accounts.strength import piece_strength, strength_of, weakened
from nesting.grain import GrainPath, straight_grain
from nesting.need import Holes, Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import BearingZone, Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle
from parts.families.beams import DeckBeam
from parts.families.knees import Knee
from parts.wood.cross_grain import strength_left

RULES = Rules(plug_sizes_mm=(20.0,), cleaning_loss_mm=2.0)
BOARD = Board("A", box(0, 0, 1200, 140), 44, "white oak", moisture_percent=20)
BEAM = Outline(
    box(0, 0, 1000, 100),
    40,
    bearing_zones=(
        BearingZone(box(0, 0, 100, 100), "shelf bearing", is_seat=True),
        BearingZone(box(900, 0, 1000, 100), "shelf bearing", is_seat=True),
    ),
)


def placed(*holes, outline=BEAM, angle=0.0, board=BOARD):
    need = Need("beam", "any", outline, ("white oak",), holes=Holes.PLUGGED)
    board = replace(board, keep_outs=(*board.keep_outs, *holes))
    return Placement(need, 100, 20, angle), board


def hole(x, y, size=6.0):
    return circle(KeepOutKind.HOLE, x, y, size)


def test_piece_without_holes_laid_along_the_grain_keeps_everything():
    piece = piece_strength(*placed(), RULES)
    assert (piece.left, piece.holes, piece.weakest) == (1.0, 0, None)
    assert math.isinf(piece.run)


def test_bunged_hole_in_the_middle_of_the_depth_costs_its_reamed_size():
    piece = piece_strength(*placed(hole(600, 70)), RULES)
    assert piece.holes == 1
    assert piece.weakest.section.left_on_edge == pytest.approx(1 - 0.2**3)
    assert piece.weakest.section.left_on_flat == pytest.approx(0.8)
    assert (piece.weakest.x_mm, piece.weakest.y_mm) == (600, 70)


def test_the_same_hole_near_an_edge_costs_more():
    middle, edge = (piece_strength(*placed(hole(600, y)), RULES) for y in (70, 40))
    assert edge.left < middle.left


def test_hole_where_an_even_load_bends_less_counts_less():
    # Between the middles of the bearings, at 150 and 1050, the moment is 4 s (1 - s) of its
    # greatest: 0.5 at the share s of 0.1464.
    left = [piece_strength(*placed(hole(x, 38)), RULES) for x in (600, 150 + 0.1464466 * 900)]
    on_edge = left[0].weakest.section.left_on_edge
    assert left[1].weakest.section.left_on_edge == pytest.approx(on_edge)
    assert left[0].as_beam == pytest.approx(on_edge)
    assert left[1].as_beam == pytest.approx(min(1, 2 * on_edge), abs=1e-6)


def test_piece_without_two_bearings_is_no_beam():
    plain = replace(BEAM, bearing_zones=())
    piece = piece_strength(*placed(hole(300, 38), outline=plain), RULES)
    assert piece.as_beam is None
    assert piece.left == piece.weakest.section.left_on_edge


def test_holes_closer_than_four_diameters_along_the_piece_weaken_one_section():
    one = piece_strength(*placed(hole(600, 40), hole(681, 100)), RULES)
    two = piece_strength(*placed(hole(600, 40), hole(679, 100)), RULES)
    assert len(one.weakest.section.gaps) == 1
    assert len(two.weakest.section.gaps) == 2
    assert two.left < one.left


def test_screw_hole_in_its_recess_counts_with_the_recess_as_deep_as_it_is():
    recess = replace(circle(KeepOutKind.RECESS, 600, 70, 12), depth_mm=14.0)
    piece = piece_strength(*placed(recess, hole(600, 70, 5)), RULES)
    gaps = sorted((gap.high_mm - gap.low_mm, gap.into_mm) for gap in piece.weakest.section.gaps)
    # Both would take the only bung there is; of the recess 14 - 2 mm are left after planing.
    assert gaps == [(pytest.approx(20), 12.0), (pytest.approx(20), math.inf)]


def test_small_hole_under_a_larger_bung_stays_as_small_as_it_is():
    rules = replace(RULES, plug_sizes_mm=(8.0, 20.0))
    recess = replace(circle(KeepOutKind.RECESS, 600, 70, 12), depth_mm=14.0)
    piece = piece_strength(*placed(recess, hole(600, 70, 5)), rules)
    sizes = sorted(gap.high_mm - gap.low_mm for gap in piece.weakest.section.gaps)
    assert sizes == pytest.approx([5, 20])


def test_hole_outside_the_piece_costs_nothing():
    assert piece_strength(*placed(hole(600, 130)), RULES).holes == 0


def test_piece_laid_across_the_grain_has_the_slope_it_was_turned_by():
    piece = piece_strength(*placed(angle=5.0), RULES)
    assert piece.run == pytest.approx(1 / math.tan(math.radians(5)))
    assert piece.left == pytest.approx(strength_left(piece.run).bending)
    # 1 in 11.4 is past the usual 1 in 12 along both edges.
    assert piece.past_limit_mm == pytest.approx(2000)


def test_curve_of_a_beam_adds_to_the_slope_it_is_laid_at():
    part = DeckBeam(span=1000, siding=40, moulding=80, camber=40, bearing=80)
    outline = part.outline()
    straight, turned = (
        piece_strength(*placed(outline=outline, angle=angle), RULES) for angle in (0.0, 3.0)
    )
    assert straight.run == pytest.approx(outline.run_out)
    own, both = (math.degrees(math.atan(1 / p.run)) for p in (straight, turned))
    assert both == pytest.approx(own + 3, abs=1e-6)
    # An arc is steepest at its ends.
    assert straight.run_x_mm - 100 == pytest.approx(-500, abs=40) or (
        straight.run_x_mm - 100 == pytest.approx(500, abs=40)
    )


def test_grown_beam_on_a_crook_of_its_own_sweep_has_straight_grain():
    part = DeckBeam(span=1000, siding=40, moulding=80, camber=40, bearing=80, grain="grown")
    outline = part.outline()
    crook = GrainPath(tuple((x + 100, y + 20) for x, y in outline.grain.points))
    grown = piece_strength(*placed(outline=outline, board=replace(BOARD, grain=crook)), RULES)
    sawn = piece_strength(*placed(outline=outline), RULES)
    assert grown.run > 5 * sawn.run
    assert grown.past_limit_mm == 0


def test_grown_piece_is_weighed_along_its_sweep_and_not_by_its_taper():
    knee = Knee(
        kind="hanging", siding=40, beam_arm=300, side_arm=350, throat=130, tip_moulding=50,
        grain="grown",
    )  # fmt: skip
    outline = knee.outline()
    assert outline.run_out < 12  # of its tapered edges
    crook = GrainPath(tuple((x + 100, y + 20) for x, y in outline.grain.points))
    board = Board("K", box(-300, -100, 800, 800), 44, "white oak", grain=crook)
    own, straight = (
        piece_strength(*placed(outline=outline, board=b), RULES)
        for b in (board, replace(board, grain=straight_grain(45)))
    )
    assert own.left_by_grain > 0.99
    assert straight.run < 2


def test_section_of_a_knee_arm_is_square_to_the_arm_not_to_its_grain():
    arms = Polygon([(0, 0), (600, 0), (600, 80), (80, 80), (80, 600), (0, 600)])
    outline = Outline(arms, 40, grain=GrainPath(((600.0, 0.0), (0.0, 600.0))))
    board = Board("K", box(0, 0, 800, 800), 44, "white oak", grain=straight_grain(-45))
    piece = piece_strength(*placed(hole(500, 60), outline=outline, board=board), RULES)
    assert piece.weakest.section.depth_mm == pytest.approx(80)


def test_weakest_comes_first_and_whole_pieces_are_passed_over():
    whole, board = placed(hole(600, 40))
    need = replace(whole.need, part="short", outline=Outline(box(0, 0, 300, 100), 40))
    nest = Nest(board, (Placement(need, 100, 20), whole))
    pieces = strength_of(CuttingPlan((nest,)), RULES)
    assert [p.piece for p in pieces] == ["beam", "short"]
    assert [p.piece for p in weakened(pieces)] == ["beam"]


def test_wet_board_gives_pieces_to_be_cut_larger():
    placement, board = placed()
    moved = movements(CuttingPlan((Nest(board, (placement,)),)), 12.0)
    (piece,) = moved.pieces
    # Wood Handbook, FPL-GTR-190, eq. 13-3 with white oak's 5.6 and 10.5 % (Table 4-3).
    shares = [-8 / (3000 / s - 30 + 20) for s in (5.6, 10.5)]
    expected = [100 * share / (1 + share) for share in shares]
    assert [piece.across.radial_mm, piece.across.tangential_mm] == pytest.approx(expected)
    assert piece.thick.radial_mm == pytest.approx(expected[0] * 40 / 100)


def test_pieces_nothing_can_be_said_of_are_counted():
    placement, board = placed()
    dry = Nest(replace(board, moisture_percent=None), (placement,))
    strange = Nest(replace(board, species="driftwood"), (placement,))
    moved = movements(CuttingPlan((dry, strange)), 12.0)
    assert (moved.pieces, moved.unmeasured, moved.no_figures) == ((), 1, 1)


def test_size_across_the_grain_is_square_to_the_grain_of_the_part():
    outline = Outline(box(0, 0, 300, 100), 40, grain=straight_grain(90))
    placement, board = placed(outline=outline, board=replace(BOARD, shape=box(0, 0, 1200, 600)))
    (piece,) = movements(CuttingPlan((Nest(board, (placement,)),)), 12.0).pieces
    assert piece.size_mm == pytest.approx(300)
    assert np.sign(piece.across.most_mm) == -1


def test_thousands_of_corners_leave_a_piece_as_strong_as_it_is():
    turns = np.linspace(0, 2 * math.pi, 6000, endpoint=False)
    disc = np.column_stack([60 + 55 * np.cos(turns), 60 + 55 * np.sin(turns)])
    fine, rough = (
        piece_strength(*placed(hole(160, 90), outline=Outline(Polygon(disc[::step]), 40)), RULES)
        for step in (1, 10)
    )
    assert fine.holes == 1
    assert fine.left == pytest.approx(rough.left, abs=0.002)


KINKED = Outline(
    Polygon([(0, 0), (700, 0), (1000, 120), (960, 220), (680, 100), (0, 100)]),
    40,
    grain=GrainPath(((0.0, 50.0), (690.0, 50.0), (980.0, 170.0))),
)


def shares(piece):
    """Return what is left of a piece, in figures that do not say where it lies."""
    gaps = sorted((g.low_mm, g.high_mm, g.into_mm) for g in piece.weakest.section.gaps)
    return (piece.run, piece.past_limit_mm, piece.left, piece.weakest.section.depth_mm, *gaps)


@pytest.mark.parametrize("laid", [0.0, 12.0])
@pytest.mark.parametrize("turn", [30.0, 100.0, -65.0])
def test_board_that_is_turned_with_all_that_lies_on_it_leaves_as_much(turn, laid):
    """Holes, grain and piece turned about one point: nothing of the wood has changed."""
    board = replace(BOARD, shape=box(-500, -500, 2000, 1000))
    need = Need("beam", "any", KINKED, ("white oak",), holes=Holes.PLUGGED)
    on_piece = shapely.MultiPoint([(200, 35), (240, 75), (830, 110), (0, 0)])

    def found(by):
        lying = rotate(translate(rotate(on_piece, laid, (0, 0)), 100, 20), by, (0, 0))
        *spots, at = lying.geoms
        drilled = tuple(hole(spot.x, spot.y) for spot in spots)
        shape = rotate(board.shape, by, (0, 0))
        turned = replace(board, shape=shape, grain=straight_grain(by), keep_outs=drilled)
        return piece_strength(Placement(need, at.x, at.y, laid + by), turned, RULES)

    upright = found(0.0)
    assert upright.holes == 3
    assert len(upright.weakest.section.gaps) == 2
    assert np.ravel(shares(found(turn))[:4]) == pytest.approx(np.ravel(shares(upright)[:4]))
    widths = [[high - low for low, high, _ in shares(one)[4:]] for one in (found(turn), upright)]
    assert widths[0] == pytest.approx(widths[1])


def test_piece_turned_over_is_that_of_the_board_seen_in_a_mirror():
    """Turned over y becomes -y: its grain leans the other way."""
    need = Need("beam", "any", KINKED, ("white oak",), holes=Holes.PLUGGED)
    mirrored = replace(
        KINKED,
        shape=scale(KINKED.shape, 1, -1, origin=(0, 0)),
        grain=GrainPath(tuple((x, -y) for x, y in KINKED.grain.points)),
    )
    board = replace(BOARD, shape=box(-100, -300, 1400, 600), keep_outs=(hole(300, 25),))
    over = piece_strength(Placement(need, 100, 70, 9.0, is_turned_over=True), board, RULES)
    drawn = Placement(replace(need, outline=mirrored), 100, 70, 9.0)
    seen = piece_strength(drawn, board, RULES)
    assert over.run == pytest.approx(seen.run)
    assert replace(over, run=seen.run) == seen
    under = piece_strength(Placement(need, 100, 70, 9.0), board, RULES)
    assert under.run != pytest.approx(over.run)


def test_hole_whose_middle_is_beside_the_piece_hides_none_after_it():
    """Wholly outside, but near enough to be looked at; the second is in the piece."""
    notched = Outline(Polygon([(0, 0), (1000, 0), (1000, 100), (500, 40), (0, 100)]), 40)
    piece = piece_strength(*placed(hole(600, 115), hole(200, 60), outline=notched), RULES)
    assert (piece.holes, piece.weakest.x_mm) == (1, 200)


@pytest.mark.parametrize(("deep_mm", "count"), [(2.0, 0), (2.5, 1)])
def test_recess_that_planing_takes_away_counts_no_more(deep_mm, count):
    recess = replace(circle(KeepOutKind.RECESS, 600, 70, 12), depth_mm=deep_mm)
    assert piece_strength(*placed(recess), RULES).holes == count


def test_section_through_a_forked_piece_is_of_the_arm_that_the_hole_is_in():
    fork = box(0, 0, 800, 200) - box(90, 70, 800, 130)
    board = replace(BOARD, shape=box(0, 0, 1200, 400))
    piece = piece_strength(*placed(hole(600, 185), outline=Outline(fork, 40), board=board), RULES)
    assert piece.weakest.section.depth_mm == pytest.approx(70)
    (gap,) = piece.weakest.section.gaps
    assert sorted([gap.low_mm, gap.high_mm]) == pytest.approx([25, 45])


def test_size_across_leaning_grain_is_by_the_angle():
    """A box seen along a line at an angle is length x sine and width x cosine wide."""
    for angle in (30.0, -30.0):
        turn = math.radians(angle)
        grain = GrainPath(((50.0, 60.0), (50 + math.cos(turn), 60 + math.sin(turn))))
        outline = Outline(box(0, 0, 300, 100), 40, grain=grain)
        placement, board = placed(outline=outline)
        (piece,) = movements(CuttingPlan((Nest(board, (placement,)),)), 12.0).pieces
        assert piece.size_mm == pytest.approx(300 * 0.5 + 100 * math.sqrt(0.75))


def test_size_across_grown_grain_is_square_to_the_line_between_its_ends():
    grain = GrainPath(((0.0, 0.0), (150.0, 80.0), (300.0, 0.0)))
    placement, board = placed(outline=Outline(box(0, 0, 300, 100), 40, grain=grain))
    (piece,) = movements(CuttingPlan((Nest(board, (placement,)),)), 12.0).pieces
    assert piece.size_mm == pytest.approx(100)


def test_pieces_that_move_most_come_first_after_those_nothing_is_said_of():
    placement, board = placed()
    wide = replace(placement, need=replace(placement.need, part="wide"))
    narrow = Outline(box(0, 0, 1000, 40), 40)
    small = replace(placement, need=replace(placement.need, part="small", outline=narrow))
    dry = Nest(replace(board, moisture_percent=None), (placement, small))
    teak = replace(board, species="teak")
    moved = movements(CuttingPlan((dry, Nest(board, (small,)), Nest(teak, (small, wide)))), 12.0)
    assert {piece.piece for piece in moved.pieces} == {"small", "wide"}
    assert [wood.name for wood in moved.woods] == ["teak", "white oak"]
    assert moved.unmeasured == 2
    most = [abs(piece.across.most_mm) for piece in moved.pieces]
    assert most == sorted(most, reverse=True)


PLANK = Outline(box(0, 0, 1000, 100), 20, is_plank=True)


def test_plank_is_bent_on_the_flat_where_a_hole_costs_its_whole_width():
    # 20 of 100 mm: a thwart is as weak as one of 80 mm, wherever across it the bung is.
    piece = piece_strength(*placed(hole(600, 70), outline=PLANK), RULES)
    assert piece.weakest.section.left_on_edge == pytest.approx(1 - 0.2**3)
    assert piece.left == piece.left_by_holes == pytest.approx(0.8)
    assert weakened([piece]) == (piece,)


def test_plank_with_a_hole_by_its_edge_counts_the_way_that_leaves_less():
    piece = piece_strength(*placed(hole(600, 32), outline=PLANK), RULES)
    assert piece.left == pytest.approx(piece.weakest.section.left_on_edge)
    assert piece.left < piece.weakest.section.left_on_flat


def test_weakest_place_of_a_plank_is_where_most_of_its_width_is_gone():
    # On edge the one hole near the edge is worse, on the flat the two abreast in the middle.
    holes = (hole(300, 45), hole(700, 58), hole(700, 82))
    plank, timber = (
        piece_strength(*placed(*holes, outline=outline), RULES)
        for outline in (PLANK, replace(PLANK, is_plank=False))
    )
    assert (plank.weakest.x_mm, timber.weakest.x_mm) == (700, 300)
    assert plank.left == pytest.approx(0.6)


def test_plank_on_two_seats_is_not_reckoned_as_a_beam_on_edge():
    seated = replace(PLANK, bearing_zones=BEAM.bearing_zones)
    piece = piece_strength(*placed(hole(600, 70), outline=seated), RULES)
    assert (piece.as_beam, piece.left) == (None, pytest.approx(0.8))


def test_what_makes_up_for_holes_is_depth_of_a_timber_and_thickness_of_a_plank():
    timber, plank = (
        piece_strength(*placed(hole(600, 45), outline=outline), RULES).weakest
        for outline in (replace(PLANK, is_plank=False), PLANK)
    )
    assert timber.made_up_by_mm == pytest.approx(100 * (timber.left**-0.5 - 1))
    on_edge, on_flat = plank.section.left_on_edge, plank.section.left_on_flat
    thicker = 1 + plank.made_up_by_mm / 20
    assert min(on_edge * thicker, on_flat * thicker**2) == pytest.approx(1)


def test_piece_that_moves_more_in_thickness_than_across_is_as_much_as_that():
    thick = replace(BEAM, shape=box(0, 0, 1000, 20), siding_mm=90.0, bearing_zones=())
    placement, board = placed(outline=thick)
    (piece,) = movements(CuttingPlan((Nest(board, (placement,)),)), 12.0).pieces
    assert piece.most_mm == pytest.approx(abs(piece.thick.tangential_mm))
    assert piece.most_mm > abs(piece.across.most_mm)
