"""How each wood is sold: as sawn timber, as grown crooks, or hardly at all.

The table is ``sold_as.csv`` beside this file, and all of it is from memory: what a trade sells
differs from place to place, so a wood that the table does not know is told apart from one that
nobody sells.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files


class Form(StrEnum):
    """In what form new wood is bought for a part."""

    SAWN = "sawn timber"
    CROOK = "grown crook"
    LAMINATION = "lamination"
    SHEET = "sheet goods"


@dataclass(frozen=True)
class Sold:
    """In which forms a wood is sold, and what a buyer should know of it in either form."""

    forms: frozenset[Form]
    notes: Mapping[Form, str]


def sold_as(wood: str) -> Sold | None:
    """Return how a wood is sold, or None where the table does not know it.

    A wood of a project's own goes by its last word: swamp apple is an apple.

    Examples
    --------
    >>> sorted(map(str, sold_as("tamarack").forms))
    ['grown crook', 'sawn timber']
    >>> [str(form) for form in sold_as("swamp apple").forms]
    ['grown crook']
    >>> sold_as("moonwood") is None
    True
    """
    spelling = " ".join(wood.split()).casefold()
    words = spelling.split()
    return _table().get(spelling) or (_table().get(words[-1]) if words else None)


@cache
def _table() -> Mapping[str, Sold]:
    """Return every wood by its name, with and without what stands in brackets."""
    lines = files("parts.wood").joinpath("sold_as.csv").read_text(encoding="utf-8").splitlines()
    found = dict[str, Sold]()
    for row in csv.DictReader(lines):
        forms = {Form.SAWN: row["sawn_timber"], Form.CROOK: row["crook"]}
        notes = {Form.SAWN: row["note_sawn"], Form.CROOK: row["note_crook"]}
        sold = Sold(frozenset(f for f, answer in forms.items() if answer == "yes"), notes)
        name = row["wood"].casefold()
        found |= {name: sold, name.partition(" (")[0]: sold}
    return found
