"""Parts of families of one's own whose outline and solid are not of one piece."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding, OwnCodeError, ShapeError
from nesting.outline import Outline
from nesting.project import Project
from nesting.units import Unit
from nesting.written_measures import exact_length
from parts.own_code import is_own, told_of

FAR_TIMES = 1.5
"""Bevels, tenons and bolts make a solid a little larger or smaller than its outline; a unit taken
for another makes it ten or twenty-five times (common practice, no source)."""


def outline_and_solid(project: Project) -> Iterator[Finding]:
    """Yield each part of a family of one's own whose solid is far larger or smaller than it."""
    for name, part in project.parts.items():
        entry = project.part_entries.get(name)
        if entry is None or not is_own(type(part)):
            continue
        # It brings cadquery with it: only for a project with code of its own.
        from parts.solids import extents

        try:
            with told_of(part):
                outline, solid = part.outline(), extents(part.solid())
        except (OwnCodeError, ShapeError) as error:
            said = str(error)
        else:
            said = _far_apart(outline, solid, project.unit)
        if said:
            yield replace(entry, title=f"part {name}").finding(("shape",), said, at_key=True)


def _far_apart(outline: Outline, solid: tuple[float, float, float], unit: Unit) -> str:
    flat = (outline.length_mm, outline.width_mm, outline.siding_mm)
    times = [one / other for one, other in zip(solid, flat, strict=True)]
    if all(1 / FAR_TIMES <= each <= FAR_TIMES for each in times):
        return ""
    sizes = (" x ".join(exact_length(mm, unit) for mm in size) for size in (flat, solid))
    return (
        "its outline is {} with the thickness, and its solid {}: both must be of one piece, in mm, "
        "the solid lying as its outline does".format(*sizes)
    )
