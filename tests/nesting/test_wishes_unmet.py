"""``check`` says which wishes no plan can meet."""

from pathlib import Path

import pytest
from test_wishes_file import project

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
