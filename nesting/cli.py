"""The command line: the only module that prints.

Nothing heavy is imported before a command needs it, so that help comes at once.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.arguments import USUAL_SECONDS, make_parser
from nesting.errors import (
    ClusterError,
    DrawingError,
    OutputError,
    ProjectFileError,
    RefereeError,
    SalvageNestError,
)
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.account import Account
    from nesting.engine.stop import Stop, WhenAsked
    from nesting.nest import CuttingPlan
    from nesting.project import Project

ALL_PLACED, USAGE, PROJECT_WRONG, PARTS_LEFT, NO_FILE, REFEREE_SAYS_NO, STOPPED = (
    0, 2, 3, 4, 5, 6, 130,
)  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = make_parser()
    given = parser.parse_args(arguments)
    given.unit = None
    if given.version:
        return _print_version()
    if given.command is None:
        parser.print_help()
        return USAGE
    try:
        return COMMANDS[given.command](given)
    except SalvageNestError as error:
        if given.debug:
            raise
        print(f"salvage-nest: {_told(_headline(error), given)}", file=sys.stderr)
        return _exit_code(error)


def _told(message: object, given: argparse.Namespace) -> str:
    """Return a message in the unit of the project that a command has read."""
    from nesting.told import told_in
    from nesting.units import Unit

    return told_in(str(message), given.unit or Unit.MM)


def _read(given: argparse.Namespace) -> Project:
    """Return the project that a command is about; messages are in its unit from here on."""
    from nesting.project import read_project

    project = read_project(given.project)
    given.unit = project.unit
    return project


def _headline(error: SalvageNestError) -> str:
    if isinstance(error, ProjectFileError):
        count = len(error.findings)
        return f"{counted(count, 'thing')} to put right; nothing was written\n{error}"
    if isinstance(error, RefereeError):
        return f"the referee refused the plan, so nothing was written\n{error}"
    return str(error)


def _exit_code(error: SalvageNestError) -> int:
    if isinstance(error, RefereeError):
        return REFEREE_SAYS_NO
    is_out_of_reach = isinstance(error, OutputError | DrawingError | ClusterError)
    return NO_FILE if is_out_of_reach else PROJECT_WRONG


def _print_version() -> int:
    from importlib.metadata import version

    print(f"salvage-nest {version('salvage-nest')}")
    return ALL_PLACED


def _nest(given: argparse.Namespace) -> int:
    """Read project, pack, check, account, write, report: the whole job."""
    from nesting.account import account_for
    from nesting.check import require_sound
    from nesting.interrupt import ctrl_c_asks
    from nesting.outputs import require_room, write_outputs

    project = _read(given)
    folder = _folder(given, project)
    require_room(folder, overwrite=given.overwrite)
    with ctrl_c_asks() as asked:
        plan = _packed(given, project, asked)
    require_sound(plan, project.needs, project.rules)
    account = account_for(plan, project.rules)
    files = write_outputs(
        project, plan, account, folder,
        seed=given.seed, dxf_version=given.dxf, overwrite=given.overwrite,
    )  # fmt: skip
    _report(given, project, plan, account, files)
    if asked.is_asked:
        return STOPPED
    return PARTS_LEFT if plan.unplaced else ALL_PLACED


def _packed(given: argparse.Namespace, project: Project, asked: WhenAsked) -> CuttingPlan:
    from rich.console import Console

    from nesting.cluster import search_workers
    from nesting.console import live_search
    from nesting.engine.pack import pack

    errors = Console(stderr=True)
    is_shown = errors.is_terminal and not (given.quiet or given.json or given.no_progress)
    with (
        live_search(errors, project.unit, is_shown=is_shown) as show,
        search_workers(given.cluster, given.workers) as (executor, workers),
    ):
        return pack(
            project.needs, project.stock, project.rules,
            stop=_stop(given, asked), seed=given.seed, on_progress=show,
            workers=workers, executor=executor,
        )  # fmt: skip


def _stop(given: argparse.Namespace, asked: WhenAsked) -> Stop:
    from nesting.engine.stop import FirstOf, MaxRounds, MaxSeconds

    limits: list[Stop] = [asked]
    if given.rounds is not None:
        limits.append(MaxRounds(given.rounds))
    if given.seconds is not None or given.rounds is None:
        limits.append(MaxSeconds(USUAL_SECONDS if given.seconds is None else given.seconds))
    return FirstOf(limits)


def _folder(given: argparse.Namespace, project: Project) -> Path:
    """Return the folder asked for, the project's own, or output/ and a name for the project."""
    if given.output is not None:
        return Path(given.output)
    if project.folder is not None:
        return Path(os.path.normpath(project.folder))
    path = project.path.resolve()
    name = path.parent.name if path.stem == "project" else path.stem
    return Path("output") / (re.sub(r"[^A-Za-z0-9._-]+", "-", name) or "project")


def _report(
    given: argparse.Namespace,
    project: Project,
    plan: CuttingPlan,
    account: Account,
    files: Sequence[Path],
) -> None:
    if given.json:
        print(files[-1].read_text(encoding="utf-8"))
        return
    if not given.quiet:
        from rich.console import Console

        from nesting.console import report

        Console().print(report(plan, account, project.unit))
    print(
        f"\nwrote {counted(len(plan.nests), 'cut sheet')}, {files[-2].name} and "
        f"{files[-1].name} into {files[-1].parent}\n"
        f"next: open {files[-2]} in any CAD program, then one sheet a board"
    )


