"""Both faces of a beam from the boat's sections; geometry only.

A beam stands plumb across the boat. Its upper edge follows a surface (deck, house top, sole),
its ends the inside of the hull, or they are plumb; its lower edge is square, drawn in the marked
face.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from nesting.errors import PartError
from parts.curves import Points
from parts.families.beam_wood import check_taper
from parts.fitted.parted_edges import Both, Chines, no_chines, parted
from parts.fitted.two_faces import FacedEdge, TwoFaces
from parts.position import Position, position

if TYPE_CHECKING:
    from parts.boat.boat import Boat

SIDE, UP = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])

END_POINTS = 5
"""Points of an end: over a moulding of 80 mm a section leaves their chords by far less than
0.05 mm."""

PITCH_MM = 25.0
"""Points of upper and lower edges: chords of it leave an arc of 1.5 m radius by 0.05 mm."""

Surface = Callable[[float, Points], Points]
"""Heights of an upper edge at a place x and distances from the centreline."""


@dataclass(frozen=True)
class BeamShape:
    """What a beam is, but for where it stands.

    Attributes
    ----------
    moulding_mm, end_mm
        Depth at the centreline and at the ends, plumb.
    inner_mm
        Where a half beam's plumb inner end stands; None for a whole beam.
    """

    siding_mm: float
    moulding_mm: float
    end_mm: float
    inner_mm: float | None = None


def beam_shape(
    boat: Boat,
    kind: str,
    sizes: tuple[float | None, float | None, float | None],
    inner_mm: float | None = None,
) -> BeamShape:
    """Return a beam of its own siding, moulding and end moulding, or of the boat's.

    ``kind`` says which of the boat's beams gives what is None: ordinary, main or half. An end
    moulding that goes with a moulding of its own is the same as that, if it is None.
    """
    siding, moulding, end = sizes
    if siding is None or moulding is None:
        usual = boat.beam_size(kind)
        if moulding is None:
            moulding, end = usual.moulding_mm, end or usual.end_moulding_mm
        siding = siding or usual.siding_mm
    end = end or moulding
    check_taper(end, moulding)
    return BeamShape(siding, moulding, end, inner_mm)


@dataclass(frozen=True, eq=False)
class BeamFaces:
    """A beam's two faces, where it stands, and the half-breadth of its ends above."""

    faces: TwoFaces
    position: Position
    marked_face: str
    half_mm: float
    upper: Points
    lower: Points


def beam_faces(
    shape: BeamShape,
    planes: tuple[float, float],
    top: Surface,
    section: Callable[[float], Points],
    chines: Chines = no_chines,
) -> BeamFaces:
    """Return the faces of a beam between a fore and an after plane.

    Parameters
    ----------
    section
        The half section that the ends lie on, (n, 2) half-breadth and height from below up, at
        a place.
    chines
        The chines of that.

    Raises
    ------
    PartError
        If the upper edge misses the hull.
    """
    near_x, far_x, half, base = _marked(planes, top, section)
    under = _under(shape, near_x, half, top)
    count = 1 + max(4, math.ceil((half - (shape.inner_mm or -half)) / PITCH_MM))
    near, far = (_lines(shape, section(x), partial(top, x), under, count) for x in (near_x, far_x))
    is_fore, origin = near_x == planes[0], np.array([0.0, base])
    corners = tuple(chines(x) - origin for x in (near_x, far_x))
    lines = [(one - origin, other - origin) for one, other in zip(near, far, strict=True)]
    edges = _edges(shape, lines, (corners[0], corners[1]), is_fore=is_fore)
    faces = TwoFaces(edges, shape.siding_mm)
    place = position(np.array([near_x, 0.0, base]), -SIDE if is_fore else SIDE, UP)
    if is_fore:
        # Seen on the fore face starboard lies to the left.
        faces = faces.mirrored()
    drawn = {edge.name: edge.near for edge in faces.edges}
    return BeamFaces(
        faces,
        place,
        "fore" if is_fore else "after",
        half,
        drawn["upper edge"],
        drawn["lower edge"],
    )


def under_beam(
    shape: BeamShape, planes: tuple[float, float], top: Surface, section: Callable[[float], Points]
) -> Callable[[Points], Points]:
    """Return the height of a beam's lower edge over y, alike from its fore to its after face."""
    near_x, _, half, _ = _marked(planes, top, section)
    return _under(shape, near_x, half, top)


