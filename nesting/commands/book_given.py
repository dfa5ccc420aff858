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
    from nesting.project.tape_notes import NOTE_KEYS

    kind = next(kind for kind, key in NOTE_KEYS.items() if key == word)
    try:
        return noted_keep_out(kind, text, {"unit": unit}).keep_outs(board.shape)
    except ShapeError as error:
        raise OptionError(f"--{word}: {error}") from error


def outline_and_thickness(
    given: argparse.Namespace, board: Board, unit: Unit
) -> tuple[Polygon | None, float | None]:
    """Return outline and thickness as the tape has them, None where it says nothing."""
    from shapely.geometry import box

    from nesting.stock.board import widths_outline

    thick = _length(given.thickness, "thickness", unit)
    length, width = (_length(getattr(given, name), name, unit) for name in ("length", "width"))
    if given.widths is not None:
        if length or width:
            raise OptionError("give --widths, or --length and --width, not both")
        stations = _widths(given.widths, unit)
        return widths_outline([x for x, _ in stations], [w for _, w in stations]), thick
    if length is None and width is None:
        if thick is None:
            raise OptionError("say what the tape has: --length, --width, --thickness or --widths")
        return None, thick
    is_plain = board.shape.area >= 0.999 * board.length_mm * board.width_mm
    if not is_plain and (length is None or width is None):
        raise OptionError(
            f"{board.name} is no rectangle: give --length and --width of the rectangle that it is "
            "now, or --widths"
        )
    return box(0.0, 0.0, length or board.length_mm, width or board.width_mm), thick


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


def _widths(text: str, unit: Unit) -> list[tuple[float, float]]:
    found = []
    for one in filter(None, (part.strip() for part in text.split(";"))):
        station, sign, width = one.partition(":")
        if not sign:
            raise OptionError(f"--widths: {one!r} is no station; write 0: 5; 24: 5 3/4; 48: 5")
        at = 0.0 if station.strip() == "0" else _length(station, "widths", unit)
        found.append((at or 0.0, _length(width, "widths", unit) or 0.0))
    return found
