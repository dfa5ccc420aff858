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
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.arguments import USUAL_SECONDS, make_parser
from nesting.errors import (
    ClusterError,
    DrawingError,
    LengthError,
    OptionError,
    OutputError,
    ProjectFileError,
    RefereeError,
    SalvageNestError,
)
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.account import Account
    from nesting.console import ProgressLine
    from nesting.engine.ahead import Ahead
    from nesting.engine.stop import Stop, WhenAsked
    from nesting.nest import CuttingPlan
    from nesting.new_timber import NewPlank, SortedOut
    from nesting.project import Project
    from nesting.work import Tell

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
    if isinstance(error, OptionError):
        return USAGE
    is_out_of_reach = isinstance(error, OutputError | DrawingError | ClusterError)
    return NO_FILE if is_out_of_reach else PROJECT_WRONG


def _print_version() -> int:
    from importlib.metadata import version

    print(f"salvage-nest {version('salvage-nest')}")
    return ALL_PLACED


def _nest(given: argparse.Namespace) -> int:
    """Do the whole job, while what it needs on a machine's first run is compiled beside it."""
    from nesting.engine.ahead import compiled_ahead

    with compiled_ahead() as ahead:
        return _whole_job(given, ahead)


def _whole_job(given: argparse.Namespace, ahead: Ahead) -> int:
    """Read project, pack, check, account, write, report."""
    from nesting.account import account_for
    from nesting.check import require_sound
    from nesting.interrupt import ctrl_c_asks
    from nesting.outputs import require_room, write_outputs
    from nesting.work import Step

    with _live_line(given) as show:
        show.say("reading the project")
        project = _read(given)
        folder = _folder(given, project)
        require_room(folder, overwrite=given.overwrite)
        _tell_odd_figures(project)
        with ctrl_c_asks() as asked:
            plan = _packed(given, project, asked, ahead, show)
    with _work_shown(given) as tell:
        tell(Step("measuring the plan again"))
        require_sound(plan, project.needs, project.rules)
        account = account_for(plan, project.rules)
        files = write_outputs(
            project, plan, account, folder,
            seed=given.seed, dxf_version=given.dxf, overwrite=given.overwrite, on_progress=tell,
        )  # fmt: skip
    _report(given, project, plan, account, files)
    if asked.is_asked:
        return STOPPED
    return PARTS_LEFT if plan.unplaced and given.must_place_all else ALL_PLACED


def _live_line(given: argparse.Namespace) -> AbstractContextManager[ProgressLine]:
    """Return a line of the terminal that says what goes on, hidden where it is not wanted."""
    from rich.console import Console

    from nesting.console import live_search

    errors = Console(stderr=True)
    is_shown = errors.is_terminal and not (given.quiet or given.json or given.no_progress)
    return live_search(errors, is_shown=is_shown)


