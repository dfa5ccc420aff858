"""How far off what it names a word may stand, with a leader: not across half a board."""

import pytest
import shapely
from sheet_nests import RULES, nest_of

from nesting.accounts.account import account_for
from nesting.nest import CuttingPlan
from nesting.sheets.drawing import Polyline, Role
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.labelling import Labelling
from nesting.sheets.leaders import LONGEST_OVER_WOOD_PAPER_MM, LONGEST_PAPER_MM, needed_beside
from nesting.sheets.window import Window
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
