"""Boards of which nobody recorded what a part asks for: `check` names them."""

import pytest

from nesting import cli

PROJECT = """\
version: 1
name: Three boards
unit: mm
stock:
  - {board: A, species: teak, thickness: 40, length: 2000, width: 150, moisture: 14,
     heartwood: true}
  - {board: B, species: teak, thickness: 40, length: 2000, width: 150, moisture: 14}
  - {board: C, species: teak, thickness: 40, length: 2000, width: 150}
  - {board: thin, species: teak, thickness: 8, length: 2000, width: 150}
  - {board: other, species: iroko, thickness: 40, length: 2000, width: 150}
parts:
  - {part: one, family: ceiling strake, species: teak, SHAPE}
  - {part: two, family: ceiling strake, species: teak, SHAPE}
"""
SHAPE = "shape: {length: 900, thickness: 20, width: 60, frame_spacing: 300}"
HEART = "the heartwood of B, C was never recorded, so it passes as all heartwood for "
MOIST = "the moisture of C was never recorded, so it passes as what is asked for "


def warnings(tmp_path, capsys, *asked):
    path = tmp_path / "three.yaml"
    text = PROJECT
    for more in asked:
        text = text.replace("SHAPE", f"{more}{SHAPE}", 1)
    path.write_text(text)
    assert cli.main(["check", str(path)]) == 0
    out = capsys.readouterr().out.splitlines()
    return [line[line.index("the ") :] for line in out if "was never recorded" in line]


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("", "", []),
        ("heartwood_only: true, ", "", [f"{HEART}one: look at the wood"]),
        ("moisture: [10, 18], ", "", [f"{MOIST}one: look"]),
        (
            "heartwood_only: true, ",
            "heartwood_only: true, moisture: [10, 18], ",
            [f"{HEART}one; two: look", f"{MOIST}two: look"],
        ),
    ],
    ids=["nothing asked", "heartwood", "moisture", "both, parts told together"],
)
def test_check_names_boards_that_pass_unrecorded(first, second, found, tmp_path, capsys):
    told = warnings(tmp_path, capsys, first, second)
    assert len(told) == len(found)
    for line, begin in zip(told, found, strict=True):
        assert line.startswith(begin)


def test_recorded_boards_are_not_named(tmp_path, capsys):
    (line,) = warnings(tmp_path, capsys, "heartwood_only: true, ", "")
    assert " A" not in line
    assert "thin" not in line
    assert "other" not in line
