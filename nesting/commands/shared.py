"""What several commands do alike: read the project, show how far work has come, find the plan.

With the other modules of this folder and :mod:`nesting.cli` the only one that prints. Nothing heavy
is imported before a command needs it, so that help comes at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TextIO

from nesting.folders.file_names import stem_of
from nesting.streams import set_in, terminal_width
from nesting.unseen import shown

if TYPE_CHECKING:
    from rich.console import RenderableType

    from nesting.console import ProgressLine
    from nesting.nest import CuttingPlan
    from nesting.project import Project
    from nesting.work import Tell

ALL_PLACED, USAGE, PROJECT_WRONG, PARTS_LEFT, NO_FILE, REFEREE_SAYS_NO, STOPPED, UNREAD = (
    0, 2, 3, 4, 5, 6, 130, 141,
)  # fmt: skip
"""The last two as the shell counts what a signal ended: 128 and 2 (SIGINT) or 13 (SIGPIPE)."""


def say(text: object, stream: TextIO | None = None) -> None:
    """Print a text, with whatever nobody sees in it written out, and set for a terminal."""
    told = shown(str(text))
    if width := terminal_width(stream or sys.stdout):
        told = "\n".join(set_in(line, width) for line in told.split("\n"))
    print(told, file=stream, flush=stream is not None)


def show(what: RenderableType) -> None:
    """Print tables and the like."""
    from nesting.console import terminal

    terminal().print(what)


def told(message: object, given: argparse.Namespace) -> str:
    """Return a message in the unit of the project that a command has read."""
    from nesting.told import told_in
    from nesting.units import Unit

    return told_in(str(message), given.unit or Unit.MM)


def read(given: argparse.Namespace) -> Project:
    """Return the project that a command is about; messages are in its unit from here on."""
    from nesting.project import read_project

    project = read_project(
        given.project, dxf_version=getattr(given, "dxf", None), known=known_to_book
    )
    given.unit = project.unit
    return _with_widths(given, project)


def known_to_book(path: Path) -> Mapping[str, str]:
    """Return the boards of a stock book, each with what it was on the old boat."""
    from nesting.book.wished import members_in

    return members_in(path)


def _with_widths(given: argparse.Namespace, project: Project) -> Project:
    """Return a project with the widths of roll and cutter that the command line gives, if any."""
    from nesting.shop.kinds import cutter_across, roll_width

    roll = _length_of(given, "roll", project, roll_width)
    cutter = _length_of(given, "cutter", project, cutter_across)
    return replace(project, roll_mm=roll or project.roll_mm, cutter_mm=cutter or project.cutter_mm)


def _length_of(
    given: argparse.Namespace, option: str, project: Project, checked: Callable[[float], float]
) -> float | None:
    """Return a length that an option gives, if the command has it and it is given."""
    from nesting.errors import LengthError, OptionError, ShapeError
    from nesting.units import parse_length

    words = getattr(given, option, None)
    if words is None:
        return None
    try:
        return checked(parse_length(words, project.unit))
    except (LengthError, ShapeError) as error:
        raise OptionError(f"--{option}: {error}") from error


def read_told(given: argparse.Namespace) -> Project:
    """Return the project, saying so meanwhile: fairing a boat's lines takes some seconds."""
    from nesting.work import Step

    with work_shown(given) as tell:
        tell(Step("reading the project"))
        return read(given)


def by_book_now(given: argparse.Namespace, project: Project) -> Project:
    """Return a project with what its stock book leaves of it, if it names one; tells of that."""
    if project.book is None:
        return project
    from nesting.book.by_book import by_book

    found, notes = by_book(project)
    for note in () if getattr(given, "quiet", False) else notes:
        say(f"note: {told(note, given)}", sys.stderr)
    return found


def as_planned(given: argparse.Namespace, project: Project) -> Project:
    """Return a project as it was when its last plan was made, by its stock book."""
    from nesting.summary.file import read_summary

    summary = read_summary(folder_of(given, project))
    if "book" not in summary:
        return project
    from nesting.book.by_book import by_book, planned_step

    return by_book(project, planned_step(project, summary))[0]


def sawn_boards(project: Project) -> dict[str, str]:
    """Return the board that gave each piece that is sawn and counts, by its label, by the book."""
    if project.book is None or not project.book.exists():
        return {}
    from nesting.book.integrity import damage_told
    from nesting.book.opening import opened
    from nesting.book.pieces import boards_of_sawn

    with opened(project.book) as book, damage_told(book):
        return boards_of_sawn(book, project.name)


class Placed(Protocol):
    """A project file, for where its outputs go."""

    @property
    def path(self) -> Path:
        """The file."""
        ...

    @property
    def folder(self) -> Path | None:
        """Where its outputs go, if it says so."""
        ...


def folder_of(given: argparse.Namespace, project: Placed) -> Path:
    """Return the folder asked for, the project's own, or output/ and a name for the project."""
    if given.output is not None:
        return Path(given.output)
    if project.folder is not None:
        return Path(os.path.normpath(project.folder))
    path = project.path.resolve()
    name = path.parent.name if path.stem == "project" else path.stem
    return Path("output") / stem_of(name)


def folder_in(folder: Path, name: str) -> Path:
    """Return the folder of a command's own files within the one for outputs.

    Where that has the same name, it is meant: ``loft -o loft``.
    """
    return folder if folder.name == name else folder / name


def plan_of(given: argparse.Namespace, project: Project) -> CuttingPlan:
    """Return the plan that was last written for a project."""
    from nesting.summary.file import read_summary
    from nesting.summary.read_plan import plan_from

    project = as_planned(given, project)
    return plan_from(read_summary(folder_of(given, project)), project.needs, project.stock)[0]


def live_line(given: argparse.Namespace) -> AbstractContextManager[ProgressLine]:
    """Return a line of the terminal that says what goes on, hidden where it is not wanted."""
    from nesting.console import live_search, terminal

    errors = terminal(is_for_errors=True)
    is_shown = errors.is_terminal and not (given.quiet or given.json or given.no_progress)
    return live_search(errors, is_shown=is_shown)


def work_shown(given: argparse.Namespace) -> AbstractContextManager[Tell]:
    """Return what shows on stderr how a long piece of work comes on, if that is wanted."""
    from nesting.console import live_work, terminal

    is_json = getattr(given, "json", False)
    is_shown = not (given.quiet or given.no_progress or is_json)
    return live_work(terminal(is_for_errors=True), is_shown=is_shown)


def tell_odd_figures(project: Project) -> None:
    """Say which figures look mistyped: what follows goes by them, or does without them."""
    from nesting.remarks import FIGURES, remarks

    for remark in remarks(project, FIGURES):
        say(f"note: {remark}", sys.stderr)


def print_cautions() -> None:
    """Print what can hurt somebody."""
    from nesting.console import cautions

    show(cautions())
