"""A length in the notation of a table of offsets: as a figure beside it is written."""

from __future__ import annotations

import re
from itertools import pairwise

from nesting.errors import LengthError
from nesting.units import MM_PER_INCH, Unit, parse_length
from nesting.written_measures import format_length
from parts.lines.odd_ones import EIGHTH_MM

_OFFSET = re.compile(r"-?\d+-(?P<inches>\d+)-\d+[+-]?")
_DECIMAL = re.compile(r"-?\d*\.?(?P<decimals>\d*)")
_NAMED = (
    (r"ft|feet|foot|'", Unit.FOOT),
    (r'in|"', Unit.INCH),
    ("mm", Unit.MM),
    ("cm", Unit.CM),
    ("m", Unit.M),
)


def written_like(mm: float, given: str, unit: Unit) -> str:
    """Return a length as another figure of the same table is written.

    To the sixteenth of an inch where that is feet, inches and eighths; else to as many decimals,
    or more if those are coarser than an eighth of an inch.

    Parameters
    ----------
    unit
        What a bare number of the table means.

    Examples
    --------
    >>> written_like(752.5, "2-7-6+", Unit.FOOT), written_like(547.7, "1-09-4", Unit.FOOT)
    ('2-5-5', '1-09-4+')
    >>> written_like(752.5, "808", Unit.MM), written_like(752.5, "30 1/4 in", Unit.FOOT)
    ('752', '29 5/8 in')
    """
    if match := _OFFSET.fullmatch(given):
        return _offset(mm, len(match["inches"]))
    if match := _DECIMAL.fullmatch(given):
        decimals = len(match["decimals"])
        while unit.mm * 10**-decimals > EIGHTH_MM:
            decimals += 1
        return f"{mm / unit.mm:.{decimals}f}"
    named = next((unit for word, unit in _NAMED if re.search(rf"\d\s*({word})", given)), unit)
    return format_length(mm, named)


def slip_in(given: str, mm: float, unit: Unit) -> str | None:
    """Return what a figure reads with two neighbouring digits turned about, if that is about a
    length; None if it is not.

    Examples
    --------
    >>> slip_in("2-4-6", 768.0, Unit.FOOT), slip_in("734", 742.2, Unit.MM)
    (None, '743')
    """
    places = [n for n, sign in enumerate(given) if sign.isdigit()]
    for one, other in pairwise(places):
        turned = list(given)
        turned[one], turned[other] = given[other], given[one]
        text = "".join(turned)
        if text == given:
            continue
        try:
            near = abs(parse_length(text, unit) - mm) < EIGHTH_MM
        except LengthError:
            continue
        if near:
            return text
    return None


def _offset(mm: float, digits: int) -> str:
    """Return feet-inches-eighths, with a + for a sixteenth more."""
    eighths, more = divmod(round(abs(mm) / MM_PER_INCH * 16), 2)
    inches, eighths = divmod(eighths, 8)
    feet, inches = divmod(inches, 12)
    sign = "-" if mm < 0 else ""
    return f"{sign}{feet}-{inches:0{digits}d}-{eighths}{'+' if more else ''}"
