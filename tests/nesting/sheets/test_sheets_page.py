from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.sheets.blocks import Block, table
from nesting.sheets.drawing import Anchor
from nesting.sheets.page import FULL_SURROUND, PAD, PAPERS, Layout, arrange

TITLE = Block(118.0, 66.0, ())


def laid_out(
    length: float,
    width: float,
    rows: int,
    *,
    too_small: int = 0,
    stretch: tuple[float, float] | None = None,
) -> Layout:
    cells = tuple((str(row), "a name of some length", "1500", "1234 5/16") for row in range(rows))
    columns = ("no.", "part with a long heading, so that it is wide", "long", "along")
    parts = table("Parts", columns, (Anchor.RIGHT,) * 4, cells)
    return arrange(
        (0.0, 0.0, length, width),
        [parts],
        lambda _paper, _scale: TITLE,
        stretch=stretch or (0.0, length),
        heading_width=lambda scale: 100.0 / scale + 110.0,
        too_small_at=lambda _scale: too_small,
    )


@given(length=st.floats(20.0, 40_000.0), share=st.floats(0.02, 1.0), rows=st.integers(1, 150))
def test_lists_never_leave_the_page_nor_cover_the_board(
    length: float, share: float, rows: int
) -> None:
    width = max(length * share, 10.0)
    layout = laid_out(length, width, rows)
    left, top = layout.lists_corner
    for piece in layout.lists.pieces:
        low_x, high_x = left + piece.x, left + piece.x + piece.block.width
        high_y = top - piece.top
        assert low_x >= PAD - 1e-6
        assert high_x <= layout.width - PAD + 1e-6
        assert high_y - piece.block.height >= PAD - 1e-6
        is_right_of_board = low_x >= layout.board[0] + length / layout.scale
        assert is_right_of_board or high_y <= layout.board[1]


def test_the_largest_scale_that_fits_is_taken() -> None:
    assert laid_out(3400.0, 125.0, 4).scale == 10
    assert laid_out(600.0, 300.0, 4).scale == 2


def test_a_slender_board_gets_lengths_that_cover_it() -> None:
    layout = laid_out(3400.0, 125.0, 4)
    assert [strip.from_mm for strip in layout.strips[1:]] == pytest.approx(
        [strip.to_mm for strip in layout.strips[:-1]]
    )
    assert layout.strips[0].from_mm == 0.0
    assert layout.strips[-1].to_mm == pytest.approx(3400.0)
    assert layout.reading_scale == layout.strip_scale < layout.scale


def test_of_a_slender_board_only_the_stretch_with_parts_is_enlarged_and_so_the_more() -> None:
    whole, part = laid_out(3400.0, 125.0, 4), laid_out(3400.0, 125.0, 4, stretch=(500.0, 1900.0))
    assert part.strips[0].from_mm == 500.0
    assert part.strips[-1].to_mm == pytest.approx(1900.0)
    assert part.strip_scale < whole.strip_scale
    assert (part.scale, part.board) == (whole.scale, whole.board)


def test_a_board_whose_lists_leave_no_room_for_all_of_it_may_have_room_for_its_parts() -> None:
    assert not laid_out(3400.0, 220.0, 60).strips
    assert len(laid_out(3400.0, 220.0, 60, stretch=(0.0, 1700.0)).strips) == 1


def test_a_wide_board_is_enlarged_in_one_length_or_not_at_all() -> None:
    assert not laid_out(1880.0, 241.0, 4).strips
    (strip,) = laid_out(1880.0, 241.0, 4, stretch=(0.0, 1160.0)).strips
    assert (strip.from_mm, strip.to_mm) == (0.0, pytest.approx(1160.0))


def test_lists_grow_a_little_higher_where_that_spares_a_column() -> None:
    blocks = [Block(60.0, 40.0, ()), Block(60.0, 24.0, ())]
    layout = arrange(
        (0.0, 0.0, 1800.0, 240.0),
        blocks,
        lambda _paper, _scale: TITLE,
        stretch=(0.0, 1800.0),
        heading_width=lambda _scale: 110.0,
        too_small_at=lambda _scale: 0,
    )
    # Both stand on each other beside the title, which alone would leave 66 mm.
    assert layout.lists.columns == 2
    assert TITLE.height < layout.lists.height < TITLE.height + 8.0 + 1e-9


def test_parts_too_small_to_be_numbered_ask_for_larger_paper() -> None:
    def too_small_at(scale: float) -> int:
        return 20 if scale > 6 else 0

    layout = arrange(
        (0.0, 0.0, 3400.0, 400.0),
        [],
        lambda _paper, _scale: TITLE,
        stretch=(0.0, 3400.0),
        heading_width=lambda _scale: 120.0,
        too_small_at=too_small_at,
    )
    assert (layout.paper, layout.reading_scale <= 6) == ("A2", True)


def test_where_no_paper_helps_the_smallest_is_taken() -> None:
    assert laid_out(3400.0, 400.0, 4, too_small=30).paper == "A3"


def test_lists_that_need_all_the_room_below_the_board_get_it() -> None:
    _, wide, high = PAPERS[0]
    board = 150.0
    room = high - 2 * PAD - FULL_SURROUND.top - board - FULL_SURROUND.bottom
    full = Block(200.0, room, ())
    layout = arrange(
        (0.0, 0.0, wide - 2 * PAD - FULL_SURROUND.left - FULL_SURROUND.right, board),
        [full],
        lambda _paper, _scale: TITLE,
        stretch=(0.0, 300.0),
        heading_width=lambda _scale: 110.0,
        too_small_at=lambda _scale: 0,
    )
    assert (layout.paper, layout.scale, layout.lists.height) == ("A3", 1, pytest.approx(room))
