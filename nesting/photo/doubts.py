"""What makes a photograph unfit, each in a clear sentence: better no board than a wrong one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon

from nesting.errors import PhotographError
from nesting.photo.band import STEP_MM
from nesting.photo.board_strip import Strip
from nesting.photo.camera import projected
from nesting.photo.edge_band import Edge
from nesting.photo.edge_doubts import FAINT_NATS
from nesting.photo.mark_sheet import MARKS_A_SHEET
from nesting.photo.marks import SeenMark
from nesting.photo.plan_view import Array
from nesting.photo.pose import Fit, length_doubt
from nesting.photo.pose_problem import Shot
from nesting.photo.rings import lengthwise, runs_of
from nesting.words import counted

LEAST_SHEETS = 2
MOST_BLUR_MM = 4.0
"""Rims of marks spread wider than this hide holes of 6 mm."""

LEAST_TOLD = 0.2
"""Nats: below it what is called a board looks much like what lies beside it."""

HIDDEN_MM = 25.0
FAINT_SHARE = 0.35
"""Part of an edge that may be faint: each stretch is told, and what may be ground is a keep-out."""

MOST_DOUBT_MM = 5.0


def usable(name: str, marks: Sequence[SeenMark]) -> tuple[SeenMark, ...]:
    """Return the marks of sheets of which two and more are seen."""
    twice = [
        number for number, count in Counter(mark.number for mark in marks).items() if count > 1
    ]
    if twice:
        sheet = twice[0] // MARKS_A_SHEET + 1
        raise PhotographError(
            f"{name}: sheet {sheet} is there twice; lay sheets with different numbers"
        )
    if not marks:
        raise PhotographError(
            f"{name}: none of the tool's marks is seen; lay printed mark sheets beside the board "
            "(salvage-nest marks), sharp, uncovered and without glare"
        )
    of_sheet = Counter(mark.sheet for mark in marks)
    return tuple(mark for mark in marks if of_sheet[mark.sheet] >= 2)


def require_one_camera(shots: Sequence[Shot]) -> None:
    """Refuse pictures of one board that differ in size: their lens is fitted as one."""
    sizes = {tuple(sorted((shot.width, shot.height))) for shot in shots}
    if len(sizes) > 1:
        raise PhotographError(
            "the pictures of one board are of different sizes; take them with one camera, "
            "without zooming or cutting"
        )


def require_sheets(shots: Sequence[Shot]) -> None:
    """Refuse pictures that show too few sheets."""
    for shot in shots:
        sheets = {mark.sheet for mark in shot.marks}
        if len(sheets) < LEAST_SHEETS:
            raise PhotographError(
                f"{shot.name}: {counted(len(sheets), 'mark sheet')} with two marks and more seen, "
                f"at least {LEAST_SHEETS} are needed, better three: near both ends of the board"
            )


def require_sharp(fit: Fit, blurs: Sequence[float]) -> None:
    """Refuse blurred pictures: ``blurs`` how many pixels a rim takes in each."""
    for picture, blur in enumerate(blurs):
        shot = fit.problem.shots[picture]
        sides = float(np.median([mark.side for mark in shot.marks]))
        mm = blur * 60.0 / sides
        if mm > MOST_BLUR_MM:
            raise PhotographError(
                f"{shot.name}: blurred, rims of marks are {mm:.1f} mm wide and {MOST_BLUR_MM:g} mm "
                "at most are of use; hold the camera still, or go nearer"
            )


def require_height_known(fit: Fit, below_mm: float) -> None:
    """Refuse marks far below the face where the camera's height is not known well enough."""
    if not below_mm:
        return
    focal_doubt = float(np.sqrt(fit.spread[0, 0]))
    share = abs(below_mm) / float(np.mean([view.eye[2] for view in fit.views]))
    if 2000.0 * share * 2 * focal_doubt > MOST_DOUBT_MM and fit.problem.given.focal is None:
        raise PhotographError(
            "how high the camera was is not known well enough for marks below the face: lay the "
            "marks at the height of the face, or photograph aslant, or give --focal"
        )


def required_strip(strip: Strip | None) -> Strip:
    """Return a strip, if there is one that differs from what lies beside it."""
    if strip is None or strip.told < LEAST_TOLD:
        raise PhotographError(
            "no board is seen that differs from the ground on both sides; lay it between the "
            "sheets, on ground of another colour"
        )
    return strip


def require_clear_edge(edge: Edge) -> None:
    """Refuse a board whose edge is hidden, or cannot be told from the ground."""
    for run in runs_of(edge.hidden):
        if len(run) * STEP_MM > HIDDEN_MM:
            raise PhotographError(
                f"the board's edge is hidden over {len(run) * STEP_MM:.0f} mm: it runs out of the "
                "picture, or a sheet lies on it or nearer than a hand's breadth"
            )
    faint = float(np.mean(edge.margin < FAINT_NATS))
    burnt = float(np.mean(edge.burnt))
    if max(faint, burnt) > FAINT_SHARE and burnt > 0.5 * faint:
        raise PhotographError(
            f"glare hides {100 * burnt:.0f} % of the board's edge; turn the board or the camera "
            "so that no light is mirrored, or shade it"
        )
    if faint > FAINT_SHARE:
        raise PhotographError(
            f"{100 * faint:.0f} % of the board's edge cannot be told from the ground; lay it on "
            "ground of another colour"
        )


def length_doubt_of(fit: Fit, ring: Array, height_mm: float) -> float:
    """Return the standard deviation of a board's length, mm."""
    middle, turn = lengthwise(ring)
    along = (ring - middle) @ turn[0]
    ends = [ring[int(np.argmin(along))], ring[int(np.argmax(along))]]
    seen = [_best_pixel(fit, end, height_mm) for end in ends]
    return length_doubt(fit, seen[0], seen[1], height_mm)


def _best_pixel(fit: Fit, place: Array, height_mm: float) -> tuple[int, Array]:
    """Return in which picture a place is seen nearest below the camera, and its pixel."""
    far = [float(np.linalg.norm(view.eye[:2] - place)) for view in fit.views]
    picture = int(np.argmin(far))
    world = np.array([[place[0], place[1], height_mm]])
    return picture, projected(world, fit.views[picture], fit.lenses[picture])[0]


def require_known_length(doubt_mm: float, outline: Polygon) -> None:
    """Refuse a board whose length the marks do not fix."""
    length = outline.bounds[2]
    if doubt_mm > max(MOST_DOUBT_MM, 0.002 * length):
        raise PhotographError(
            f"with these sheets the length of {length:.0f} mm is known to {doubt_mm:.0f} mm only; "
            "lay sheets near both ends of the board, on both sides of it"
        )


def notes_on(edge: Edge) -> tuple[str, ...]:
    """Return what somebody is to know who reads the board."""
    side = float(edge.side_mm.max()) if len(edge.side_mm) else 0.0
    return (f"up to {side:.0f} mm of its side were seen and taken off",) if side > 4.0 else ()
