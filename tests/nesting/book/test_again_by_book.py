"""Nesting again after a cutting day: pieces keep their numbers, the others stay where they lie."""

import json
import re

import pytest
from book_shop import lying, told
from shapely.geometry import LineString

from nesting.sheets.drawing import Polyline, Role, Text

PROJECT = """\
version: 1
name: Again
unit: mm
book: again.book
outputs: {write: []}
stock:
  - {board: A, species: teak, thickness: 30, length: 1000, width: 120}
  - {board: B, species: teak, thickness: 30, length: 1000, width: 120}
  - {board: C, species: teak, thickness: 30, length: 1000, width: 120}
parts:
  - {part: bar, family: plank, quantity: 4, species: teak,
     shape: {length: 450, width: 100, thickness: 25}}
"""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    (tmp_path / "again.yaml").write_text(PROJECT)
    monkeypatch.chdir(tmp_path)
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q")
    return tmp_path


def words(folder):
    """Return the word of each board's sheet."""
    given = json.loads((folder / "out" / "summary.json").read_text())
    return {row["board"]: row["sheet"] for row in given["boards"]}


def cut(shop, board):
    told("book", "record", "again.yaml")
    told("book", "cut", "again.yaml", board, "-o", "out")


@pytest.mark.parametrize("again", [("--again",), ()], ids=["again", "fixed"])
def test_pieces_that_are_not_sawn_stay_and_keep_their_names(shop, again):
    before, paper = lying(shop / "out"), words(shop)
    first = min(board for board, *_ in before.values())
    sawn = {label for label, (board, *_) in before.items() if board == first}
    left = {label: place for label, place in before.items() if label not in sawn}
    assert len(sawn) == len(left) == 2
    cut(shop, first)
    if not again:
        wishes = "\n".join(f'  - {{fixed: ["{label}"]}}' for label in left)
        (shop / "again.yaml").write_text(f"{PROJECT}wishes:\n{wishes}\n")
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q", "--overwrite", *again)
    assert lying(shop / "out") == left
    assert words(shop) == {board: word for board, word in paper.items() if board != first}
    told("remeasure", "again.yaml", "-o", "out")


def test_wish_for_a_piece_that_is_sawn_is_over(shop):
    before = lying(shop / "out")
    (label, (board, *_)) = min(before.items())
    cut(shop, board)
    (shop / "again.yaml").write_text(f'{PROJECT}wishes:\n  - {{part: "{label}", from: {board}}}\n')
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q", "--overwrite")
    assert label not in lying(shop / "out") and len(lying(shop / "out")) == 2


LONG = PROJECT.replace("length: 1000, width: 120", "length: 2000, width: 105", 1).replace(
    "  - {board: C, species: teak, thickness: 30, length: 1000, width: 120}\n", ""
)
"""Board A gives two in a row; what is left beside one that is sawn is too narrow to keep."""


@pytest.fixture
def long(tmp_path, monkeypatch):
    (tmp_path / "again.yaml").write_text(LONG)
    monkeypatch.chdir(tmp_path)
    told("book", "record", "again.yaml")
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q")
    told("nest", "again.yaml", "--rounds", "0", "-o", "before", "-q")
    return tmp_path


def first_on_a(folder):
    """Return what lies nearest the left end of board A, and the rest of its row."""
    row = sorted((x, name) for name, (board, x, _) in lying(folder / "out").items() if board == "A")
    return [name for _, name in row]


def test_pieces_stay_in_their_wood_where_the_end_of_their_board_was_sawn_off(long, capsys):
    """The board begins farther right since: places on it are others, the wood is the same."""
    before = lying(long / "out")
    first, other = first_on_a(long)
    told("book", "cut", "again.yaml", "A", "--pieces", first, "-o", "out")
    told("nest", "again.yaml", "--again", "--rounds", "0", "-o", "out", "--overwrite")
    said = capsys.readouterr().out
    assert "3 pieces stay, 0 moved (0 of them to another board), 0 new, 0 gone, 1 sawn" in said
    assert f"board A: 1 piece stays; sawn: {first}" in said
    # Trim, the piece, the saw's kerf and trim again: 1.5 + 450 + 3 + 1.5 mm.
    assert before[other][1] - lying(long / "out")[other][1] == pytest.approx(456.0, abs=0.02)
    told("changes", "again.yaml", "before", "-o", "out")
    assert f"board A: 1 piece stays; sawn: {first}" in capsys.readouterr().out


