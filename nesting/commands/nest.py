"""``nest``: the whole job, from the project file to the cut sheets."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.arguments import AGAIN_SECONDS, USUAL_SECONDS
from nesting.commands.again import last_plan, moving_mm2, tell_broken, tell_changes
from nesting.commands.shared import (
    ALL_PLACED,
    PARTS_LEFT,
    by_book_now,
    folder_of,
    live_line,
    read,
    say,
    show,
    tell_odd_figures,
    told,
    work_shown,
)
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.accounts.account import Account
    from nesting.changes import LastPlan
    from nesting.console import ProgressLine
    from nesting.engine.search.ahead import Ahead
    from nesting.nest import CuttingPlan
    from nesting.processes.interrupt import Stopping
    from nesting.project import Project
    from nesting.shop.kinds import Output


def nest(given: argparse.Namespace) -> int:
    """Do the whole job, while what it needs on a machine's first run is compiled beside it."""
    from nesting.engine.search.ahead import compiled_ahead
    from nesting.processes.interrupt import signals_answered

    with signals_answered() as stopping, compiled_ahead() as ahead:
        return _whole_job(given, ahead, stopping)


def _whole_job(given: argparse.Namespace, ahead: Ahead, stopping: Stopping) -> int:
    """Read project, pack, check, account, write, report."""
    from nesting.need import Misfit
    from nesting.outputs import room_for
    from nesting.processes.interrupt import exit_code

    with ExitStack() as until_written:
        with live_line(given) as show:
            show.say("reading the project")
            moving = moving_mm2(given)
            project = read(given)
            folder = folder_of(given, project)
            _require_cutter(given, project)
            until_written.enter_context(
                room_for(project, folder, also=_also(given, project), overwrite=given.overwrite)
            )
            tell_odd_figures(project)
            project = by_book_now(given, project)
            _require_something(project)
            last = last_plan(given, project, folder)
            plan = _packed(given, project, (last, moving), stopping, ahead, show)
        account, files, remarks = _written(given, project, plan, folder, stopping, last)
    _report(given, project, plan, account, files, last)
    for remark in remarks:
        say(f"note: {told(remark, given)}", sys.stderr)
    if stopping.number is not None:
        return exit_code(stopping.number)
    is_short = any(left.reason is not Misfit.LATER for left in plan.unplaced)
    return PARTS_LEFT if is_short and given.must_place_all else ALL_PLACED


def _written(
    given: argparse.Namespace,
    project: Project,
    plan: CuttingPlan,
    folder: Path,
    stopping: Stopping,
    last: LastPlan | None,
) -> tuple[Account, Sequence[Path], Sequence[str]]:
    """Check a plan, account for it and write it; a signal takes it back until it is in place.

    With the files comes what is to be said of them.
    """
    from nesting.accounts.account import account_for
    from nesting.outputs import drawing_beside, write_outputs
    from nesting.processes.interrupt import Stage
    from nesting.referee.check import require_sound
    from nesting.referee.wishes import require_wishes
    from nesting.shop.kinds import Paper
    from nesting.work import Step

    stopping.reach(Stage.WRITING)
    number = stopping.number
    if number is None:
        _tell_no_time(plan)
    else:
        _say_stopped(number, "writing the best plan so far; once more leaves the folder as it was")
    with drawing_beside(plan) as helpers, work_shown(given) as tell:
        tell(Step("measuring the plan again"))
        require_sound(plan, project.needs, project.rules)
        require_wishes(plan, project.wishes, plan.fixed)
        account, remarks = account_for(plan, project.rules), list[str]()
        files = write_outputs(
            project, plan, account, folder,
            seed=given.seed, dxf_version=given.dxf,
            also=_also(given, project),
            paper=Paper(given.paper or project.paper),
            overwrite=given.overwrite, on_progress=tell, on_remark=remarks.append,
            when_placed=lambda: stopping.reach(Stage.WRITTEN), helpers=helpers, last=last,
        )  # fmt: skip
    if number is None and stopping.number is not None:
        _say_stopped(stopping.number, "the plan was being written, and is written whole")
    return account, files, remarks


def _require_something(project: Project) -> None:
    """Refuse what the book leaves nothing of, in a sentence: all is sawn, or all wood is gone."""
    from nesting.errors import BookError

    if not project.needs:
        raise BookError(
            f"all pieces of {project.name} are sawn, by the book: nothing is to be nested"
        )
    if not project.stock:
        raise BookError(
            "no board is free, by the book: all are sawn up, gone, or reserved by others"
        )
    later = project.wishes.not_yet
    if sum(need.quantity for need in project.needs) == len(later):
        following = min(wish.stage for wish in later.values())
        raise BookError(
            f"all pieces that are needed in stage {project.wishes.stage} are sawn, by the book: "
            f"write stage: {following} for what comes next"
        )


