"""Write a plan's cut sheets, overview and summary: all of them or none.

Everything is written into a new folder first, read back and re-measured there, and only then put
in place, all at once.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
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
from nesting.job import Job
from nesting.nest import CuttingPlan, Nest
from nesting.processes import Workers, answers
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf import Version, write_dxf
from nesting.sheets.overview import overview
from nesting.sheets.read_back import read_back
from nesting.sheets.whole_file import write_whole
from nesting.sheets.written import read_written
from nesting.sheets_kept import is_carried_over, key_of, mark
from nesting.summary import summary
from nesting.summary_file import SUMMARY, read_summary
from nesting.units import Unit
from nesting.whole_folder import UNFINISHED, held, replaced_whole
from nesting.work import Step, Tell, untold

OVERVIEW = "overview.dxf"

FEW_SHEETS = 6
"""Fewer sheets are drawn here and now: starting a second process takes as long as three."""


def write_outputs(
    project: Job,
    plan: CuttingPlan,
    account: Account,
    folder: Path,
    *,
    seed: int = 0,
    dxf_version: Version | None = None,
    overwrite: bool = False,
    on_progress: Tell = untold,
    when_placed: Callable[[], None] = lambda: None,
    workers: int | None = None,
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
    when_placed
        Is told once all files are in place: what comes then takes nothing back.
    workers
        Most processes that draw; as many as there are cores if not given.

    Raises
    ------
    OutputError
        If the folder cannot be written, or holds an earlier plan and may not be overwritten.
    RefereeError
        If a written sheet does not agree with the plan; nothing is left behind then.
    """
    files = sheet_files(project, plan)
    names = [*files.values(), OVERVIEW, SUMMARY]
    with held(folder):
        _require_free(folder, names, overwrite=overwrite)
        earlier = _earlier_files(folder)
        with replaced_whole(folder, gone=earlier, when_placed=when_placed) as fresh:
            version = dxf_version or project.dxf_version
            tasks = _tasks(project, plan, account, (fresh, folder), files, version)
            _require_all(tasks, on_progress, workers)
            on_progress(Step("drawing the overview"))
            whole = overview(
                plan, account.boards, project_name=project.name, unit=project.unit, seed=seed
            )
            write_dxf(whole, fresh / OVERVIEW, version=version)
            _require_none(check_drawing(read_written(fresh / OVERVIEW), whole))
            content = summary(plan, account, project_name=project.name, seed=seed, files=files)
            write_whole(fresh / SUMMARY, json.dumps(content, indent=1).encode())
    return tuple(folder / name for name in names)


def sheet_files(project: Job, plan: CuttingPlan) -> dict[str, str]:
    """Return the file name of each board's cut sheet; which others are opened changes nothing."""
    opened = [nest.board.name for nest in plan.nests]
    names = sheet_names(dict.fromkeys([*(board.name for board in project.stock), *opened]))
    return {name: names[name] for name in opened}


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
    project: Job,
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
    # A process that was lost over this sheet may have written it already.
    write_dxf(sheet, task.path, version=task.version, overwrite=True)
    mark(task.path, key)
    offcuts = [offcut.shape for offcut in task.account.offcuts]
    record = read_back(task.path)
    return (
        *check_offcuts(offcuts, task.nest, task.rules),
        *check_scrap(offcuts, task.nest, task.account.scrap_percent),
        *check_sheet(record, task.nest, task.rules, offcuts),
        *check_drawing(record.written, sheet, task.nest.board.name),
    )


def _require_all(tasks: list[_SheetTask], tell: Tell, most: int | None) -> None:
    """Finish every sheet, on all cores if there are many; refuse the plan if any differs."""
    cores = (os.cpu_count() or 1) if most is None else most
    if len(tasks) < FEW_SHEETS or cores < 2:
        found = _told(map(_finished, tasks), len(tasks), tell)
    else:
        with Workers(min(cores, len(tasks))) as workers:
            done = answers(workers, _finished, tasks)
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


@contextmanager
def room_for(project: Job, folder: Path, *, overwrite: bool) -> Iterator[None]:
    """Hold a folder that a plan is to be written into; asked before a long search.

    Raises
    ------
    OutputError
        If another run holds it, it holds what may not be overwritten, or cannot be written.
    """
    with held(folder):
        names = [*sheet_names(board.name for board in project.stock).values(), OVERVIEW, SUMMARY]
        _require_free(folder, names, overwrite=overwrite)
        try:
            tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=folder).cleanup()
        except OSError as error:
            raise OutputError(
                f"{folder} cannot be written ({error.strerror or error}): choose another folder "
                "with --output"
            ) from error
        yield


def _require_free(folder: Path, names: Iterable[str], *, overwrite: bool) -> None:
    """Refuse to write over what is no file of ours, or over an earlier plan unless allowed."""
    there = sorted(name for name in names if os.path.lexists(folder / name))
    for name in there:
        if (folder / name).is_dir():
            raise OutputError(
                f"{folder / name} is a folder, and a file of that name may have to be written: "
                "move it, or choose another folder with --output"
            )
    ours = _ours(folder)
    strange = [name for name in there if name not in ours]
    if strange:
        raise OutputError(
            f"{_first_of(folder, strange)} would be overwritten, and no plan in that folder says "
            "that it wrote it: move it, or choose another folder with --output"
        )
    if there and not overwrite:
        raise OutputError(
            f"{_first_of(folder, there)} would be overwritten: choose another folder with "
            "--output, or allow it with --overwrite"
        )


def _first_of(folder: Path, names: list[str]) -> str:
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return f"{folder / names[0]}{more}"


def _ours(folder: Path) -> set[str]:
    """Return the names of all files that an earlier plan in the folder wrote."""
    try:
        content = read_summary(folder)
    except OutputError:
        return set()
    if not isinstance(content.get("boards"), list) or "project" not in content:
        return set()
    return {*_earlier_files(folder), OVERVIEW, SUMMARY}


def _earlier_files(folder: Path) -> set[str]:
    """Return the files that an earlier plan in the folder says it wrote."""
    try:
        content = read_summary(folder)
        return {str(row["file"]) for row in content["boards"] if _is_plain(str(row["file"]))}
    except (OutputError, KeyError, TypeError):
        return set()


def _is_plain(name: str) -> bool:
    is_ours = name.startswith("board-") and name.endswith(".dxf")
    return is_ours and Path(name).name == name and name.isprintable()
