"""Bungs for the holes that fastenings of published sizes leave."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle
from nesting.units import MM_PER_INCH

USUAL = Rules()
SIXTEENTHS = MM_PER_INCH / 16


def bung_for(kind: KeepOutKind, diameter_mm: float) -> float | None:
    """Return the usual bung for a hole, in sixteenths of an inch."""
    size = USUAL.plug_for(circle(kind, 0, 0, diameter_mm))
    return None if size is None else pytest.approx(size / SIXTEENTHS)


@pytest.mark.parametrize(
    ("gauge", "shank_in"),
    [(6, 0.138), (8, 0.164), (10, 0.190), (12, 0.216), (14, 0.242), (16, 0.268), (20, 0.320)],
)
def test_hole_of_a_wood_screw_s_shank_takes_the_smallest_usual_bung(gauge, shank_in):
    # 0.060 + 0.013 n inch: published screw tables, said to follow ASME B18.6.1.
    assert shank_in == pytest.approx(0.060 + 0.013 * gauge)
    assert bung_for(KeepOutKind.HOLE, shank_in * MM_PER_INCH) == 6


@pytest.mark.parametrize(
    ("old_bung", "new_bung"),
    [(5, 6), (6, 8), (7, 8), (8, 10), (9, 10), (10, 12), (11, 12), (12, None), (13, None)],
    ids=lambda size: "none" if size is None else f"{size}_16",
)
def test_counterbore_of_a_published_bung_is_reamed_for_the_next_size(old_bung, new_bung):
    # Bungs of planking from 3/8 to 2 in thick, in sixteenths: N. G. Herreshoff's and Nevins' rules
    # for yacht construction, as a fastener dealer prints them. Reamed clean, an old counterbore
    # takes the next size of 3/8, 1/2, 5/8 and 3/4 in; past that no usual bung closes it.
    assert bung_for(KeepOutKind.RECESS, old_bung * SIXTEENTHS) == new_bung


def test_hole_of_a_ship_s_treenail_is_past_any_usual_bung():
    # One inch for each hundred feet of the ship: Falconer, Marine dictionary, 1780.
    assert bung_for(KeepOutKind.HOLE, MM_PER_INCH) is None


@pytest.mark.parametrize(("deep", "bungs"), [(1.5, 0), (1.6, 2), (None, 2)])
def test_recess_that_planing_takes_away_wants_no_bung(deep, bungs):
    # One in the middle, one so near the edge that a bung would break out of it.
    recesses = [replace(circle("recess", x, y, 8), depth_mm=deep) for x, y in [(200, 60), (500, 4)]]
    board = Board.rectangle("D-1", 1000, 120, 30, "teak", keep_outs=recesses)
    need = Need.of("seat", Outline(box(0, 0, 1000, 120), 20), ["teak"], holes="plugged")
    nest = Nest(board, (Placement(need, 0.0, 0.0),))
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=1.5)
    assert len(nest.bungs(rules)) == bungs
    faults = check_plan(CuttingPlan((nest,)), [need], rules)
    assert ("bung to cut edge" in {fault.rule for fault in faults}) == (bungs > 0)
