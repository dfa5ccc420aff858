"""What single options take: a path, a number, outputs; each error says what is allowed."""

from __future__ import annotations

import argparse
import math
import re
from pathlib import Path

from nesting.errors import ShapeError
from nesting.shop.kinds import Output, outputs_named
from nesting.unseen import quoted


def as_focal(text: str) -> float:
    """Return a focal length in pixels."""
    value = as_number(text)
    if not 100 <= value <= 100_000:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not from 100 to 100000 pixels")
    return value


def as_bend(text: str) -> float:
    """Return a figure of how a lens bends."""
    value = as_number(text)
    if not -1 <= value <= 1:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not from -1 to 1")
    return value


def as_drawing(text: str) -> Path:
    """Return the path of a drawing, by its ending."""
    given = as_path(text)
    if given.suffix.lower() not in (".svg", ".pdf"):
        raise argparse.ArgumentTypeError(f"{quoted(text)} must end in .svg or .pdf")
    return given


def as_path(text: str) -> Path:
    """Return a path that has a name."""
    if not text.strip():
        raise argparse.ArgumentTypeError("an empty name; for the folder you are in write .")
    if "\0" in text:
        raise argparse.ArgumentTypeError("no name of a file holds a zero byte")
    if "\n" in text:
        # It would be shown as two messages, the second whatever somebody wants to be read.
        words = f"{quoted(text)} has a line break in it: give it another name"
        raise argparse.ArgumentTypeError(words)
    return Path(text)


def as_outputs(text: str) -> tuple[Output, ...]:
    """Return the outputs that are named."""
    try:
        return outputs_named(text)
    except ShapeError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def as_number(text: str) -> float:
    """Return a number."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def as_not_negative(text: str) -> float:
    """Return a number of 0 or more."""
    value = as_number(text)
    if not 0 <= value < 1e9:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a number of 0 or more")
    return value


def as_moisture(text: str) -> float:
    """Return per cent of moisture."""
    value = as_number(text)
    if not 0 <= value <= 30:
        raise argparse.ArgumentTypeError(
            f"{quoted(text)} is not from 0 to 30 per cent: wood of a boat"
        )
    return value


def as_whole(text: str) -> int:
    """Return a whole number of 0 or more."""
    if not re.fullmatch(r"\s*\d{1,18}\s*", text):
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a whole number of 0 or more")
    return int(text)
