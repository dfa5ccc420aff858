"""Drawings that do not say their unit, and were read in that of the file that names them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from nesting.errors import Finding
from nesting.project import Project
from nesting.project.entry import Entry, Loc
from nesting.project.unit import unit_of
from nesting.units import Unit
from nesting.written_measures import format_length


def unit_unstated(project: Project) -> Iterator[Finding]:
    """Yield each drawing of a board or part that states no unit, and what size that gave it."""
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry is not None and isinstance(entry.data.get("drawing"), dict):
            size = (board.length_mm, board.width_mm)
            yield from _unstated(entry, ("drawing",), size, project.unit)
    for name, entry in project.part_entries.items():
        need = next((need for need in project.needs if need.part == name), None)
        if need is not None and entry.data.get("family") == "drawn outline":
            size = (need.outline.length_mm, need.outline.width_mm)
            yield from _unstated(entry, ("shape",), size, project.unit)


def _unstated(entry: Entry, loc: Loc, size: tuple[float, float], unit: Unit) -> Iterator[Finding]:
    # Reading drawings needs a large library: only for a project that has one.
    from nesting.dxf_file.drawn import read_rings

    spec = entry.data[loc[0]]
    given = unit_of(entry.document) or Unit.MM
    path = Path(entry.document.file).parent / str(spec["file"])
    if "unit" in spec or not read_rings(path, unit=None, default_unit=given).is_unit_guessed:
        return
    long, wide = (format_length(mm, unit) for mm in size)
    yield entry.finding(
        (*loc, "file"),
        f"the drawing states no unit, and was read as {given}, the unit of this file: it is {long} "
        f"by {wide}. If that is right, say so with unit: {given}, else say its own",
    )
