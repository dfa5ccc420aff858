"""Write a plan's cut sheets, overview and summary: all of them or none.

Everything is written into a new folder first, read back and re-measured there, and only then put
in place, all at once.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path

from nesting.accounts.account import Account
from nesting.changes import LastPlan
from nesting.errors import BookError, InUseError, OutputError
from nesting.folders.file_names import sheet_names
from nesting.folders.whole_folder import (
    UNFINISHED,
    held,
    replaced_whole,
    require_free,
    would_be_overwritten,
)
from nesting.job import Job
from nesting.nest import CuttingPlan
from nesting.processes.shared_work import begun, shared_out
from nesting.processes.workers import Workers
from nesting.read_back.drawing import check_drawing
from nesting.referee.fault import Fault, require_none
from nesting.sheet_task import Faults, SheetTask, finished, made_ready
from nesting.sheets.dxf import write_dxf
from nesting.sheets.dxf_terms import Version
from nesting.sheets.overview import overview
from nesting.sheets.whole_file import write_whole
from nesting.sheets.written import read_written
from nesting.shop.folio import Folio, Stand, unremarked
from nesting.shop.kinds import Output, Paper, is_made
from nesting.shop.makers import Made, MadeTask, digests, made_files
from nesting.summary.file import SUMMARY, read_summary
from nesting.summary.of_plan import summary
from nesting.unseen import is_seen
from nesting.work import Step, Tell, untold

OVERVIEW = "overview.dxf"

FEW_SHEETS = 20
"""Fewer sheets are drawn here and now: starting a second process takes as long as so many."""


def write_outputs(
    project: Job,
    plan: CuttingPlan,
    account: Account,
    folder: Path,
    *,
    seed: int = 0,
    dxf_version: Version | None = None,
    also: Sequence[Output] = (),
    paper: Paper = Paper.A4,
    overwrite: bool = False,
    on_progress: Tell = untold,
    on_remark: Callable[[str], None] = unremarked,
    when_placed: Callable[[], None] = lambda: None,
    workers: int | None = None,
    helpers: Executor | None = None,
    last: LastPlan | None = None,
) -> tuple[Path, ...]:
    """Write everything that a plan gives and return the files, the summary last.

    Parameters
    ----------
    folder
        Made if it is not there.
    dxf_version
        If not the project's own.
    also
        What is written beside cut sheets, overview and summary.
    paper
        What is printed on.
    overwrite
        Whether files of an earlier plan in the folder may be replaced; others are left alone.
    on_progress
        Is told how many sheets are finished.
    on_remark
        Is told what is to be said of what is made beside the sheets.
    when_placed
        Is told once all files are in place: what comes then takes nothing back.
    workers
        Most processes that draw; as many as there are cores if not given.
    helpers
        Those of :func:`drawing_beside`, where they were begun before; they are left running.
    last
        The plan before it, where that is kept in view.

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
            tasks = _tasks(project, plan, account, (fresh, folder), files, version, paper)
            own = _workers(len(tasks), workers) if helpers is None else nullcontext(helpers)
            with own as drawing:
                stand = _stand(project, plan, account, on_remark) if Output.PAGE in also else None
                folio = Folio(project, plan, account, files, paper, last, stand)
                makings = [MadeTask(output, folio, fresh) for output in also]
                # The longest come first, and this process begins with the last.
                made_beside = begun(drawing, MadeTask.done, makings)
                drawn_beside = begun(drawing, finished, tasks)
                on_progress(Step("drawing the overview"))
                whole = overview(
                    plan, account.boards, project_name=project.name, unit=project.unit, seed=seed
                )
                write_dxf(whole, fresh / OVERVIEW, version=version)
                require_none(check_drawing(read_written(fresh / OVERVIEW), whole))
                require_none(_all_sheets(drawn_beside, tasks, on_progress))
                made, remarks = _made(made_beside, makings, on_progress)
            content = summary(
                plan, account, project_name=project.name, seed=seed, files=files,
                made=digests(fresh, made), book_step=project.book_step,
            )  # fmt: skip
            _require_free(folder, made, overwrite=overwrite)
            write_whole(fresh / SUMMARY, json.dumps(content, indent=1).encode())
        for remark in remarks:
            on_remark(remark)
    return tuple(folder / name for name in (*made, *names))


