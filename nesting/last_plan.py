"""The last plan of a project, read for what of it still holds: boards and parts may have changed.

Nothing is refused here that a change of the project explains: a piece whose part is no longer
asked for, or whose board is gone, is told by its name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.changes import LastPlan
from nesting.errors import OutputError
from nesting.job import Job
from nesting.need import Need
from nesting.nest import At, Placement
from nesting.stock.board import Board
from nesting.summary.fields import number, rows, text, whole
from nesting.summary.file import read_summary
from nesting.summary.of_plan import SUMMARY_VERSION
from nesting.summary.read_plan import read_placement
from nesting.unseen import quoted, short

WITHOUT_SHEETS = 4
"""Summaries of this form are read too: they do not hold the words of the sheets."""


ALIKE = 0.5
"""A plan of which a project has so many of the parts, and of the boards, may be its own."""


def require_own(folder: Path, job: Job) -> str:
    """Refuse a plan of another project; of one that has another name now, say so.

    A plan that bears the project's name is its own. Of any other the parts decide, and the boards,
    each by name, wood and thickness.

    Returns
    -------
    str
        What is to be said, empty if nothing is.

    Raises
    ------
    OutputError
        Names both.
    """
    given = read_summary(folder)
    try:
        name = text(given, "project")
        boards = rows(given, "boards")
        is_own = name == job.name or (_are_parts_of(boards, job) and _are_boards_of(boards, job))
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(f"the plan in {folder} cannot be read ({error})") from error
    if not is_own:
        raise OutputError(
            f"the plan in {folder} is of the project {short(name)}, not of {short(job.name)}: "
            f"name a folder that a plan of {short(job.name)} was written into"
        )
    if name == job.name:
        return ""
    return (
        f"the plan in {folder} was written for {short(name)}; it has the parts of {short(job.name)}"
    )


def _are_parts_of(boards: Sequence[Mapping[str, Any]], job: Job) -> bool:
    """Return whether a project has many of the parts that lie on boards."""
    own = {need.part for need in job.needs}
    parts = {text(part, "part") for row in boards for part in rows(row, "parts")}
    return bool(parts) and len(parts & own) >= ALIKE * len(parts)


def _are_boards_of(boards: Sequence[Mapping[str, Any]], job: Job) -> bool:
    """Return whether many of the boards are a project's; those that it lacks may be sawn up."""
    own = {board.name: board for board in job.stock}
    known = [row for row in boards if text(row, "board") in own]
    alike = [row for row in known if _is_alike(row, own[text(row, "board")])]
    return bool(known) and len(alike) >= ALIKE * len(known)


def _is_alike(row: Mapping[str, Any], board: Board) -> bool:
    is_as_thick = abs(number(row, "thickness_mm") - board.thickness_mm) <= SAME_MM
    return text(row, "species") == board.species and is_as_thick


SAME_MM = 0.05
"""Boards that are as thick to so much are as thick."""


def as_it_was(at: At) -> At:
    """Return a place as it was: nothing was cut since."""
    return at


def read_last_plan(
    folder: Path,
    needs: Sequence[Need],
    *,
    sawn: Iterable[str] = (),
    follow: Callable[[At], At] = as_it_was,
) -> LastPlan:
    """Return the plan in a folder, so far as the project still has its parts.

    Parameters
    ----------
    sawn
        What pieces are called that were sawn since.
    follow
        Finds a place of the plan on the boards as they are now; usually it is where it was.

    Raises
    ------
    OutputError
        If there is none, or it cannot be read.
    """
    given = read_summary(folder)
    if given.get("version") not in (WITHOUT_SHEETS, SUMMARY_VERSION):
        raise OutputError(
            f"the summary in {folder} is of form {quoted(given.get('version'))}, not "
            f"{SUMMARY_VERSION}: "
            "nest the project anew"
        )
    need_of = {need.part: need for need in needs}
    pieces, labels = list[At](), dict[str, tuple[str, ...]]()
    try:
        for row in rows(given, "boards"):
            board = text(row, "board")
            found = [(text(p, "label"), _piece(p, board, need_of)) for p in rows(row, "parts")]
            now = [(label, None if at is None else follow(at)) for label, at in found]
            pieces += [at for _, at in now if at is not None]
            labels[board] = tuple(_called(board, now))
        sheets = {
            text(row, "board"): text(row, "sheet") if "sheet" in row else ""
            for row in rows(given, "boards")
        }
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(f"the plan in {folder} cannot be read ({error})") from error
    return LastPlan(tuple(pieces), labels, sheets, frozenset(sawn))


def _piece(part: Mapping[str, Any], board: str, need_of: Mapping[str, Need]) -> At | None:
    """Return where a piece lay, None if it is no longer asked for, as what was sawn since."""
    need = need_of.get(text(part, "part"))
    number = whole(part, "number") if "number" in part else whole(part, "copy")
    copy = None if need is None else need.copy_of(number)
    if copy is None:
        return None
    placement: Placement = replace(read_placement(part, need_of), copy=copy)
    return At(board, placement)


def _called(board: str, pieces: Iterable[tuple[str, At | None]]) -> Iterator[str]:
    """Yield what pieces of a board are called: now, where they are still asked for.

    Those that lie on another board now, since the saw parted it from this one, are that one's.
    """
    for label, at in pieces:
        if at is None:
            yield label
        elif at.board == board:
            yield at.placement.label
