"""Single entries of a summary, each of the kind that it must be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nesting.unseen import is_seen, quoted, unseen_in

LARGEST = 1e15
"""No figure of a plan is larger: a million m3 in mm3."""

MOST = 1_000_000_000
"""No count is larger."""


def text(row: Mapping[str, Any], name: str) -> str:
    """Return an entry that is text, without letters that nobody sees: names of it are shown."""
    given = row[name]
    if type(given) is str and is_seen(given):
        return given
    return _seen(str(_checked(given, name, str, "text")), name)


def _seen(value: str, name: str) -> str:
    if unseen := unseen_in(value):
        raise ValueError(f"{name} is {quoted(value)}: it holds {unseen}, which nobody sees")
    return value


def number(row: Mapping[str, Any], name: str) -> float:
    """Return an entry that is a figure."""
    given = row[name]
    if type(given) is float and -LARGEST <= given <= LARGEST:
        return given
    value = float(_checked(given, name, (int, float), "a figure"))
    if abs(value) > LARGEST:
        raise ValueError(f"{name} is {value:g}, must be at most {LARGEST:g}")
    return value


def number_or_none(row: Mapping[str, Any], name: str) -> float | None:
    """Return an entry that is a figure, or None where it is null."""
    return None if row[name] is None else number(row, name)


def whole(row: Mapping[str, Any], name: str, least: int = 0) -> int:
    """Return an entry that is a whole number, so large at least."""
    value: int = _checked(row[name], name, int, "a whole number")
    if not least <= value <= MOST:
        raise ValueError(f"{name} is {value}, must be from {least} to {MOST}")
    return value


def flag(row: Mapping[str, Any], name: str) -> bool:
    """Return an entry that is true or false."""
    value = row[name]
    if not isinstance(value, bool):
        raise TypeError(f"{name} is {quoted(value)}, must be true or false")
    return value


def rows(row: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """Return an entry that is a list of entries with names."""
    found = _checked(row[name], name, list, "a list")
    for entry in found:
        if type(entry) is not dict:
            _checked(entry, name, dict, "a list of entries")
    return list(found)


def texts(row: Mapping[str, Any], name: str) -> tuple[str, ...]:
    """Return an entry that is a list of texts."""
    found = _checked(row[name], name, list, "a list")
    return tuple(_seen(_checked(entry, name, str, "a list of texts"), name) for entry in found)


def _checked(value: Any, name: str, kinds: type | tuple[type, ...], called: str) -> Any:
    if type(value) is kinds:
        return value
    if isinstance(value, bool) or not isinstance(value, kinds):
        raise TypeError(f"{name} is {quoted(value)}, must be {called}")
    return value