def _marked(
    planes: tuple[float, float], top: Surface, section: Callable[[float], Points]
) -> tuple[float, float, float, float]:
    """Return where the wider face stands, and the other, and where the wider one's ends are."""
    ends = [_end_above(section(x), x, top) for x in planes]
    if ends[0][0] >= ends[1][0]:
        return *planes, *ends[0]
    return *planes[::-1], *ends[1]


def _end_above(section: Points, x: float, top: Surface) -> tuple[float, float]:
    """Return half-breadth and height at which an upper edge meets the hull."""
    above = section[:, 1] - top(x, section[:, 0])
    if above[-1] < -1.0 or not (above < 0).any():
        raise PartError(
            f"the beam's upper edge does not meet the hull's side at {x:.0f} mm from forward: "
            "check sheer, sole and camber"
        )
    return _crossing(section, above)


def _crossing(section: Points, above: Points) -> tuple[float, float]:
    """Return the highest point of a section at which a figure turns from below 0."""
    last = int(np.flatnonzero(above < 0)[-1])
    if last == len(section) - 1:
        return float(section[-1, 0]), float(section[-1, 1])
    share = above[last] / (above[last] - above[last + 1])
    y, z = section[last] + share * (section[last + 1] - section[last])
    return float(y), float(z)


def _under(shape: BeamShape, x: float, half: float, top: Surface) -> Callable[[Points], Points]:
    """Return the lower edge's height over y, as drawn in the marked face."""

    def height(y: Points) -> Points:
        share = np.minimum(np.abs(y) / half, 1.0) ** 2
        depth = shape.moulding_mm - (shape.moulding_mm - shape.end_mm) * share
        return np.asarray(top(x, y) - depth)

    return height


def _edges(
    shape: BeamShape, lines: list[Both], corners: Both, *, is_fore: bool
) -> tuple[FacedEdge, ...]:
    """Return the edges anticlockwise from the lower one, those of starboard's end before upper."""
    lower, end, upper, inner = lines
    # Named as seen on the marked face; starboard's end comes first, on the fore face left.
    sides = ("left end", "right end") if is_fore else ("right end", "left end")
    is_whole = shape.inner_mm is None
    ends = parted(sides[0] if is_whole else "outer end", end, corners, count=lambda _: END_POINTS)
    if is_whole:
        others = [one.mirrored(one.name.replace(*sides)) for one in reversed(ends)]
    else:
        others = [FacedEdge("inner end", *inner)]
    return (FacedEdge("lower edge", *lower), *ends, FacedEdge("upper edge", *upper), *others)


def _lines(
    shape: BeamShape,
    section: Points,
    above: Callable[[Points], Points],
    under: Callable[[Points], Points],
    count: int,
) -> tuple[Points, Points, Points, Points]:
    """Return lower edge, starboard end, upper edge and a half beam's inner end, anticlockwise."""
    high_y, high_z = _crossing(section, section[:, 1] - above(section[:, 0]))
    low = section[:, 1] - under(section[:, 0])
    if not (low < 0).any():
        raise PartError(
            "the beam is deeper than the hull below it: it would lie on the keel; lessen its "
            "moulding or raise it"
        )
    low_y, low_z = _crossing(section, low)
    within = (section[:, 1] > low_z + 1e-6) & (section[:, 1] < high_z - 1e-6)
    end = np.vstack([[low_y, low_z], section[within], [high_y, high_z]])
    inner = shape.inner_mm
    if inner is not None and inner >= min(low_y, high_y):
        raise PartError(
            f"the half beam begins {inner:g} mm from the centreline, at or past its outer end at "
            f"{min(low_y, high_y):.0f} mm: move the carlin inboard"
        )
    starts = (-low_y, -high_y) if inner is None else (inner, inner)
    x_low, x_high = (
        np.linspace(start, stop, count) for start, stop in zip(starts, (low_y, high_y), strict=True)
    )
    lower, upper = np.column_stack([x_low, under(x_low)]), np.column_stack([x_high, above(x_high)])
    # The corners are those of the ends, to the last digit.
    lower[-1], upper[-1] = end[0], end[-1]
    if inner is None:
        lower[0], upper[0] = end[0] * [-1, 1], end[-1] * [-1, 1]
    return lower, end, upper[::-1], np.vstack([upper[0], lower[0]])
