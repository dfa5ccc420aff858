"""A shadow along a whole side is no wood."""

import re

import numpy as np
from test_board_bays import BOARD, GROUND, off, plan, rough

from nesting.photo.shadowed_sides import without_shadows

DEEP = 30
SHADOWED = [(8, -DEEP), (1195, -DEEP), BOARD[1], *BOARD[2:], BOARD[3]]


def shadow():
    """Return strips below the board, dark at its edge and ever lighter."""
    shades = np.linspace(0.45, 1.0, 24)
    return [
        ([(0, y - 4), (1200, y - 4), (1200, y), (0, y)], np.multiply(GROUND, shade))
        for y, shade in zip(range(0, -48, -2), shades, strict=True)
    ]


def test_a_shadow_along_a_side_is_cut_off_at_the_sharp_line_inside_it_and_told():
    ring, (cut,) = without_shadows(plan(more=shadow()), rough(*SHADOWED))
    assert off(ring, *((x, 0) for x in range(60, 1140, 40))) < 3.0
    told = re.fullmatch(r"(\d+) mm of shadow past its line were cut off", cut.why)
    assert told and abs(int(told[1]) - DEEP) <= 4


def test_a_board_without_a_shadow_is_left_as_it_is():
    ring = rough(*BOARD)
    for shown in (plan(), plan(more=shadow())):
        made, cut = without_shadows(shown, ring)
        assert made is ring and not cut


def test_wood_past_a_line_in_it_is_left():
    dark = ([(0, 28), (1200, 28), (1200, 32), (0, 32)], (40, 60, 80))
    ring = rough(*BOARD)
    made, cut = without_shadows(plan(more=[dark]), ring)
    assert made is ring and not cut


def test_a_shadow_that_looks_like_a_boards_dark_seams_is_cut_off_too():
    seams = [
        ([(x, 1), (x + 9, 1), (x + 9, 149), (x, 149)], np.multiply(GROUND, shade))
        for x, shade in zip(
            range(20, 1140, 15), np.tile(np.linspace(0.5, 0.85, 5), 15), strict=False
        )
    ]
    ring, (cut,) = without_shadows(plan(more=[*shadow(), *seams]), rough(*SHADOWED))
    assert off(ring, *((x, 0) for x in range(60, 1140, 40))) < 3.0
    assert cut.why.endswith("of shadow past its line were cut off")
