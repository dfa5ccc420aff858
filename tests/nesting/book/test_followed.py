"""Nesting again after a board fell in two: pieces stay in their wood, whatever that is called."""

from __future__ import annotations

import pytest
from book_shop import lying, told

PROJECT = """\
version: 1
name: Parted
unit: mm
book: parted.book
outputs: {folder: out, write: []}
rules: {kerf: 3, trim: 1.5}
stock:
  - {board: A, species: teak, thickness: 30, length: 1600, width: 106}
  - {board: B, species: teak, thickness: 30, length: 900, width: 300}
parts:
  - {part: bar, family: plank, quantity: 3, species: teak,
     shape: {length: 400, width: 100, thickness: 25}}
"""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """Three bars end to end on board A; the middle one is sawn out, and A falls in two."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.yaml").write_text(PROJECT + "wishes: [{part: bar, from: A}]\n")
    told("book", "record", "p.yaml")
    told("nest", "p.yaml", "--rounds", "0", "-q")
    (tmp_path / "p.yaml").write_text(PROJECT)
    row = sorted((x, label) for label, (board, x, _) in lying("out").items() if board == "A")
    assert len(row) == 3
    told("nest", "p.yaml", "--rounds", "0", "-q", "-o", "before", "--again", "out")
    middle = row[1][1]
    told("book", "cut", "p.yaml", "A", "--pieces", middle)
    return [label for _, label in row]


@pytest.mark.parametrize("how", ["again", "fixed"])
def test_piece_stays_where_it_is_chalked_on_what_fell_off(shop, capsys, tmp_path, how):
    first, middle, last = shop
    was = lying("out")
    if how == "fixed":
        wish = f'wishes: [{{fixed: ["{first}", "{last}"]}}]\n'
        (tmp_path / "p.yaml").write_text(PROJECT + wish)
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", *(["--again"] if how == "again" else []))
    said = capsys.readouterr().out
    now = lying("out")
    assert {now[first][0], now[last][0]} == {"A", "A.1"}
    told("book", "export", "p.yaml", "plain")
    steps = (tmp_path / "plain" / "steps.csv").read_text(encoding="utf-8")
    assert "left: A, A.1" in steps
    # One of the two begins where the left end was; the other behind the middle bar and its cuts.
    shift = {label: was[label][1] - now[label][1] for label in (first, last)}
    assert shift[first] == pytest.approx(0.0, abs=0.05)
    assert shift[last] == pytest.approx(was[middle][1] + 400.0 + 4.5, abs=0.05)
    if how == "again":
        assert "2 pieces stay, 0 moved (0 of them to another board), 0 new, 0 gone, 1 sawn" in said
        assert "board A.1: 1 piece stays" in said
        told("changes", "p.yaml", "before")
        assert "2 pieces stay, 0 moved" in capsys.readouterr().out
    told("remeasure", "p.yaml")


def test_what_fell_off_is_cut_by_the_sheet_of_the_board_that_it_came_of(shop, capsys):
    first, _, last = shop
    told("book", "cut", "p.yaml", "A.1", code=3)
    assert "saws nothing from board A.1: name A, which it came of" in capsys.readouterr().err
    told("book", "cut", "p.yaml", "A")
    said = capsys.readouterr().out
    assert "A: 2 pieces sawn" in said and first in said and last in said


def test_piece_that_nothing_left_holds_whole_finds_another_place(shop, tmp_path, capsys):
    first, _, last = shop
    told("book", "gone", "p.yaml", "A.1")
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", "--again")
    now = lying("out")
    assert sorted(now[label][0] for label in (first, last)) == ["A", "B"]


def test_pieces_keep_their_places_where_more_of_their_part_are_asked_for(shop, tmp_path, capsys):
    """Their names change with the count: 1 of 3 becomes 1 of 4."""
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", "--again", "-q")
    (tmp_path / "p.yaml").write_text(PROJECT.replace("quantity: 3", "quantity: 4"))
    capsys.readouterr()
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", "--again")
    said = capsys.readouterr().out
    assert "2 pieces stay, 0 moved (0 of them to another board), 1 new, 0 gone" in said
    assert "no longer asked for" not in said
