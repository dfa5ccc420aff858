"""One cut sheet from nest to checked file: work that any process can do.

Little is imported, so that a process is soon at work.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nesting.accounts.account import BoardAccount
from nesting.nest import Nest
from nesting.read_back.drawing import check_drawing
from nesting.read_back.sheet import check_sheet
from nesting.referee.break_down import check_break_down
from nesting.referee.fault import Fault
from nesting.referee.offcuts import check_offcuts, check_scrap
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf import dxf_content
from nesting.sheets.dxf_terms import Version
from nesting.sheets.read_back import read_back
from nesting.sheets.whole_file import write_whole
from nesting.sheets_kept import is_carried_over, key_of, marked
from nesting.shop.kinds import Paper
from nesting.units import Unit

Faults = tuple[Fault, ...]


@dataclass(frozen=True)
class SheetTask:
    """One cut sheet to be drawn, written, read back and compared: work for one process."""

    nest: Nest
    account: BoardAccount
    rules: Rules
    project_name: str
    unit: Unit
    version: Version
    path: Path
    earlier: Path
    paper: Paper = Paper.A4

    @property
    def key(self) -> str:
        """A key of all that the sheet shows."""
        return key_of(
            self.nest, self.account, self.rules, self.project_name, self.unit, self.version,
            self.paper,
        )  # fmt: skip


def finished(task: SheetTask) -> Faults:
    """Draw and write one sheet, and return what differs when it is read back.

    One that an earlier run drew, and that shows just the same, is taken as it is.
    """
    key = task.key
    if is_carried_over(task.earlier, task.path, key):
        return ()
    sheet = cut_sheet(
        task.nest, task.account, task.rules, project_name=task.project_name, unit=task.unit,
        paper=task.paper,
    )  # fmt: skip
    # A process that was lost over this sheet may have written it already.
    write_whole(task.path, marked(dxf_content(sheet, task.version), key), overwrite=True)
    offcuts = [offcut.shape for offcut in task.account.offcuts]
    break_down = task.account.break_down
    record = read_back(task.path)
    return (
        *check_offcuts(offcuts, task.nest, task.rules),
        *check_scrap(offcuts, task.nest, task.account.scrap_percent),
        *check_break_down(
            break_down.cuts, offcuts, task.nest, task.rules, freed=break_down.parts_freed
        ),
        *check_sheet(record, task.nest, task.rules, offcuts, break_down.cuts),
        *check_drawing(record.written, sheet, task.nest.board.name),
    )


def made_ready() -> None:
    """Load what draws, and what tells one sheet from another: done while there is none yet."""
    key_of()
