"""Wishes of a project whose boards were cut: a board's name stands for what is left of it."""

import json
from pathlib import Path

import pytest
from book_shop import told

from nesting.book.opening import opened

PROJECT = """\
version: 1
name: Wished
unit: mm
book: pile.book
outputs: {{folder: out, write: []}}
rules: {{least_offcut: {{length: 200, width: 60}}}}
stock:
  - {{board: A, species: teak, thickness: 30, length: 2200, width: 120, member: deck}}
  - {{board: B, species: teak, thickness: 30, length: 1500, width: 120, member: deck}}
  - {{board: C, species: teak, thickness: 30, length: 1500, width: 120, member: wale}}
  - {{board: L, species: teak, thickness: 70, length: 800, width: 120, resaw: 2}}
groups: {{side: [A, B, C]}}
parts:
  - {{part: bar, family: plank, quantity: 2, species: teak,
     shape: {{length: 700, width: 100, thickness: 25}}}}
  - {{part: block, family: plank, quantity: {blocks}, species: teak,
     shape: {{length: 250, width: 60, thickness: 25}}}}
wishes:
{wishes}
"""
BAR_OFF = "  - {part: bar, not_from: A}\n"
BARS_ON = "  - {{part: bar, from: {}}}\n"


def nest(*more, code=0):
    told("nest", "w.yaml", "--rounds", "0", "--workers", "1", "--overwrite", "-q", *more, code=code)


def write(wishes, blocks=4):
    text = PROJECT.format(wishes=wishes, blocks=blocks)
    Path("w.yaml").write_text(text, encoding="utf-8")


def plan():
    return json.loads(Path("out/summary.json").read_text(encoding="utf-8"))


