import ast
import re
from pathlib import Path

import pytest

from nesting.errors import ProjectFileError
from nesting.project import read_project
from nesting.told import told_in
from nesting.units import Unit

ROOT = Path(__file__).parents[2]
SOURCES = sorted([*ROOT.glob("nesting/**/*.py"), *ROOT.glob("parts/**/*.py")])


@pytest.mark.parametrize(
    ("message", "told"),
    [
        ("kerf is 2.38125 mm", "kerf is 3/32 in"),
        ("kerf is 3 mm", "kerf is 0.118 in"),
        ("the board is 2438.4 x 203.2 mm", "the board is 8 ft x 8 in"),
        ("runs from -25.4 to 50.8 mm", "runs from -1 in to 2 in"),
        ("at (12.7, -6.35) mm, 6.35 mm is needed", "at (1/2 in, -1/4 in), 1/4 in is needed"),
        ("is 3.174999 mm from it, 3.175 mm is needed", "is 0.125000 in from it, 1/8 in is needed"),
        ("12.9032 mm2 is off", "0.02 sq in is off"),
        ("spans 1234 mm", "spans 4 ft 9/16 in"),
        ("'35 mm' is not over 0; a mm is no inch", "'35 mm' is not over 0; a mm is no inch"),
        ("the hull's side at 254 mm, the beam's at 127 mm",
         "the hull's side at 10 in, the beam's at 5 in"),
        ("board D-07 12.7 mm thick; 5 bolts of 6.35 mm",
         "board D-07 1/2 in thick; 5 bolts of 1/4 in"),
        ("write for example 2.4 m, 35 mm, 1 3/4 in, 7 ft 4 1/2 in or 5-7-3",
         "write for example 2.4 m, 35 mm, 1 3/4 in, 7 ft 4 1/2 in or 5-7-3"),
    ],
)  # fmt: skip
def test_message_is_told_in_feet_and_inches(message, told):
    assert told_in(message, Unit.FOOT) == told
    assert told_in(message, Unit.MM) == message
    assert told_in(told, Unit.FOOT) == told


def messages(path):
    """Yield the place and the text of every written-out text with something put into it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.JoinedStr):
            pieces = [
                str(piece.value) if isinstance(piece, ast.Constant) else "12.7"
                for piece in node.values
            ]
            yield f"{path.relative_to(ROOT)}:{node.lineno}", "".join(pieces)


NO_LENGTHS = (
    *("the file is full size, in mm", "is none of mm, cm, m, in, ft", "(?P<unit>mm2|mm3|mm"),
    "makes one, in mm",
    "(?:mm|cm|m|inches|inch",
)
"""A drawing's own unit, the units there are, what looks for them, and what scripts are told."""


def test_every_message_with_millimetres_can_be_told_in_inches():
    left = [
        f"{place}: {text}"
        for path in SOURCES
        for place, text in messages(path)
        if not any(words in text for words in NO_LENGTHS)
        and re.search(r"(?<!unit: )\bmm[23]?\b|\bm[23]\b|\(12.7, 12.7\)", told_in(text, Unit.INCH))
    ]
    assert not left, "\n".join(left)


INCHES = """version: 1
name: Wrong
unit: in
rules: {kerf: 3/4, trim: 1/16}
stock:
  - board: A
    species: teak
    thickness: 20
    length: 60
    width: 6
    keep_outs: [{kind: hole, diameter: 1/4, at: [70, 3]}]
  - board: B
    species: teak
    thickness: 1
    widths: {at: [0, 40, 30], width: [5, 6, 5]}
  - file: metric.yaml
parts:
  - part: strake
    family: ceiling strake
    species: teak
    shape: {length: 40, width: 2, thickness: 3/4, frame_spacing: 10, butts: [33]}
"""
METRIC = """unit: mm
boards:
  - {board: M, species: teak, thickness: 900, length: 1000, width: 100}
"""


def test_what_is_wrong_in_a_file_is_said_in_the_unit_of_that_file(tmp_path):
    (tmp_path / "project.yaml").write_text(INCHES)
    (tmp_path / "metric.yaml").write_text(METRIC)
    with pytest.raises(ProjectFileError) as caught:
        read_project(tmp_path / "project.yaml")
    said = {Path(f.file).name: [] for f in caught.value.findings}
    for finding in caught.value.findings:
        said[Path(finding.file).name].append(finding.message)
    assert said["metric.yaml"] == [
        "board M: the thickness is 900 mm, must be over 0 and at most 400 mm: is the unit right?"
    ]
    told = "\n".join(said["project.yaml"])
    assert "stations must rise: 30 in comes after 40 in" in told
    assert "the thickness is 20 in, must be over 0 and at most 15 3/4 in" in told
    assert "3/4 in is more than 0.472 in" in told
    assert " mm" not in told
