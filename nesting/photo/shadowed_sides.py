"""Long sides along which the board's shadow was taken for wood: cut off at the sharp line inside.

A shadow's rim is soft, or runs over stones and grass, and no line is seen along it. The board's own
edge is a sharp line inside it from end to end, and what lies between looks like the ground.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.photo.band import STEP_MM
from nesting.photo.board_bays import Bridge
from nesting.photo.board_sides import share_alike
from nesting.photo.fair_course import SIGNS, Course, course_of, end_zone
from nesting.photo.line_followed import TOLD_NATS, followed, line_share
from nesting.photo.plan_view import Array, PlanView
from nesting.photo.rings import lengthwise, resampled

WIDEST_SHADOW_MM, WIDEST_SHARE = 64.0, 0.4
"""How far inside a side its sharp line is looked for; and no farther than so much of the width."""

CLEAR_MM = 4.0
"""A line nearer to the side than this is the side's own."""

OUTER_SHARE, INNER_SHARE, MOST_WOOD = 0.5, 0.85, 0.3
"""A side is none if a line is seen along less of it, and along more than the second inside it, and
less than the third of what lies between looks like the board. Of sixteen rendered sides the one
with a shadow had 0.17, 1.0 and 0.0; the others 0.39 and more, at most 0.62, 0.51 and more."""


PLAIN_NATS, NO_NATS = 8.0, 2.0
"""A line inside a side that tells so much along it, the side itself no more than the second, is the
board's whatever lies between: in a board of dark seams and shades a shadow looks like the face
(11.9 and 0.5 where 34 mm of shadow had been taken for wood; 18 other sides, whose own line was
seen, told 0.7 to 12)."""


def without_shadows(plan: PlanView, ring: Array) -> tuple[Array, tuple[Bridge, ...]]:
    """Return a closed anticlockwise ring, evenly stepped, without shadows along its long sides,
    and the lines that they were cut off at.
    """
    middle, turn = lengthwise(ring)
    sides = course_of((ring - middle) @ turn.T)
    if sides is None:
        return ring, ()
    shape: BaseGeometry = Polygon(ring).buffer(0)
    bridges = list[Bridge]()
    for sign, line, out_mm in _lines_inside(plan, sides, turn, middle):
        beyond = line[[-1, 0]] + 4 * WIDEST_SHADOW_MM * sign * turn[1]
        shape = shape.difference(Polygon(np.concatenate([line, beyond])).buffer(0))
        why = f"{out_mm:.0f} mm of shadow past its line were cut off"
        bridges.append(Bridge(line if sign < 0 else line[::-1], 1.0, why))
    if not bridges:
        return ring, ()
    whole = max(shapely.get_parts(shape), key=lambda part: part.area)
    made = resampled(np.asarray(whole.exterior.coords)[:-1], STEP_MM)
    return (made if whole.exterior.is_ccw else made[::-1]), tuple(bridges)


def _lines_inside(
    plan: PlanView, sides: Course, turn: Array, middle: Array
) -> Iterator[tuple[float, Array, float]]:
    """Yield for each side that lies along a shadow which it is, the (n, 2) line of the board's edge
    in the plan, drawn out past both ends, and how far inside it lies.
    """
    skip = round(end_zone(sides.width) / STEP_MM)
    deep = min(WIDEST_SHADOW_MM, WIDEST_SHARE * sides.width)
    half = (deep - CLEAR_MM) / 2
    for sign, fair in zip(SIGNS, sides.fair, strict=True):
        u = sides.u[skip:-skip]

        def at(out: Array, u: Array = u, sign: float = sign) -> Array:
            return np.column_stack([u, sign * out]) @ turn + middle

        outer = fair[skip:-skip]
        if line_share(plan, at(outer)) >= OUTER_SHARE:
            continue
        _, met, told = followed(plan, LineString(at(outer - CLEAR_MM - half)), half)
        if np.mean(told > TOLD_NATS) < INNER_SHARE:
            continue
        own = (met - middle) @ turn.T
        inner = np.interp(u, own[:, 0], sign * own[:, 1])
        own_told = followed(plan, LineString(at(outer)), CLEAR_MM - 1.0)[2]
        is_plain = told.mean() >= PLAIN_NATS and own_told.mean() <= NO_NATS
        if not is_plain and _wood_between(plan, at, inner, outer) > MOST_WOOD:
            continue
        yield sign, _drawn_out(at(inner), turn[0]), float(np.median(outer - inner))


FACE_MM, GROUND_MM = (6.0, 12.0, 25.0), (15.0, 30.0, 45.0)
"""How far inside the inner line the face is looked at, and how far outside the outer the ground."""


def _wood_between(
    plan: PlanView, at: Callable[[Array], Array], inner: Array, outer: Array
) -> float:
    """Return what part of what lies between two lines along a side looks like the board."""
    between = [inner + share * (outer - inner) for share in (0.25, 0.5, 0.75)]
    face, ground = [inner - mm for mm in FACE_MM], [outer + mm for mm in GROUND_MM]
    sets = [np.concatenate([at(out)[::4] for out in some]) for some in (between, face, ground)]
    return share_alike(plan, *sets)


def _drawn_out(line: Array, ahead: Array) -> Array:
    """Return a line along a board drawn out at both ends, straight on, past what may be an end."""
    reach = round(90.0 / STEP_MM)
    more = []
    for end, other in ((line[0], line[reach]), (line[-1], line[-1 - reach])):
        way = (end - other) / np.linalg.norm(end - other)
        more.append(end + 400.0 * way)
    assert (more[1] - more[0]) @ ahead > 0
    return np.concatenate([more[:1], line, more[1:]])
