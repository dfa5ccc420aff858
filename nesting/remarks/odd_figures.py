"""Figures of the table of offsets that no fair line could have."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding
from nesting.project import Project


def odd_figures(project: Project) -> Iterator[Finding]:
    """Yield what of the boat's table is off the fair hull, a line or a figure, or lacking."""
    if project.boat is None:
        return
    # The table was read by its full path; the project file names it shorter.
    file = os.path.normpath(project.path.parent / project.boat.plan.lines)
    hull = project.boat.hull
    for finding in (*hull.whole, *(odd.finding for odd in hull.odd), *hull.notes):
        yield replace(finding, file=file, message=f"table of offsets: {finding.message}")
