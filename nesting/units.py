"""Lengths, angles and slopes as people write them; millimetres and degrees inside.

Frame used everywhere: x along the board's length, y across it, origin at its lower-left, seen
from the recorded face; angles in degrees anticlockwise from +x.

The foot, inch and board foot are the exact international ones (1 in = 25.4 mm).
"""

from __future__ import annotations

import math
import re
from enum import StrEnum
from fractions import Fraction

from nesting.errors import LengthError
from nesting.given import word
from nesting.unseen import quoted

MM_PER_INCH = 25.4
"""Exact by definition (international yard and pound agreement of 1959)."""

BOARD_FOOT_MM3 = 144 * MM_PER_INCH**3
"""A board foot is 1 ft x 1 ft x 1 in = 144 cubic inches."""

LONGEST_MM = 40_000.0
"""No length in a boat of this kind is longer than 40 m; more is a wrong unit."""

LEAST_SIZE_MM = 0.1
"""No size is smaller: ten times what sheets are read back to, and less than any saw can cut."""

LONGEST_TEXT = 60
"""Characters of a length as people write it; 7 ft 4 1/2 in has 11."""


class Unit(StrEnum):
    """A unit in which a bare number may be meant."""

    MM = "mm"
    CM = "cm"
    M = "m"
    INCH = "in"
    FOOT = "ft"

    @property
    def mm(self) -> float:
        """Millimetres in one of this unit."""
        return _MM[self]

    @property
    def is_imperial(self) -> bool:
        """Whether lengths print as feet and inches."""
        return self in (Unit.INCH, Unit.FOOT)


_MM = {
    Unit.MM: 1.0,
    Unit.CM: 10.0,
    Unit.M: 1000.0,
    Unit.INCH: MM_PER_INCH,
    Unit.FOOT: 304.8,
}

_SPELLINGS = {
    "mm": Unit.MM,
    "cm": Unit.CM,
    "m": Unit.M,
    "in": Unit.INCH,
    "inch": Unit.INCH,
    "inches": Unit.INCH,
    **dict.fromkeys('"\u2033\u201d', Unit.INCH),
    "ft": Unit.FOOT,
    "foot": Unit.FOOT,
    "feet": Unit.FOOT,
    **dict.fromkeys("'\u2032\u2019", Unit.FOOT),
}
"""What people write for a unit, marks as a word processor turns them among them."""

_FRACTIONS = {
    "\u00bd": "1/2", "\u00bc": "1/4", "\u00be": "3/4", "\u2153": "1/3", "\u2154": "2/3",
    "\u215b": "1/8", "\u215c": "3/8", "\u215d": "5/8", "\u215e": "7/8",
}  # fmt: skip
FRACTION_SIGNS = "".join(_FRACTIONS)
"""Fractions in one sign, as a word processor makes of 1/2."""

MARKS = "".join(spelling for spelling in _SPELLINGS if not spelling.isalpha())
"""Marks that stand for inches and feet."""

_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+\.\d*|\.\d+|\d+"

_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[a-zA-Z]+|[{MARKS}])?")

_SIGNS = re.compile(rf"\s*([{FRACTION_SIGNS}])")

_FEET_DASH = re.compile(r"(?<=['\u2032\u2019])\s*-\s*(?=\d)")
"""The dash between feet and inches, as drawings have it."""

_DOT = re.compile(r"(?<=[a-z])\.", re.IGNORECASE)
"""Behind a unit cut short: 2 ft. 6 in."""

_DATE = re.compile(r"\d{1,2}-[a-z]{3,9}(-\d+)?|[a-z]{3,9}-\d+|\d{4}-\d\d-\d\d.*", re.IGNORECASE)
"""What a spreadsheet makes of a fraction that it takes for a date."""

_COMMA = re.compile(r"\d,\d")

_OFFSET = re.compile(r"(\d+)-(\d+)-(\d+)([+-]?)")

EXAMPLES = "write for example 2.4 m, 35 mm, 1 3/4 in, 7 ft 4 1/2 in or 5-7-3"
"""Said where a length cannot be read."""


def parse_length(given: str | int | float, unit: Unit = Unit.MM) -> float:
    """Return a length in mm.

    Parameters
    ----------
    given
        A number in ``unit``; text with units (``7 ft 4 1/2 in``); text without, in ``unit``;
        or a table-of-offsets figure, feet-inches-eighths, with ``+`` or ``-`` for a sixteenth
        more or less (``5-7-3+``).
    unit
        What a bare number means.

    Raises
    ------
    LengthError
        If the text is no length, or longer than 40 m.
    ShapeError
        If there is no such unit.

    Examples
    --------
    >>> parse_length("1 3/4 in"), parse_length("5-7-3"), parse_length(2, Unit.FOOT)
    (44.45, 1711.325, 609.6)
    """
    is_nan = isinstance(given, float) and math.isnan(given)
    if is_nan or isinstance(given, bool) or not isinstance(given, str | int | float):
        raise LengthError(f"{quoted(given)} is no length; {EXAMPLES}")
    unit = word(unit, Unit, "unit")
    try:
        length = _parse_text(given.strip(), unit) if isinstance(given, str) else _bare(given, unit)
    except OverflowError:
        length = math.inf
    if not math.isfinite(length) or abs(length) > LONGEST_MM:
        raise LengthError(
            f"{quoted(given)} is {length / 1000:g} m; lengths here stay below "
            f"{LONGEST_MM / 1000:g} m: is the unit right?"
        )
    return length


def _bare(number: int | float, unit: Unit) -> float:
    """Return a bare number in mm, as exact as in words: 96 x 25.4 is less than 8 ft by a digit."""
    if unit is Unit.MM or not math.isfinite(number):
        return float(number)
    return float(Fraction(str(number)) * Fraction(str(unit.mm)))


