"""``check`` says which wishes no plan can meet."""

from pathlib import Path

import pytest
from test_wishes_file import HEAD, project

from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.wishes_unmet import wishes_unmet


def told(folder: Path, *wishes: str, top: str = "") -> list[str]:
    return [str(found) for found in remarks(project(folder, *wishes, top=top), [wishes_unmet])]


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        (["{part: seat, from: A}", "{board: A, use: held back}"],
         "wish 1: seat is kept off every board: A by wish 2"),
        (["{part: rung, from: A}", "{board: A, use: kept whole}"], "rung is kept off every board"),
        (["{part: seat, not_from: [deck, D]}"], "no board that it allows can hold seat: there is"),
        (["{part: rung, stage: 2}"], "write stage: 1 at its top"),
        (["{match: [rung, seat]}", "{part: seat, from: A}", "{part: rung, not_from: A}"],
         "wish 1: one board: none can hold all of rung; seat"),
        (["{part: seat, from: A}", "{board: A, use: first}", "{match: [seat, rung]}"], ""),
    ],
)  # fmt: skip
def test_wish_that_cannot_be_met_is_told_and_no_other(wishes, words, tmp_path):
    found = told(tmp_path, *wishes)
    assert words in found[0] if words else not found, found


MORE = """\
  - {{board: E, species: teak, thickness: 30, length: 300, width: 100}}
  - {{board: F, species: white oak, thickness: 30, length: 900, width: 300}}
  - {{board: G, species: teak, thickness: 30, length: 790, width: 300}}
"""
"""A board too small for any part, one of a wood that none takes, one that a part is half of."""


def told_of_more(folder: Path, *wishes: str, top: str = "") -> list[str]:
    """Return what is told of wishes where three more boards stand first in the stock."""
    text = HEAD.replace("stock:\n", f"stock:\n{MORE}").format(top=top)
    path = folder / "more.yaml"
    path.write_text(text + "wishes:\n" + "".join(f"  - {wish}\n" for wish in wishes))
    return [one.message for one in remarks(read_project(path), [wishes_unmet])]


MIRRORED = "{match: ['rung, 1 of 3', 'rung, 2 of 3'], how: mirrored}"
KEPT = "can hold no part longer than half of it, so it is never opened"


@pytest.mark.parametrize(
    ("wishes", "told"),
    [
        (["{board: E, use: first}"], ["wish 1: E can hold no part, so it is never opened"]),
        (["{board: [F, A, E], use: first}"],
         ["wish 1: E can hold no part, so it is never opened",
          "wish 1: F can hold no part, so it is never opened"]),
        (["{board: [A, E], use: kept whole}"], [f"wish 1: A {KEPT}", f"wish 1: E {KEPT}"]),
        (["{board: G, use: kept whole}"], []),
        (["{board: [A, E], use: kept whole, price: 0.1 m2}"], []),
        (["{board: [A, E], use: held back}"], []),
        (["{part: seat, from: [E, F]}"],
         ["wish 1: no board that it allows can hold seat: E: too small, keep-outs taken off; "
          "F: no board of an accepted species"]),
        (["{match: [seat, rung]}"], []),
        ([MIRRORED], []),
        ([MIRRORED, "{part: rung, not_from: D}"],
         ["wish 1: mirrored: none can hold all of rung, 1 of 3; rung, 2 of 3"]),
    ],
    ids=str,
)  # fmt: skip
def test_wish_that_does_nothing_or_cannot_be_met_is_told_of_each_board(wishes, told, tmp_path):
    assert told_of_more(tmp_path, *wishes) == told


@pytest.mark.parametrize(("how", "is_told"), [("one board", True), ("neighbouring boards", False)])
def test_pieces_kept_apart_match_on_neighbours_alone(how, is_told, tmp_path):
    wishes = [
        f"{{match: [seat, rung], how: {how}}}", "{part: seat, from: A}", "{part: rung, not_from: A}"
    ]  # fmt: skip
    told = told_of_more(tmp_path, *wishes, top="groups: {pile: [A, B-01]}")
    assert told == ["wish 1: one board: none can hold all of seat; rung"] * is_told


def test_match_that_takes_more_wood_than_any_board_has_is_told(tmp_path):
    text = HEAD.replace("quantity: 3", "quantity: 18").format(top="")
    path = tmp_path / "much.yaml"
    # 18 rungs of 400 x 25 and a seat of 400 x 250 are 0.28 m2, a board is 0.27.
    path.write_text(text + "wishes:\n  - {match: [seat, rung]}\n")
    (found,) = remarks(read_project(path), [wishes_unmet])
    assert found.message == "wish 1: one board: none can hold all of seat; rung"
    path.write_text(text.replace("18", "16") + "wishes:\n  - {match: [seat, rung]}\n")
    assert remarks(read_project(path), [wishes_unmet]) == ()
