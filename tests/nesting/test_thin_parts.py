"""Parts that take all the thickness of boards which would give several, and hardly sawn ones."""

from __future__ import annotations

import pytest
from project_texts import BOARD, HEAD, PART, only_blocks, project_text, written

from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.thin_parts import thin_parts


@pytest.fixture(autouse=True)
def only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def told(folder, *, thick="10", stock=BOARD, part=PART):
    parts = part.replace("siding: 25", f"siding: {thick}")
    project = read_project(written(folder, project_text(stock=stock, parts=parts)))
    return [found.message for found in remarks(project, [thin_parts])]


@pytest.mark.parametrize(
    ("thick", "leaves"),
    # A board of 40 mm, 1.5 mm off each face of each leaf, a kerf of 3 mm between: 3 leaves of
    # (40 - 2 x 3) / 3 - 3 = 8.33 mm, 4 of 4.75 mm.
    [("8.34", 0), ("8.33", 3), ("4.76", 3), ("4.75", 4)],
)
def test_part_is_told_from_three_leaves_on(tmp_path, thick, leaves):
    found = told(tmp_path, thick=thick)
    if not leaves:
        assert found == []
        return
    (message,) = found
    assert message.startswith("part pad: even the thinnest board of its wood, D-01, has room for ")
    assert f"room for {leaves} of it one over the other" in message
    again = BOARD.replace("thickness: 40", f"thickness: 40, resaw: {leaves}")
    assert told(tmp_path, thick=thick, stock=again) == [], "it is done, and the leaves suit"


def test_thinner_board_that_suits_is_what_counts(tmp_path):
    thin = BOARD.replace("D-01", "D-02").replace("thickness: 40", "thickness: 12")
    assert told(tmp_path, thick="8", stock=BOARD + thin) == []
    assert told(tmp_path, thick="8", stock=BOARD + thin.replace("teak", "white oak")) != []


@pytest.mark.parametrize(("thick", "is_told"), [("1.99", True), ("2", False)])
def test_what_can_hardly_be_sawn_is_told(tmp_path, thick, is_told):
    stock = BOARD.replace("thickness: 40", "thickness: 6")
    found = told(tmp_path, thick=thick, stock=stock)
    says = "thinner than 2 mm can hardly be ripped and planed in a shop"
    assert [says in message for message in found] == ([True] if is_told else [])


def test_part_that_no_board_suits_is_left_to_others(tmp_path):
    assert told(tmp_path, thick="5", part=PART.replace("teak", "white oak")) == []


@pytest.mark.parametrize(
    ("thick", "holes", "kind", "is_told"),
    [("6.3", "plugged", "hole", True), ("6.35", "plugged", "hole", False),
     ("6.3", "clear", "hole", False), ("6.3", "hidden", "hole", True),
     ("6.3", "plugged", "knot", False)],
)  # fmt: skip
def test_part_too_thin_for_a_bung_is_told_where_boards_have_holes(
    tmp_path, thick, holes, kind, is_told
):
    hole = f"thickness: 10, keep_outs: [{{kind: {kind}, diameter: 5, at: [500, 75]}}]"
    stock = BOARD.replace("thickness: 40", hole)
    part = PART.replace("family:", f"holes: {holes}, family:")
    found = told(tmp_path, thick=thick, stock=stock, part=part)
    assert [f"it is {thick} mm thick and takes old holes" in message for message in found] == (
        [True] if is_told else []
    )


@pytest.mark.parametrize("thick", ["5", "1"])
def test_sheet_goods_are_neither_resawn_nor_ripped_thin(tmp_path, thick):
    head = f"{HEAD}species: [birch plywood]\n"
    stock, part = BOARD.replace("teak", "birch plywood"), PART.replace("teak", "birch plywood")
    part = part.replace("siding: 25", f"siding: {thick}")
    project = read_project(written(tmp_path, project_text(head=head, stock=stock, parts=part)))
    assert remarks(project, [thin_parts]) == ()
    assert told(tmp_path, thick=thick) != []
