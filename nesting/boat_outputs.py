"""Write the whole boat, all files at once: parts as solids, a picture, the lines drawing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.errors import OutputError
from nesting.folders.whole_folder import replaced_whole, require_free
from nesting.nest import CuttingPlan
from nesting.project import Project
from nesting.sheets.drawing import Drawing
from nesting.sheets.dxf import write_dxf
from nesting.sheets.lines_plan import lines_plan
from nesting.sheets.plan_key import KeyRow
from nesting.sheets.svg import write_svg
from nesting.sheets.whole_file import write_whole
from nesting.words import counted
from nesting.work import Step, Tell, untold

if TYPE_CHECKING:
    from parts.lines import Hull
    from parts.model.piece import Piece

FILES = STEP, DXF, SVG, PICTURE = "boat.step", "boat.dxf", "boat.svg", "boat.png"

NO_BOARD = "no board"


def boards_of(plan: CuttingPlan) -> dict[str, str]:
    """Return the name of the board that gave each placed piece, by the piece's label."""
    return {p.label: nest.board.name for nest in plan.nests for p in nest.placements}


def boat_pieces(
    project: Project, boards: Mapping[str, str], on_progress: Tell = untold
) -> tuple[Piece, ...]:
    """Return a project's parts as solids in the boat.

    Raises
    ------
    OutputError
        If it names no boat, or no part says where it stands.
    """
    from parts.model.piece import pieces_in_boat

    if project.boat is None:
        raise OutputError(
            f"{project.path} names no boat: give her lines under boat:, and parts a place with at:"
        )
    pieces = pieces_in_boat(project.parts, boards, on_progress=on_progress)
    if not pieces:
        raise OutputError(f"no part of {project.path} says where it stands: give some a place")
    return pieces


def write_boat(
    project: Project,
    boards: Mapping[str, str],
    pieces: tuple[Piece, ...],
    folder: Path,
    *,
    overwrite: bool = False,
    on_progress: Tell = untold,
) -> tuple[Path, ...]:
    """Write assembly, drawing and picture of a project's parts in the boat; return the files.

    Parameters
    ----------
    boards
        As :func:`boards_of` gives them; empty if nothing was nested yet.
    pieces
        As :func:`boat_pieces` makes them.
    on_progress
        Is told what is being made.

    Raises
    ------
    OutputError
        If a file is there and may not be overwritten, or the folder cannot be written. Where only
        the picture cannot be drawn, the rest is written.
    """
    from parts.model.assembly import boat_assembly, step_bytes

    assert project.boat is not None, "a project without a boat has no pieces in it"
    paths = [folder / name for name in FILES]
    require_free(paths, overwrite=overwrite)
    no_picture: OutputError | None = None
    # A picture that cannot be drawn does not stay as it was: it would be of another boat.
    with replaced_whole(folder, gone=[PICTURE]) as fresh:
        on_progress(Step(f"writing {STEP}"))
        write_whole(fresh / STEP, step_bytes(boat_assembly(project.name, pieces)))
        on_progress(Step(f"drawing the lines with {len(pieces)} pieces"))
        drawing = boat_drawing(project, project.boat.hull, pieces, boards)
        write_dxf(drawing, fresh / DXF, version=project.dxf_version)
        write_svg(drawing, fresh / SVG)
        on_progress(Step("drawing the picture"))
        try:
            picture = picture_of(pieces, project.boat.hull, project.name)
        except OutputError as error:
            no_picture = error
        else:
            write_whole(fresh / PICTURE, picture)
    if no_picture is not None:
        raise no_picture
    return tuple(paths)


def boat_drawing(
    project: Project, hull: Hull, pieces: tuple[Piece, ...], boards: Mapping[str, str]
) -> Drawing:
    """Return the lines drawing of a project's boat with her parts."""
    from parts.model.hidden_lines import views_with_pieces

    views = views_with_pieces(hull, pieces)
    return lines_plan(
        views.body,
        views.profile,
        views.half_breadth,
        name=hull.table.name or project.name,
        unit=project.unit,
        key=key_rows(project, boards),
    )


def key_rows(project: Project, boards: Mapping[str, str]) -> tuple[KeyRow, ...]:
    """Return a row for every part that stands in the boat, in the order of the parts list."""
    from parts.model.piece import sawn_for

    rows = list[KeyRow]()
    for name, part in project.parts.items():
        pieces = sawn_for(name, part) if part.positions() else ()
        if pieces:
            sources = dict.fromkeys(piece.source(boards) or NO_BOARD for piece in pieces)
            labels = tuple(piece.label for piece in pieces)
            rows.append(KeyRow(len(rows) + 1, name, ", ".join(sources), labels))
    return tuple(rows)


def picture_of(pieces: tuple[Piece, ...], hull: Hull, name: str) -> bytes:
    """Return the picture of pieces in a hull as PNG, titled by how many there are."""
    from parts.model.scene import boat_picture

    count = len({piece.board for piece in pieces if piece.board})
    source = f" out of {counted(count, 'board')}" if count else ""
    return boat_picture(
        pieces, hull, title=f"{hull.table.name or name}: {counted(len(pieces), 'piece')}{source}"
    )
