from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.sheets.blocks import Block, flow, least_area, record_table, table
from nesting.sheets.drawing import Anchor, Text
from nesting.sheets.title import Legend
from nesting.shop.paging import Lines, Pages

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


TEXTS = st.lists(st.integers(1, 8), min_size=1, max_size=30)
"""How many lines each of some texts takes."""


@given(texts=TEXTS, height=st.floats(75.0, 200.0))
def test_no_text_is_torn_from_column_to_column(texts: list[int], height: float) -> None:
    records = [[(f"{k}", f"line {k}.{n}") for n in range(count)] for k, count in enumerate(texts)]
    told = record_table("Told", ("no.", "text"), (Anchor.RIGHT, Anchor.LEFT), records)
    lists = flow([told], CORNER, height)
    assert lists is not None
    columns = [words_of(piece.block) for piece in lists.pieces]
    assert [text for column in columns for text in column] == [
        row[1] for record in records for row in record
    ]
    torn = [
        k
        for k in range(len(texts))
        if sum(any(text.startswith(f"line {k}.") for text in column) for column in columns) > 1
    ]
    assert torn == []


def words_of(block: Block) -> list[str]:
    return [e.text for e in block.entities if isinstance(e, Text) and e.text.startswith("line ")]


def test_a_record_too_long_to_stay_whole_says_again_what_it_is_of() -> None:
    records = [[("7" if n == 0 else "", f"line {n}") for n in range(40)]]
    told = record_table("Points", ("no.", "text"), (Anchor.RIGHT, Anchor.LEFT), records)
    lists = flow([told], CORNER, 80.0)
    assert lists is not None
    begun = [piece.block for piece in lists.pieces if words_of(piece.block)]
    assert len(begun) >= 3
    for block in begun:
        assert "7" in [e.text for e in block.entities if isinstance(e, Text)]
    again = record_table(
        "Points", ("no.", "text"), (Anchor.RIGHT, Anchor.LEFT), [*records, *records]
    )
    _, rest = again.cut(40)
    assert rest is not None and rest.rows[0][0] == "7" and rest.records == (40,)


@given(texts=TEXTS, height=st.floats(60.0, 150.0))
def test_running_text_is_torn_neither_over_columns_nor_over_pages(
    texts: list[int], height: float
) -> None:
    lines = tuple(f"line {k}.{n}" for k, count in enumerate(texts) for n in range(count))
    pages = Pages((60.0, height))
    pages.flow([Lines("This board", lines, 50.0, tuple(texts))])
    blocks = [piece.block for leaf in pages.leaves for piece in leaf]
    assert [text for block in blocks for text in words_of(block)] == list(lines)
    for block in blocks[1:]:
        first = words_of(block)[0]
        assert first.endswith(".0"), "a text begins there"
        assert any(
            isinstance(e, Text) and e.text == "This board (continued)" for e in block.entities
        )


@given(
    counts=st.lists(st.integers(1, 60), min_size=1, max_size=5),
    blocks=st.lists(st.tuples(st.floats(5.0, 120.0), st.floats(5.0, 55.0)), max_size=3),
    height=st.floats(60.0, 300.0),
)
def test_no_flow_is_smaller_than_what_its_items_cover_at_the_least(
    counts: list[int], blocks: list[tuple[float, float]], height: float
) -> None:
    """Heights too low for a sheet are passed over by it: it must never promise too much."""
    items: list = [Block(wide, tall, ()) for wide, tall in blocks]
    items += [numbered(count) for count in counts]
    items += [Lines.of("Notes", [f"text {count} " * count], 70.0) for count in counts]
    items.append(Legend(tuple(((), "sign " * count) for count in counts)))
    lists = flow(items, CORNER, height)
    assert lists is not None
    assert lists.width * lists.height >= least_area([*items, CORNER])
