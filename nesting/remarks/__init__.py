"""What a project file may say, and hardly means: remarks, each with its place; no errors.

One function a remark, or a file of them; :data:`REMARKS` lists all. Each takes the project and
yields findings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from nesting.errors import Finding
from nesting.project import Project
from nesting.project.entry import Findings
from nesting.remarks.broken_rows import broken_rows
from nesting.remarks.butts import butts_too_near
from nesting.remarks.doubtful_boards import doubtful_boards
from nesting.remarks.idle_figures import idle_figures
from nesting.remarks.metal_in_the_saw import metal_in_the_saw
from nesting.remarks.moist_boards import moist_boards
from nesting.remarks.no_board import no_board
from nesting.remarks.odd_boat import odd_boat
from nesting.remarks.odd_figures import odd_figures
from nesting.remarks.outline_and_solid import outline_and_solid
from nesting.remarks.planed_sheets import planed_sheets
from nesting.remarks.survey import survey
from nesting.remarks.thin_parts import thin_parts
from nesting.remarks.unit_unstated import unit_unstated
from nesting.remarks.unlettered import unlettered
from nesting.remarks.unrecorded import unrecorded
from nesting.remarks.wide_keep_outs import wide_keep_outs
from nesting.remarks.wishes_unmet import wishes_unmet

Remark = Callable[[Project], Iterator[Finding]]

FIGURES: Sequence[Remark] = (
    odd_figures, odd_boat, doubtful_boards, wide_keep_outs, metal_in_the_saw, thin_parts,
    planed_sheets, moist_boards, idle_figures,
)  # fmt: skip
"""Figures that look mistyped, metal before a saw, what resawing would give, wet wood: worth
knowing before a search."""

GIVEN: Sequence[Remark] = (no_board, wishes_unmet)
"""What boards cannot give: asked of what the stock book leaves, where the project names one."""

SAID: Sequence[Remark] = (
    *FIGURES, unit_unstated, survey, broken_rows, unrecorded, butts_too_near, outline_and_solid,
    unlettered,
)  # fmt: skip
"""What the files themselves say."""

REMARKS: Sequence[Remark] = (*SAID, *GIVEN)


def remarks(project: Project, wanted: Iterable[Remark] = REMARKS) -> tuple[Finding, ...]:
    """Return what is doubtful in a project, by its place; what stands for many boards once."""
    found = Findings()
    for remark in wanted:
        for finding in remark(project):
            found.add(finding)
    return tuple(sorted(found.found))
