"""Lengths, areas and volumes as a shop hand writes them, each in the project's unit."""

from __future__ import annotations

import math
from fractions import Fraction

from nesting.units import MM_PER_INCH, Unit, board_feet

EXACT_MM = 0.01
"""A length this near to a fraction of an inch is that fraction; sheets are read back to it."""

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


def exact_area(mm2: float, unit: Unit) -> str:
    """Return an area that somebody has set, a price of wood: to four figures, however small.

    >>> exact_area(23225.76, Unit.INCH), exact_area(0.6452, Unit.FOOT)
    ('0.25 sq ft', '0.001 sq in')
    >>> exact_area(5e4, Unit.MM), exact_area(64.5, Unit.MM), exact_area(0.0, Unit.MM)
    ('0.05 m2', '0.645 cm2', '0 m2')
    """
    large, small = ("sq ft", "sq in") if unit.is_imperial else ("m2", "cm2")
    large_mm2, small_mm2 = (
        (Unit.FOOT.mm**2, Unit.INCH.mm**2) if unit.is_imperial else (1e6, Unit.CM.mm**2)
    )
    if mm2 and mm2 < 0.01 * large_mm2:
        return f"{mm2 / small_mm2:.4g} {small}"
    return f"{mm2 / large_mm2:.4g} {large}"


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
