"""What a drawing library sees changed in a file, the referee's own reader sees too.

``MUTATIONS=2000 python -m pytest -s tests/nesting/test_written_changed.py`` tries so many of each
version and prints what only one of the two saw; the gate tries some.
"""

from __future__ import annotations

import os
import random
import sys
from pathlib import Path

import pytest
from library_reading import library_written
from mutations import Mutation, Sheet
from sheet_nests import sheet_of
from test_mutations import some_of_each

from nesting.errors import DrawingError
from nesting.read_back.drawing import check_drawing
from nesting.sheets import write_dxf
from nesting.sheets.dxf_terms import Version
from nesting.sheets.written import read_written

MANY = os.environ.get("MUTATIONS")
COUNT = int(MANY or 25)

VERSIONS: tuple[Version, ...] = ("R2010", "R12")


def found(read, path: Path, name: str) -> str:
    """Return what a reader makes known of a file; nothing if all is as drawn."""
    try:
        return "; ".join(map(str, check_drawing(read(path), sheet_of(name), name)))
    except DrawingError as error:
        return str(error)


@pytest.mark.parametrize("version", VERSIONS)
def test_own_reader_misses_nothing_that_the_library_sees(version: Version, tmp_path: Path) -> None:
    name = "waney" if MANY else "tiny"
    path = write_dxf(sheet_of(name), tmp_path / "a.dxf", version=version)
    rng = random.Random(version)
    sheet = Sheet(path.name, path.read_bytes())
    tried: list[Mutation] = some_of_each(list(sheet.mutations(rng)), rng)[:COUNT]
    missed, more = list[str](), list[str]()
    for mutation in tried:
        content = mutation.made()
        assert content is not None
        path.write_bytes(content)
        ours = found(read_written, path, name)
        theirs = found(library_written, path, name)
        if bool(ours) != bool(theirs):
            (more if ours else missed).append(f"{mutation.kind}: {ours or theirs}")
    if MANY:
        sys.stdout.write("\n".join([f"\n{version}, {len(tried)} tried; only ours:", *more, ""]))
    assert missed == []