def _check(given: argparse.Namespace) -> int:
    from nesting.units import format_area

    project = _read(given)
    keep_outs = sum(len(board.keep_outs) for board in project.stock)
    copies = sum(need.quantity for need in project.needs)
    area = format_area(sum(board.area_mm2 for board in project.stock), project.unit)
    print(
        f"{project.name}: {counted(len(project.stock), 'board')} ({area}) with "
        f"{counted(keep_outs, 'keep-out')}; "
        f"{counted(len(project.needs), 'line of parts', 'lines of parts')}, "
        f"{counted(copies, 'piece')}. Nothing is wrong with the file."
    )
    for need in project.needs:
        if all(need.misfit(board, project.rules) for board in project.stock):
            reasons = {need.misfit(board, project.rules) for board in project.stock}
            print(f"note: no board can give {need.part}: {'; '.join(sorted(map(str, reasons)))}")
    return ALL_PLACED


def _remeasure(given: argparse.Namespace) -> int:
    from nesting.outputs import remeasured

    project = _read(given)
    count, faults = remeasured(project, _folder(given, project))
    for fault in faults:
        print(_told(fault, given))
    sheets = counted(count, "sheet")
    if faults:
        found = f"{counted(len(faults), 'fault')} in {sheets}: do not cut from them"
        raise RefereeError([found])
    print(f"{sheets} read back: every number agrees with the plan, every rule is kept")
    return ALL_PLACED


def _plank(given: argparse.Namespace) -> int:
    from nesting.engine.stop import MaxSeconds
    from nesting.new_timber import new_planks
    from nesting.units import format_length, parse_length

    project = _read(given)
    width = parse_length(given.width, project.unit)
    planks = new_planks(
        _plan_of(given, project).unplaced,
        project.rules,
        width_mm=width,
        stop=lambda: MaxSeconds(given.seconds),
        workers=os.cpu_count() or 1,
    )
    for plank in planks:
        sizes = [plank.thickness_mm, plank.width_mm, plank.length_mm]
        least = format_length(plank.least_length_mm, project.unit)
        parts = ", ".join(f"{name} x {count}" if count > 1 else name for name, count in plank.parts)
        print(
            f"{plank.species}, rough {' x '.join(format_length(s, project.unit) for s in sizes)}, "
            f"{plank.board_feet:.1f} board feet: {parts}; none can be shorter than {least}"
        )
    if not planks:
        print("no part is left over: nothing to buy")
    return ALL_PLACED


def _strength(given: argparse.Namespace) -> int:
    from rich.console import Console

    from nesting.console import strength_report
    from nesting.movement import movements
    from nesting.strength import strength_of

    project = _read(given)
    plan = _plan_of(given, project)
    pieces = strength_of(plan, project.rules)
    moved = movements(plan, given.moisture)
    Console().print(strength_report(pieces, moved, given.moisture, project.unit))
    return ALL_PLACED


def _plan_of(given: argparse.Namespace, project: Project) -> CuttingPlan:
    """Return the plan that was last written for a project."""
    from nesting.outputs import read_summary
    from nesting.summary import plan_from

    return plan_from(read_summary(_folder(given, project)), project.needs, project.stock)[0]


def _families(given: argparse.Namespace) -> int:
    from parts.describe import family_list, family_page

    print(family_page(given.family) if given.family else family_list())
    return ALL_PLACED


def _schema(given: argparse.Namespace) -> int:
    from nesting.project.schema import project_schema

    text = json.dumps(project_schema(), indent=1) + "\n"
    if given.output is None:
        print(text, end="")
        return ALL_PLACED
    from nesting.sheets.whole_file import write_whole

    write_whole(given.output, text.encode(), overwrite=given.overwrite)
    print(f"wrote {given.output}")
    return ALL_PLACED


def _solids(given: argparse.Namespace) -> int:
    from parts.step_files import write_solids

    project = _read(given)
    folder = _folder(given, project) / "solids"
    files = write_solids(project.parts, folder, overwrite=given.overwrite)
    print(f"wrote {counted(len(files), 'STEP file')} into {folder}")
    return ALL_PLACED


def _boat(given: argparse.Namespace) -> int:
    from nesting.boat_outputs import boards_of, write_boat
    from nesting.outputs import SUMMARY

    project = _read(given)
    folder = _folder(given, project)
    is_nested = (folder / SUMMARY).exists()
    boards = boards_of(_plan_of(given, project)) if is_nested else {}
    files = write_boat(project, boards, folder, overwrite=given.overwrite)
    print(f"wrote {', '.join(path.name for path in files)} into {folder}")
    if not is_nested:
        print("nothing is nested there yet, so no piece has a board: nest, then ask again")
    return ALL_PLACED


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "nest": _nest,
    "check": _check,
    "remeasure": _remeasure,
    "plank": _plank,
    "strength": _strength,
    "families": _families,
    "schema": _schema,
    "solids": _solids,
    "boat": _boat,
}


def run() -> None:
    """Run as a program: a closed pipe ends it quietly."""
    try:
        code = main()
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = ALL_PLACED
    except KeyboardInterrupt:
        code = STOPPED
    sys.exit(code)
