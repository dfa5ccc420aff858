"""``judge``: what is worth pulling off an old boat, before she is taken apart."""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.commands.shared import (
    ALL_PLACED,
    folder_in,
    folder_of,
    print_cautions,
    read,
    say,
    show,
    work_shown,
)
from nesting.folders.file_names import stem_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nesting.judging.choice import Choice
    from nesting.judging.forecast import Forecast
    from nesting.project import Project
    from nesting.text_table import TextTable


def judge(given: argparse.Namespace) -> int:
    """Read boat and parts list, choose, forecast if asked, report, write."""
    from nesting.folders.whole_folder import require_free
    from nesting.judging.boat_doubts import boat_doubts
    from nesting.judging.choice import choose
    from nesting.judging.outputs import FILES, write_judged
    from nesting.judging.question import Question
    from nesting.judging.read_old_boat import read_old_boat
    from nesting.judging.wanted import wanted_of
    from nesting.judging.words import about, tables_of
    from nesting.shop.kinds import Paper
    from nesting.work import Step

    with work_shown(given) as tell:
        tell(Step("reading the boat and the parts list"))
        boat, ways, unit = read_old_boat(given.old_boat)
        project = read(given)
        given.unit = unit
        folder = _folder(given, project)
        require_free([folder / name for name in FILES], overwrite=given.overwrite)
        tell(Step("choosing what is worth pulling"))
        wanted = wanted_of(project.needs, project.rules, boat.rates)
        choice = choose(Question(boat, wanted, project.rules, ways))
    for doubt in boat_doubts(boat, unit):
        say(f"note: {doubt}", sys.stderr)
    found = _forecast(given, choice, project)
    tables = tables_of(choice, unit, found)
    if given.json:
        from nesting.judging.words import as_data

        say(json.dumps(as_data(choice, found), indent=1))
    else:
        _report(choice, tables, about(found))
    files = write_judged(
        choice, tables, folder, about=about(found),
        paper=Paper(project.paper), overwrite=given.overwrite,
    )  # fmt: skip
    if not given.json:
        say(f"\nwrote {', '.join(path.name for path in files)} into {folder}")
    return ALL_PLACED


def _folder(given: argparse.Namespace, project: Project) -> Path:
    """Return where outputs go: as asked for, as the project says, or under the old boat's name."""
    from nesting.judging.outputs import FOLDER

    has_own = given.output is not None or project.folder is not None
    by_name = Path("output") / stem_of(given.old_boat.stem)
    return folder_in(folder_of(given, project) if has_own else by_name, FOLDER)


def _forecast(given: argparse.Namespace, choice: Choice, project: Project) -> Forecast | None:
    """Return what many piles give; boards of the project that are of a member are real ones."""
    from nesting.judging.forecast import forecast

    if not given.piles or not choice.solved.saved:
        return None
    recorded = [b for b in project.stock if b.member in choice.question.boat.by_name]
    with work_shown(given) as tell:
        return forecast(
            choice, project.needs, project.rules, recorded=recorded if given.recorded else [],
            piles=given.piles, seed=given.seed, workers=given.workers or os.cpu_count() or 1,
            on_progress=tell,
        )  # fmt: skip


def _report(choice: Choice, tables: Sequence[TextTable], about: str) -> None:
    from nesting.console import text_table
    from nesting.judging.words import headline

    say(headline(choice))
    for table in tables:
        if table.rows:
            show(text_table(table))
    say(f"\n{about}")
    print_cautions()
