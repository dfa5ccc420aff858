"""A board out of its photographs: the recipe from pictures to an outline and what is in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.errors import PhotographError
from nesting.photo import doubts
from nesting.photo.blind_face import (
    Blind,
    blind_patches,
    notes_of,
    require_not_burnt,
    unsure_in,
)
from nesting.photo.board_bays import Bridge, bridged
from nesting.photo.board_face import MARGIN_MM, Frame, face_of, frame_of, outline_in
from nesting.photo.board_strip import best_strip
from nesting.photo.camera import View
from nesting.photo.edge_band import Edge, edge_of, outline_of
from nesting.photo.edge_doubts import Stretch, stretches_of, told_of
from nesting.photo.end_doubts import faint_ends, require_true_ends, require_whole_strip
from nesting.photo.find_board import board_cells
from nesting.photo.flat_sheets import paper_doubt, require_flat
from nesting.photo.mark_sheet import RULER_MM
from nesting.photo.marks import Picture, ink_shade, rim_width, seen_marks
from nesting.photo.one_board import require_none_against, require_one_board
from nesting.photo.opencv import opencv
from nesting.photo.picture_file import Group, focal_pixels, read_picture
from nesting.photo.plan_view import Array, PlanView, extent_of, joined, plan_view
from nesting.photo.pose import Fit, fitted
from nesting.photo.pose_problem import GivenLens, Shot, problem_of
from nesting.photo.rough_plan import looks_of, rough_of
from nesting.photo.round_finds import Find, round_finds
from nesting.photo.shadowed_sides import without_shadows
from nesting.photo.side_doubts import alike_sides

NARROWEST_BITE_MM = 5.0
"""A bite that is nowhere so deep is within what an edge is known to."""


@dataclass(frozen=True)
class Asked:
    """What the one who took the pictures says.

    Attributes
    ----------
    thickness_mm
        Of the board.
    below_mm
        How far the marks lie below the board's face; 0 at its height.
    ruler_mm
        What the sheets' long check ruler measures.
    """

    thickness_mm: float
    below_mm: float = 0.0
    ruler_mm: float = RULER_MM
    lens: GivenLens = field(default_factory=GivenLens)


@dataclass(frozen=True)
class Photographed:
    """A board as its photographs show it, in its own frame; mm."""

    name: str
    pictures: tuple[str, ...]
    outline: Polygon
    finds: tuple[Find, ...]
    bites: tuple[Polygon, ...]
    blind: tuple[Blind, ...]
    """Where holes would not be seen; numbered after finds and bites."""
    doubt_mm: float
    """Of its length: twice its standard deviation by the marks, and what paper may curl."""
    notes: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    """Where the edge is doubtful; numbered after finds, bites and blind patches."""
    frame: Frame
    plan: PlanView | None
    """What the board was read from; None once nothing is drawn of it any more."""


@dataclass(frozen=True)
class NoBoard:
    """What kept a board from being read."""

    name: str
    pictures: tuple[str, ...]
    reason: str


def board_in(group: Group, asked: Asked) -> Photographed | NoBoard:
    """Return the board that a group of pictures shows, or why there is none."""
    names = tuple(path.name for path in group.paths)
    try:
        pictures = [_read(path) for path in group.paths]
        focals = [focal_pixels(path) for path in group.paths]
        return measured(group.name, names, pictures, focals, asked)
    except PhotographError as error:
        return NoBoard(group.name, names, str(error))


def _read(path: Path) -> Picture:
    try:
        return read_picture(path)
    except PhotographError as error:
        raise PhotographError(f"{path.name}: {error}") from error


def measured(
    name: str,
    names: Sequence[str],
    pictures: Sequence[Picture],
    focals: Sequence[float | None],
    asked: Asked,
) -> Photographed:
    """Return the board that pictures show.

    Raises
    ------
    PhotographError
        If a picture is not fit to be measured from; says why, and what to do.
    """
    fit = _placed(names, pictures, focals, asked)
    plan = _plan(pictures, fit, asked.below_mm)
    try:
        edge, bridges = _edge(plan, fit, asked)
    except PhotographError:
        require_not_burnt(plan)
        raise
    doubts.require_clear_edge(edge)
    frame = frame_of(edge.ring, _right(fit.views[0]))
    outline = outline_in(frame, edge.ring)
    require_true_ends(plan, frame, outline)
    by_marks = 2 * doubts.length_doubt_of(fit, edge.ring, asked.below_mm)
    doubt = float(np.hypot(by_marks, paper_doubt(fit, outline.bounds[2])))
    doubts.require_known_length(doubt, outline)
    face = face_of(plan, frame, outline)
    blind = blind_patches(face, outline, _ink(pictures, fit))
    on_board = (
        replace(find, x=find.x - MARGIN_MM, y=find.y - MARGIN_MM) for find in round_finds(face)
    )
    finds = tuple(unsure_in(blind, on_board))
    bites = tuple(_bites(edge, frame, outline))
    faint = faint_ends(plan, frame, outline)
    alike = alike_sides(plan, frame, outline)
    stretches = stretches_of(plan, edge, bridges, frame, outline, faint, alike)
    first = len(finds) + len(bites) + 1
    told = notes_of(blind, first), told_of(stretches, outline, first + len(blind))
    return Photographed(
        name,
        tuple(names),
        outline,
        finds,
        bites,
        blind,
        doubt,
        (*doubts.notes_on(edge), *told[0], *told[1]),
        stretches,
        frame,
        plan,
    )


def _placed(
    names: Sequence[str], pictures: Sequence[Picture], focals: Sequence[float | None], asked: Asked
) -> Fit:
    """Return what the marks tell about camera and sheets, if they are good enough."""
    greys = [opencv().cvtColor(picture, opencv().COLOR_BGR2GRAY) for picture in pictures]
    shots = [
        Shot(name, doubts.usable(name, seen_marks(grey)), grey.shape[1], grey.shape[0], focal)
        for name, grey, focal in zip(names, greys, focals, strict=True)
    ]
    doubts.require_one_camera(shots)
    doubts.require_sheets(shots)
    blurs = [rim_width(grey, shot.marks) for grey, shot in zip(greys, shots, strict=True)]
    fit = fitted(problem_of(shots, asked.lens, asked.ruler_mm))
    doubts.require_sharp(fit, blurs)
    require_flat(fit)
    doubts.require_height_known(fit, asked.below_mm)
    return fit


def _ink(pictures: Sequence[Picture], fit: Fit) -> float:
    """Return how light the marks' black is, 0 to 255."""
    shots = zip(pictures, fit.problem.shots, strict=True)
    return float(np.median([ink_shade(picture, shot.marks) for picture, shot in shots]))