def _require_cutter(given: argparse.Namespace, project: Project) -> None:
    """Refuse, before a long search, a cutter that no plan by the project's rules has room for."""
    from nesting.errors import OptionError
    from nesting.shop.check_machine import check_cutter
    from nesting.shop.kinds import Output

    if Output.MACHINE not in _also(given, project) or project.cutter_mm is None:
        return
    for fault in check_cutter(project.cutter_mm, project.rules):
        raise OptionError(str(fault))


def _also(given: argparse.Namespace, project: Project) -> Sequence[Output]:
    """Return what is written beside the cut sheets; what changed too, if a last plan is in view."""
    from nesting.shop.kinds import Output

    also = project.outputs if given.write is None else given.write
    return also if given.again is None or Output.CHANGES in also else (*also, Output.CHANGES)


def _say_stopped(number: int, what_follows: str) -> None:
    from nesting.processes.signals import name_of

    say(f"note: stopped by {name_of(number)}: {what_follows}", sys.stderr)


def _tell_no_time(plan: CuttingPlan) -> None:
    """Say for how many parts there was no time to find out why they are left over."""
    from nesting.left_over import NOT_LOOKED_AT
    from nesting.need import Misfit

    count = sum(
        left.count
        for left in plan.unplaced
        if left.prospect == NOT_LOOKED_AT and left.reason is Misfit.NO_ROOM
    )
    if count:
        say(
            f"note: the time was over before all was tried for {counted(count, 'piece')} left "
            "over; with more --seconds some may find room",
            sys.stderr,
        )


def _packed(
    given: argparse.Namespace,
    project: Project,
    before: tuple[LastPlan | None, float | None],
    stopping: Stopping,
    ahead: Ahead,
    show: ProgressLine,
) -> CuttingPlan:
    """Search; ``before`` is the last plan and what moving a piece of it has to save."""
    from nesting.engine.pack import pack
    from nesting.engine.progress import Progress
    from nesting.foretold import limits
    from nesting.processes.cluster import search_workers
    from nesting.processes.interrupt import Stage

    def on_progress(progress: Progress) -> None:
        stopping.reach(Stage.SEARCHING)
        show(progress)

    stop, finish = limits(
        given.seconds, given.rounds,
        usual_seconds=USUAL_SECONDS if given.again is None else AGAIN_SECONDS, begun=given.begun,
        needs=project.needs, boards=project.stock, stops=[stopping.asked],
    )  # fmt: skip
    if ahead.is_busy:
        show.say("compiling what the first plan needs, once on this machine")
        ahead.wait()
    show.say("making the first plan")
    last, moving = before
    with search_workers(given.cluster, given.workers) as (executor, workers):
        return pack(
            project.needs, project.stock, project.rules,
            stop=stop, seed=given.seed, on_progress=on_progress,
            workers=workers, executor=executor, ahead=ahead, finish=finish,
            wishes=project.wishes, last=last.pieces if last else (), moving_mm2=moving,
        )  # fmt: skip


def _report(
    given: argparse.Namespace,
    project: Project,
    plan: CuttingPlan,
    account: Account,
    files: Sequence[Path],
    last: LastPlan | None,
) -> None:
    if given.json:
        say(files[-1].read_text(encoding="utf-8"))
        return
    if not given.quiet:
        from nesting.console import report

        show(report(plan, account, project.unit))
        tell_broken(given, project, plan, last)
    if given.again is not None:
        tell_changes(project, last, plan)
    say(f"\n{_closing(plan, files, _also(given, project))}")


def _closing(plan: CuttingPlan, files: Sequence[Path], also: Sequence[Output]) -> str:
    """Return what was written and what to open first."""
    from nesting.shop.kinds import Output, in_words

    *_, overview, summary = files
    named = [counted(len(plan.nests), "cut sheet"), overview.name]
    for output in also:
        named += in_words([path.name for path in files], output)
    opened = f"open {overview} in any CAD program, then one sheet a board"
    first = next((p for p in files if p.name == "page.html" and Output.PAGE in also), None)
    if first is not None:
        opened = f"open {first} in a browser; {overview.name} and the sheets in any CAD program"
    return f"wrote {', '.join(named)} and {summary.name} into {summary.parent}\nnext: {opened}"