def outlines(drawing, role):
    """Return the boxes of the lines that are drawn with a pen, in paper mm."""
    lines = [e.points for e in drawing.entities if isinstance(e, Polyline) and e.role is role]
    return [tuple(round(figure, 3) for figure in LineString(line).bounds) for line in lines]


def texts(drawing):
    return "\n".join(entity.text for entity in drawing.entities if isinstance(entity, Text))


def drawn(path, was, now):
    """Return the drawing of what differs between plans in two folders, as ``changes`` makes it."""
    made = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("nesting.commands.again._write", lambda drawing, *_: made.update(it=drawing))
        told("changes", path, was, "-o", now, "--drawing", "c.svg")
    return made["it"]


def test_changes_are_drawn_on_boards_as_the_book_has_them(long):
    """A board that was cut in half is drawn as its half, metal that was found in it."""
    first, *_ = first_on_a(long)
    told("book", "cut", "again.yaml", "A", "--pieces", first, "-o", "out")
    told("book", "found", "again.yaml", "A", "--metal", "5 at 700, 50 up")
    told("nest", "again.yaml", "--again", "--rounds", "0", "-o", "out", "--overwrite", "-q")
    drawing = drawn("again.yaml", "before", "out")
    scale = float(re.search(r"Boards 1:([0-9.]+)", texts(drawing))[1])
    lengths = {round((x1 - x0) * scale) for x0, _, x1, _ in outlines(drawing, Role.BOARD)}
    assert lengths == {1544}
    assert len(outlines(drawing, Role.METAL)) == 1


def test_piece_that_moved_on_its_board_has_its_old_place_dashed(long):
    told("book", "found", "again.yaml", "A", "--metal", "5 at 20, 50 up")
    told("nest", "again.yaml", "--again", "--rounds", "0", "-o", "out", "--overwrite", "-q")
    drawing = drawn("again.yaml", "before", "out")
    heavy, dashed = (outlines(drawing, role) for role in (Role.SAW_OUTLINE, Role.MARK_FRAME))
    assert heavy and len(dashed) >= len(heavy)
    assert set(heavy).isdisjoint(dashed)


def test_plan_of_another_project_is_refused_and_one_of_another_name_told(long, capsys):
    other = LONG.replace("name: Again", "name: Other").replace("part: bar", "part: oar")
    (long / "other.yaml").write_text(other.replace("book: again.book\n", ""))
    told("nest", "other.yaml", "--rounds", "0", "-o", "others", "-q")
    words = "the plan in {} is of the project {}, not of {}"
    for *command, said in [
        ("changes", "other.yaml", "out", "-o", "others", words.format("out", "Again", "Other")),
        ("changes", "again.yaml", "others", "-o", "out", words.format("others", "Other", "Again")),
        ("changes", "again.yaml", "out", "-o", "others", words.format("others", "Other", "Again")),
        ("nest", "other.yaml", "--again", "out", "-o", "x", words.format("out", "Again", "Other")),
    ]:
        told(*command, code=5)
        assert said in capsys.readouterr().err
    (long / "renamed.yaml").write_text(LONG.replace("name: Again", "name: New name"))
    told("changes", "renamed.yaml", "before", "-o", "out")
    out, err = capsys.readouterr()
    assert "4 pieces stay, 0 moved" in out
    assert "note: the plan in before was written for Again; it has the parts of New name" in err


def test_boards_of_other_wood_under_the_same_names_are_another_project_s(long, capsys):
    other = LONG.replace("name: Again", "name: Other").replace("teak", "iroko")
    (long / "other.yaml").write_text(other.replace("book: again.book\n", ""))
    told("nest", "other.yaml", "--rounds", "0", "--again", "out", "-o", "x", code=5)
    assert "is of the project Again, not of Other" in capsys.readouterr().err
