"""What is written is what a drawing library writes, and what is read is what it reads.

Renew the two empty drawings with ``RENEW_EMPTY=yes pytest`` of this file when a new version of the
library writes others, and read the diff.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from library_dxf import empty, library_bytes
from library_reading import library_written
from sheet_nests import NESTS, account_of, nest_of, sheet_of

from nesting.nest import CuttingPlan
from nesting.sheets import Drawing, group_codes, overview, write_dxf
from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    PaperSheet,
    Polyline,
    Port,
    Role,
    Tag,
    Text,
    View,
)
from nesting.sheets.dxf import dxf_content
from nesting.sheets.dxf_terms import Version
from nesting.sheets.written import Written, read_written
from nesting.units import Unit

VERSIONS: tuple[Version, ...] = ("R2010", "R12")
both_versions = pytest.mark.parametrize("version", VERSIONS)


def whole_plan() -> Drawing:
    plan = CuttingPlan((nest_of("two parts"), nest_of("waney")))
    accounts = [account_of("two parts"), account_of("waney")]
    return overview(plan, accounts, project_name="Lake skiff", unit=Unit.FOOT)


def on_paper() -> Drawing:
    """A drawing that is laid on paper as well: two ports, and entities of several kinds."""
    plain = every_entity()
    ports = (
        Port((10.0, 1 / 3), (200.0, 50.5), (-12.3, 4.0), 10.0),
        Port((10, 90), (1e-3, 70), (7e5, -4), 2.5),
    )
    sheet = PaperSheet("letter", (279.4, 215.9), 7.25, ports, plain.entities)
    return replace(plain, entities=plain.entities[:3], sheet=sheet)


def every_entity() -> Drawing:
    """One entity of each kind and form, with awkward figures, letters and tags."""
    square = ((0.0, 0.0), (1 / 3, -1e-9), (7e15, 2e-16), (-0.0, 5))
    tag = Tag("part", (("label", "木 ½ = Ø%%c^J"), ("part", "x" * 300), ("copy", "")))
    entities = (
        Polyline(square, Role.SAW_OPENING, True, tag=tag),
        Polyline(square, Role.METAL, True, (0.0, 1.0, -0.25, 1e-12), View.COPY, tag),
        Polyline(square[:2], Role.RULER, tag=tag),
        Polyline(square[:2], Role.RULER, bulges=(0.5, 0.0)),
        Polyline(square[:3], Role.BREAK),
        Circle((np.float64(3.3), 4), np.float64(1.5), Role.HOLE, tag=tag),
        Arrow((0, 0), (10, 3), 2.0, Role.GRAIN),
        Arrow((0, 0), (10, 3), 2.0, Role.GRAIN, True, View.COPY),
        *(Text(f"{anchor} 木 ½\tØ", (1.5, 2), 3, Role.NOTE, anchor) for anchor in Anchor),
        Text("", (1.5, 2), 3, Role.PART_NAME, view=View.COPY),
    )
    return Drawing("all", entities, (-5, 0, 1000 / 7, 77.5), 7.5)


@both_versions
@pytest.mark.parametrize("name", NESTS)
def test_sheet_is_written_as_the_library_writes_it(name: str, version: Version) -> None:
    assert dxf_content(sheet_of(name), version) == library_bytes(sheet_of(name), version)


@both_versions
@pytest.mark.parametrize("make", [whole_plan, every_entity, on_paper])
def test_other_drawings_are_written_as_the_library_writes_them(make, version: Version) -> None:
    assert dxf_content(make(), version) == library_bytes(make(), version)


@both_versions
def test_empty_drawing_is_as_the_library_writes_it(version: Version) -> None:
    path = Path(group_codes.__file__).with_name(f"empty_{version}.txt")
    if os.environ.get("RENEW_EMPTY"):
        path.write_text(empty(version), encoding="ascii")
    assert path.read_text(encoding="ascii") == empty(version)


@both_versions
@pytest.mark.parametrize("make", [whole_plan, every_entity, on_paper])
def test_every_entity_passes_the_audit_with_nothing_to_mend(
    make, version: Version, tmp_path: Path
) -> None:
    auditor = ezdxf.readfile(write_dxf(make(), tmp_path / "a.dxf", version=version)).audit()
    assert (list(auditor.errors), list(auditor.fixes)) == ([], [])


def as_the_library(path: Path) -> Written:
    """Return what the library reads, without a layer of its own: never printed, it says of R12."""
    written = library_written(path)
    return replace(
        written, layers=written.layers | {"DEFPOINTS": read_written(path).layers["DEFPOINTS"]}
    )


@both_versions
@pytest.mark.parametrize("is_saved_again", [False, True])
@pytest.mark.parametrize("name", ["waney", "crowded"])
def test_file_is_read_as_the_library_reads_it(
    name: str, is_saved_again: bool, version: Version, tmp_path: Path
) -> None:
    path = write_dxf(sheet_of(name), tmp_path / "a.dxf", version=version)
    if is_saved_again:
        ezdxf.readfile(path).saveas(path)
    assert read_written(path) == as_the_library(path)


@both_versions
@pytest.mark.parametrize("make", [every_entity, on_paper])
def test_awkward_entities_are_read_as_the_library_reads_them(
    make, version: Version, tmp_path: Path
) -> None:
    path = write_dxf(make(), tmp_path / "a.dxf", version=version)
    assert read_written(path) == as_the_library(path)
