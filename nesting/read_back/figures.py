"""A summary against the same figures reckoned anew from the plan and the account."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from nesting.referee.fault import Fault
from nesting.unseen import quoted, short

AGREE, AGREE_SHARE = 1e-6, 1e-9
"""Figures agree to this, or to this share of themselves: all digits are written."""

NAMES = ("label", "piece", "board", "part")
"""What an entry of a list is called by, the first that it has."""


def check_summary(given: Mapping[str, Any], wanted: Mapping[str, Any]) -> tuple[Fault, ...]:
    """Return every figure and word of a summary that is not what was reckoned anew."""
    plain = json.loads(json.dumps(wanted))
    return tuple(Fault("summary", "", words) for words in _different(given, plain, ""))


def _different(given: Any, wanted: Any, place: str) -> Iterator[str]:
    if isinstance(wanted, dict) and isinstance(given, dict):
        yield from _entries_different(given, wanted, place)
    elif isinstance(wanted, list) and isinstance(given, list):
        yield from _rows_different(given, wanted, place)
    elif not _is_same(given, wanted):
        yield f"{place} is {_told(given)}, must be {_told(wanted)}"


def _entries_different(
    given: Mapping[str, Any], wanted: Mapping[str, Any], place: str
) -> Iterator[str]:
    for name in [*wanted, *(name for name in given if name not in wanted)]:
        here = f"{place} / {short(name)}" if place else short(name)
        if name not in given:
            yield f"{here} is missing"
        elif name not in wanted:
            yield f"{here} is none of a summary's entries"
        else:
            yield from _different(given[name], wanted[name], here)


def _rows_different(given: Sequence[Any], wanted: Sequence[Any], place: str) -> Iterator[str]:
    if len(given) != len(wanted):
        yield f"{place} has {len(given)}, must have {len(wanted)}"
        return
    for number, (one, other) in enumerate(zip(given, wanted, strict=True), start=1):
        yield from _different(one, other, f"{place} / {_called(other, number)}")


def _called(row: Any, number: int) -> str:
    named = [str(row[name]) for name in NAMES if name in row] if isinstance(row, dict) else []
    return named[0] if named else str(number)


def _is_same(given: Any, wanted: Any) -> bool:
    if _is_figure(given) and _is_figure(wanted):
        return bool(abs(given - wanted) <= max(AGREE, AGREE_SHARE * abs(wanted)))
    return type(given) is type(wanted) and bool(given == wanted)


def _is_figure(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _told(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else quoted(value)
