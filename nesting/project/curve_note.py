"""Edges of a board taped at stations, in one line: a table's cell, or an option of the book.

``0: 5; 24: 5 3/4`` is a width at each station, ``0: -2 to 3; 40: -1 to 3 1/2`` both edges as they
lie from a stretched string.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from nesting.errors import ShapeError
from nesting.unseen import quoted, short
from nesting.words import counted
from nesting.yaml_file.scalars import scalar

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from nesting.units import Unit

CURVES = {"widths": ("at", "width"), "string": ("at", "lower", "upper")}
"""What is taped at stations, and the keys of its figures in a stock file."""

EXAMPLES = {"widths": "0: 5; 24: 5 3/4; 48: 5", "string": "0: -2 to 3; 24: -1 to 3 1/2"}


def stations_of(name: str, text: str) -> dict[str, list[str]]:
    """Return the figures of a curve by their keys, station by station.

    Raises
    ------
    ShapeError
        If one says no station.

    Examples
    --------
    >>> stations_of("widths", "0: 5; 24: 5 3/4")
    {'at': ['0', '24'], 'width': ['5', '5 3/4']}
    """
    columns: dict[str, list[str]] = {key: [] for key in CURVES[name]}
    for one in filter(None, (part.strip() for part in re.split(r"[;,\r\n]", text))):
        station, _, figures = one.partition(":")
        texts = [station, *re.split(r"\s+to\s+", figures)]
        if len(texts) != len(columns) or not all(part.strip() for part in texts):
            raise ShapeError(f"{short(one)!r} is no station; write for example {EXAMPLES[name]}")
        for column, part in zip(columns.values(), texts, strict=True):
            column.append(part.strip())
    return columns


def curve_outline(name: str, text: str, unit: Unit) -> Polygon:
    """Return the outline that a curve stands for, as a stock file with it would have it.

    Raises
    ------
    ShapeError
        If it is not understood, or is the outline of no board.
    """
    from pydantic import ValidationError

    from nesting.project.board_entry import StringSpec, Widths
    from nesting.project.wording import complaints

    model = Widths if name == "widths" else StringSpec
    figures = stations_of(name, text)
    given: dict[str, list[Any]] = {
        key: [scalar(one) for one in own] for key, own in figures.items()
    }
    if len(given["at"]) < 2:
        raise ShapeError(
            f"{quoted(text)} is of {counted(len(given['at']), 'station')}, must be two or more: "
            f"{EXAMPLES[name]}"
        )
    try:
        return model.model_validate(given, context={"unit": unit}).outline()
    except ValidationError as error:
        # The first is enough: a list with a figure that is none is called too short as well.
        said = next(iter(complaints(error, model)))
        raise ShapeError(said.message) from error
