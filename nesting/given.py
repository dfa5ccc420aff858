"""What is given in Python where a list, a word or a shape is meant: put right or refused.

A text is a sequence of letters: ``species="white oak"`` would take a board of ``oak``. And a word
in place of a member of an enumeration is equal to it and not the same: metal would not be metal.
So whatever is built by a constructor goes through here, everywhere alike.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from enum import StrEnum
from operator import index
from os import PathLike, fspath
from pathlib import Path
from typing import Any, TypeVar

from nesting.errors import ShapeError
from nesting.unseen import quoted, unseen_in
from nesting.words import plural

T = TypeVar("T")
WordT = TypeVar("WordT", bound=StrEnum)

LENGTH = re.compile(r"\s*\d[\d\s./-]{0,20}(mm|cm|m|in|ft|['\"])\s*")
"""A figure with a unit of length behind it."""


def texts(given: Any, name: str) -> tuple[str, ...]:
    """Return a list of texts as a tuple.

    Raises
    ------
    ShapeError
        If it is one text, no list, or holds anything but texts that say something.

    Examples
    --------
    >>> texts(["teak", "white oak"], "species")
    ('teak', 'white oak')
    >>> texts("white oak", "species")
    Traceback (most recent call last):
    nesting.errors.ShapeError: species is the text 'white oak', must be a list: write ['white oak']
    """
    if isinstance(given, str):
        raise ShapeError(f"{name} is the text {quoted(given)}, must be a list: write [{given!r}]")
    return tuple(text(each, f"each of {name}") for each in _sequence(given, name, "texts"))


def several(given: Any, kind: type[T], name: str) -> tuple[T, ...]:
    """Return a list of things of one kind as a tuple.

    Raises
    ------
    ShapeError
        If it is no list, or holds anything of another kind.
    """
    what = plural(kind.__name__)
    if isinstance(given, kind) and not isinstance(given, list | tuple):
        raise ShapeError(f"{name} is one {kind.__name__}, must be a list of {what}: write [...]")
    found = tuple(_sequence(given, name, what))
    for each in found:
        if not isinstance(each, kind):
            raise ShapeError(f"{name} holds {told(each)}, must be a list of {what}")
    return found


def _sequence(given: Any, name: str, what: str) -> Sequence[Any]:
    if type(given) in (tuple, list):
        return given  # type: ignore[no-any-return]
    if isinstance(given, Sequence) and not isinstance(given, str | bytes):
        return given
    if callable(listed := getattr(given, "tolist", None)) and isinstance(found := listed(), list):
        return found  # of numpy
    raise ShapeError(f"{name} is {told(given)}, must be a list of {what}")


def text(given: Any, name: str) -> str:
    """Return a text that says something, of characters that can be seen.

    Raises
    ------
    ShapeError
        If it is none.
    """
    if not isinstance(given, str):
        raise ShapeError(f"{name} is {told(given)}, must be a text")
    if not given or given.isspace():
        raise ShapeError(f"{name} must not be empty")
    if unseen := unseen_in(given):
        raise ShapeError(f"{name} is {quoted(given)}, which holds {unseen}; write one line")
    return given


def remark(given: Any, name: str) -> str:
    """Return a text as :func:`text` does, or one that says nothing.

    Raises
    ------
    ShapeError
        If it is no text.
    """
    return "" if isinstance(given, str) and not given else text(given, name)


def yes_or_no(given: Any, name: str) -> bool:
    """Return what is true or false.

    Raises
    ------
    ShapeError
        If it is anything else: a text, a number, nothing.
    """
    plain = given.item() if getattr(given, "ndim", None) == 0 else given  # of numpy
    if not isinstance(plain, bool):
        raise ShapeError(f"{name} is {told(given)}, must be True or False")
    return plain


def word(given: Any, kind: type[WordT], name: str) -> WordT:
    """Return the member of an enumeration that is given, or whose word is.

    Raises
    ------
    ShapeError
        If there is none; offers the nearest.
    """
    if isinstance(given, kind):
        return given
    allowed = [str(member) for member in kind]
    if isinstance(given, str) and given in allowed:
        return kind(given)
    near = get_close_matches(str(given), allowed, 1)
    hint = f"did you mean {near[0]}?" if near else f"allowed: {', '.join(allowed)}"
    raise ShapeError(f"{name} is {told(given)}, which is not known; {hint}")


def numbers(given: Any, name: str) -> tuple[float, ...]:
    """Return a list of numbers as a tuple.

    Raises
    ------
    ShapeError
        If it is no list, or holds anything else.
    """
    return tuple(number(each, f"each of {name}") for each in _sequence(given, name, "numbers"))


def made(given: Any, kind: type[T] | tuple[type[T], ...], name: str, hint: str) -> T:
    """Return what is given if it is of a kind.

    Raises
    ------
    ShapeError
        If it is not; ``hint`` says what to do.
    """
    if not isinstance(given, kind):
        kinds = kind if isinstance(kind, tuple) else (kind,)
        wanted = " or ".join(each.__name__ for each in kinds)
        raise ShapeError(f"{name} is {told(given)}, must be {_one(wanted)}: {hint}")
    return given


def number(given: Any, name: str) -> float:
    """Return a number as it is given; one of another library as one of Python's own.

    Raises
    ------
    ShapeError
        If it is none: text, true, nothing.
    """
    try:
        if isinstance(given, bool) or not hasattr(given, "__float__"):
            raise TypeError
        plain = float(given)
    except (TypeError, ValueError, OverflowError):
        is_length = isinstance(given, str) and LENGTH.fullmatch(given)
        hint = f": parse_length({given!r}) makes one, in mm" if is_length else ""
        raise ShapeError(f"{name} is {told(given)}, must be a number{hint}") from None
    return given if type(given) in (int, float) else plain


def finite(
    given: Any,
    name: str,
    *,
    least: float = -math.inf,
    over: float = -math.inf,
    most: float = math.inf,
) -> float:
    """Return a number that is neither nan nor endless, nor less or more than it may be.

    Raises
    ------
    ShapeError
        If it is none; says what it must be.
    """
    found = number(given, name)
    if not math.isfinite(found):
        raise ShapeError(f"{name} is {found:g}, must be a number that is not endless")
    if found < least:
        raise ShapeError(f"{name} is {found:g}, must be {least:g} or more")
    if found <= over:
        raise ShapeError(f"{name} is {found:g}, must be over {over:g}")
    if found > most:
        raise ShapeError(f"{name} is {found:g}, must be {most:g} at the most: is the unit right?")
    return found


def each_of(given: Any, name: str, what: str) -> Iterable[Any]:
    """Return things one after another, in whatever they are given.

    Raises
    ------
    ShapeError
        If it is a text, a book of names, or nothing that holds things in an order.
    """
    # Asking whether something can be gone through takes far longer than going through it.
    if type(given) in (tuple, list):
        return given  # type: ignore[no-any-return]
    if isinstance(given, str | bytes | Mapping | set) or not isinstance(given, Iterable):
        raise ShapeError(f"{name} is {told(given)}, must be a list of {what}")
    return given


def point(given: Any, name: str) -> tuple[float, float]:
    """Return a point (x, y).

    Raises
    ------
    ShapeError
        If it is none.
    """
    if type(given) is tuple and len(given) == 2 and _are_plain(*given):
        return given
    try:
        x, y = each_of(given, name, "x and y")
    except (ShapeError, TypeError, ValueError):
        raise ShapeError(f"{name} is {told(given)}, must be a point (x, y)") from None
    return finite(x, f"x of {name}"), finite(y, f"y of {name}")


def _are_plain(x: Any, y: Any) -> bool:
    """Return whether two figures need no looking at: both of Python's own, neither endless."""
    return type(x) is type(y) is float and math.isfinite(x) and math.isfinite(y)


