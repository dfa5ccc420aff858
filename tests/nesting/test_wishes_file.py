"""Wishes as a project file says them: names looked up, everything else refused with its place."""

from pathlib import Path

import pytest

from nesting.errors import LengthError, ProjectFileError
from nesting.project import Project, read_project
from nesting.units import parse_area
from nesting.wishes import Matching, Use

HEAD = """\
version: 1
name: Bench
unit: mm
{top}
stock:
  - {{board: A, species: teak, thickness: 30, length: 900, width: 300, member: deck}}
  - {{board: B, count: 2, species: teak, thickness: 30, length: 900, width: 300, member: deck}}
  - {{board: D, species: teak, thickness: 70, length: 900, width: 300, resaw: 2}}
parts:
  - {{part: seat, family: plank, species: teak, shape: {{length: 400, width: 250, thickness: 22}}}}
  - part: rung
    family: plank
    quantity: 3
    species: teak
    shape: {{length: 400, width: 25, thickness: 22}}
"""


def project(folder: Path, *wishes: str, top: str = "") -> Project:
    """Return a project with some wishes."""
    listed = "".join(f"  - {wish}\n" for wish in wishes)
    path = folder / "bench.yaml"
    path.write_text(HEAD.format(top=top) + (f"wishes:\n{listed}" if wishes else ""))
    return read_project(path)


def said(folder: Path, *wishes: str, top: str = "") -> str:
    """Return what is wrong with some wishes."""
    with pytest.raises(ProjectFileError) as caught:
        project(folder, *wishes, top=top)
    return str(caught.value)


def test_project_without_wishes_wishes_nothing(tmp_path):
    assert project(tmp_path).wishes.are_none


def test_board_name_stands_for_its_copies_and_leaves(tmp_path):
    wishes = project(tmp_path, "{part: seat, from: [B, D]}").wishes
    assert wishes.from_boards[0].boards == ("B-01", "B-02", "D/1", "D/2")


def test_member_and_group_stand_for_boards(tmp_path):
    made = project(
        tmp_path, "{part: seat, from: deck}", "{board: pile, use: held back}",
        top="groups: {pile: [D, A]}",
    )  # fmt: skip
    assert made.wishes.from_boards[0].boards == ("A", "B-01", "B-02")
    assert made.wishes.used[0].boards == ("D/1", "D/2", "A")
    assert made.wishes.used[0].use is Use.HELD_BACK
    assert made.wishes.rows == (("D/1", "D/2", "A"),)


def test_part_stands_for_its_pieces_and_a_label_for_one(tmp_path):
    made = project(tmp_path, '{fixed: ["rung, 2 of 3", seat], price: 0.5 m2}', "{match: rung}")
    assert made.wishes.fixed[0].pieces == (("rung", 2), ("seat", 1))
    assert made.wishes.fixed[0].price_mm2 == 500_000
    assert made.wishes.matched[0].pieces == (("rung", 1), ("rung", 2), ("rung", 3))
    assert made.wishes.matched[0].how is Matching.ONE


def test_pieces_of_later_stages_are_not_needed_yet(tmp_path):
    wish = "{part: rung, stage: 2}"
    assert project(tmp_path, wish).wishes.not_yet == {}
    now = project(tmp_path, wish, top="stage: 1").wishes
    assert sorted(now.not_yet) == [("rung", 1), ("rung", 2), ("rung", 3)]
    assert project(tmp_path, wish, top="stage: 2").wishes.not_yet == {}


@pytest.mark.parametrize(
    ("wish", "message"),
    [
        ("{part: set, from: A}", "bench.yaml:17:12: wish 1: part: 'set' is no part or piece, did"),
        ("{part: seat, from: [A, Q]}", "wish 1: from: 'Q' is no board, group or member"),
        ("{part: seat, not_from: dek}", "'dek' is no board, group or member, did you mean deck?"),
        ("{board: A, use: kept hole}", "use: 'kept hole' is not known, did you mean kept whole?"),
        ("{board: A}", "use: missing; write held back, kept whole, first"),
        ("{part: seat}", "it says of the part nothing; a wish of a part has one of from, not_from"),
        ("{part: seat, from: A, not_from: D}", "it has from and not_from"),
        ("{part: seat, from: A, use: first}", "use goes with board, and this wish has part"),
        ("{use: first}", "a wish has one of fixed, part, board or match"),
        ("{fixed: seat, match: rung}", "it has fixed and match; a wish has one of"),
        ("{fixed: []}", "fixed names nothing"),
        ("{part: seat, from: []}", "from names nothing: name something, or leave the wish out"),
        ("{part: 5, from: A}", "'5' is no part or piece, allowed: seat, rung"),
        ("{match: seat}", "match: this is one piece; name two or more"),
        ("{match: rung, how: mirrored}", "mirrored takes two pieces of one part, not rung"),
        ("{match: [rung, 2 of 3]}", "stands in quotation marks"),
        ("{part: rung, stage: 2, price: 1 m2}", "a stage has no price"),
        ("{fixed: seat, price: 4}", "price: 4 is no area of wood; write for example 0.05 m2"),
        ("{fixed: seat, colour: red}", "colour: unknown key"),
    ],
)
def test_what_cannot_be_wished_is_told_with_its_place(wish, message, tmp_path):
    assert message in said(tmp_path, wish)


