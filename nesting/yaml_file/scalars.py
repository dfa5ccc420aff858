"""What a plain YAML word means here: a number, true, false, nothing, or text as written."""

from __future__ import annotations

import re
from typing import Any

_WHOLE = re.compile(r"[-+]?(?:0|[1-9]\d{0,14})")
_DECIMAL = re.compile(r"[-+]?(?:(?:0|[1-9]\d{0,14})?\.\d{1,15}|(?:0|[1-9]\d{0,14})\.)")
_WORDS: dict[str, Any] = {"true": True, "false": False, "null": None, "~": None, "": None}


class WrittenInt(int):
    """A whole number that remembers how it was written."""

    text: str

    def __repr__(self) -> str:
        return self.text


class WrittenFloat(float):
    """A decimal number that remembers how it was written."""

    text: str

    def __repr__(self) -> str:
        return self.text


def scalar(text: str) -> Any:
    """Return what a plain word means.

    >>> scalar("12"), scalar("1.10"), scalar("true"), scalar("")
    (12, 1.10, True, None)
    >>> scalar("no"), scalar("12:30"), scalar("010"), scalar("1e3"), scalar("5-7-3")
    ('no', '12:30', '010', '1e3', '5-7-3')
    """
    if text in _WORDS:
        return _WORDS[text]
    number: WrittenInt | WrittenFloat
    if _WHOLE.fullmatch(text):
        number = WrittenInt(text)
    elif _DECIMAL.fullmatch(text):
        number = WrittenFloat(text)
    else:
        return text
    number.text = text
    return number


def as_written(value: Any) -> Any:
    """Return a number as the text that was written, so that a name may be a number."""
    return value.text if isinstance(value, WrittenInt | WrittenFloat) else value
