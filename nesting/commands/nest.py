"""``nest``: the whole job, from the project file to the cut sheets."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.arguments import USUAL_SECONDS
from nesting.commands.shared import (
    ALL_PLACED,
    PARTS_LEFT,
    STOPPED,
    folder_of,
    live_line,
    read,
    say,
    show,
    tell_odd_figures,
    work_shown,
)
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.account import Account
    from nesting.console import ProgressLine
    from nesting.engine.ahead import Ahead
    from nesting.engine.stop import Stop, WhenAsked
    from nesting.nest import CuttingPlan
    from nesting.project import Project


def nest(given: argparse.Namespace) -> int:
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

    with live_line(given) as show:
        show.say("reading the project")
        project = read(given)
        folder = folder_of(given, project)
        require_room(folder, overwrite=given.overwrite)
        tell_odd_figures(project)
        with ctrl_c_asks() as asked:
            plan = _packed(given, project, asked, ahead, show)
    with work_shown(given) as tell:
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


def _report(
    given: argparse.Namespace,
    project: Project,
    plan: CuttingPlan,
    account: Account,
    files: Sequence[Path],
) -> None:
    if given.json:
        say(files[-1].read_text(encoding="utf-8"))
        return
    if not given.quiet:
        from nesting.console import report

        show(report(plan, account, project.unit))
    say(
        f"\nwrote {counted(len(plan.nests), 'cut sheet')}, {files[-2].name} and "
        f"{files[-1].name} into {files[-1].parent}\n"
        f"next: open {files[-2]} in any CAD program, then one sheet a board"
    )