def _stand(
    project: Job, plan: CuttingPlan, account: Account, on_remark: Callable[[str], None]
) -> Stand | None:
    """Return how far a project has come, if it has a book that can be read; a plan needs none."""
    book = getattr(project, "book", None)
    if book is None:
        return None
    from nesting.book.words import stand

    try:
        return stand(book, project, plan, account)
    except (BookError, InUseError) as error:
        on_remark(f"the page does not say where you are: {error}")
        return None


def _made(
    beside: Sequence[Future[Made] | None], tasks: Sequence[MadeTask], tell: Tell
) -> tuple[list[str], list[str]]:
    """Make what is asked for beside the sheets; return the names of its files, and remarks."""
    what, count = f"making {' and '.join(task.output for task in tasks)}", len(tasks)
    tell(Step(what, 0, count))
    done = shared_out(beside, MadeTask.done, tasks, lambda done: tell(Step(what, done, count)))
    found = list(done)
    names = [name for made in found for name in made.names]
    return names, [remark for made in found for remark in made.remarks]


def sheet_files(project: Job, plan: CuttingPlan) -> dict[str, str]:
    """Return the file name of each board's cut sheet; which others are opened changes nothing."""
    opened = [nest.board.name for nest in plan.nests]
    names = sheet_names(dict.fromkeys([*(board.name for board in project.stock), *opened]))
    return {name: names[name] for name in opened}


def _tasks(
    project: Job,
    plan: CuttingPlan,
    account: Account,
    folders: tuple[Path, Path],
    files: dict[str, str],
    version: Version,
    paper: Paper,
) -> list[SheetTask]:
    """Return what is to be drawn, into the first folder; in the other an earlier plan may lie."""
    rules, name, unit = project.rules, project.name, project.unit
    return [
        SheetTask(
            nest,
            board,
            rules,
            name,
            unit,
            version,
            folders[0] / files[nest.board.name],
            folders[1] / files[nest.board.name],
            paper,
        )
        for nest, board in zip(plan.nests, account.boards, strict=True)
    ]


@contextmanager
def drawing_beside(plan: CuttingPlan) -> Iterator[Executor | None]:
    """Give processes that load what draws while a plan is measured, to draw it afterwards.

    None where so few sheets are drawn here.
    """
    with _workers(len(plan.nests), None) as helpers:
        if helpers is not None:
            for _ in range(_count_of(len(plan.nests), None)):
                helpers.submit(made_ready)
        yield helpers


def _workers(sheets: int, most: int | None) -> AbstractContextManager[Executor | None]:
    """Return the processes that help with so many sheets, none if it is not worth it."""
    count = _count_of(sheets, most)
    return Workers(count) if count else nullcontext()


def _count_of(sheets: int, most: int | None) -> int:
    """Return how many processes draw so many sheets beside this one."""
    cores = (os.cpu_count() or 1) if most is None else most
    return 0 if sheets < FEW_SHEETS else min(cores, sheets) - 1


def _all_sheets(
    beside: Sequence[Future[Faults] | None], tasks: Sequence[SheetTask], tell: Tell
) -> list[Fault]:
    """Return what differs on any sheet, telling how many are done."""
    what, count = "writing cut sheets", len(tasks)
    tell(Step(what, 0, count))
    done = shared_out(beside, finished, tasks, lambda done: tell(Step(what, done, count)))
    return [fault for faults in done for fault in faults]


@contextmanager
def room_for(
    project: Job, folder: Path, *, also: Sequence[Output] = (), overwrite: bool
) -> Iterator[None]:
    """Hold a folder that a plan is to be written into; asked before a long search.

    ``also`` is what will be written beside the sheets.

    Raises
    ------
    OutputError
        If another run holds it, it holds what may not be overwritten, or cannot be written.
    """
    with held(folder):
        names = [*sheet_names(board.name for board in project.stock).values(), OVERVIEW, SUMMARY]
        names += made_files(folder, also)
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
            f"{would_be_overwritten(folder / name for name in strange)}, and no plan in that "
            "folder says that it wrote it: move it, or choose another folder with --output"
        )
    require_free((folder / name for name in there), overwrite=overwrite)


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
        sheets = {str(row["file"]) for row in content["boards"] if _is_plain(str(row["file"]))}
        return sheets | {str(name) for name in content.get("made", ()) if is_made(str(name))}
    except (OutputError, KeyError, TypeError):
        return set()


def _is_plain(name: str) -> bool:
    is_ours = name.startswith("board-") and name.endswith(".dxf")
    return is_ours and Path(name).name == name and is_seen(name)
