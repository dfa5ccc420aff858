"""``solids`` and ``boat``: the parts one by one, and where they stand in her."""

from __future__ import annotations

import argparse

from nesting.commands.shared import (
    ALL_PLACED,
    folder_in,
    folder_of,
    plan_of,
    print_cautions,
    read_told,
    sawn_boards,
    say,
    tell_odd_figures,
    work_shown,
)
from nesting.words import counted


def solids(given: argparse.Namespace) -> int:
    """Write each part of a project as a solid."""
    from parts.step_files import write_solids

    project = read_told(given)
    folder = folder_in(folder_of(given, project), "solids")
    with work_shown(given) as tell:
        files = write_solids(project.parts, folder, overwrite=given.overwrite, on_progress=tell)
    say(f"wrote {counted(len(files), 'STEP file')} into {folder}")
    print_cautions()
    return ALL_PLACED


def boat(given: argparse.Namespace) -> int:
    """Write the parts where they stand in the boat; say which run into each other."""
    from nesting.boat_meetings import meeting_lines, meetings_of
    from nesting.boat_outputs import FILES, boards_of, boat_pieces, write_boat
    from nesting.folders.whole_folder import require_free
    from nesting.summary.file import SUMMARY

    project = read_told(given)
    folder = folder_of(given, project)
    is_nested = (folder / SUMMARY).exists()
    tell_odd_figures(project)
    boards = boards_of(plan_of(given, project)) if is_nested else {}
    boards |= sawn_boards(project)
    require_free([folder / name for name in FILES], overwrite=given.overwrite)
    with work_shown(given) as tell:
        pieces = boat_pieces(project, boards, tell)
        met = meetings_of(pieces, tell)
    assert project.boat is not None, "a project without a boat has no pieces in it"
    for line in meeting_lines(met, project.boat, project.unit, are_all=given.all_pairs):
        say(line)
    with work_shown(given) as tell:
        files = write_boat(
            project, boards, pieces, folder, overwrite=given.overwrite, on_progress=tell
        )
    say(f"wrote {', '.join(path.name for path in files)} into {folder}")
    if not is_nested:
        say("nothing is nested there yet, so no piece has a board: nest, then ask again")
    print_cautions()
    return ALL_PLACED
