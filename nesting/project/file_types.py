"""Small field types that the project file and stock files share."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema

from nesting.errors import LengthError
from nesting.grain import GrainPath, straight_grain
from nesting.stock.board import DRIEST_PERCENT, WETTEST_PERCENT
from nesting.units import parse_length
from nesting.unseen import quoted, same_letters, unseen_in
from nesting.yaml_file.scalars import as_written

LONGEST_NAME = 80
"""A name goes on wood, on a cut sheet and in a list; more than a line is no name."""

LONGEST_TEXT = 500
"""A note or a path; more has no room on a sheet."""


def _text(given: Any) -> Any:
    text = as_written(given)
    if not isinstance(text, str):
        return text
    if not text.strip():
        raise LengthError("must not be empty")
    if unseen := unseen_in(text):
        raise LengthError(f"{quoted(text)} holds {unseen}; write one line that can be seen")
    if len(text) > LONGEST_TEXT:
        raise LengthError(f"{len(text)} characters long; at most {LONGEST_TEXT}")
    if code := re.search(r"\\[UM]\+", text, re.IGNORECASE):
        raise LengthError(
            f"{quoted(text)} holds {code[0]}, which a DXF takes for the code of a letter; leave "
            "the backslash out"
        )
    return text.strip()


def _name(given: Any) -> Any:
    text = _text(given)
    if isinstance(text, str) and len(text) > LONGEST_NAME:
        raise LengthError(f"{len(text)} characters long; at most {LONGEST_NAME}")
    return same_letters(text) if isinstance(text, str) else text


_OF_THE_TOOL = re.compile(r"(?:-\d{2,4})?(?:/\d{1,2})?(?:\.\d{1,4})?")
"""What stands behind a board's name for a copy of it, a leaf, a rest: ``-02/1.3``."""


def _board_name(given: Any) -> Any:
    text = _text(given)
    if isinstance(text, str) and _OF_THE_TOOL.fullmatch(text[LONGEST_NAME:]):
        return same_letters(text)
    return _name(given)


def _leaf(given: Any) -> Any:
    if given is None or isinstance(given, tuple):
        return given
    match = re.fullmatch(r"\s*(\d{1,2})\s+of\s+(\d{1,2})\s*", str(given))
    if not match or not 1 <= int(match[1]) <= int(match[2]):
        raise LengthError(f"{quoted(given)} is no leaf; write which and of how many, as 2 of 3")
    return int(match[1]), int(match[2])


def _listed(given: Any) -> Any:
    return given if isinstance(given, list | tuple) else [given]


def at_most(limit_mm: float) -> AfterValidator:
    """Return a validator that refuses a length over a limit, as a sign of a wrong unit."""

    def check(length_mm: float) -> float:
        if length_mm > limit_mm:
            raise LengthError(f"{length_mm:g} mm is more than {limit_mm:g} mm: is the unit right?")
        return length_mm

    return AfterValidator(check)


def _grain(given: Any, info: ValidationInfo) -> GrainPath:
    if isinstance(given, GrainPath):
        return given
    unit = (info.context or {}).get("unit")
    if isinstance(given, list | tuple):
        if not all(isinstance(point, list | tuple) and len(point) == 2 for point in given):
            raise LengthError("each point of a grain line is written [x, y]")
        return GrainPath(
            tuple((parse_length(x, unit), parse_length(y, unit)) for x, y in given)
            if unit
            else tuple((parse_length(x), parse_length(y)) for x, y in given)
        )
    return straight_grain(_degrees(given))


def _degrees(given: Any) -> float:
    match = re.fullmatch(r"\s*([-+]?\d+(?:\.\d*)?)\s*(?:deg|°)?\s*", str(given))
    if isinstance(given, bool) or not match:
        raise LengthError(
            f"{quoted(given)} is no direction; write degrees, as 4.5, or [[x, y], [x, y]]"
        )
    angle = float(match[1])
    if not math.isfinite(angle) or abs(angle) > 180:
        raise LengthError(f"{quoted(given)} is no direction; degrees go from -180 to 180")
    return angle


Text = Annotated[
    str, BeforeValidator(_text), WithJsonSchema({"type": ["string", "number"], "minLength": 1})
]
"""One line of text; a number is taken as it was written."""

Name = Annotated[
    str,
    BeforeValidator(_name),
    WithJsonSchema({"type": ["string", "number"], "minLength": 1, "maxLength": LONGEST_NAME}),
]
"""A name of at most 80 characters; a number is taken as it was written."""

BoardName = Annotated[
    str,
    BeforeValidator(_board_name),
    WithJsonSchema({"type": ["string", "number"], "minLength": 1, "maxLength": LONGEST_NAME + 13}),
]
"""A board's name; what says which copy, leaf and rest it is may stand behind 80 characters."""

LeafOf = Annotated[
    tuple[int, int],
    BeforeValidator(_leaf),
    WithJsonSchema({"type": "string", "examples": ["2 of 3"]}),
]
"""Which leaf of a board that was resawn, and of how many."""


def _layer_or_number(given: Any) -> Any:
    """Keep a bare number a number and a quoted one a name: layers are often called 0."""
    if isinstance(given, bool) or not isinstance(given, int | str):
        raise LengthError("write the name of a layer, or the number of an outline")
    return int(given) if isinstance(given, int) else _text(given)


LayerOrNumber = Annotated[int | str, BeforeValidator(_layer_or_number)]
"""A layer by its name, or an outline by its number."""

_ONE_OR_MORE = {
    "anyOf": [
        {"type": ["string", "number"], "minLength": 1},
        {"type": "array", "items": {"type": ["string", "number"], "minLength": 1}},
    ]
}

Texts = Annotated[tuple[Text, ...], BeforeValidator(_listed), WithJsonSchema(_ONE_OR_MORE)]
"""A list of texts; a single one need not be in brackets."""


def _no_fraction(given: float) -> float:
    """Refuse fourteen per cent written as 0.14: no wood is so dry, and none would suit a part."""
    if 0.0 < given < DRIEST_PERCENT:
        raise LengthError(f"{given:g} is below 1 %; write it in percent, as 14")
    return given


Percent = Annotated[float, Field(ge=0, le=WETTEST_PERCENT), AfterValidator(_no_fraction)]
"""Moisture of wood in percent of its dry weight; green timber goes past 100."""

Grain = Annotated[
    GrainPath,
    BeforeValidator(_grain),
    WithJsonSchema(
        {
            "description": "direction of the grain: degrees anticlockwise from the board's "
            "length, or the points of a line along it",
            "anyOf": [
                {"type": ["number", "string"]},
                {
                    "type": "array",
                    "minItems": 2,
                    "items": {"type": "array", "minItems": 2, "maxItems": 2},
                },
            ],
            "examples": [0, 4.5, [[0, 0], [1200, 40], [2400, 160]]],
        }
    ),
]
"""Direction of the grain: degrees, or two points or more along it."""
