"""Nesting again after a cutting day: pieces keep their numbers, the others stay where they lie."""

import json

import pytest

from nesting import cli

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


def told(*arguments, code=0):
    assert cli.main(list(arguments)) == code


def lying(folder):
    """Return board and place of every piece, by its label."""
    given = json.loads((folder / "out" / "summary.json").read_text())
    return {
        part["label"]: (row["board"], part["x_mm"], part["y_mm"])
        for row in given["boards"]
        for part in row["parts"]
    }


def words(folder):
    """Return the word of each board's sheet."""
    given = json.loads((folder / "out" / "summary.json").read_text())
    return {row["board"]: row["sheet"] for row in given["boards"]}


def cut(shop, board):
    told("book", "record", "again.yaml")
    told("book", "cut", "again.yaml", board, "-o", "out")


@pytest.mark.parametrize("again", [("--again",), ()], ids=["again", "fixed"])
def test_pieces_that_are_not_sawn_stay_and_keep_their_names(shop, again):
    before, paper = lying(shop), words(shop)
    first = min(board for board, *_ in before.values())
    sawn = {label for label, (board, *_) in before.items() if board == first}
    left = {label: place for label, place in before.items() if label not in sawn}
    assert len(sawn) == len(left) == 2
    cut(shop, first)
    if not again:
        wishes = "\n".join(f'  - {{fixed: ["{label}"]}}' for label in left)
        (shop / "again.yaml").write_text(f"{PROJECT}wishes:\n{wishes}\n")
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q", "--overwrite", *again)
    assert lying(shop) == left
    assert words(shop) == {board: word for board, word in paper.items() if board != first}
    told("remeasure", "again.yaml", "-o", "out")


def test_wish_for_a_piece_that_is_sawn_is_over(shop):
    before = lying(shop)
    (label, (board, *_)) = min(before.items())
    cut(shop, board)
    (shop / "again.yaml").write_text(f'{PROJECT}wishes:\n  - {{part: "{label}", from: {board}}}\n')
    told("nest", "again.yaml", "--rounds", "0", "-o", "out", "-q", "--overwrite")
    assert label not in lying(shop) and len(lying(shop)) == 2
