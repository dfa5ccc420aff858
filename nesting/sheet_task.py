"""One cut sheet from nest to checked file: work that any process can do.

Little is imported, so that a process is soon at work.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path

from nesting.account import BoardAccount
from nesting.check import Fault
from nesting.check_break_down import check_break_down
from nesting.check_drawing import check_drawing
from nesting.check_offcuts import check_offcuts, check_scrap
from nesting.check_sheet import check_sheet
from nesting.nest import Nest
from nesting.processes import submitted
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
Answer = Future[Faults]


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


def begun(executor: Executor | None, tasks: Sequence[SheetTask]) -> list[Answer | None]:
    """Return what will hold what each sheet comes to; None for those that nobody else does."""
    if executor is None:
        return [None] * len(tasks)
    return [submitted(executor, finished, task) for task in tasks]


def shared_out(
    answers: Sequence[Answer | None], tasks: Sequence[SheetTask], tell: Callable[[int], None]
) -> Iterator[Faults]:
    """Yield what each sheet comes to; this process does its share, from the last one on.

    ``tell`` is told how many are done.
    """
    elsewhere, here = list[None](), dict[int, Faults]()

    def note(answer: Answer) -> None:
        if not answer.cancelled():
            elsewhere.append(None)

    for answer in answers:
        if answer is not None:
            answer.add_done_callback(note)
    for number in reversed(range(len(answers))) if any(answers) else range(len(answers)):
        answer = answers[number]
        if answer is not None and not answer.cancel():
            break
        here[number] = finished(tasks[number])
        tell(len(here) + len(elsewhere))
    for number, (answer, task) in enumerate(zip(answers, tasks, strict=True)):
        yield here[number] if number in here else _given(answer, task)
        tell(len(here) + len(elsewhere))


def _given(answer: Answer | None, task: SheetTask) -> Faults:
    """Return what another process found, or what is found here; its own errors show here."""
    try:
        if answer is not None:
            return answer.result()
    except Exception:  # A process was lost over it, or could not do it.
        pass
    return finished(task)