def _plan(pictures: Sequence[Picture], fit: Fit, below_mm: float) -> PlanView:
    sheets = np.array(list(fit.sheets.values()))
    sizes = [(picture.shape[1], picture.shape[0]) for picture in pictures]
    extent = extent_of(sizes, fit.views, fit.lenses, sheets[:, :2], below_mm)
    plans = [
        plan_view(picture, view, lens, extent, sheets, below_mm)
        for picture, view, lens in zip(pictures, fit.views, fit.lenses, strict=True)
    ]
    return joined(plans, [view.eye for view in fit.views])


def _edge(plan: PlanView, fit: Fit, asked: Asked) -> tuple[Edge, tuple[Bridge, ...]]:
    rough = rough_of(plan)
    looks = looks_of(rough)
    strip = doubts.required_strip(best_strip(rough, looks))
    cells = board_cells(rough, strip)
    require_one_board(rough, looks, strip, cells)
    require_whole_strip(rough, strip, cells)
    ring = outline_of(cells, rough.to_mm)
    require_none_against(plan, ring)
    ring, shadows = without_shadows(plan, ring)
    rough_ring = bridged(plan, ring)
    bridges = (*shadows, *rough_ring.bridges)
    eyes = np.array([view.eye for view in fit.views])
    lines = [bridge.line for bridge in bridges]
    edge = edge_of(plan, rough_ring.ring, eyes, asked.thickness_mm, asked.below_mm, lines)
    return replace(edge, bites=(*edge.bites, *rough_ring.bays)), bridges


def _right(view: View) -> Array:
    """Return what is to the right in a picture, in the marks' plane."""
    across: Array = view.turn[0, :2]
    return across


def _bites(edge: Edge, frame: Frame, outline: Polygon) -> list[Polygon]:
    """Return where the edge may lie further in, as shapes on the board."""
    found = list[Polygon]()
    for ring in edge.bites:
        shape = shapely.make_valid(Polygon(frame.of(ring))).buffer(0.5).intersection(outline)
        for part in shapely.get_parts(shape):
            if isinstance(part, Polygon) and not part.buffer(-NARROWEST_BITE_MM / 2).is_empty:
                found.append(Polygon(shapely.simplify(part, 0.6).exterior))
    return found
