from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.sheets.blocks import Block, flow, table
from nesting.sheets.drawing import Anchor, Text

CORNER = Block(50.0, 40.0, ())


def rows(count: int) -> tuple[tuple[str, ...], ...]:
    return tuple((str(number), f"part {number}") for number in range(count))


def numbered(count: int) -> object:
    return table("Parts", ("no.", "part"), (Anchor.RIGHT, Anchor.LEFT), rows(count))


@given(count=st.integers(1, 120), height=st.floats(60.0, 300.0))
def test_a_table_carried_on_keeps_every_row_and_overlaps_nothing(count: int, height: float) -> None:
    lists = flow([numbered(count)], CORNER, height)  # type: ignore[list-item]
    assert lists is not None
    names = [
        entity.text
        for piece in lists.pieces
        for entity in piece.block.entities
        if isinstance(entity, Text) and entity.text.startswith("part ")
    ]
    assert names == [f"part {number}" for number in range(count)]
    for piece in lists.pieces:
        assert piece.top + piece.block.height <= height + 1e-6
        for other in lists.pieces:
            is_beside = piece.x != other.x
            is_clear = (
                piece.top + piece.block.height <= other.top
                or other.top + other.block.height <= piece.top
            )
            assert piece is other or is_beside or is_clear


def test_a_block_higher_than_the_sheet_does_not_flow() -> None:
    assert flow([Block(10.0, 200.0, ())], CORNER, 100.0) is None
    assert flow([], CORNER, 30.0) is None


def test_corner_block_stands_at_the_foot_of_the_last_column() -> None:
    lists = flow([Block(10.0, 20.0, ())], CORNER, 100.0)
    assert lists is not None
    *_, corner = lists.pieces
    assert corner.block is CORNER
    assert corner.top + CORNER.height == pytest.approx(100.0)
    assert lists.width == pytest.approx(50.0)
