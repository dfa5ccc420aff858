"""The lists of bevels and notes on a cut sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from sheet_nests import NESTS, PROJECT, RULES, nest_of, sheet_of

from nesting.accounts.account import account_board
from nesting.nest import Nest
from nesting.outline import Bevel
from nesting.sheets import cut_sheet
from nesting.sheets.drawing import Drawing, Role, Text
from nesting.sheets.part_notes import NOTE_MM, bevel_table, note_table
from nesting.units import Unit

ARM = "lower edge of the right arm"
VARYING = (
    Bevel(ARM, -3.24, 0.0, along_mm=0.0, along_from="seat"),
    Bevel(ARM, -1.0, 0.0, along_mm=203.2, along_from="seat"),
    Bevel(ARM, 0.76, 0.4, along_mm=406.4, along_from="seat"),
)
SEAT = Bevel("seat", 4.0, 2.4)


def noted(
    name: str, *, bevels: tuple[Bevel, ...] = (), notes: tuple[str, ...] = (), only: str = ""
) -> Nest:
    """Return a nest whose parts, or the one that is named, have bevels and notes."""
    nest = nest_of(name)
    placements = []
    for placement in nest.placements:
        need = placement.need
        if not only or need.part == only:
            need = replace(need, outline=replace(need.outline, bevels=bevels), notes=notes)
        placements.append(replace(placement, need=need))
    return Nest(nest.board, tuple(placements))


def drawn(nest: Nest, unit: Unit = Unit.MM) -> Drawing:
    return cut_sheet(nest, account_board(nest, RULES), RULES, project_name=PROJECT, unit=unit)


def table_texts(drawing: Drawing) -> list[Text]:
    return [e for e in drawing.entities if isinstance(e, Text) and e.role is Role.TABLE]


def test_an_edge_of_one_bevel_is_told_for_all_of_it() -> None:
    nest = noted("two parts", bevels=(SEAT,), only="carlin")
    table = bevel_table(nest, Unit.MM)
    assert table.heading == "Bevels from square, all along the edge"
    assert table.rows == (("1", "seat", "4.0° standing"),)


def test_an_edge_of_one_bevel_beside_a_varying_one_says_that_it_is_all_along() -> None:
    nest = noted("two parts", bevels=(SEAT, *VARYING), only="carlin")
    first, second = bevel_table(nest, Unit.MM).rows
    assert first == ("1", "seat", "all along", "", "4.0° standing")
    assert second[1:4] == (ARM, "0, 203, 406", "seat")


def test_edges_bevelled_alike_share_a_row_as_long_as_it_holds_their_names() -> None:
    ends = tuple(Bevel(f"{side} end", -4.0, 0.0) for side in ("right", "left"))
    arms = tuple(Bevel(f"lower edge of the {side} arm", -4.0, 0.0) for side in ("right", "left"))
    nest = noted("two parts", bevels=(ends[0], SEAT, ends[1]), only="carlin")
    assert bevel_table(nest, Unit.MM).rows == (
        ("1", "right end, left end", "4.0° under"),
        ("1", "seat", "4.0° standing"),
    )
    told = bevel_table(noted("two parts", bevels=arms, only="carlin"), Unit.MM).rows
    assert [row[1] for row in told] == [arm.edge for arm in arms]


def test_a_varying_bevel_is_told_with_its_places_and_the_end_they_count_from() -> None:
    (row,) = bevel_table(noted("two parts", bevels=VARYING, only="carlin"), Unit.MM).rows
    assert row == ("1", ARM, "0, 203, 406", "seat", "3.2°, 1.0° under, 0.8° standing")


def test_places_of_a_bevel_are_in_the_projects_unit() -> None:
    table = bevel_table(noted("two parts", bevels=VARYING, only="carlin"), Unit.INCH)
    assert table.rows[0][2] == "0, 8, 16"
    assert "in inches" in table.heading


def test_a_place_where_the_bevel_passes_through_square_has_no_sense() -> None:
    through = replace(VARYING[1], angle_deg=-0.01)
    nest = noted("two parts", bevels=(VARYING[0], through, VARYING[2]), only="carlin")
    assert bevel_table(nest, Unit.MM).rows[0][-1] == "3.2° under, 0.0°, 0.8° standing"


def test_copies_of_one_part_are_told_once_with_all_their_numbers() -> None:
    nest = noted("locker", bevels=(SEAT,))
    assert [row[0] for row in bevel_table(nest, Unit.MM).rows] == ["1-5"]


def test_a_note_that_several_parts_share_is_told_once() -> None:
    nest = noted("slender", notes=("seal the ends",))
    assert note_table(nest).rows == (("1-4", "seal the ends"),)


def test_a_note_is_told_beside_the_number_of_its_part_only() -> None:
    nest = noted("slender", notes=("seal the ends",), only="deck beam")
    assert note_table(nest).rows == (("3", "seal the ends"),)


def test_a_long_note_takes_another_row() -> None:
    note = "steam for an hour, " * 12
    table = note_table(noted("two parts", notes=(note,), only="carlin"))
    assert len(table.rows) > 1
    assert [row[0] for row in table.rows[1:]] == [""] * (len(table.rows) - 1)
    assert max(table.widths) <= NOTE_MM + 2.0
    assert " ".join(row[1] for row in table.rows).split() == note.split()


def test_the_head_of_the_bevels_says_which_way_standing_is_and_whose_right_and_left() -> None:
    texts = {text.text for text in table_texts(drawn(noted("tiny", bevels=VARYING)))}
    assert {"bevel (standing: far face larger)", "edge, as the marked face is seen"} <= texts


@pytest.mark.parametrize("name", NESTS)
def test_a_sheet_with_nothing_to_say_has_neither_list(name: str) -> None:
    texts = {text.text for text in table_texts(sheet_of(name))}
    assert "Notes" not in texts
    assert not any(text.startswith("Bevels") for text in texts)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
@pytest.mark.parametrize("name", NESTS)
def test_lists_of_bevels_and_notes_lie_in_the_frame_and_on_nothing_else(
    name: str, unit: Unit
) -> None:
    nest = noted(name, bevels=(SEAT, *VARYING), notes=("seal the ends", "steam it " * 30))
    drawing = drawn(nest, unit)
    texts = [e for e in drawing.entities if isinstance(e, Text)]
    boxes = [shapely.box(*text.box) for text in texts]
    tree = shapely.STRtree(boxes)
    frame = shapely.box(*drawing.frame)
    board = shapely.box(*nest.board.shape.bounds)
    for text in table_texts(drawing):
        box = shapely.box(*text.box)
        assert frame.contains(box)
        assert not board.intersects(box)
        over = [k for k in tree.query(box) if boxes[k].intersection(box).area > 1e-6]
        assert [texts[k].text for k in over] == [text.text]
        assert text.height_mm / drawing.scale >= 2.5 - 1e-9


def test_bevels_and_notes_follow_the_parts_list() -> None:
    tops = {
        text.text.split()[0].rstrip(","): text.at
        for text in table_texts(drawn(noted("tiny", bevels=(SEAT,), notes=("seal the ends",))))
        if text.text.startswith(("Parts,", "Bevels", "Notes"))
    }
    order = [name for name, _ in sorted(tops.items(), key=lambda item: (item[1][0], -item[1][1]))]
    assert order == ["Parts", "Bevels", "Notes"]
