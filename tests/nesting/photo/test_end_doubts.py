"""Ends of a board that are none, and ends that are hardly seen."""

import numpy as np
import pytest
from shapely.geometry import Polygon
from test_board_bays import BOARD, WOOD, plan

from nesting.errors import PhotographError
from nesting.photo.board_face import Frame
from nesting.photo.board_strip import Strip
from nesting.photo.end_doubts import faint_ends, require_true_ends, require_whole_strip
from nesting.photo.rough_plan import rough_of

HERE = Frame((0.0, 0.0), 0.0)
PAINT = [(0, 65), (75, 65), (75, 150), (15, 150)]
SHORT = Frame((72.0, 0.0), 0.0)


def rest():
    """Return the board from where most of it is no longer painted like the ground."""
    return Polygon([(0, 0), (1128, 0), (1108, 150), (0, 150)])


def test_end_past_which_both_sides_go_on_is_none():
    with pytest.raises(PhotographError, match="left end cannot be told from the ground"):
        require_true_ends(plan(PAINT), SHORT, rest())


def test_end_past_which_no_side_goes_on_may_look_like_the_ground_for_a_half():
    shown = plan()
    shown.picture[235:300, 40:100] = WOOD  # past the lower half of the end, up from its foot
    require_true_ends(shown, HERE, Polygon(BOARD))


def test_end_along_which_no_sharp_line_is_seen_is_told():
    assert not [*faint_ends(plan(), HERE, Polygon(BOARD))]
    (line,) = faint_ends(plan(PAINT, line=0.0), HERE, Polygon(BOARD))
    assert line[:, 0].max() < 30 and len(line) > 20


def test_a_board_half_of_which_is_lost_from_its_strip_is_refused():
    rough = rough_of(plan())
    strip = Strip((600.0, 75.0), 0.0, 1190.0, 150.0, 0.5)
    cells = np.zeros(rough.use.shape, bool)
    (left, foot), (right, top) = rough.to_cells(np.array(BOARD[::2], float)).astype(int)
    cells[top:foot, left:right] = True
    require_whole_strip(rough, strip, cells)
    cells[:, : cells.shape[1] // 2] = False
    with pytest.raises(PhotographError, match="of a board about 1190 mm long can be told"):
        require_whole_strip(rough, strip, cells)
