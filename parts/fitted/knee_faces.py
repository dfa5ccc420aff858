"""Both faces of a knee: its outer edges off the boat, its inner ones as any knee is drawn.

Each face is a plane. In it the beam's arm lies on a line or curve of its own, the side's arm on
the hull's cut; where they cross is the heel. The frame is the plain knee's: heel at the origin,
the diagonal up y, seen on the marked face, which is the larger one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from nesting.errors import PartError
from parts.curves import Points, length_of
from parts.families.knees import Knee
from parts.fitted.parted_edges import NO_CORNERS, Both, parted
from parts.fitted.two_faces import FacedEdge, TwoFaces, square
from parts.position import Position, position


@dataclass(frozen=True, eq=False)
class Corner:
    """The corner a knee fills, in one face.

    Attributes
    ----------
    beam, side
        (n, 3) mm, from the heel outward and past the arm's tip.
    chines
        (k, 3) points of the side at which it is broken.
    """

    beam: Points
    side: Points
    chines: Points = field(default_factory=lambda: np.zeros((0, 3)))

    @property
    def heel(self) -> Points:
        """Where both arms meet, (3,)."""
        return np.asarray(self.beam[0])


@dataclass(frozen=True, eq=False)
class KneeFaces:
    """A knee's two faces, the plain knee that gave its inner edges, and where it stands."""

    faces: TwoFaces
    plain: Knee
    position: Position

    @property
    def outer(self) -> list[Points]:
        """Both arms' outer edges in the marked face, (n, 2) each, where the knee bears."""
        return [edge.near for edge in self.faces.edges if edge.is_outer]


Drawing = Callable[[float, Literal["as drawn", "mirrored"]], Knee]
"""Makes the plain knee of an angle, degrees, and a hand."""


LEAST_ARM_MM = 50.0
"""Where there is less room nobody puts a knee (common practice, no source)."""


def toward(line: Points, length_mm: float) -> Points:
    """Return the unit direction from a line's start to where it is so far away from it."""
    away = np.linalg.norm(line - line[0], axis=1)
    room = float(away.max())
    if room < length_mm:
        here = f"room for an arm of {room:.0f} mm here, {length_mm:g} mm is asked for: shorten it"
        none = "no room for an arm here: put the knee elsewhere"
        raise PartError(f"there is {none if room < LEAST_ARM_MM else here}")
    i = int(np.flatnonzero(away >= length_mm)[0])
    share = (length_mm - away[i - 1]) / (away[i] - away[i - 1])
    end = line[i - 1] + share * (line[i] - line[i - 1])
    return np.asarray((end - line[0]) / np.linalg.norm(end - line[0]))


def knee_faces(
    one: Corner,
    other: Corner,
    arms: tuple[float, float],
    siding_mm: float,
    drawing: Drawing,
    names: tuple[str, str],
    heel_mm: float,
) -> KneeFaces:
    """Return the faces of a knee between two corners, a siding apart.

    Parameters
    ----------
    arms
        Lengths of the beam's and of the side's arm.
    names
        What the two arms lie on.
    heel_mm
        Taken off the heel, square to the diagonal.
    """
    plain, place = _drawn(one, other, arms, drawing)
    made = KneeFaces(_pair(plain, place, (one, other), siding_mm, names, heel_mm), plain, place)
    if made.faces.near.area >= made.faces.far.area:
        return made
    plain, place = _drawn(other, one, arms, drawing)
    return KneeFaces(_pair(plain, place, (other, one), siding_mm, names, heel_mm), plain, place)


def _drawn(
    near: Corner, far: Corner, arms: tuple[float, float], drawing: Drawing
) -> tuple[Knee, Position]:
    """Return the plain knee of a face, and where it stands."""
    beam, side = toward(near.beam, arms[0]), toward(near.side, arms[1])
    up, right = beam + side, side - beam
    hand: Literal["as drawn", "mirrored"] = "as drawn"
    # The face looks away from the wood; where it would not, the beam's arm lies to the right.
    if np.cross(right, up) @ (far.heel - near.heel) > 0:
        right, hand = -right, "mirrored"
    angle = float(np.degrees(np.arccos(np.clip(beam @ side, -1.0, 1.0))))
    return drawing(angle, hand), position(near.heel, right, up)


