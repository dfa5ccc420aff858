"""How much room lettering takes, for a plain upright sans-serif.

Widths are over the height of a capital, as measured on DejaVu Sans (2025-11), the widest of
the common plain faces: text set in a narrower one leaves a little air and never runs over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache, lru_cache

from nesting.faces import lacking
from nesting.unseen import code_of

_WIDTHS = {
    0.45: "'ijlIJ., ",
    0.50: "/:;\\|f-",
    0.58: "()[]t!r",
    0.70: '"*_`°sz',
    0.80: "?cLFk",
    0.86: "vxyPTYoøöaeåäé",
    0.89: "EhnuÉ$0123456789Sbdgpq{}",
    0.96: "KAVXZBCR",
    1.08: "UNHDGOQØ&",
    1.20: "w#+<=>^~M",
    1.39: "m%WU@½",
}
KEPT = re.compile(
    r"(?<=\d) (?=%|(?:mm|cm|m|m2|m3|in|ft|sq|kg|lb)\b|\d+/\d|of \d)|(?<=\d of) (?=\d)"
    r"|(?<=; \d) (?=\S)|(?<=; \d\d) (?=\S)"
)
"""Blanks between a figure and its fraction or unit, in ``1 of 2``, and behind a part's number in a
list of parts: no line is broken there."""

_WIDEST = 1.5
"""For any other character: as wide as a capital M and a half; East Asian ones are near it."""


@cache
def _width_of(character: str) -> float:
    if lacking(character):
        return _width(code_of(character))
    return next((width for width, group in _WIDTHS.items() if character in group), _WIDEST)


def text_width(text: str, height_mm: float) -> float:
    """Return the width of one line of text whose capitals are ``height_mm`` high, mm.

    >>> text_width("80", 2.5)
    4.45
    """
    return height_mm * _width(text)


@lru_cache(maxsize=10_000)
def _width(text: str) -> float:
    return sum(map(_width_of, text))


@lru_cache(maxsize=2_000)
def wrapped(text: str, height_mm: float, width_mm: float) -> tuple[str, ...]:
    """Return a text as lines that are no wider than given; a word that is, is cut in two.

    A figure stays with its fraction and its unit.

    >>> wrapped("port side, third strake", 2.5, 25.0)
    ('port side,', 'third strake')
    >>> wrapped("scrap is 46.8 %, saw 1 1/2 in off", 2.5, 25.0)
    ('scrap is', '46.8 %, saw', '1 1/2 in off')
    """
    lines: list[str] = []
    for word in _words(text, height_mm, width_mm):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, height_mm) <= width_mm:
            lines[-1] = joined
        else:
            lines.extend(_pieces(word, height_mm, width_mm))
    return tuple(lines)


def cut_short(text: str, height_mm: float, width_mm: float, *, most: int = 1) -> tuple[str, ...]:
    """Return the first lines of a text, with dots at the end where more is left out.

    >>> cut_short("port side, third strake", 2.5, 25.0)
    ('port side,...',)
    """
    lines = wrapped(text, height_mm, width_mm)
    if len(lines) <= most:
        return lines
    *before, last = wrapped(text, height_mm, width_mm - text_width("...", height_mm))[:most]
    return (*before, f"{last}...")


def name_short(name: str, height_mm: float, width_mm: float, *, most: int = 1) -> tuple[str, ...]:
    """Return a name as lines; of one that is too long the end is kept, by which names differ.

    >>> name_short("Ceiling strake 17", 2.5, 24.0)
    ('Ceilin...ke 17',)
    """
    lines = wrapped(name, height_mm, width_mm)
    if len(lines) <= most:
        return lines
    room = (width_mm - text_width("...", height_mm)) / 2
    (head, *_), (*_, tail) = _pieces(lines[most - 1], height_mm, room), _ends(name, height_mm, room)
    return (*lines[: most - 1], f"{head.rstrip()}...{tail.lstrip()}")


def _ends(text: str, height_mm: float, width_mm: float) -> list[str]:
    """Return a text in pieces no wider than given, the last of them as long as can be."""
    return [piece[::-1] for piece in _pieces(text[::-1], height_mm, width_mm)][::-1]


def _words(text: str, height_mm: float, width_mm: float) -> Iterator[str]:
    """Yield the words of a text, a figure with what belongs to it as one if there is room."""
    for kept in KEPT.sub("\0", " ".join(text.split())).split():
        word = kept.replace("\0", " ")
        if text_width(word, height_mm) <= width_mm:
            yield word
        else:
            yield from word.split()


def _pieces(word: str, height_mm: float, width_mm: float) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and text_width(pieces[-1] + character, height_mm) > width_mm:
            pieces.append("")
        pieces[-1] += character
    return pieces
