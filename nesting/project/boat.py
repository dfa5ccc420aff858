"""The boat of a project file: her lines and construction plan, for parts fitted to them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from nesting.errors import PartError, ProjectFileError, ShapeError
from nesting.project.entry import Entry
from nesting.project.setting import Setting
from nesting.told import told_in
from parts.boat.plan import BoatPlan

if TYPE_CHECKING:
    from parts.boat.boat import Boat


def read_boat(project: Entry, setting: Setting) -> Boat | None:
    """Return the boat that a project file names, or None; whatever is wrong is noted."""
    data = project.data.get("boat") if isinstance(project.data, dict) else None
    if not isinstance(data, dict):
        return None
    entry = project.below("boat", data=data, title="boat")
    plan = entry.validated(BoatPlan, setting.context)
    if plan is None:
        return None
    # Fairing brings scipy with it: only a project with lines pays for that.
    from parts.boat.boat import boat_of

    path = setting.folder / plan.lines
    if not path.is_file():
        entry.note(("lines",), f"lines: there is no file {path}; paths count from this file")
        return None
    try:
        return boat_of(plan, setting.folder)
    except ProjectFileError as error:
        for finding in error.findings:
            entry.findings.add(replace(finding, message=told_in(finding.message, setting.unit)))
    except (PartError, ShapeError) as error:
        entry.note(("lines",), f"lines: {error}")
    return None
