"""What a board of the shared pile was on the old boat: a part's ``not_from`` may name it."""

import json
from pathlib import Path

import pytest
from book_shop import told

YARD = """\
version: 1
name: Yard
unit: mm
book: pile.book
outputs: {folder: yard, write: []}
stock:
  - {board: D-1, species: teak, thickness: 30, length: 2200, width: 120, member: decking}
  - {board: W-1, species: teak, thickness: 30, length: 1500, width: 120, member: wale}
  - {board: X-1, species: teak, thickness: 30, length: 1500, width: 120}
parts:
  - {part: post, family: plank, species: teak, shape: {length: 400, width: 100, thickness: 25}}
"""
SIDE = """\
version: 1
name: Side
unit: mm
book: pile.book
outputs: {{folder: side, write: []}}
stock:
  - {{board: S-1, species: teak, thickness: 30, length: 300, width: 120, member: locker}}
parts:
  - {{part: bar, family: plank, species: teak, not_from: {not_from},
     shape: {{length: 700, width: 100, thickness: 25}}}}
"""


@pytest.fixture
def pile(tmp_path, monkeypatch):
    """Two projects on one pile; the boards of the first are in its book."""
    monkeypatch.chdir(tmp_path)
    Path("yard.yaml").write_text(YARD, encoding="utf-8")
    told("book", "record", "yard.yaml")
    return tmp_path


def side(not_from):
    Path("side.yaml").write_text(SIDE.format(not_from=not_from), encoding="utf-8")


def test_part_may_not_be_of_what_a_board_of_another_project_was(pile):
    side("[decking, wale]")
    told("book", "record", "side.yaml")
    told("nest", "side.yaml", "--rounds", "0", "--workers", "1", "-q")
    (row,) = json.loads(Path("side/summary.json").read_text(encoding="utf-8"))["boards"]
    assert row["board"] == "X-1"


def test_part_may_not_be_of_what_is_only_in_the_book_by_now(pile):
    text = YARD.replace("  - {board: D-1, species: teak, thickness: 30, length: 2200, width: 120, "
                        "member: decking}\n", "")  # fmt: skip
    text = text.replace("species: teak, shape", "species: teak, not_from: decking, shape")
    Path("yard.yaml").write_text(text, encoding="utf-8")
    told("check", "yard.yaml")


def test_what_neither_stock_nor_book_has_is_told_with_what_both_have(pile, capsys):
    side("deckhouse")
    told("check", "side.yaml", code=3)
    said = capsys.readouterr().err
    assert "side.yaml:9:57: part bar: not_from: no board of the stock or of its book" in said
    assert "came from 'deckhouse'; allowed: locker, decking, wale" in said


def test_before_others_are_recorded_it_is_told_that_they_must_be(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    side("decking")
    told("check", "side.yaml", code=3)
    said = capsys.readouterr().err
    assert "no board of the stock or of its book came from 'decking'; allowed: locker" in said
    assert "boards of another project are known once it has recorded them" in said


def test_name_of_a_board_of_the_book_is_no_former_use(pile, capsys):
    side("X-1")
    told("check", "side.yaml", code=3)
    assert "'X-1' is the name of a board, which has no member recorded" in capsys.readouterr().err
