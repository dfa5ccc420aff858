"""The lines as a loft draws them: body plan, profile, half-breadth plan, diagonals, all named.

Takes plain polylines: this package knows nothing of hulls. The diagonals lie below the centreline
of the half-breadth plan, each laid off in its own plane. Every view is at full size in mm, moved
to its place on the sheet; the title says the scale that fits the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import shapely

from nesting.sheets.drawing import Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.lettering import wrapped
from nesting.sheets.lines_plan import LETTER_MM, PAPER_SIZES, SCALES, TITLE_MM, Box, View
from nesting.sheets.loft_names import ROLES, Line, Names, box_of
from nesting.shop.kinds import Paper

GAP_MM, SIDE_MM, NAMES_MM = 8.0, 24.0, 7.0
"""Paper mm: between views, for names at both sides, and below each view."""

BREAK_MM = 0.3
"""Paper mm between lettering and a grid that is broken for it."""


def loft_plan(
    body: View,
    profile: View,
    half_breadth: View,
    *,
    name: str,
    paper: Paper,
    notes: Sequence[str] = (),
) -> Drawing:
    """Return the lines drawing of a hull.

    Parameters
    ----------
    body, profile, half_breadth
        The lines of each view, in its own frame: x of profile and half-breadth is aft. Diagonals
        of the half-breadth plan are drawn below its centreline.
    paper
        What is printed on; where it would need a smaller scale than 1 in 50, a larger one is taken.
    notes
        What the title says below the name.
    """
    plan = _with_diagonals(half_breadth)
    views = (_with_base(body), _with_base(profile), plan)
    boxes = [box_of(view) for view in views]
    taken, wide, high, scale = _fit(boxes, paper)
    frame = (0.0, 0.0, wide * scale, high * scale)
    placed = [_moved(view, shift) for view, shift in zip(views, _shifts(boxes, scale), strict=True)]
    entities = Names(placed, scale).all()
    entities += _broken((line for view in placed for line in view), entities, scale)
    right = box_of(placed[0])[2] + (SIDE_MM + GAP_MM) * scale
    texts = (*notes, f"1:{scale:g} on paper, full size in the file")
    entities += _title(f"Lines of {name}", texts, scale, (right, frame[3] - 14 * scale))
    corners = ((0.0, 0.0), (frame[2], 0.0), (frame[2], frame[3]), (0.0, frame[3]))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    order = {role: place for place, role in enumerate(Role)}
    entities.sort(key=lambda entity: order[entity.role])
    return Drawing(f"Lines of {name}", tuple(entities), frame, float(scale), taken)


def _with_base(view: View) -> list[Line]:
    """Return a view of heights with its base line."""
    low_x, _, high_x, _ = box_of(view)
    lines = [Line(line.kind, line.name, line.points) for line in view]
    return [*lines, Line("grid", "base line", ((low_x, 0.0), (high_x, 0.0)))]


def _with_diagonals(view: View) -> list[Line]:
    """Return a half-breadth plan with the diagonals below it, and stations down through both."""
    under = [line for line in view if line.kind == "diagonal"]
    deepest = max((y for line in under for _, y in line.points), default=0.0)
    found = []
    for line in view:
        points = line.points
        if line.kind == "diagonal":
            points = tuple((x, -y) for x, y in points)
        elif line.kind == "grid" and _is_plumb(line.points):
            points = ((points[0][0], -deepest), points[1])
        found.append(Line(line.kind, line.name, points))
    return found


def _is_plumb(points: tuple[Point, ...]) -> bool:
    return points[0][0] == points[-1][0]


def _sizes(boxes: Sequence[Box]) -> list[tuple[float, float]]:
    return [(box[2] - box[0], box[3] - box[1]) for box in boxes]


def _fit(boxes: Sequence[Box], paper: Paper) -> tuple[str, float, float, int]:
    """Return the paper taken, its size within the margin, and the scale of a rule that fits it."""
    body, profile, plan = _sizes(boxes)
    own = (paper.value, *paper.lying_mm)
    larger = [size for size in PAPER_SIZES if size[1] > own[1] and size[2] > own[2]]
    for name, wide, high in (own, *larger):
        is_last = name == PAPER_SIZES[-1][0]
        for scale in SCALES:
            across = max(profile[0], plan[0], body[0] + (TITLE_MM + 2 * GAP_MM) * scale) / scale
            up = (body[1] + profile[1] + plan[1]) / scale + 3 * NAMES_MM + 3 * GAP_MM
            fits = across + 2 * SIDE_MM <= wide and up + GAP_MM <= high
            if fits and (scale <= 50 or is_last):
                return name, wide, high, scale
    assert False, "no boat is longer than 40 m"  # noqa: B011


def _shifts(boxes: Sequence[Box], scale: float) -> list[Point]:
    """Return how far each view moves: one above the other, names below each."""
    floor, found = 0.0, []
    for box in reversed(boxes):
        floor += (GAP_MM + NAMES_MM) * scale
        found.append((SIDE_MM * scale - box[0], floor - box[1]))
        floor += box[3] - box[1]
    return found[::-1]


def _moved(view: Iterable[Line], shift: Point) -> list[Line]:
    dx, dy = shift
    return [
        Line(line.kind, line.name, tuple((x + dx, y + dy) for x, y in line.points)) for line in view
    ]


def _broken(lines: Iterable[Line], names: Sequence[Entity], scale: float) -> Iterator[Polyline]:
    """Yield the lines; those of the grid are broken for lettering that found no room beside them.

    So it is done on drawing boards (common practice, no source).
    """
    boxes = [shapely.box(*name.box) for name in names if isinstance(name, Text)]
    lettering = shapely.union_all(boxes).buffer(BREAK_MM * scale)
    for line in lines:
        if line.kind != "grid":
            yield Polyline(line.points, ROLES[line.kind])
            continue
        for piece in shapely.get_parts(shapely.LineString(line.points).difference(lettering)):
            points = tuple((float(x), float(y)) for x, y in piece.coords)
            yield Polyline(points, ROLES[line.kind])


def _title(name: str, notes: Sequence[str], scale: float, at: Point) -> list[Entity]:
    found, y = list[Entity](), at[1]
    for text, letter in ((name, 2 * LETTER_MM), *((note, LETTER_MM) for note in notes)):
        for piece in wrapped(text, letter, TITLE_MM):
            found.append(Text(piece, (at[0], y), letter * scale, Role.TITLE))
            y -= 1.9 * letter * scale
    return found