def _parse_text(text: str, unit: Unit) -> float:
    if len(text) > LONGEST_TEXT:
        raise LengthError(
            f"{quoted(text)} is no length: {len(text)} characters, at most {LONGEST_TEXT}; "
            f"{EXAMPLES}"
        )
    if _DATE.fullmatch(text):
        raise LengthError(
            f"{quoted(text)} is a date, as a spreadsheet makes of a fraction: set the column to "
            f"text and type it anew; {EXAMPLES}"
        )
    sign = -1.0 if text.startswith("-") else 1.0
    body = _plain(text[1:] if sign < 0 else text)
    offset = _OFFSET.fullmatch(body)
    if offset:
        return sign * _offset_mm(offset, text)
    total, position, previous = Fraction(0), 0, math.inf
    while position < len(body):
        term = _TERM.match(body, position)
        named = _SPELLINGS.get((term["unit"] or "").lower()) if term and term["unit"] else unit
        if not term or named is None or named.mm >= previous:
            comma = "; write no comma, as 2.5 or 1200" if _COMMA.search(text) else ""
            raise LengthError(f"{quoted(text)} is no length{comma}; {EXAMPLES}")
        if not term["unit"] and position > 0:
            raise LengthError(f"{quoted(text)} ends in a number without a unit; {EXAMPLES}")
        total += _number(term["number"], text) * Fraction(str(named.mm))
        previous, position = named.mm, term.end()
        while position < len(body) and body[position] == " ":
            position += 1
    if not body:
        raise LengthError(f"an empty text is no length; {EXAMPLES}")
    return sign * float(total)


def _plain(text: str) -> str:
    r"""Return a length without the signs and dots that others write it with.

    >>> _plain("5\u00bd in."), _plain("6'-2")
    ('5 1/2 in', "6' 2")
    """
    with_fractions = _SIGNS.sub(lambda found: f" {_FRACTIONS[found[1]]}", text)
    return _DOT.sub("", _FEET_DASH.sub(" ", with_fractions)).strip()


def _number(text: str, whole: str) -> Fraction:
    try:
        return sum((Fraction(piece) for piece in text.split()), Fraction(0))
    except ZeroDivisionError:
        raise LengthError(f"{quoted(whole)} has a fraction over zero; {EXAMPLES}") from None


def _offset_mm(match: re.Match[str], text: str) -> float:
    feet, inches, eighths = (int(group) for group in match.groups()[:3])
    if inches > 11 or eighths > 7:
        raise LengthError(
            f"{quoted(text)} is no table-of-offsets figure: inches go to 11 and eighths to 7"
        )
    sixteenths = 2 * eighths + {"": 0, "+": 1, "-": -1}[match[4]]
    return float((12 * feet + inches + Fraction(sixteenths, 16)) * Fraction("25.4"))


_AREAS_MM2 = {
    "m2": 1e6, "sq m": 1e6, "cm2": 100.0, "sq cm": 100.0,
    "ft2": Unit.FOOT.mm**2, "sq ft": Unit.FOOT.mm**2,
    "in2": MM_PER_INCH**2, "sq in": MM_PER_INCH**2,
}  # fmt: skip
"""Units of area as people write them."""

LARGEST_M2 = 10_000.0
"""No pile of boards is larger; more is a wrong unit."""


def parse_area(given: str | int | float) -> float:
    """Return an area in mm2, of a text with its unit.

    Raises
    ------
    LengthError
        If it is no area, has no unit, is below 0 or larger than any pile of boards.

    Examples
    --------
    >>> parse_area("0.05 m2"), parse_area("2 sq ft") == 2 * 304.8**2
    (50000.0, True)
    """
    text = " ".join(str(given).split())
    match = re.fullmatch(r"(\d+(?:\.\d*)?|\.\d+) ?([a-z]+2|sq [a-z]+)", text)
    if isinstance(given, bool) or not match or match[2] not in _AREAS_MM2:
        raise LengthError(
            f"{quoted(given)} is no area of wood; write for example 0.05 m2, 500 cm2, 2 sq ft or "
            "72 sq in"
        )
    area = float(match[1]) * _AREAS_MM2[match[2]]
    if not area <= LARGEST_M2 * 1e6:
        raise LengthError(
            f"{quoted(given)} is more than {LARGEST_M2:g} m2, more than any pile of boards: is the "
            "unit right?"
        )
    return area


def parse_slope(given: str | int | float) -> float:
    """Return the run of a slope written ``1 in 12`` or as the bare number 12.

    Raises
    ------
    LengthError
        If the text is no slope, or steeper than 1 in 1.
    """
    match = re.fullmatch(r"\s*1\s*(?:in|:)\s*(\d+(?:\.\d+)?)\s*", str(given))
    text = match[1] if match else str(given)
    try:
        run = float(text)
    except ValueError:
        raise LengthError(f"{quoted(given)} is no slope; write for example 1 in 12") from None
    if isinstance(given, bool) or not math.isfinite(run) or run < 1:
        raise LengthError(
            f"{quoted(given)} is no slope of grain; write 1 in 1 or flatter, as 1 in 12"
        )
    return run


def slope_angle(run: float) -> float:
    """Return the angle in degrees of a slope of 1 in ``run``.

    >>> round(slope_angle(12), 2)
    4.76
    """
    return math.degrees(math.atan2(1.0, run))


def board_feet(area_mm2: float, thickness_mm: float) -> float:
    """Return the board feet in an area of a thickness; 1 board foot is 144 cubic inches."""
    return area_mm2 * thickness_mm / BOARD_FOOT_MM3
