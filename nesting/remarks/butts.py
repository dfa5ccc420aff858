"""Lists of butts that break the rule of shift."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding
from nesting.project import Project
from parts.butts import shift_remarks


def butts_too_near(project: Project) -> Iterator[Finding]:
    """Yield each pair of butts that are too near each other, at the first part that has one."""
    told: set[str] = set()
    for name, clashes in shift_remarks(project.parts).items():
        for clash in clashes:
            if clash not in told:
                told.add(clash)
                yield replace(project.part_entries[name], title="").finding((), clash)
