"""Letters of names in Hebrew or Arabic in the order in which they stand on paper, from the left.

A browser and a CAD program order them by themselves; who draws letter by letter must. Rules W2, N1,
N2, L2 to L4 of the Unicode Bidirectional Algorithm (UAX 9; from memory), for a line that reads
from the left, without marks of direction, which no name may hold; but figures behind a name and a
comma ("..., 1 of 2") are none of the name's, as if it stood isolated. Arabic letters are joined
before that, in :mod:`nesting.sheets.joined_letters`.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from nesting.sheets.joined_letters import joined

MIRRORED = dict(zip("()[]{}<>«»", ")(][}{><»«", strict=True))

LEFTWARD = re.compile(r"[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff]")
"""Blocks of scripts that are read from the right."""

BASE, LEFT, NUMBER = 0, 1, 2
"""Levels: a line's own, letters read from the right, figures among those."""


@lru_cache(maxsize=1_000)
def as_seen(text: str) -> str:
    """Return a line's letters from left to right.

    >>> as_seen("rail 12") == "rail 12"
    True
    >>> [hex(ord(letter)) for letter in as_seen("\u05d0\u05d1 12")]
    ['0x31', '0x32', '0x20', '0x5d1', '0x5d0']
    """
    if not LEFTWARD.search(text):
        return text
    signs = _with_marks(joined(text))
    levels = _levels(signs)
    for level in (NUMBER, LEFT):
        start = 0
        while start < len(signs):
            stop = start
            while stop < len(signs) and levels[stop] >= level:
                stop += 1
            signs[start:stop] = signs[start:stop][::-1]
            levels[start:stop] = levels[start:stop][::-1]
            start = max(stop, start + 1)
    pairs = zip(signs, levels, strict=True)
    return "".join(MIRRORED.get(sign, sign) if level == LEFT else sign for sign, level in pairs)


def _with_marks(text: str) -> list[str]:
    """Return letters, each with the marks that stand on it."""
    found: list[str] = []
    for letter in text:
        if found and unicodedata.bidirectional(letter) == "NSM":
            found[-1] += letter
        else:
            found.append(letter)
    return found


def _levels(signs: list[str]) -> list[int]:
    kinds = [unicodedata.bidirectional(sign[0]) for sign in signs]
    levels, strong, is_told = list[int | None](), "L", False
    for at, kind in enumerate(kinds):
        if kind in ("L", "R", "AL"):
            strong, is_told = kind, False
            levels.append(BASE if kind == "L" else LEFT)
        elif kind in ("EN", "AN"):
            is_among = (strong != "L" and not is_told) or kind == "AN"
            levels.append(NUMBER if is_among else BASE)
        else:
            is_told = is_told or _ends_a_name(signs, kinds, at)
            levels.append(None)
    # A point or a stroke within a figure is of the figure.
    for at in range(1, len(kinds) - 1):
        if kinds[at] in ("CS", "ES") and levels[at - 1] == levels[at + 1] == NUMBER:
            levels[at] = NUMBER
    return _filled(levels)


def _ends_a_name(signs: list[str], kinds: list[str], at: int) -> bool:
    """Return whether a name ends here: what follows is told of it, in figures and words of ours."""
    if signs[at] not in ",:;" or signs[at + 1 : at + 2] != [" "]:
        return False
    strong = next((kind for kind in kinds[at:] if kind in ("L", "R", "AL")), "L")
    return strong == "L"


def _filled(levels: list[int | None]) -> list[int]:
    """Give what has no direction that of its neighbours, where both have one, else the line's."""
    found = list[int]()
    for at, level in enumerate(levels):
        if level is not None:
            found.append(level)
            continue
        before = next((one for one in levels[at::-1] if one is not None), BASE)
        after = next((one for one in levels[at:] if one is not None), BASE)
        found.append(LEFT if before != BASE and after != BASE else BASE)
    return found
