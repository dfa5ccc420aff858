"""Write a plan's cut sheets, overview and summary: all of them or none.

Everything is written into a new folder beside the target first, read back and re-measured
there, and only then moved into place.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from nesting.account import Account, BoardAccount
from nesting.check import Fault
from nesting.check_drawing import check_drawing
from nesting.check_offcuts import check_offcuts, check_scrap
from nesting.check_sheet import check_sheet
from nesting.errors import OutputError, RefereeError
from nesting.file_names import sheet_names
from nesting.nest import CuttingPlan, Nest
from nesting.project import Project
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf import Version, write_dxf
from nesting.sheets.overview import overview
from nesting.sheets.read_back import read_back
from nesting.sheets.written import read_written
from nesting.summary import summary
from nesting.summary_file import SUMMARY, read_summary
from nesting.units import Unit
from nesting.work import Step, Tell, untold

OVERVIEW = "overview.dxf"

FEW_SHEETS = 6
"""Fewer sheets are drawn here and now: starting a second process takes as long as three."""


def write_outputs(
    project: Project,
    plan: CuttingPlan,
    account: Account,
    folder: Path,
    *,
    seed: int = 0,
    dxf_version: Version | None = None,
    overwrite: bool = False,
    on_progress: Tell = untold,
) -> tuple[Path, ...]:
    """Write everything that a plan gives and return the files, the summary last.

    Parameters
    ----------
    folder
        Made if it is not there.
    dxf_version
        If not the project's own.
    overwrite
        Whether files of an earlier plan in the folder may be replaced; others are left alone.
    on_progress
        Is told how many sheets are finished.

    Raises
    ------
    OutputError
        If the folder cannot be written, or holds an earlier plan and may not be overwritten.
    RefereeError
        If a written sheet does not agree with the plan; nothing is left behind then.
    """
    boards = [nest.board.name for nest in plan.nests]
    files = sheet_names(boards)
    earlier = _earlier_files(folder)
    if not overwrite:
        _refuse_overwriting(folder, {*files.values(), OVERVIEW, SUMMARY})
    with _folder_beside(folder) as fresh:
        version = dxf_version or project.dxf_version
        _require_all(_tasks(project, plan, account, fresh, files, version), on_progress)
        on_progress(Step("drawing the overview"))
        whole = overview(
            plan, account.boards, project_name=project.name, unit=project.unit, seed=seed
        )
        write_dxf(whole, fresh / OVERVIEW, version=version)
        _require_none(check_drawing(read_written(fresh / OVERVIEW), whole))
        content = summary(plan, account, project_name=project.name, seed=seed, files=files)
        (fresh / SUMMARY).write_text(json.dumps(content, indent=1), encoding="utf-8")
        names = [*files.values(), OVERVIEW, SUMMARY]
        for name in names:
            os.replace(fresh / name, folder / name)
        for name in earlier - set(names):
            (folder / name).unlink(missing_ok=True)
    return tuple(folder / name for name in names)


@dataclass(frozen=True)
class _SheetTask:
    """One cut sheet to be drawn, written, read back and compared: work for one process."""

    nest: Nest
    account: BoardAccount
    rules: Rules
    project_name: str
    unit: Unit
    version: Version
    path: Path


def _tasks(
    project: Project,
    plan: CuttingPlan,
    account: Account,
    folder: Path,
    files: dict[str, str],
    version: Version,
) -> list[_SheetTask]:
    rules, name, unit = project.rules, project.name, project.unit
    return [
        _SheetTask(nest, board, rules, name, unit, version, folder / files[nest.board.name])
        for nest, board in zip(plan.nests, account.boards, strict=True)
    ]


def _finished(task: _SheetTask) -> tuple[Fault, ...]:
    """Draw and write one sheet, and return what differs when it is read back."""
    sheet = cut_sheet(
        task.nest, task.account, task.rules, project_name=task.project_name, unit=task.unit
    )
    write_dxf(sheet, task.path, version=task.version)
    offcuts = [offcut.shape for offcut in task.account.offcuts]
    record = read_back(task.path)
    return (
        *check_offcuts(offcuts, task.nest, task.rules),
        *check_scrap(offcuts, task.nest, task.account.scrap_percent),
        *check_sheet(record, task.nest, task.rules, offcuts),
        *check_drawing(record.written, sheet, task.nest.board.name),
    )


def _require_all(tasks: list[_SheetTask], tell: Tell) -> None:
    """Finish every sheet, on all cores if there are many; refuse the plan if any differs."""
    if len(tasks) < FEW_SHEETS:
        found = _told(map(_finished, tasks), len(tasks), tell)
    else:
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(os.cpu_count(), mp_context=context) as workers:
            done = workers.map(_finished, tasks, chunksize=4)
            found = _told(done, len(tasks), tell)
    _require_none([fault for faults in found for fault in faults])


def _require_none(faults: Sequence[Fault]) -> None:
    if faults:
        raise RefereeError([str(fault) for fault in faults])


def _told(done: Iterable[tuple[Fault, ...]], count: int, tell: Tell) -> list[tuple[Fault, ...]]:
    """Return what each sheet came to, telling how many are done as they come."""
    found = list[tuple[Fault, ...]]()
    tell(Step("writing cut sheets", 0, count))
    for faults in done:
        found.append(faults)
        tell(Step("writing cut sheets", len(found), count))
    return found


def require_room(folder: Path, *, overwrite: bool) -> None:
    """Do nothing if a plan could be written into a folder; asked before a long search.

    Raises
    ------
    OutputError
        If it holds an earlier plan that may not be overwritten, or cannot be written.
    """
    if not overwrite:
        _refuse_overwriting(folder, {OVERVIEW, SUMMARY})
    with _folder_beside(folder):
        pass


def _refuse_overwriting(folder: Path, names: set[str]) -> None:
    there = sorted(name for name in names if (folder / name).exists())
    if there:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise OutputError(
            f"{folder / there[0]}{more} would be overwritten: choose another folder with "
            "--output, or allow it with --overwrite"
        )


def _earlier_files(folder: Path) -> set[str]:
    """Return the files that an earlier plan in the folder says it wrote."""
    try:
        content = read_summary(folder)
        return {str(row["file"]) for row in content["boards"] if _is_plain(str(row["file"]))}
    except (OutputError, KeyError, TypeError):
        return set()


def _is_plain(name: str) -> bool:
    return Path(name).name == name and name.endswith(".dxf")


@contextmanager
def _folder_beside(folder: Path) -> Iterator[Path]:
    """Yield a new folder on the same disk as the target; it is gone afterwards."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=folder))
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{folder} cannot be written ({reason}): choose another folder with --output"
        ) from error
    try:
        yield fresh
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
