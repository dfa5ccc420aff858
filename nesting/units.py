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

EXACT_MM = 0.01
"""A length this near to a fraction of an inch is that fraction; sheets are read back to it."""

LONGEST_MM = 40_000.0
"""No length in a boat of this kind is longer than 40 m; more is a wrong unit."""

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
    '"': Unit.INCH,
    "ft": Unit.FOOT,
    "foot": Unit.FOOT,
    "feet": Unit.FOOT,
    "'": Unit.FOOT,
}
_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+\.\d*|\.\d+|\d+"
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[a-zA-Z]+|[\"'])?")
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
    if isinstance(given, bool) or not isinstance(given, str | int | float):
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
    sign = -1.0 if text.startswith("-") else 1.0
    body = text[1:].strip() if sign < 0 else text
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


LAST_DIGITS_MM = 1e-6
"""So much comes of reckoning: 6.0000000001 mm is written as 6 mm."""

WHOLE_FROM_MM = 100.0
"""Millimetres are written whole from here on."""


def format_length(mm: float, unit: Unit, *, denominator: int = 16) -> str:
    """Return a length as a shop hand would write it, rounded to the unit's usual step.

    Inches as fractions to ``1/denominator``; feet from 2 ft on when ``unit`` is feet;
    millimetres whole above 100 mm, else to a tenth; metres to the millimetre.

    Examples
    --------
    >>> format_length(44.45, Unit.INCH), format_length(2247.9, Unit.FOOT)
    ('1 3/4 in', '7 ft 4 1/2 in')
    >>> format_length(1711.3, Unit.MM), format_length(5.97, Unit.MM)
    ('1711 mm', '6 mm')
    """
    if unit.is_imperial:
        return _format_inches(mm, unit, denominator)
    if unit is Unit.M:
        return f"{_rounded(mm / 1000, 3)} m"
    if unit is Unit.CM:
        return f"{_rounded(mm / 10, 1)} cm"
    is_whole = abs(mm) >= WHOLE_FROM_MM or abs(mm - round(mm)) < LAST_DIGITS_MM
    return f"{_rounded(mm, 0 if is_whole else 1).removesuffix('.0')} mm"


def length_no_less(mm: float, unit: Unit, *, denominator: int = 16) -> str:
    """Return a length rounded up to the step that :func:`format_length` has: what is enough.

    Examples
    --------
    >>> length_no_less(0.3, Unit.INCH, denominator=32), length_no_less(20.41, Unit.MM)
    ('1/32 in', '20.5 mm')
    """
    if unit.is_imperial:
        step = MM_PER_INCH / denominator
    else:
        step = 0.1 if unit is Unit.MM and mm < WHOLE_FROM_MM else 1.0
    up = math.ceil((mm - LAST_DIGITS_MM) / step) * step
    return format_length(up, unit, denominator=denominator)


def _rounded(number: float, digits: int) -> str:
    """Return a number with so many digits; what rounds to nothing has no sign."""
    return f"{round(number, digits) + 0.0:.{digits}f}"


def exact_length(mm: float, unit: Unit) -> str:
    """Return a length that somebody has set, as it was given: kerf, thickness, bolt, bung.

    Inches as the coarsest fraction, to 1/64, that is the length; else in thousandths.
    Millimetres to a hundredth.

    Examples
    --------
    >>> exact_length(2.38125, Unit.INCH), exact_length(0.9, Unit.INCH)
    ('3/32 in', '0.035 in')
    >>> exact_length(0.35, Unit.MM), exact_length(3.175, Unit.CM), exact_length(1.5, Unit.M)
    ('0.35 mm', '0.318 cm', '0.0015 m')
    """
    if not unit.is_imperial:
        digits = 2 + round(math.log10(unit.mm))
        return f"{_rounded(mm / unit.mm, digits).rstrip('0').rstrip('.')} {unit.value}"
    denominator = exact_denominator(mm)
    if denominator is None:
        return decimal_inches(mm)
    return format_length(mm, unit, denominator=denominator)


def taped_length(mm: float, unit: Unit) -> str:
    """Return a length that was measured or reckoned, as a rule shows it: a board's thickness.

    Inches to the nearest 1/64, else as :func:`exact_length`.

    Examples
    --------
    >>> taped_length(49.7332, Unit.INCH), taped_length(44.45, Unit.FOOT)
    ('1 61/64 in', '1 3/4 in')
    >>> taped_length(49.7332, Unit.MM)
    '49.73 mm'
    """
    if not unit.is_imperial or exact_denominator(mm) is not None:
        return exact_length(mm, unit)
    return format_length(mm, unit, denominator=64)


def exact_denominator(mm: float, within_mm: float = EXACT_MM) -> int | None:
    """Return the least denominator, to 64, with which a length is a fraction of an inch."""
    for denominator in (1, 2, 4, 8, 16, 32, 64):
        step = MM_PER_INCH / denominator
        if abs(mm - round(mm / step) * step) <= min(within_mm, EXACT_MM):
            return denominator
    return None


def decimal_inches(mm: float, digits: int = 3) -> str:
    """Return a length in inches with so many digits."""
    return f"{_rounded(mm / MM_PER_INCH, digits)} in"


def format_area(mm2: float, unit: Unit) -> str:
    """Return an area of wood: square feet in a project of feet and inches, else square metres.

    >>> format_area(14.8e6, Unit.FOOT), format_area(14.8e6, Unit.MM)
    ('159.3 sq ft', '14.80 m2')
    """
    if unit.is_imperial:
        return f"{_rounded(mm2 / Unit.FOOT.mm**2, 1)} sq ft"
    return f"{_rounded(mm2 * 1e-6, 2)} m2"


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


def format_volume(mm3: float, unit: Unit) -> str:
    """Return a volume of wood: board feet in a project of feet and inches, else cubic metres.

    >>> format_volume(2.36e7, Unit.INCH), format_volume(2.36e7, Unit.MM)
    ('10.0 board feet', '0.0236 m3')
    """
    if unit.is_imperial:
        return f"{_rounded(board_feet(mm3, 1.0), 1)} board feet"
    return f"{_rounded(mm3 * 1e-9, 4)} m3"


def format_small_volume(mm3: float, unit: Unit) -> str:
    """Return a volume no larger than a hand: cubic inches, or cubic centimetres.

    >>> format_small_volume(43100, Unit.FOOT), format_small_volume(43100, Unit.MM)
    ('2.63 cu in', '43.1 cm3')
    """
    if unit.is_imperial:
        return f"{_rounded(mm3 / MM_PER_INCH**3, 2)} cu in"
    return f"{_rounded(mm3 * 1e-3, 1)} cm3"


def _format_inches(mm: float, unit: Unit, denominator: int) -> str:
    steps = round(abs(mm) / MM_PER_INCH * denominator)
    sign = "-" if mm < 0 and steps else ""
    whole, rest = divmod(steps, denominator)
    feet, inches = divmod(whole, 12) if unit is Unit.FOOT and whole >= 24 else (0, whole)
    fraction = f"{Fraction(rest, denominator)}" if rest else ""
    small = " ".join(text for text in (str(inches) if inches or not rest else "", fraction) if text)
    if not feet:
        return f"{sign}{small} in"
    return f"{sign}{feet} ft" + (f" {small} in" if inches or rest else "")


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