def lying(part=""):
    """Return the board of each piece that begins so."""
    return {
        one["label"]: row["board"]
        for row in plan()["boards"]
        for one in row["parts"]
        if one["label"].startswith(part)
    }


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A bar was sawn from the left of board A, and an offcut of A is back in stock as A.1."""
    monkeypatch.chdir(tmp_path)
    write(BARS_ON.format("A") + "  - {part: block, from: [B, C]}\n")
    told("book", "record", "w.yaml")
    nest()
    assert set(lying("bar").values()) == {"A"}
    return tmp_path


def saw_a_bar(keep="offcuts"):
    told("book", "cut", "w.yaml", "A", "--pieces", "bar, 1 of 2", "--keep", keep)


@pytest.mark.parametrize("use", ["first", "held back", "kept whole"])
def test_board_of_which_something_is_wished_may_be_sawn_up(shop, use):
    told("book", "cut", "w.yaml", "A", "--keep", "nothing")
    write(f"  - {{board: A, use: {use}}}\n")
    nest()
    assert "A" not in lying().values()
    told("remeasure", "w.yaml")


def offcuts(board="A"):
    with opened(Path("pile.book")) as book:
        rows = book.rows("board", "parent = ? AND state = 'in stock'", board)
    return [row["name"] for row in rows]


@pytest.mark.parametrize("named", ["A", "deck", "side", "A.1"])
def test_what_is_left_of_a_board_is_kept_off_with_it(shop, named):
    saw_a_bar()
    assert offcuts()
    write(f"  - {{part: [bar, block], not_from: {named}}}\n")
    nest()
    assert lying() and not set(lying().values()) & set(offcuts())
    told("remeasure", "w.yaml")


@pytest.mark.parametrize("named", ["A", "A.1"])
def test_what_is_left_of_a_board_is_what_a_part_is_to_come_from(shop, named):
    saw_a_bar()
    write(f"  - {{part: block, from: {named}}}\n{BAR_OFF}", blocks=1)
    nest()
    assert set(lying("block").values()) <= set(offcuts())
    assert len(lying("block")) == 1


def test_offcut_of_a_board_that_is_held_back_is_held_back_unless_it_is_named(shop):
    saw_a_bar()
    write("  - {board: A, use: held back}\n")
    nest()
    assert not set(lying().values()) & set(offcuts())
    write("  - {board: A, use: held back}\n  - {board: A.1, use: first}\n")
    nest()
    assert "A.1" in lying().values()


def test_board_that_is_kept_whole_is_so_no_more_once_it_was_cut(shop):
    saw_a_bar()
    write("  - {board: A, use: kept whole}\n  - {part: block, from: A}\n" + BAR_OFF, blocks=1)
    nest()
    assert set(lying("block").values()) <= set(offcuts())
    assert lying("block")


def test_name_that_neither_stock_nor_book_has_is_an_error(shop, capsys):
    saw_a_bar()
    write("  - {part: block, from: A.77}\n")
    nest(code=3)
    said = capsys.readouterr().err
    assert "w.yaml:19:25: wish 1: from: 'A.77' is no board, group or member" in said
    told("book", "record", "w.yaml", code=3)


def test_piece_whose_mate_is_sawn_comes_from_the_wood_that_gave_it(shop, capsys):
    write("  - {match: bar, how: one board}\n" + BARS_ON.format("B"))
    nest()
    told("book", "cut", "w.yaml", "B", "--pieces", "bar, 1 of 2", "--keep", "rest")
    write("  - {match: bar, how: one board}\n")
    capsys.readouterr()
    told("nest", "w.yaml", "--rounds", "0", "--overwrite")
    err = " ".join(capsys.readouterr().err.split())
    assert "wish 1: bar, 1 of 2 was sawn from B; to match it, B is to give bar, 2 of 2" in err
    assert lying("bar") == {"bar, 2 of 2": "B"}
    told("remeasure", "w.yaml")
    told("book", "gone", "w.yaml", "B")
    capsys.readouterr()
    told("nest", "w.yaml", "--rounds", "0", "--overwrite")
    err = capsys.readouterr().err
    assert "nothing is left that could match it for bar, 2 of 2" in " ".join(err.split())
    assert lying("bar") == {}
    (left,) = [row for row in plan()["unplaced"] if row["part"] == "bar"]
    assert "wish 1 keeps it off" in str(left)


def test_neighbour_of_the_board_that_gave_the_mate_will_do(shop):
    write(BARS_ON.format("A") + "  - {part: block, from: [B, C]}\n")
    nest()
    told("book", "cut", "w.yaml", "A", "--pieces", "bar, 1 of 2", "--keep", "nothing")
    write("  - {match: bar, how: neighbouring boards}\n  - {board: C, use: first}\n")
    nest()
    assert lying("bar") == {"bar, 2 of 2": "B"}


def test_piece_that_is_fixed_may_be_sawn(shop):
    write("  - {fixed: bar}\n")
    saw_a_bar("rest")
    nest()
    assert lying("bar") == {"bar, 2 of 2": "A"}
    told("book", "cut", "w.yaml", "A")
    told("check", "w.yaml")
    nest()
    assert lying("bar") == {}


def test_check_says_what_the_boards_that_are_left_cannot_give(shop, capsys):
    saw_a_bar("nothing")
    told("book", "gone", "w.yaml", "B", "C", "L/1", "L/2")
    capsys.readouterr()
    told("check", "w.yaml")
    assert "part bar: no board can give it" in capsys.readouterr().out


def test_stage_of_which_all_is_sawn_is_told(shop, capsys):
    later = "  - {part: block, stage: 2}\nstage: 1\n"
    write(later)
    nest()
    for board in sorted(set(lying("bar").values())):
        told("book", "cut", "w.yaml", board)
    nest(code=3)
    said = capsys.readouterr().err
    assert "all pieces that are needed in stage 1 are sawn, by the book: write stage: 2" in said
    write(later.replace("stage: 1", "stage: 2"))
    nest()
    assert len(lying("block")) == 4