def _packed(
    given: argparse.Namespace, project: Project, asked: WhenAsked, ahead: Ahead, show: ProgressLine
) -> CuttingPlan:
    from nesting.cluster import search_workers
    from nesting.engine.pack import pack

    stop = _stop(given, asked)
    if ahead.is_busy:
        show.say("compiling what the first plan needs, once on this machine")
        ahead.wait()
    show.say("making the first plan")
    with search_workers(given.cluster, given.workers) as (executor, workers):
        return pack(
            project.needs, project.stock, project.rules,
            stop=stop, seed=given.seed, on_progress=show,
            workers=workers, executor=executor, ahead=ahead,
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
    from nesting.remarks import remarks
    from nesting.units import format_area

    project = _read(given)
    keep_outs = sum(len(board.keep_outs) for board in project.stock)
    copies = sum(need.quantity for need in project.needs)
    area = format_area(sum(board.area_mm2 for board in project.stock), project.unit)
    found = remarks(project)
    to_look_at = f"It can be nested; {counted(len(found), 'thing')} to look at:"
    print(
        f"{project.name}: {counted(len(project.stock), 'board')} ({area}) with "
        f"{counted(keep_outs, 'keep-out')}; "
        f"{counted(len(project.needs), 'line of parts', 'lines of parts')}, "
        f"{counted(copies, 'piece')}. {to_look_at if found else 'Nothing is wrong with the file.'}"
    )
    for remark in found:
        print(f"note: {remark}")
    return ALL_PLACED


def _tell_odd_figures(project: Project) -> None:
    """Say which figures look mistyped: what follows goes by them, or does without them."""
    from nesting.remarks import FIGURES, remarks

    for remark in remarks(project, FIGURES):
        print(f"note: {remark}", file=sys.stderr)


def _remeasure(given: argparse.Namespace) -> int:
    from nesting.remeasure import remeasured

    project = _read_told(given)
    with _work_shown(given) as tell:
        count, faults = remeasured(project, _folder(given, project), on_progress=tell)
    for fault in faults:
        print(_told(fault, given))
    sheets = counted(count, "sheet")
    if faults:
        found = f"{counted(len(faults), 'fault')} in {sheets}: do not cut from them"
        raise RefereeError([found])
    print(f"{sheets} read back: every number agrees with the plan, every rule is kept")
    return ALL_PLACED


def _plank(given: argparse.Namespace) -> int:
    """Sort the parts left over, say which are for no such plank, search the planks, report."""
    from nesting.buy_words import notes_before, plank_data, too_narrow
    from nesting.new_timber import sorted_out

    project = _read_told(given)
    width = _width(given, project)
    unplaced = _plan_of(given, project).unplaced
    found = sorted_out(unplaced, project.rules, width_mm=width)
    if found.too_wide and len(found.too_wide) == len(unplaced):
        raise OptionError(too_narrow(found.too_wide, given.width, project.unit))
    for note in [] if given.quiet or given.json else notes_before(found, project.unit):
        print(f"note: {note}", file=sys.stderr, flush=True)
    planks = _planks(given, project, found, width)
    if given.json:
        print(json.dumps(plank_data(planks, found), indent=1))
    elif not unplaced:
        print("no part is left over: nothing to buy")
    else:
        from rich.console import Console

        from nesting.buy_tables import plank_report

        Console().print(plank_report(planks, found, project.unit))
    if not given.json:
        _print_cautions()
    return ALL_PLACED


def _width(given: argparse.Namespace, project: Project) -> float:
    """Return the plank's width in mm."""
    from nesting.units import parse_length

    try:
        width = parse_length(given.width, project.unit)
    except LengthError as error:
        raise OptionError(f"--width: {error}") from error
    if width <= 0:
        raise OptionError(f"--width {given.width} is not over 0: give a plank's width, as 8 in")
    return width


def _planks(
    given: argparse.Namespace, project: Project, found: SortedOut, width_mm: float
) -> Sequence[NewPlank]:
    """Return the shortest plank found for each wood and thickness, saying how far it is."""
    from nesting.buy_words import plank_step
    from nesting.engine.stop import MaxSeconds
    from nesting.new_timber import new_planks

    groups = list(found.groups)
    with _work_shown(given) as tell:
        return new_planks(
            found.groups, project.rules, width_mm=width_mm,
            stop=lambda: MaxSeconds(given.seconds), workers=os.cpu_count() or 1,
            on_progress=lambda *at: tell(plank_step(groups, *at, unit=project.unit)),
        )  # fmt: skip


def _read_told(given: argparse.Namespace) -> Project:
    """Return the project, saying so meanwhile: fairing a boat's lines takes some seconds."""
    from nesting.work import Step

    with _work_shown(given) as tell:
        tell(Step("reading the project"))
        return _read(given)


def _work_shown(given: argparse.Namespace) -> AbstractContextManager[Tell]:
    """Return what shows on stderr how a long piece of work comes on, if that is wanted."""
    from rich.console import Console

    from nesting.console import live_work

    is_json = getattr(given, "json", False)
    is_shown = not (given.quiet or given.no_progress or is_json)
    return live_work(Console(stderr=True), is_shown=is_shown)


def _strength(given: argparse.Namespace) -> int:
    from rich.console import Console

    from nesting.console import strength_report
    from nesting.movement import movements
    from nesting.strength import strength_of
    from parts.moisture import INSTALLED_PERCENT

    project = _read(given)
    plan = _plan_of(given, project)
    pieces = strength_of(plan, project.rules)
    to_percent = INSTALLED_PERCENT if given.moisture is None else given.moisture
    moved = movements(plan, to_percent)
    Console().print(strength_report(pieces, moved, to_percent, project.unit))
    return ALL_PLACED


def _print_cautions() -> None:
    from rich.console import Console

    from nesting.console import cautions

    Console().print(cautions())


def _plan_of(given: argparse.Namespace, project: Project) -> CuttingPlan:
    """Return the plan that was last written for a project."""
    from nesting.summary import plan_from
    from nesting.summary_file import read_summary

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

    project = _read_told(given)
    folder = _folder(given, project) / "solids"
    with _work_shown(given) as tell:
        files = write_solids(project.parts, folder, overwrite=given.overwrite, on_progress=tell)
    print(f"wrote {counted(len(files), 'STEP file')} into {folder}")
    _print_cautions()
    return ALL_PLACED


def _boat(given: argparse.Namespace) -> int:
    from nesting.boat_outputs import boards_of, write_boat
    from nesting.summary_file import SUMMARY

    project = _read_told(given)
    folder = _folder(given, project)
    is_nested = (folder / SUMMARY).exists()
    _tell_odd_figures(project)
    boards = boards_of(_plan_of(given, project)) if is_nested else {}
    with _work_shown(given) as tell:
        files = write_boat(project, boards, folder, overwrite=given.overwrite, on_progress=tell)
    print(f"wrote {', '.join(path.name for path in files)} into {folder}")
    if not is_nested:
        print("nothing is nested there yet, so no piece has a board: nest, then ask again")
    _print_cautions()
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
