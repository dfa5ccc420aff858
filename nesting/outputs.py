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
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nesting.account import Account, BoardAccount
from nesting.check import Fault, check_plan
from nesting.check_offcuts import check_offcuts, check_scrap
from nesting.check_sheet import check_sheet
from nesting.errors import OutputError, RefereeError
from nesting.file_names import file_names
from nesting.nest import CuttingPlan, Nest
from nesting.project import Project
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf import Version, write_dxf
from nesting.sheets.overview import overview
from nesting.sheets.read_back import read_back
from nesting.sheets_kept import is_carried_over, key_of, mark
from nesting.summary import offcuts_from, plan_from, scrap_from, summary
from nesting.units import Unit
from nesting.work import Step, Tell, untold

SUMMARY = "summary.json"
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
    files = file_names(boards, prefix="board-", ending=".dxf")
    earlier = _earlier_files(folder)
    if not overwrite:
        _refuse_overwriting(folder, {*files.values(), OVERVIEW, SUMMARY})
    with _folder_beside(folder) as fresh:
        version = dxf_version or project.dxf_version
        _require_all(_tasks(project, plan, account, (fresh, folder), files, version), on_progress)
        on_progress(Step("drawing the overview"))
        whole = overview(plan, account.boards, project_name=project.name, unit=project.unit)
        write_dxf(whole, fresh / OVERVIEW, version=version)
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
    earlier: Path

    @property
    def key(self) -> str:
        """A key of all that the sheet shows."""
        return key_of(
            self.nest, self.account, self.rules, self.project_name, self.unit, self.version
        )


def _tasks(
    project: Project,
    plan: CuttingPlan,
    account: Account,
    folders: tuple[Path, Path],
    files: dict[str, str],
    version: Version,
) -> list[_SheetTask]:
    """Return what is to be drawn, into the first folder; in the other an earlier plan may lie."""
    rules, name, unit = project.rules, project.name, project.unit
    return [
        _SheetTask(
            nest,
            board,
            rules,
            name,
            unit,
            version,
            *(folder / files[nest.board.name] for folder in folders),
        )
        for nest, board in zip(plan.nests, account.boards, strict=True)
    ]


def _finished(task: _SheetTask) -> tuple[Fault, ...]:
    """Draw and write one sheet, and return what differs when it is read back.

    One that an earlier run drew, and that shows just the same, is taken as it is.
    """
    key = task.key
    if is_carried_over(task.earlier, task.path, key):
        return ()
    sheet = cut_sheet(
        task.nest, task.account, task.rules, project_name=task.project_name, unit=task.unit
    )
    write_dxf(sheet, task.path, version=task.version)
    mark(task.path, key)
    offcuts = [offcut.shape for offcut in task.account.offcuts]
    return (
        *check_offcuts(offcuts, task.nest, task.rules),
        *check_scrap(offcuts, task.nest, task.account.scrap_percent),
        *check_sheet(read_back(task.path), task.nest, task.rules, offcuts),
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
    faults = [str(fault) for faults in found for fault in faults]
    if faults:
        raise RefereeError(faults)


def _told(
    done: Iterable[tuple[Fault, ...]], count: int, tell: Tell, what: str = "writing cut sheets"
) -> list[tuple[Fault, ...]]:
    """Return what each sheet came to, telling how many are done as they come."""
    found = list[tuple[Fault, ...]]()
    tell(Step(what, 0, count))
    for faults in done:
        found.append(faults)
        tell(Step(what, len(found), count))
    return found


def _sheet_faults(
    plan: CuttingPlan, folder: Path, files: dict[str, str], given: Any, project: Project, tell: Tell
) -> list[Fault]:
    kept, scrap, rules = offcuts_from(given), scrap_from(given), project.rules

    def faults(nest: Nest) -> tuple[Fault, ...]:
        name = nest.board.name
        record = read_back(folder / files[name])
        return (
            *check_sheet(record, nest, rules, kept[name]),
            *check_offcuts(record.offcuts, nest, rules),
            *check_scrap(record.offcuts, nest, scrap[name]),
        )

    done = map(faults, plan.nests)
    told = _told(done, len(plan.nests), tell, "reading cut sheets back")
    return [fault for faults in told for fault in faults]


def remeasured(
    project: Project, folder: Path, *, on_progress: Tell = untold
) -> tuple[int, tuple[Fault, ...]]:
    """Return how many sheets a folder holds and every fault in them.

    The plan is taken from the summary beside them, judged by the project as it is now, and
    compared with what the written sheets say.
    """
    given = read_summary(folder)
    plan, files = plan_from(given, project.needs, project.stock)
    faults = check_plan(plan, project.needs, project.rules)
    sheets = _sheet_faults(plan, folder, files, given, project, on_progress)
    return len(plan.nests), (*faults, *sheets)


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


def read_summary(folder: Path) -> dict[str, Any]:
    """Return the summary in a folder.

    Raises
    ------
    OutputError
        If there is none, or it cannot be read.
    """
    path = folder / SUMMARY
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise OutputError(f"{path} is not there: nest the project first") from None
    except (OSError, UnicodeDecodeError, json.JSONDecodeError) as error:
        raise OutputError(f"{path} cannot be read: {error}") from error
    if not isinstance(content, dict):
        raise OutputError(f"{path} is no summary of a cutting plan")
    return content


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
