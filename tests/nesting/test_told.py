import ast
import re
from pathlib import Path

import pytest

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


NO_LENGTHS = ("the file is full size, in mm", "is none of mm, cm, m, in, ft", "(?P<unit>mm2|mm3|mm")
"""A drawing's own unit, the units there are, and what looks for lengths."""


def test_every_message_with_millimetres_can_be_told_in_inches():
    left = [
        f"{place}: {text}"
        for path in SOURCES
        for place, text in messages(path)
        if not any(words in text for words in NO_LENGTHS)
        and re.search(r"(?<!unit: )\bmm[23]?\b|\bm[23]\b|\(12.7, 12.7\)", told_in(text, Unit.INCH))
    ]
    assert not left, "\n".join(left)