def points(given: Any, name: str, *, fewest: int = 1) -> tuple[tuple[float, float], ...]:
    """Return a list of points (x, y) as a tuple.

    Raises
    ------
    ShapeError
        If it is no list, has too few, or holds anything else.
    """
    found = tuple(point(one, f"a point of {name}") for one in each_of(given, name, "points (x, y)"))
    if len(found) < fewest:
        least = ("one point", "two points", "three points")[fewest - 1]
        raise ShapeError(f"{name} needs {least} or more, this one has {len(found)}")
    return found


def whole(given: Any, name: str, *, least: int | None = None) -> int:
    """Return a whole number; one of another library as one of Python's own.

    Raises
    ------
    ShapeError
        If it is none: 2.5, text, true; or less than it may be.
    """
    try:
        if isinstance(given, bool):
            raise TypeError
        found = index(given)
    except TypeError:
        raise ShapeError(f"{name} is {told(given)}, must be a whole number") from None
    if least is not None and found < least:
        raise ShapeError(f"{name} is {quoted(given)}, must be {least} or more")
    return found


def called(given: Any, name: str) -> Any:
    """Return a function, or nothing where none is given.

    Raises
    ------
    ShapeError
        If it cannot be called.
    """
    if given is not None and not callable(given):
        raise ShapeError(f"{name} is {told(given)}, must be a function: {name}=print")
    return given


def path_given(given: Any, name: str) -> Path:
    """Return a path.

    Raises
    ------
    ShapeError
        If it is none: nothing, an empty text, a number.
    """
    plain = fspath(given) if isinstance(given, str | PathLike) else None
    if not isinstance(plain, str) or not plain or "\0" in plain:
        raise ShapeError(f"{name} is {told(given)}, must be a path: write 'plans/skiff'")
    return Path(plain)


def told(given: Any) -> str:
    """Return what somebody gave in a few words: texts and numbers as they are, else its kind."""
    if given is None or isinstance(given, str | int | float):
        return quoted(given)
    return _one(type(given).__name__)


def _one(kind: str) -> str:
    return f"{'an' if kind[0].lower() in 'aeiou' else 'a'} {kind}"
