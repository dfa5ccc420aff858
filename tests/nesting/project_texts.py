"""A small project as text, a part family to fill it with, and a reader of its errors."""

from pathlib import Path
from typing import ClassVar

import pytest
from shapely.geometry import box

from nesting.errors import PartError, ProjectFileError
from nesting.fields import Size, Slope
from nesting.outline import Outline
from nesting.project import read_project
from parts.part import Family
from parts.registry import Families, fitted_families


class Block(Family):
    """A rectangular block, longer than it is wide."""

    family: ClassVar[str] = "block"

    siding_mm: Size
    length_mm: Size
    width_mm: Size
    slope_of_grain: Slope = 12.0

    def outline(self) -> Outline:
        if self.width_mm > self.length_mm:
            raise PartError("a block is longer than it is wide")
        return Outline(
            box(0, 0, self.length_mm, self.width_mm),
            self.siding_mm,
            slope_of_grain=self.slope_of_grain,
        )

    def solid(self):
        raise NotImplementedError


def only_blocks():
    return Families({"block": Block}, fitted_families())


HEAD = """\
version: 1
name: yard boat
unit: mm
"""

BOARD = "  - {board: D-01, species: teak, thickness: 40, length: 2000, width: 150}\n"

PART = (
    "  - {part: pad, family: block, species: [teak], shape: {siding: 25, length: 300, width: 60}}\n"
)


def project_text(*, head: str = HEAD, stock: str = BOARD, parts: str = PART, rest: str = "") -> str:
    return f"{head}stock:\n{stock}parts:\n{parts}{rest}"


def written(folder: Path, text: str, name: str = "project.yaml") -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def findings_of(path: Path) -> list[str]:
    """Return what is wrong: ``line:column: message``, after the file's name if another."""
    with pytest.raises(ProjectFileError) as caught:
        read_project(path)
    found = []
    for finding in caught.value.findings:
        own = "" if finding.file == str(path) else f"{Path(finding.file).name}:"
        found.append(f"{own}{finding.line}:{finding.column}: {finding.message}")
    return found
