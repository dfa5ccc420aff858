"""Arabic letters as they stand on paper: each joined to its neighbours.

A browser and a CAD program join them by themselves; who draws letter by letter must. Which form a
letter has comes from Unicode's own table of presentation forms, as Python holds it; how letters
join is told in chapter 9.2 of the Unicode Standard (from memory).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import cache

FORMS = (
    *range(0xFB50, 0xFBB2), *range(0xFBD3, 0xFBEA), *range(0xFBFC, 0xFC00), *range(0xFE80, 0xFEFD),
)  # fmt: skip
"""Where Unicode keeps single letters, and lam with alef, by their form."""

STRETCH = "\u0640"
"""Joins on both sides and has one form alone."""


@cache
def _forms() -> Mapping[str, Mapping[str, str]]:
    """Return, for a letter or for lam and alef, its sign in each form."""
    found: dict[str, dict[str, str]] = {}
    for code in FORMS:
        form, *letters = unicodedata.decomposition(chr(code)).split() or [""]
        if form.startswith("<"):
            text = "".join(chr(int(letter, 16)) for letter in letters)
            found.setdefault(text, {}).setdefault(form.strip("<>"), chr(code))
    return found


def joined(text: str) -> str:
    """Return a text, in the order in which it is read, with its Arabic letters joined.

    >>> [hex(ord(letter)) for letter in joined("\u0628\u0627\u0628")]
    ['0xfe91', '0xfe8e', '0xfe8f']
    >>> joined("rail 12")
    'rail 12'
    """
    letters = _letters(text)
    out = list[str]()
    for at, (letter, marks) in enumerate(letters):
        before = at > 0 and _goes_on(letters[at - 1][0]) and _is_joined(letter)
        after = at + 1 < len(letters) and _goes_on(letter) and _is_joined(letters[at + 1][0])
        out.append(_forms().get(letter, {}).get(NAMES[after + 2 * before], letter) + marks)
    return "".join(out)


NAMES = ("isolated", "initial", "final", "medial")
"""Unicode's forms: joined to nothing, to the next, to the one before, to both."""


def _letters(text: str) -> list[tuple[str, str]]:
    """Return letters, lam and alef as one, each with the marks that stand on it: they part none."""
    found: list[tuple[str, str]] = []
    for letter in text:
        last, marks = found[-1] if found else ("", "")
        if found and unicodedata.category(letter) == "Mn":
            found[-1] = last, marks + letter
        elif last + letter in _forms() and last:
            found[-1] = last + letter, marks
        else:
            found.append((letter, ""))
    return found


def _goes_on(letters: str) -> bool:
    """Return whether a letter, or two in one, joins the next."""
    return letters == STRETCH or "initial" in _forms().get(letters, {})


def _is_joined(letters: str) -> bool:
    """Return whether a letter, or two in one, joins the one before."""
    return letters[0] == STRETCH or "final" in _forms().get(letters, {})
