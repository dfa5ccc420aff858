"""What the options of ``book`` say: tape notes, what a tape has, which piece became which."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from nesting.arguments.of_book import NOTE_WORDS
from nesting.errors import OptionError

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from nesting.stock.board import Board
    from nesting.stock.keep_out import KeepOut
    from nesting.units import Unit


def piece_and_other(text: str) -> tuple[str, str]:
    """Return a piece and what it became: ``floor 8=cleat``."""
    piece, sign, other = text.partition("=")
    if not sign or not piece.strip() or not other.strip():
        raise OptionError(f"--used: {text!r} is no PIECE=OTHER, as floor 8=cleat")
    return piece.strip(), other.strip()


def tape_notes(given: argparse.Namespace) -> list[tuple[str, str]]:
    """Return every tape note with the word that it was given under."""
    words = [(word, word.replace("-", "_")) for word in NOTE_WORDS]
    return [(word.replace("-", " "), text) for word, name in words for text in getattr(given, name)]


def noted_keep_outs(word: str, text: str, board: Board, unit: Unit) -> tuple[KeepOut, ...]:
    """Return the keep-outs of a tape note, laid out from a board's left end."""
    from nesting.errors import ShapeError
    from nesting.project.noted_keep_out import noted_keep_out
    from nesting.stock.keep_out import PLURALS

    kind = next(kind for kind, key in PLURALS.items() if key == word)
    try:
        return noted_keep_out(kind, text, {"unit": unit}).keep_outs(board.shape)
    except ShapeError as error:
        raise OptionError(f"--{word}: {error}") from error


def outline_and_thickness(
    given: argparse.Namespace, board: Board, unit: Unit
) -> tuple[Polygon | None, float | None]:
    """Return outline and thickness as the tape has them, None where it says nothing."""
    from shapely.geometry import box

    thick = _length(given.thickness, "thickness", unit)
    length, width = (_length(getattr(given, name), name, unit) for name in ("length", "width"))
    curved = _curved(given, unit, is_plain_too=bool(length or width))
    if curved is not None:
        return curved, thick
    if length is None and width is None:
        if thick is None:
            raise OptionError(
                "say what the tape has: --length, --width, --thickness, --widths or --string"
            )
        return None, thick
    is_plain = board.shape.area >= 0.999 * board.length_mm * board.width_mm
    if not is_plain and (length is None or width is None):
        raise OptionError(
            f"{board.name} is no rectangle: give --length and --width of the rectangle that it is "
            "now, --widths, or --string"
        )
    return box(0.0, 0.0, length or board.length_mm, width or board.width_mm), thick


def _curved(given: argparse.Namespace, unit: Unit, *, is_plain_too: bool) -> Polygon | None:
    """Return the outline that was taped at stations, or None."""
    from nesting.errors import ShapeError
    from nesting.project.curve_note import CURVES, curve_outline

    curves = {name: text for name in CURVES if (text := getattr(given, name)) is not None}
    if len(curves) + is_plain_too > 1:
        raise OptionError(
            "an outline is taped one way: give --widths, or --string, or --length and --width"
        )
    for name, text in curves.items():
        try:
            return curve_outline(name, text, unit)
        except ShapeError as error:
            raise OptionError(f"--{name}: {error}") from error
    return None


def _length(text: str | None, name: str, unit: Unit) -> float | None:
    from nesting.errors import LengthError
    from nesting.units import parse_length

    if text is None:
        return None
    try:
        length = parse_length(text, unit)
    except LengthError as error:
        raise OptionError(f"--{name}: {error}") from error
    if length <= 0:
        raise OptionError(f"--{name}: {text!r} must be over 0")
    return length
