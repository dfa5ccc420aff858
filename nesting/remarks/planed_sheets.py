"""Sheet goods that would be planed or resawn, or asked for a grain that plies do not have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding
from nesting.need import Need
from nesting.project import Project
from nesting.rules import TOUCH_MM
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.written_measures import exact_length


def planed_sheets(project: Project) -> Iterator[Finding]:
    """Yield sheets that are resawn, and parts that a sheet gives only when planed, or not so."""
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry and board.leaf and is_sheet_goods(board.species):
            yield entry.finding(
                ("resaw",),
                f"{board.species} is sheet goods, and no sheet is resawn: its plies part",
            )
    for need in project.needs:
        part_entry = project.part_entries.get(need.part)
        said = [text for text in (_grain_asked(need), _why(need, project)) if text]
        if part_entry and said:
            yield replace(part_entry, title=f"part {need.part}").finding((), "; ".join(said))


def _grain_asked(need: Need) -> str | None:
    """Return that a limit on run-out is none for sheet goods; None if there is none of both."""
    sheets = [wood for wood in need.species if is_sheet_goods(wood)]
    if not sheets or need.outline.run_out_limit is None:
        return None
    return (
        f"its run_out is held to the face grain of {sheets[0]}, and plies cross: that says nothing "
        "of its strength; leave run_out out, or let it be of solid wood"
    )


def _why(need: Need, project: Project) -> str | None:
    """Return what planing does to the sheets that may give a part; None if nothing."""
    thick = need.outline.siding_mm
    sheets = [
        board
        for board in project.stock
        if board.species in need.species
        and is_sheet_goods(board.species)
        and board.thickness_mm >= thick - TOUCH_MM
    ]
    nearest = min(sheets, key=lambda board: board.thickness_mm, default=None)
    loss = project.rules.cleaning_loss_mm
    if nearest is None or (nearest.thickness_mm <= thick + TOUCH_MM and not loss):
        return None
    return _told(need, nearest, loss, project.unit)


def _told(need: Need, sheet: Board, loss_mm: float, unit: Unit) -> str:
    size, wanted, loss = (
        exact_length(mm, unit) for mm in (sheet.thickness_mm, need.outline.siding_mm, loss_mm)
    )
    cleaned = f", and cleaning_loss takes {loss} off each face" if loss_mm else ""
    apart = ", and nest sheets in a project with cleaning_loss 0" if loss_mm else ""
    return (
        f"{sheet.species} is sheet goods, {sheet.name} is {size} thick and the part {wanted}"
        f"{cleaned}: a sheet is not planed, that takes its outer plies; give the part the sheet's "
        f"thickness{apart}"
    )
