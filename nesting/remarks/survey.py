"""Boards that were probably recorded wrong, told by the other boards beside them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from statistics import median

from nesting.errors import Finding
from nesting.project import Project
from nesting.project.entry import Entry
from nesting.remarks.doubtful_boards import as_it_lies
from nesting.stock.board import Board
from nesting.stock.keep_out import PLURALS
from nesting.written_measures import exact_length

FEWEST_OF_A_MEMBER = 4
"""Of fewer boards nobody can say which of them is the odd one (common practice, no source)."""

FAR_SHARE = 0.35
"""Further than this share of the middle one a thickness is odd for its member: decking wears
and planking is dubbed off, yet seldom by a third (common practice, no source)."""


def survey(project: Project) -> Iterator[Finding]:
    """Yield boards that are another one again, and those of odd thickness or length for their
    member.
    """
    yield from _identical(project)
    yield from _odd_thickness(project)
    yield from _odd_length(project)


def _identical(project: Project) -> Iterator[Finding]:
    """Yield each board that has keep-outs and is an earlier one to the last figure."""
    first: dict[object, Board] = {}
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry is None or not board.keep_outs or entry.data.get("count", 1) != 1:
            continue
        holes = tuple((k.kind, k.core.wkb, k.reach_mm, k.depth_mm) for k in board.keep_outs)
        key = (board.shape.wkb, board.thickness_mm, board.species, board.member, holes)
        other = first.setdefault(key, board)
        # Leaves of one board are alike; so are boards whose every keep-out is their defaults'.
        if other is board or project.board_entries[other.name] is entry or not _is_own(entry):
            continue
        yield entry.finding(
            ("board",),
            f"is {other.name} to the last figure, every keep-out in the same place: was one board "
            "recorded twice?",
        )


def _is_own(entry: Entry) -> bool:
    """Return whether a board has keep-outs of its own, not only those of its defaults."""
    return any(key in entry.data and entry.to_document((key,))[0] != "defaults" for key in OWN)


OWN = ("keep_outs", *PLURALS.values())
"""Keys under which a board has keep-outs."""


def _odd_thickness(project: Project) -> Iterator[Finding]:
    of_member: dict[str, list[tuple[Board, float]]] = defaultdict(list)
    for board, thick_mm in _as_they_came_off(project):
        of_member[board.member.casefold()].append((board, thick_mm))
    for boards in of_member.values():
        if len(boards) < FEWEST_OF_A_MEMBER:
            continue
        usual = median(thick_mm for _, thick_mm in boards)
        for board, thick_mm in boards:
            is_thick_to_be_resawn = thick_mm > usual and board.leaf is not None
            if is_thick_to_be_resawn or abs(thick_mm - usual) <= FAR_SHARE * usual:
                continue
            thick, middle = (exact_length(mm, project.unit) for mm in (thick_mm, usual))
            yield project.board_entries[board.name].finding(
                ("thickness",),
                f"{thick} thick, and the middle one of {len(boards)} boards of {board.member} is "
                f"{middle}: tape it again",
            )


def _as_they_came_off(project: Project) -> Iterator[tuple[Board, float]]:
    """Yield boards of known members with the thickness taped; of those to be resawn one leaf.

    What came as a leaf already says nothing of the thickness that its member has.
    """
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        is_counted = board.leaf is None or board.leaf[0] == 1
        if board.member and is_counted and entry is not None and "leaf" not in entry.data:
            yield board, as_it_lies(board, entry.data, project.rules.kerf_mm)


FEWEST_OF_A_LENGTH = 7
FAR_TIMES = 1.8
"""So many times as long as the second longest of the others of its member, or as short, is odd, if
a slip explains it: lengths differ far more than thicknesses (common practice, no source)."""

SLIPS = (10.0, 25.4, 12.0)
"""A figure more or less, or centimetres; inches; feet."""


def _odd_length(project: Project) -> Iterator[Finding]:
    """Yield boards far longer or shorter than the others of their member, by what a slip does."""
    of_member: dict[str, list[tuple[Board, float]]] = defaultdict(list)
    for board, _ in _as_they_came_off(project):
        of_member[board.member.casefold()].append((board, board.length_mm))
    for boards in of_member.values():
        if len(boards) < FEWEST_OF_A_LENGTH:
            continue
        lengths = sorted(long for _, long in boards)
        # One of the others may be wrong too.
        for board, long in boards:
            rest = [*lengths]
            rest.remove(long)
            least, most = rest[1], rest[-2]
            if least / FAR_TIMES <= long <= most * FAR_TIMES:
                continue
            slips = (long * times for slip in SLIPS for times in (slip, 1 / slip))
            if not any(least <= mm <= most for mm in slips):
                continue
            entry = project.board_entries[board.name]
            own, short, far = (exact_length(mm, project.unit) for mm in (long, least, most))
            yield entry.finding(
                ("length",) if "length" in entry.data else ("board",),
                f"{own} long, and others of {board.member} are {short} to {far}: is a figure left "
                "out or too many, or the unit another?",
            )
