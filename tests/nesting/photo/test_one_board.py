"""Two boards in a picture are told as two; one board never is."""

import numpy as np
import pytest
from test_board_bays import BOARD, WOOD, plan, rough

from nesting.errors import PhotographError
from nesting.photo import one_board
from nesting.photo.board_strip import Strip
from nesting.photo.rough_plan import looks_of, rough_of

AGAINST = [(300, 140), (800, 140), (800, 230), (300, 230)]
STEPPED = [*BOARD[:3], (800, 150), (800, 230), (300, 230), (300, 150), BOARD[3]]
SEAM = [(300, 147), (800, 147), (800, 150), (300, 150)]


def test_a_board_against_another_is_seen_by_its_seam_and_a_stepped_one_has_none():
    wood = (AGAINST, WOOD)
    one_board.require_none_against(plan(more=[wood]), rough(*STEPPED))
    with pytest.raises(PhotographError, match="against each other"):
        one_board.require_none_against(plan(more=[wood, (SEAM, (30, 40, 50))]), rough(*STEPPED))


def test_a_glove_over_the_edge_is_no_second_board():
    glove = [(560, 100), (650, 100), (650, 220), (560, 220)]
    ring = [*BOARD[:3], (650, 150), (650, 220), (560, 220), (560, 150), BOARD[3]]
    one_board.require_none_against(plan(more=[(glove, (60, 60, 60))]), rough(*ring))


@pytest.mark.parametrize(("up", "is_two"), [(0.0, False), (-170.0, True)])
def test_a_strip_over_the_board_itself_is_no_second_board(monkeypatch, up, is_two):
    shown = plan(more=[([(x, y - 170) for x, y in BOARD], WOOD)] if is_two else ())
    cells = rough_of(shown)
    strip = Strip((600.0, 75.0), 0.0, 1180.0, 150.0, 0.5)
    other = Strip((600.0, 75.0 + up), 0.0, 1160.0, 110.0, 0.5)
    monkeypatch.setattr(one_board, "best_strip", lambda *_, **__: other)
    own = np.zeros(cells.use.shape, bool)
    (left, foot), (right, top) = cells.to_cells(np.array(BOARD[::2], float)).astype(int)
    own[top:foot, left:right] = True
    if is_two:
        with pytest.raises(PhotographError, match="two boards are seen"):
            one_board.require_one_board(cells, looks_of(cells), strip, own)
    else:
        one_board.require_one_board(cells, looks_of(cells), strip, own)
