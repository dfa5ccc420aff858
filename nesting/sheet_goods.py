"""Which woods are sheet goods: glued up of plies or chips, with no grain of solid wood."""

from __future__ import annotations

import re

WORDS = frozenset({
    "plywood", "ply", "blockboard", "chipboard", "particleboard", "fibreboard", "fiberboard",
    "hardboard", "mdf", "osb",
})  # fmt: skip
"""A wood with one of these words in its name is sheet goods (common practice, no source)."""


def is_sheet_goods(wood: str) -> bool:
    """Return whether a wood is sheet goods, by its name.

    >>> is_sheet_goods("okoume plywood"), is_sheet_goods("Marine ply"), is_sheet_goods("apple")
    (True, True, False)
    """
    return not WORDS.isdisjoint(re.findall(r"[^\W\d_]+", wood.casefold()))
