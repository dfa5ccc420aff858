"""How far off what it names a word may stand, with a leader: not across half a board."""

import pytest
import shapely
from sheet_nests import RULES, nest_of

from nesting.accounts.account import account_for
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.sheets.drawing import Circle, Polyline, Role, Text
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.labelling import Labelling
from nesting.sheets.leaders import LONGEST_OVER_WOOD_PAPER_MM, LONGEST_PAPER_MM, needed_beside
from nesting.sheets.part_labels import part_labels
from nesting.sheets.window import Window
from nesting.stock.board import Board
from nesting.units import Unit

PAPER_MM = 10.0


def crowded(is_read):
    """A board of 2.4 m at 1:10, holes all over it and beside, but for the margin's far end."""
    nest = nest_of("two parts")
    space = FreeSpace()
    space.take([shapely.box(-500, -500, 3000, 300), shapely.box(-500, 300, 1400, 900)])
    account = account_for(CuttingPlan((nest,)), RULES, workers=1).boards[0]
    margin, area = shapely.box(0, 300, 2400, 400), shapely.box(-100, -100, 2500, 500)
    window = Window(PAPER_MM)
    edges = shapely.MultiLineString()
    return Labelling(nest, account, window, Unit.MM, margin, area, edges, space, is_read)


@pytest.mark.parametrize("is_read", [True, False])
def test_a_word_stands_no_farther_off_than_its_leader_may_be_long(is_read):
    longest = LONGEST_OVER_WOOD_PAPER_MM if is_read else LONGEST_PAPER_MM
    seen = [
        needed_beside(crowded(is_read), "c7", (x, 200.0), 10.0, Role.BREAK_DOWN)
        for x in (200.0, 1000.0, 1300.0)
    ]
    assert [bool(found) for found in seen] == [False, is_read, True]
    for leader in (one for found in seen for one in found if isinstance(one, Polyline)):
        assert shapely.LineString(leader.points).length <= longest * PAPER_MM


def test_numbers_of_small_parts_deep_in_a_broad_board_stand_beside_them_on_free_wood():
    """Ten cleats of 40 x 9 mm, 700 mm below the upper edge at 1:10: a fan of leaders 100 mm long
    ran over all the wood above them."""
    need = Need("cleat", "plank", Outline(shapely.box(0, 0, 40, 9), 12.0), ("teak",))
    placed = tuple(Placement(need, 2.0, 400.0 + 14.0 * k) for k in range(10))
    board = Board("P", shapely.box(0, 0, 1300, 1200), 20.0, "teak")
    nest = Nest(board, placed)
    account = account_for(CuttingPlan((nest,)), RULES, workers=1).boards[0]
    edges = shapely.MultiLineString([list(p.polygon.exterior.coords) for p in placed])
    space = FreeSpace()
    space.take(shapely.get_parts(edges))
    margin, area = shapely.box(0, 1230, 1300, 1300), shapely.box(-20, -20, 1400, 1320)
    work = Labelling(nest, account, Window(PAPER_MM), Unit.MM, margin, area, edges, space)
    drawn = list(part_labels(work))
    rings = [e for e in drawn if isinstance(e, Circle) and e.role is Role.PART_NAME]
    assert sorted(e.text for e in drawn if isinstance(e, Text)) == sorted(map(str, range(1, 11)))
    assert len(rings) == 10
    leaders = [shapely.LineString(e.points) for e in drawn if isinstance(e, Polyline)]
    assert max(line.length for line in leaders) <= LONGEST_OVER_WOOD_PAPER_MM * PAPER_MM
    wood = [p.polygon for p in placed]
    for ring in rings:
        assert not shapely.intersects(shapely.Point(ring.centre).buffer(ring.radius_mm), wood).any()
    assert all(shapely.intersects(line, wood).sum() == 1 for line in leaders)
