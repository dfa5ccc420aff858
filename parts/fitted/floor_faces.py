"""Both faces of a floor timber from the boat's sections; geometry only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from nesting.errors import PartError
from parts.curves import Points, at_distances, distances_along, length_of
from parts.families import floor_shape as draw
from parts.fitted.parted_edges import parted, spread
from parts.fitted.two_faces import FacedEdge, TwoFaces, square
from parts.position import Position, position

if TYPE_CHECKING:
    from parts.boat.boat import Boat

SIDE = np.array([0.0, 1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])

LOWER_EDGE = "lower edge of the {} arm"
"""What an arm's edge on the hull is called, or begins with where a chine parts it."""

SHORTEST_RISE_MM = 10.0
"""An arm that rises by less is no arm."""


@dataclass(frozen=True, eq=False)
class FloorFaces:
    """A floor's two faces, the drawing of the marked one, and where it stands."""

    faces: TwoFaces
    drawing: draw.FloorDrawing
    position: Position
    marked_face: str
    arm: tuple[FacedEdge, ...]
    """The edges of one arm's lower edge, from the seat to the tip."""

    def lapped(self, lap_mm: float) -> draw.FloorDrawing:
        """Return the drawing for a frame that laps so much of an arm, from its tip."""
        line = np.vstack([edge.near for edge in self.arm])
        spread = np.concatenate([edge.spread for edge in self.arm])
        laps = length_of(line) - distances_along(line) <= lap_mm
        return replace(self.drawing, under_mm=max(0.0, -float(spread[laps].min())))


def floor_faces(
    boat: Boat,
    planes: tuple[float, float],
    *,
    siding_mm: float,
    arm_mm: float | None,
    is_on_frames: bool,
    drawing: Callable[[Points], draw.FloorDrawing],
) -> FloorFaces:
    """Return the faces of a floor between a fore and an after plane.

    Parameters
    ----------
    drawing
        Makes the drawing of the marked face from its arm's lower edge.

    Raises
    ------
    PartError
        If the arms are longer than the side is high, or the faces do not go together.
    """
    sections = {x: lower_edge(boat, x, is_on_frames=is_on_frames) for x in planes}
    # The larger face is the one that is wider where the arms end.
    fore, aft = (sections[x] for x in planes)
    height = min(_head(boat, planes[0], fore, arm_mm), _head(boat, planes[1], aft, arm_mm))
    widths = [np.interp(height, line[:, 1], line[:, 0]) for line in (fore, aft)]
    near_x, far_x = planes if widths[0] > widths[1] else planes[::-1]
    near, far = sections[near_x], sections[far_x]
    base = np.array([0.0, near[0, 1]])
    tip = _tip_length(boat, near_x, near, arm_mm)
    chines = tuple(_chines(boat, x, is_on_frames=is_on_frames) - base for x in (near_x, far_x))
    first = _first_part(near, tip) - base
    drawn = drawing(spread(first, chines[0]))
    arms = parted(LOWER_EDGE, (first, _up_to_tip(far - base, drawn)), (chines[0], chines[1]))
    faces = _faces(drawn, arms, siding_mm)
    marked = "fore" if near_x == planes[0] else "after"
    # Seen on the fore face starboard lies to the left, on the after face to the right.
    across = -SIDE if marked == "fore" else SIDE
    origin = np.array([near_x, 0.0, base[1]])
    return FloorFaces(faces, drawn, position(origin, across, UP), marked, arms)


def _chines(boat: Boat, x: float, *, is_on_frames: bool) -> Points:
    """Return the chines of what a floor's arm lies on, (k, 2) half-breadth and height."""
    return (boat.on_frames if is_on_frames else boat.hull).chines(x)


def lower_edge(boat: Boat, x: float, *, is_on_frames: bool) -> Points:
    """Return what a floor's arm lies on, (n, 2) half-breadth and height, from the seat up."""
    hull = boat.on_frames if is_on_frames else boat.hull
    section, start = hull.section(x), boat.seat(x)
    if section[0, 1] >= start[1]:
        return np.array(section)
    if is_on_frames:
        start = np.array([hull.half_breadth(x, float(start[1])), start[1]])
    return np.vstack([start, section[section[:, 1] > start[1] + 1e-6]])


def _head(boat: Boat, x: float, line: Points, arm_mm: float | None) -> float:
    return float(_first_part(line, _tip_length(boat, x, line, arm_mm))[-1, 1])


def _tip_length(boat: Boat, x: float, line: Points, arm_mm: float | None) -> float:
    """Return the length of an arm along its lower edge."""
    whole = length_of(line)
    if arm_mm is None:
        height = boat.head_height(x)
        if not line[0, 1] + SHORTEST_RISE_MM < height < line[-1, 1]:
            raise PartError(
                f"the floor heads at {height:.0f} mm lie outside the side at {x:.0f} mm from "
                f"forward, {line[0, 1]:.0f} mm to {line[-1, 1]:.0f} mm: change floor_heads, or "
                "give the arms' length"
            )
        along = distances_along(line)
        return float(np.interp(height, line[:, 1], along))
    if arm_mm >= whole:
        raise PartError(
            f"arms of {arm_mm:g} mm reach past the sheer, {whole:.0f} mm from the seat: shorten "
            "them"
        )
    return arm_mm


def _first_part(line: Points, length_mm: float) -> Points:
    along = distances_along(line)
    return np.vstack([line[along < length_mm - 1e-6], at_distances(line, np.array([length_mm]))])


def _up_to_tip(line: Points, drawn: draw.FloorDrawing) -> Points:
    """Return the far face's arm as far as the line that the tips are cut to."""
    foot, top = drawn.arm[-1], drawn.tip_top
    across = np.array([top[1] - foot[1], foot[0] - top[0]])
    past = (line - foot) @ across
    ends = np.flatnonzero((past[:-1] < 0) & (past[1:] >= 0))
    if not len(ends):
        raise PartError(
            "the far face does not reach the arms' tips: the hull is too full or too fine here "
            "for this siding"
        )
    i = int(ends[0])
    share = past[i] / (past[i] - past[i + 1])
    return np.vstack([line[: i + 1], line[i] + share * (line[i + 1] - line[i])])


def _faces(drawn: draw.FloorDrawing, arms: tuple[FacedEdge, ...], siding_mm: float) -> TwoFaces:
    """Return both faces: seat, right arm, tip, upper edge, and the other side alike."""
    top, turn = drawn.upper_edge(), draw.MIRROR
    foot, end = arms[0], arms[-1]
    upper = np.vstack([top, (top * turn)[::-1]])
    upper = upper[np.concatenate([[True], np.hypot(*np.diff(upper, axis=0).T) > 1e-9])]
    tips = np.vstack([end.near[-1], top[0]]), np.vstack([end.far[-1], top[0]])
    seats = (np.vstack([face[0] * turn, face[0]]) for face in (foot.near, foot.far))
    edges = (
        FacedEdge("seat", *seats),
        *(replace(arm, name=arm.name.format("right")) for arm in arms),
        FacedEdge("tip of the right arm", *tips),
        square("upper edge", upper),
        FacedEdge("tip of the left arm", *((tip * turn)[::-1] for tip in tips)),
        *(arm.mirrored(arm.name.format("left")) for arm in reversed(arms)),
    )
    return TwoFaces(edges, siding_mm, tuple(drawn.limbers()))