def test_piece_in_two_stages_and_board_in_two_uses_are_refused(tmp_path):
    found = said(
        tmp_path, "{part: rung, stage: 2}", '{part: "rung, 1 of 3", stage: 3}',
        "{board: deck, use: first}", "{board: A, use: held back}",
    )  # fmt: skip
    assert "wish 2: part: rung, 1 of 3 is in wish 1 already" in found
    assert "wish 4: board: A is used as wish 3 says already" in found


MIRRORED = '{match: ["rung, 1 of 3", "rung, 2 of 3"], how: mirrored%s}'


@pytest.mark.parametrize("price", ["", ", price: 0.1 m2"])
def test_mirrored_pieces_that_must_come_from_one_board_are_refused(price, tmp_path):
    found = said(tmp_path, "{match: rung, how: one board}", MIRRORED % price)
    assert (
        "wish 2: match: mirrored pieces lie on two leaves, and wish 1 wants rung, 1 of 3 from one "
        "board: leave one of both out"
    ) in found


def test_mirrored_pieces_may_break_a_priced_wish_for_one_board(tmp_path):
    wishes = project(tmp_path, "{match: rung, how: one board, price: 0.1 m2}", MIRRORED % "").wishes
    assert len(wishes.matched) == 2


def test_stage_without_pieces_is_refused(tmp_path):
    found = said(tmp_path, "{part: [rung, seat], stage: 2}", top="stage: 1")
    assert "stage: no piece is needed in stage 1: all are of later ones" in found


def test_group_may_not_be_called_as_a_board(tmp_path):
    assert "'A' is the name of a board" in said(tmp_path, top="groups: {A: [D]}")
    assert "group pile: it holds no board" in said(tmp_path, top="groups: {pile: []}")
    assert "group pile: 'Q' is no board" in said(tmp_path, top="groups: {pile: [A, Q]}")


@pytest.mark.parametrize(
    ("text", "mm2"),
    [("0.05 m2", 5e4), ("500 cm2", 5e4), ("1 sq ft", 92903.04), ("2ft2", 185806.08), ("0 m2", 0)],
)
def test_areas_are_read_with_their_unit(text, mm2):
    assert parse_area(text) == pytest.approx(mm2)


@pytest.mark.parametrize("text", ["1", 2, True, "-1 m2", "1 m", "nan m2", "1e9 m2", "99999 m2"])
def test_what_is_no_area_is_refused(text):
    with pytest.raises(LengthError):
        parse_area(text)


README = Path(__file__).parents[2] / "README.md"


def test_wishes_of_the_readme_can_be_copied(tmp_path):
    block = README.read_text().partition("<!-- wishes -->\n```yaml\n")[2].partition("```")[0]
    boards = "".join(
        f"  - {{board: {name}, species: teak, thickness: 2, length: 60, width: 9{more}}}\n"
        for name, more in (
            ("P-1", ""), ("P-2", ""), ("P-3", ""), ("D", ", member: decking"), ("L", ", resaw: 2"),
        )
    )  # fmt: skip
    parts = "".join(
        f"  - {{part: {name}, family: plank, quantity: {count}, species: teak, "
        "shape: {length: 20, width: 3, thickness: 5/8}}\n"
        for name, count in (
            ("floor", 2), ("king plank", 1), ("cleat", 1), ("knee", 2), ("locker door", 2),
            ("carlin", 1),
        )
    )  # fmt: skip
    path = tmp_path / "readme.yaml"
    path.write_text(f"version: 1\nname: Readme\nunit: in\nstock:\n{boards}parts:\n{parts}{block}")
    wishes = read_project(path).wishes
    assert [len(kind) for kind in (wishes.fixed, wishes.from_boards, wishes.used)] == [1, 2, 1]
    assert wishes.matched[0].how is Matching.MIRRORED and wishes.stage == 1
