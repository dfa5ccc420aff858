"""Nesting again with the last plan in view, and ``changes``: what differs between two plans."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.commands.shared import (
    ALL_PLACED,
    as_planned,
    folder_of,
    plan_of,
    read_told,
    sawn_boards,
    say,
    told,
)
from nesting.errors import Finding, OptionError, OutputError, ProjectFileError

if TYPE_CHECKING:
    from nesting.changes import LastPlan
    from nesting.nest import At, CuttingPlan
    from nesting.project import Project
    from nesting.referee.wishes import Broken
    from nesting.sheets.drawing import Drawing


def last_plan(given: argparse.Namespace, project: Project, folder: Path) -> LastPlan | None:
    """Return the plan that is to be kept in view, None where nothing asks for it.

    Raises
    ------
    OutputError
        If ``--again`` asks for a plan that is not there or cannot be read.
    ProjectFileError
        If a wish fixes a piece that lies nowhere, or may not stay where it lies.
    """
    again = getattr(given, "again", None)
    if again is None and not project.wishes.fixed:
        return None
    place = folder if again in (None, True) else Path(again)
    found = None
    try:
        found = own_plan(given, project, place)
    except OutputError:
        if again is not None:
            raise
    wrong = list(unfixable(project, found, place))
    if wrong:
        raise ProjectFileError(wrong)
    return found


def own_plan(given: argparse.Namespace, project: Project, folder: Path) -> LastPlan:
    """Return a plan of a project, its places as the boards are by the book that it goes by.

    Raises
    ------
    OutputError
        If it is of another project, or cannot be read.
    """
    from nesting.last_plan import read_last_plan, require_own

    if note := require_own(folder, project):
        say(f"note: {told(note, given)}", sys.stderr)
    if project.book is None:
        return read_last_plan(folder, project.needs)
    from nesting.book.by_book import planned_step
    from nesting.book.followed import follower
    from nesting.summary.file import read_summary

    follow = follower(project, planned_step(project, read_summary(folder)))
    return read_last_plan(folder, project.needs, sawn=sawn_boards(project), follow=follow)


def unfixable(project: Project, last: LastPlan | None, folder: Path) -> Iterator[Finding]:
    """Yield each fixed piece that lies nowhere in the last plan, or may not stay where it lies."""
    from nesting.referee.wishes import unsound_fixed

    wishes, pieces = project.wishes, last.pieces if last else ()
    stay = [at for at in pieces if at.piece in wishes.must_stay]
    where = f"the plan in {folder}" if last else f"{folder}, where no plan is"
    found = unsound_fixed(wishes, stay, project.stock, project.rules, project.needs, where=where)
    for title, text in found:
        yield project.wish_entries[title].finding(("fixed",), text)


def fixed_remarks(given: argparse.Namespace, project: Project) -> tuple[Finding, ...]:
    """Return what keeps fixed pieces from staying where the plan in the usual folder has them."""
    if not project.wishes.must_stay:
        return ()
    given.output = getattr(given, "output", None)
    folder = folder_of(given, project)
    try:
        last = own_plan(given, project, folder)
    except OutputError:
        last = None
    return tuple(unfixable(project, last, folder))


def moving_mm2(given: argparse.Namespace) -> float | None:
    """Return what moving a piece of the last plan has to save, None where all are laid anew."""
    from nesting.errors import LengthError
    from nesting.units import parse_area
    from nesting.wishes import USUAL_MOVING_MM2

    if given.moving is not None and given.again is None:
        raise OptionError("--moving goes with --again: it is the price of moving a piece")
    if given.again is None:
        return None
    try:
        return USUAL_MOVING_MM2 if given.moving is None else parse_area(given.moving)
    except LengthError as error:
        raise OptionError(f"--moving: {error}") from error


def tell_changes(project: Project, last: LastPlan | None, plan: CuttingPlan) -> None:
    """Say what differs from the last plan, and which printed sheets stay true."""
    from nesting.changes import changes_between, plan_as_last, told_changes

    if last is not None:
        say("\nAgainst the last plan:")
        changes = changes_between(last, plan_as_last(plan), project.stock)
        for line in told_changes(changes, project.needs):
            say(f"  {line}")


def tell_broken(
    given: argparse.Namespace, project: Project, plan: CuttingPlan, last: LastPlan | None
) -> None:
    """Say which wishes with a price a plan breaks, and what that costs."""
    from nesting.referee.wishes import broken_wishes
    from nesting.written_measures import exact_area

    later, was = project.wishes.not_yet, () if last is None else last.pieces
    lay = {at.piece: at for at in was if at.piece not in later}
    for broken in broken_wishes(plan, project.wishes, tuple(lay.values())):
        if _is_of_no_use(broken, project):
            continue
        at = None if broken.piece is None else lay[broken.piece]
        why = f"that was worth {exact_area(broken.cost_mm2, project.unit)}"
        if at is not None and (fault := _why_not_there(at, project)):
            why = f"it may not lie there any more: {fault}"
        text = f"board {broken.board}: {broken.measured}; {why}"
        say(told(f"note: {broken.wish.title} is broken: {text}", given), sys.stderr)


def _why_not_there(at: At, project: Project) -> str:
    """Return what forbids a piece its place in the last plan, empty if nothing does."""
    from nesting.nest import Nest
    from nesting.referee.check import check_nest

    board = next((board for board in project.stock if board.name == at.board), None)
    if board is None:
        return "the board is none any more"
    bar = project.wishes.barring(at.piece, at.placement.need, board)
    if bar:
        return f"{bar} keeps it off"
    faults = check_nest(Nest(board, (at.placement,)), project.rules)
    return f"{faults[0].rule}: {faults[0].measured}" if faults else ""


def _is_of_no_use(broken: Broken, project: Project) -> bool:
    """Return whether a board that is to be used first is one that nothing may come from.

    That is where no part of the stage fits it, or musts keep all that do off it.
    """
    from nesting.remarks.no_board import Holding
    from nesting.wishes import Use, Used, pieces_of

    if not isinstance(broken.wish, Used) or broken.wish.use is not Use.FIRST:
        return False
    board = next(board for board in project.stock if board.name == broken.board)
    wishes, holding = project.wishes, Holding(project)
    # Nothing that stays lies on a board that is not opened.
    settled = {*wishes.not_yet, *wishes.must_stay}
    return not any(
        piece not in settled and not wishes.barring(piece, need, board)
        for need in project.needs
        if holding.may(board, need)
        for piece in pieces_of(need)
    )


def changes(given: argparse.Namespace) -> int:
    """Say what differs between two written plans of a project, and draw it if asked."""
    from nesting.changes import changes_between, plan_as_last, told_changes
    from nesting.last_plan import require_own

    project = read_told(given)
    require_own(folder_of(given, project), project)
    now = plan_as_last(plan_of(given, project))
    project = as_planned(given, project)
    was = own_plan(given, project, given.earlier)
    found = changes_between(was, now, project.stock)
    for line in told_changes(found, project.needs):
        say(line)
    if given.drawing is not None:
        from nesting.sheets.changes_view import changes_drawing

        title = f"{project.name}: {given.earlier} and {folder_of(given, project)}"
        drawing = changes_drawing(found, project.stock, project.needs, title=title)
        _write(drawing, given.drawing, given.overwrite)
        say(f"wrote {given.drawing}")
    return ALL_PLACED


def _write(drawing: Drawing, path: Path, overwrite: bool) -> None:
    """Write a drawing in the form that the name of its file asks for."""
    from nesting.sheets.pdf import write_pdf
    from nesting.sheets.svg import write_svg

    if path.suffix.lower() == ".svg":
        write_svg(drawing, path, overwrite=overwrite)
    else:
        write_pdf([drawing], path, overwrite=overwrite)
