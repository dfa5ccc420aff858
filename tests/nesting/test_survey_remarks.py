"""Boards that are probably recorded wrong, told by the others."""

from pathlib import Path

import pytest
from project_texts import only_blocks, project_text, written

from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.survey import survey


@pytest.fixture(autouse=True)
def _only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def told(folder: Path, boards: list[str]) -> list[str]:
    stock = "".join(
        f"  - {{board: B{n}, species: teak, length: 2000, width: 150, {more}}}\n"
        for n, more in enumerate(boards)
    )
    project = read_project(written(folder, project_text(stock=stock)))
    return [f"{one.line}: {one.message}" for one in remarks(project, [survey])]


HOLES = "thickness: 40, holes: '5 at 300, 20 up'"


def test_board_recorded_twice_is_told_with_the_first(tmp_path):
    (found,) = told(tmp_path, [HOLES, HOLES.replace("300", "301"), HOLES])
    assert found.startswith("7: board B2: is B0 to the last figure")


def test_plain_boards_alike_and_boards_counted_are_no_doubles(tmp_path):
    assert (
        told(tmp_path, ["thickness: 40"] * 3 + [HOLES + ", count: 3", HOLES + ", resaw: 2"]) == []
    )


def test_thickness_far_from_the_others_of_its_member_is_told(tmp_path):
    boards = [f"thickness: {mm}, member: decking" for mm in (40, 42, 38, 19, 30)]
    (found,) = told(tmp_path, boards)
    assert found.endswith(
        "board B3: 19 mm thick, and the middle one of 5 boards of decking is 38 mm: tape it again"
    )


def test_boards_to_be_resawn_are_as_thick_as_they_were_taped(tmp_path):
    """A leaf of 60 mm is 28.5 mm thick: its boards are no thinner for it, and are no two boards."""
    whole = [f"thickness: {mm}, member: futtock" for mm in (45, 58, 60)]
    sawn = ["thickness: 60, resaw: 2, member: futtock"] * 4
    leaf = ["thickness: 28, leaf: 1 of 2, member: futtock"]
    assert told(tmp_path, whole + sawn + leaf) == []
    (found,) = told(tmp_path, [*whole, *sawn, "thickness: 20, member: futtock"])
    assert found.endswith(
        "board B7: 20 mm thick, and the middle one of 8 boards of futtock is 60 mm: tape it again"
    )


def test_thick_board_among_thin_ones_that_is_to_be_resawn_is_thick_on_purpose(tmp_path):
    boards = ["thickness: 28, member: hull planking"] * 5
    wale = "thickness: 50, resaw: 2, member: hull planking"
    assert told(tmp_path, [*boards, wale]) == []


def test_few_boards_have_no_odd_one(tmp_path):
    assert told(tmp_path, [f"thickness: {mm}, member: decking" for mm in (40, 42, 19)]) == []


@pytest.mark.parametrize(("mm", "is_told"), [(27, False), (25, True), (53, False), (55, True)])
def test_a_thickness_is_odd_that_is_off_by_more_than_a_third(tmp_path, mm, is_told):
    boards = [f"thickness: {each}, member: decking" for each in (40, 40, 40, mm)]
    assert len(told(tmp_path, boards)) == is_told


def test_members_with_too_few_boards_hide_none_of_another(tmp_path):
    few = ["thickness: 40, member: sole", "thickness: 19, member: sole"]
    boards = [f"thickness: {mm}, member: decking" for mm in (40, 42, 38, 19)]
    (found,) = told(tmp_path, [*few, *boards])
    assert "board B5: 19 mm thick" in found


def test_thin_board_that_is_to_be_resawn_is_odd_all_the_same(tmp_path):
    boards = ["thickness: 60, member: futtock"] * 5
    (found,) = told(tmp_path, [*boards, "thickness: 30, resaw: 2, member: futtock"])
    assert "board B5" in found and "30 mm thick" in found


LENGTHS = (1800, 2000, 2400, 3000, 2600, 1500, 4100, 2200)


def of_lengths(folder: Path, lengths) -> list[str]:
    boards = [f"{{board: L{n}, length: {mm}}}" for n, mm in enumerate(lengths)]
    (folder / "boards.yaml").write_text(
        "version: 1\nunit: mm\n"
        "defaults: {species: teak, thickness: 40, width: 120, member: decking}\n"
        f"boards: [{', '.join(boards)}]\n"
    )
    project = read_project(written(folder, project_text(stock="  - {file: boards.yaml}\n")))
    return [one.message for one in remarks(project, [survey])]


@pytest.mark.parametrize(("slip", "told_as"), [(10, "20000"), (0.1, "200"), (1 / 12, "166.67")])
def test_a_length_that_a_slip_explains_is_told_with_those_of_its_member(tmp_path, slip, told_as):
    (found,) = of_lengths(tmp_path, (*LENGTHS, 2000 * slip))
    assert f"board L8: {told_as} mm long, and others of decking are 1800 mm to 3000 mm" in found


ALIKE = (1990, 2000, 2030, 2060, 2100, 2110)
"""All but the shortest and the longest lie within a twentieth: a slip explains little else."""


@pytest.mark.parametrize("slip", [10, 12, 1 / 10, 1 / 12, 1 / 25.4])
@pytest.mark.parametrize("off", [1.0, 1.08, 0.93])
def test_only_what_a_slip_brings_among_the_others_is_told(tmp_path, slip, off):
    found = of_lengths(tmp_path, (*ALIKE, 2050 * slip * off))
    assert len(found) == (off == 1.0)


APART = (300, 320, 500, 1200, 2500, 3600, 4000)


@pytest.mark.parametrize(("mm", "is_told"), [(130, True), (200, False), (6000, False)])
def test_no_slip_is_looked_for_at_a_length_that_is_hardly_past_the_others(tmp_path, mm, is_told):
    """Of 200 mm it would find one where lengths differ so much: 2000 mm."""
    assert len(of_lengths(tmp_path, (*APART, mm))) == is_told


@pytest.mark.parametrize(
    ("defaults", "own", "count"),
    [
        (", holes: '5 at 300, 20 up'", "", 0),
        ("", ", holes: '5 at 300, 20 up'", 1),
        (", rot: 0 to 40", ", holes: '5 at 300, 20 up'", 1),
    ],
)
def test_boards_with_the_holes_of_their_defaults_alone_are_no_doubles(
    tmp_path, defaults, own, count
):
    (tmp_path / "boards.yaml").write_text(
        "version: 1\nunit: mm\n"
        f"defaults: {{species: teak, thickness: 40, width: 120, length: 900{defaults}}}\n"
        f"boards: [{{board: A{own}}}, {{board: B{own}}}]\n"
    )
    project = read_project(written(tmp_path, project_text(stock="  - {file: boards.yaml}\n")))
    assert len(remarks(project, [survey])) == count


def test_of_six_lengths_none_is_told_and_of_seven_that_in_another_place(tmp_path):
    assert of_lengths(tmp_path, (*ALIKE[:5], 20500)) == []
    (found,) = of_lengths(tmp_path, (20500, *ALIKE))
    assert "board L0: 20500 mm long" in found


@pytest.mark.parametrize("more", [(750,), (7000,), (900, 800)])
def test_short_and_long_boards_that_no_slip_explains_are_let_pass(tmp_path, more):
    assert of_lengths(tmp_path, (*LENGTHS, *more)) == []
    assert of_lengths(tmp_path, (2000, 2100, 200)) == []
