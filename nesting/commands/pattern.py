"""``pattern``: the patterns of one part, or of all, before there is any plan."""

from __future__ import annotations

import argparse
import difflib
from typing import TYPE_CHECKING

from nesting.commands.shared import (
    ALL_PLACED,
    folder_in,
    folder_of,
    plan_of,
    read_told,
    say,
    tell_odd_figures,
    work_shown,
)
from nesting.errors import OptionError, OutputError
from nesting.words import counted, first_few

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from nesting.need import Need
    from nesting.project import Project
    from nesting.shop.patterns import Subject


def pattern(given: argparse.Namespace) -> int:
    """Lay patterns out, write them, and say how many pages there are."""
    from nesting.shop.patterns import page_count, pattern_files, pattern_set
    from nesting.work import Step

    project = read_told(given)
    tell_odd_figures(project)
    needs = _needs(given, project)
    folder, stem = folder_in(folder_of(given, project), "patterns"), _stem(given, project)
    with work_shown(given) as tell:
        tell(Step(f"laying out {counted(len(needs), 'part')}"))
        made = pattern_set(_subject(given, project, needs))
        tell(Step(f"writing {counted(page_count(made), 'page')}"))
        files = _written(list(pattern_files(made, stem)), folder, given)
    for remark in made.remarks:
        say(f"note: {remark}")
    say(
        f"wrote {', '.join(files)} into {folder}: {counted(len(made.patterns), 'pattern')} on "
        f"{counted(page_count(made), 'page')} of {made.subject.paper}\n"
        "next: print one page at 100 %, and measure its square before you trust a pattern"
    )
    return ALL_PLACED


def _needs(given: argparse.Namespace, project: Project) -> Sequence[Need]:
    """Return the part asked for, or all of them."""
    if given.part is None:
        return project.needs
    found = [need for need in project.needs if need.part == given.part]
    if not found:
        from nesting.unseen import quoted

        names = [need.part for need in project.needs]
        near = difflib.get_close_matches(given.part, names, n=3)
        ours = f"did you mean {' or '.join(map(quoted, near))}" if near else _some(names)
        raise OptionError(f"no part is called {quoted(given.part)}; {ours}")
    return found


def _some(names: Sequence[str]) -> str:
    return f"there are {first_few(names, 6)}"


def _stem(given: argparse.Namespace, project: Project) -> str:
    """Return how the files of one part are called; nothing for all of them."""
    from nesting.folders.file_names import file_names

    if given.part is None:
        return ""
    return file_names((n.part for n in project.needs), prefix="pattern-", ending="")[given.part]


def _subject(given: argparse.Namespace, project: Project, needs: Sequence[Need]) -> Subject:
    from nesting.shop.identity import plan_identity
    from nesting.shop.kinds import Paper
    from nesting.shop.patterns import Subject

    try:
        plan = plan_of(given, project)
    except OutputError:
        plan = None  # Nothing is nested yet, or another project was.
    return Subject(
        project, needs, Paper(given.paper or project.paper), project.roll_mm, plan,
        plan_identity(plan.nests) if plan else "",
    )  # fmt: skip


def _written(
    files: Sequence[tuple[str, bytes]], folder: Path, given: argparse.Namespace
) -> list[str]:
    """Write files into a folder, all of them or none, and return their names."""
    from nesting.folders.whole_folder import held, replaced_whole, require_free
    from nesting.sheets.whole_file import write_whole

    with held(folder):
        require_free([folder / name for name, _ in files], overwrite=given.overwrite)
        with replaced_whole(folder) as fresh:
            for name, content in files:
                write_whole(fresh / name, content)
    return [name for name, _ in files]
