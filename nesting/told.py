"""Messages in the unit of those who read them.

Whatever finds a length wrong says so in millimetres, with the unit behind each figure or behind
a place (x, y), a size a x b, a range a to b. Where a message leaves for a reader, here, its
lengths and areas are put in the project's unit; the rest of the program need not know it.
"""

from __future__ import annotations

import re

from nesting.units import EXAMPLES, MM_PER_INCH, Unit
from nesting.written_measures import (
    decimal_inches,
    exact_denominator,
    exact_length,
    format_area,
    format_length,
    format_volume,
)

LONG_MM = 100.0
"""From here on a length in a message is a rough one, unless it has digits behind the point."""

_NUMBER = r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?"
_QUOTED = r"(?<!\w)'[^']*'(?!\w)|(?<!\w)\"[^\"]*\"(?!\w)"
_MEASURE = re.compile(
    rf"(?P<kept>{_QUOTED}|{re.escape(EXAMPLES)})"
    rf"|(?<![\w.])(?:\((?P<place>{_NUMBER}, {_NUMBER})\)"
    rf"|(?P<run>{_NUMBER}(?:(?: x | to ){_NUMBER})*)) (?P<unit>mm2|mm3|mm|m2|m3|m)(?!\w)"
)

_NO_SIGN = re.compile(rf"(?P<kept>{_QUOTED})|(?<![\w.-])-(?P<nothing>0(?:\.0*)?)(?![\w.-])")
"""What rounds to nothing has no sign; in 5-7-0 or D-0 the dash is none."""


def told_in(message: str, unit: Unit) -> str:
    """Return a message with its lengths, areas and volumes in a project's unit.

    Metric projects keep them; nothing is -0. What stands in quotes is as the reader wrote it.

    >>> told_in("the kerf is 2.38125 mm, at (609.6, 25.4) mm; '35 mm' is given", Unit.INCH)
    "the kerf is 3/32 in, at (24 in, 1 in); '35 mm' is given"
    >>> told_in("it runs from 0 to 2438.4 mm and covers 14.8 m2", Unit.FOOT)
    'it runs from 0 in to 8 ft and covers 159.3 sq ft'
    """
    if unit.is_imperial:
        message = _MEASURE.sub(lambda found: _told(found, unit), message)
    return _NO_SIGN.sub(_unsigned, message)


def _unsigned(found: re.Match[str]) -> str:
    return found["kept"] or found["nothing"]


def _told(found: re.Match[str], unit: Unit) -> str:
    if found["kept"] is not None:
        return found["kept"]
    text = found["place"] or found["run"]
    measured = re.sub(_NUMBER, lambda number: _one(number[0], found["unit"], unit), text)
    return f"({measured})" if found["place"] else measured


def _one(number: str, given: str, unit: Unit) -> str:
    value = float(number)
    match given:
        case "m":
            return f"{value * 1000 / Unit.FOOT.mm:.4g} ft"
        case "mm":
            return _length(value, len(number.partition(".")[2]), unit)
        case "mm2":
            return f"{value / MM_PER_INCH**2:.4g} sq in"
        case "m2":
            return format_area(value * 1e6, unit)
        case "mm3":
            return format_volume(value, unit)
    return format_volume(value * 1e9, unit)


def _length(mm: float, digits: int, unit: Unit) -> str:
    """Return a length in inches, no coarser than the message has it."""
    if abs(mm) >= LONG_MM and digits <= 1:
        return format_length(mm, unit)
    if exact_denominator(mm, 0.5 * 10.0**-digits) is None:
        return decimal_inches(mm, max(digits, 3))
    return exact_length(mm, unit)
