"""File names for named things: readable, legal on every system, unique without regard to case."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from itertools import chain, count
from unicodedata import category, normalize

PREFIX, ENDING = "board-", ".dxf"
"""How the name of a cut sheet's file begins and ends."""

MOST_LETTERS, MOST_BYTES = 100, 200
"""Of a name in a file's: file systems allow 255 bytes, or letters, for all of it."""


def sheet_names(boards: Iterable[str]) -> dict[str, str]:
    """Return the name of the cut sheet's file for each board's name."""
    return file_names(boards, prefix=PREFIX, ending=ENDING)


def file_names(names: Iterable[str], *, prefix: str = "", ending: str) -> dict[str, str]:
    """Return a file name for each name.

    A name that a file can have as it is stays so, and no other name comes out like it.

    >>> file_names(["D/01", "d 01"], prefix="board-", ending=".dxf")
    {'D/01': 'board-D-01.dxf', 'd 01': 'board-d-01-2.dxf'}
    >>> file_names(["E-1/1", "E-1-1"], prefix="board-", ending=".dxf")
    {'E-1/1': 'board-E-1_1.dxf', 'E-1-1': 'board-E-1-1.dxf'}
    """
    asked = list(names)
    own: dict[str, str] = {}
    for name in asked:
        if stem_of(name) == name:
            own.setdefault(name.casefold(), name)
    taken = set(own)
    return {name: prefix + _chosen(name, own, taken) + ending for name in asked}


def _chosen(name: str, own: dict[str, str], taken: set[str]) -> str:
    if own.get(name.casefold()) == name:
        return name
    plain = stem_of(name)
    numbered = (f"{plain}-{number}" for number in count(2))
    for stem in chain((plain, stem_of(name.replace("/", "_"))), numbered):
        if stem.casefold() not in taken:
            taken.add(stem.casefold())
            return stem
    raise AssertionError("numbers do not end")


def stem_of(name: str) -> str:
    """Return a name as part of a file's: letters of every script stay, Latin ones lose accents.

    Where the system's file names have plain letters alone (a C locale), others do not stay.

    >>> stem_of("Ümläut Ä 1"), stem_of("борт/2"), stem_of("木の板"), stem_of("..?")
    ('Umlaut-A-1', 'борт-2', '木の板', 'x')
    """
    kept = "".join(c if _is_kept(c) else "\0" for c in map(_bare, normalize("NFC", name)))
    found = re.sub("\0+", "-", kept)[:MOST_LETTERS].encode()[:MOST_BYTES].decode(errors="ignore")
    return found.strip("-.") or "x"


def _bare(letter: str) -> str:
    """Return a Latin letter without its accents, any other as it is."""
    base = normalize("NFKD", letter)[:1]
    return base if base.isascii() and base.isalpha() else letter


def _is_kept(letter: str) -> bool:
    return letter in "._-" or (category(letter)[0] in "LMN" and _is_written(letter))


def _is_written(letter: str) -> bool:
    """Return whether the system can have a letter in a file's name."""
    try:
        letter.encode(sys.getfilesystemencoding())
    except UnicodeEncodeError:
        return False
    return True