def _pair(
    plain: Knee,
    place: Position,
    corners: tuple[Corner, Corner],
    siding_mm: float,
    names: tuple[str, str],
    heel_mm: float,
) -> TwoFaces:
    near, far = corners
    none = NO_CORNERS, NO_CORNERS
    beam = Arm(names[0], (_flat(place, near.beam), _flat(place, far.beam)), none)
    chines = _flat(place, near.chines), _flat(place, far.chines)
    side = Arm(names[1], (_flat(place, near.side), _flat(place, far.side)), chines)
    left, right = (beam, side) if plain.hand == "as drawn" else (side, beam)
    return outlined(plain, (left, right), siding_mm, heel_mm)


def _flat(place: Position, line: Points) -> Points:
    return np.asarray(place.in_part(line)[:, :2])


@dataclass(frozen=True, eq=False)
class Arm:
    """An arm's name, its outer edge past its tip and the corners of that, in both faces."""

    name: str
    lines: Both
    corners: Both


def outlined(plain: Knee, arms: tuple[Arm, Arm], siding_mm: float, heel_mm: float) -> TwoFaces:
    """Return the faces of a knee from its left and its right outer edge, past the tips."""
    left_edges = _arm(plain, -1, arms[0], heel_mm)
    right_edges = _arm(plain, 1, arms[1], heel_mm)
    inner_left, inner_right = plain.inner_edges()
    inner = np.vstack([inner_right, inner_left[-2::-1]])
    tips = [
        (edge.near[-1], edge.far[-1], inner_end)
        for edge, inner_end in ((right_edges[-1], inner[0]), (left_edges[-1], inner[-1]))
    ]
    left, right = (f"{arm.name} arm" for arm in arms)
    edges = [
        *right_edges,
        FacedEdge(f"tip of the {right}", *(np.vstack([end, tips[0][2]]) for end in tips[0][:2])),
        square("hollow", inner),
        FacedEdge(f"tip of the {left}", *(np.vstack([tips[1][2], end]) for end in tips[1][:2])),
        *(edge.turned() for edge in reversed(left_edges)),
    ]
    feet = [
        np.vstack([one, two])
        for one, two in (
            (left_edges[0].near[0], right_edges[0].near[0]),
            (left_edges[0].far[0], right_edges[0].far[0]),
        )
    ]
    if max(length_of(foot) for foot in feet) > 1e-6:
        edges.insert(0, FacedEdge("heel", *feet))
    return TwoFaces(tuple(edges), siding_mm)


def _arm(plain: Knee, side: int, arm: Arm, heel_mm: float) -> tuple[FacedEdge, ...]:
    """Return one arm's outer edge, between the cut of the heel and that of the tip."""
    tip, across = plain.arm_mm(side) * plain.along(side), plain.inward(side)
    near, far = (_between(heel_mm, tip, across, side, line) for line in arm.lines)
    return parted(f"{arm.name} arm, outer edge", (near, far), arm.corners, is_outer=True)


def _between(heel_mm: float, tip: Points, across: Points, side: int, line: Points) -> Points:
    """Return a line's part above the heel's cut and short of the tip's."""
    out = side * np.array([across[1], -across[0]])
    line = _cut(line, (line - tip) @ out)
    if heel_mm:
        line = _cut(line, heel_mm - line[:, 1])
    return line


def _cut(line: Points, past: Points) -> Points:
    """Return the part of a line where a figure is below 0."""
    inside = past < 0
    if not inside.any():
        raise PartError("the heel's cut takes this knee's arm away: cut off less")
    rows = list[Points]()
    for i in range(len(line)):
        if i and inside[i] != inside[i - 1]:
            share = past[i - 1] / (past[i - 1] - past[i])
            rows.append(line[i - 1] + share * (line[i] - line[i - 1]))
        if inside[i]:
            rows.append(line[i])
    return np.array(rows)
