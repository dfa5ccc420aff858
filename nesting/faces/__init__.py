r"""The faces of printed lettering, and which letters they have.

DejaVu Sans comes with matplotlib. What it lacks of Chinese, Japanese and Korean is in Droid Sans
Fallback, which lies here. A letter that neither has would print as an empty box, the same for every
one: it is written out by its code in Unicode, as ``\u0e1a``.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from functools import cache, lru_cache
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path

from nesting.errors import OutputError
from nesting.unseen import code_of

PLAIN_BELOW = "\u0250"
"""Latin letters: the plain face has all of them, and nothing need be looked up."""


class Face(StrEnum):
    """A face, by the name of its file."""

    PLAIN = "DejaVuSans"
    EASTERN = "DroidSansFallback"


@cache
def face_file(face: Face) -> Path:
    """Return where a face lies.

    Raises
    ------
    OutputError
        If matplotlib, which the plain one comes with, is not there.
    """
    if face is Face.EASTERN:
        return Path(__file__).parent / f"{face}.ttf"
    home = find_spec("matplotlib")
    if home is None or home.origin is None:
        raise OutputError("paper needs matplotlib's lettering: install salvage-nest anew")
    return Path(home.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{face}.ttf"


@cache
def _codes(face: Face) -> frozenset[int]:
    """Return the letters that a face has, by their numbers in Unicode."""
    from fontTools.ttLib import TTFont

    with TTFont(face_file(face), lazy=True) as font:
        return frozenset(font.getBestCmap())


@lru_cache(maxsize=10_000)
def face_of(letter: str) -> Face | None:
    r"""Return the face that has a letter, the plain one first; None if none has.

    >>> face_of("K").value, face_of("\u6728").value, face_of("\u0e1a")
    ('DejaVuSans', 'DroidSansFallback', None)
    """
    if letter < PLAIN_BELOW:
        return Face.PLAIN
    return next((face for face in Face if ord(letter) in _codes(face)), None)


def lacking(text: str) -> tuple[str, ...]:
    r"""Return the letters of a text that no face has, each once, in their order.

    >>> lacking("keel 4"), lacking("\u6728 4"), len(lacking("\u0e1a\u0e1a"))
    ((), (), 1)
    """
    if text.isascii():
        return ()
    return tuple(dict.fromkeys(letter for letter in text if face_of(letter) is None))


def as_lettered(text: str) -> str:
    r"""Return a text as it is printed: letters that no face has are written out by their codes.

    >>> print(as_lettered("keel \u0e1a"))
    keel \u0e1a
    """
    if text.isascii():
        return text
    return "".join(letter if face_of(letter) else code_of(letter) for letter in text)


def runs(text: str) -> Iterator[tuple[Face, str]]:
    """Yield a text as it is lettered in pieces of one face each.

    >>> [(face.value, run) for face, run in runs("keel 4")]
    [('DejaVuSans', 'keel 4')]
    """
    if text.isascii():
        yield Face.PLAIN, text
        return
    for face, letters in groupby(text, key=lambda letter: face_of(letter) or Face.PLAIN):
        yield face, "".join(letters)
