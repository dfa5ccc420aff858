"""The lines as a loft draws them: body plan, profile, half-breadth plan, diagonals, all named.

Takes plain polylines: this package knows nothing of hulls. The diagonals lie below the centreline
of the half-breadth plan, each laid off in its own plane. Every view is at full size in mm, moved
to its place on the sheet; the title says the scale that fits the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nesting.sheets.drawing import RISE, TAIL, Anchor, Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.lines_plan import LETTER_MM, PAPER_SIZES, SCALES, TITLE_MM, Box, View

GAP_MM, SIDE_MM, NAMES_MM, SMALL_MM = 8.0, 24.0, 7.0, 2.0
"""Paper mm: between views, for names at both sides, below each view, and their height."""

ROLES = {
    "section": Role.SECTION,
    "waterline": Role.WATERLINE,
    "buttock": Role.BUTTOCK,
    "diagonal": Role.DIAGONAL,
    "sheer": Role.SHEER,
    "chine": Role.CHINE,
    "rabbet": Role.RABBET,
    "transom": Role.TRANSOM,
    "grid": Role.GRID,
}
"""What each kind of line is drawn as; a straight one of the grid keeps to the grid's layer."""

SHORT = {"waterline": "WL", "buttock": "B", "diagonal": "D"}
"""How long lines are called on the drawing."""

LEVEL = 0.35
"""Rise over run of a line past which no level name is set along it."""

ASIDE_MM = (0.0, 1.3, -1.3)
"""How far beside a section's head its name is tried: off a line of the grid through it."""

TRIED = 61
"""Places along a line at which its name is tried."""

FIRST_SHARE = 0.3
"""Where along a line its name is tried first."""


@dataclass(frozen=True)
class _Line:
    kind: str
    name: str
    points: tuple[Point, ...]


def loft_plan(
    body: View,
    profile: View,
    half_breadth: View,
    *,
    name: str,
    notes: Sequence[str] = (),
) -> Drawing:
    """Return the lines drawing of a hull.

    Parameters
    ----------
    body, profile, half_breadth
        The lines of each view, in its own frame: x of profile and half-breadth is aft. Diagonals
        of the half-breadth plan are drawn below its centreline.
    notes
        What the title says below the name.
    """
    plan = _with_diagonals(half_breadth)
    views = (_with_base(body), _with_base(profile), plan)
    boxes = [_box(view) for view in views]
    paper, wide, high, scale = _fit(boxes)
    frame = (0.0, 0.0, wide * scale, high * scale)
    placed = [_moved(view, shift) for view, shift in zip(views, _shifts(boxes, scale), strict=True)]
    entities: list[Entity] = [
        Polyline(line.points, ROLES[line.kind]) for view in placed for line in view
    ]
    entities += _Names(placed, scale).all()
    right = _box(placed[0])[2] + (SIDE_MM + GAP_MM) * scale
    texts = (*notes, f"1:{scale:g} on paper, full size in the file")
    entities += _title(f"Lines of {name}", texts, scale, (right, frame[3] - 14 * scale))
    corners = ((0.0, 0.0), (frame[2], 0.0), (frame[2], frame[3]), (0.0, frame[3]))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    order = {role: place for place, role in enumerate(Role)}
    entities.sort(key=lambda entity: order[entity.role])
    return Drawing(f"Lines of {name}", tuple(entities), frame, float(scale), paper)


def _with_base(view: View) -> list[_Line]:
    """Return a view of heights with its base line."""
    low_x, _, high_x, _ = _box(view)
    lines = [_Line(line.kind, line.name, line.points) for line in view]
    return [*lines, _Line("grid", "base line", ((low_x, 0.0), (high_x, 0.0)))]


def _with_diagonals(view: View) -> list[_Line]:
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
        found.append(_Line(line.kind, line.name, points))
    return found


def _is_plumb(points: tuple[Point, ...]) -> bool:
    return points[0][0] == points[-1][0]


def _box(view: Iterable[_Line] | View) -> Box:
    x, y = np.array([point for line in view for point in line.points]).T
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _sizes(boxes: Sequence[Box]) -> list[tuple[float, float]]:
    return [(box[2] - box[0], box[3] - box[1]) for box in boxes]


def _fit(boxes: Sequence[Box]) -> tuple[str, float, float, int]:
    """Return the least paper, its size within the margin, and the scale of a rule that fits it.

    A larger paper is only taken where A3 would need a scale smaller than 1 in 50.
    """
    body, profile, plan = _sizes(boxes)
    for name, wide, high in PAPER_SIZES:
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


def _moved(view: Iterable[_Line], shift: Point) -> list[_Line]:
    dx, dy = shift
    return [
        _Line(line.kind, line.name, tuple((x + dx, y + dy) for x, y in line.points))
        for line in view
    ]


def _short(name: str) -> str:
    first, _, rest = name.partition(" ")
    return f"{SHORT[first]} {rest}" if first in SHORT else name


class _Names:
    """The names of all lines, each where it touches nothing."""

    def __init__(self, views: Sequence[list[_Line]], scale: float) -> None:
        self.views, self.scale = views, scale
        self.space = FreeSpace()
        for line in (line for view in views for line in view):
            self.space.take([shapely.LineString(line.points)], is_soft=line.kind == "grid")

    def all(self) -> list[Entity]:
        """Return every name."""
        body, profile, plan = self.views
        found: list[Entity] = [*self._stations(body), *self._grid(body, is_body=True)]
        for view in (profile, plan):
            found += self._grid(view, is_body=False)
        for view in (profile, plan):
            found += self._long_lines(view)
        return found

    def _text(self, name: str, at: Point, anchor: Anchor, role: Role) -> Text:
        text = Text(name, at, SMALL_MM * self.scale, role, anchor)
        self.space.take_box(text.box)
        return text

    def _stations(self, body: list[_Line]) -> Iterator[Text]:
        """Yield each station's name over its section, above those that stand there already."""
        heads: dict[str, Point] = {}
        for line in body:
            if line.kind == "section":
                heads[line.name] = max(line.points[-1], heads.get(line.name, line.points[-1]))
        step = 1.5 * SMALL_MM * self.scale
        for name, (x, y) in heads.items():
            rows = [
                (x + aside * self.scale, y + (row - 0.5) * step)
                for row in range(1, 9)
                for aside in ASIDE_MM
            ]
            tried = ((at, heeds) for heeds in (True, False) for at in rows)
            free = (at for at, heeds in tried if self._is_free(name, at, Anchor.CENTRE, heeds))
            at = next(free, (x, y))
            yield self._text(name, at, Anchor.CENTRE, Role.NOTE)

    def _grid(self, view: list[_Line], *, is_body: bool) -> Iterator[Text]:
        """Yield the names of straight lines: level ones at their ends, plumb ones below."""
        off = 1.2 * self.scale
        floor = _box(view)[1] - (SMALL_MM + 1.5) * self.scale
        for line in view:
            if line.kind != "grid":
                continue
            (x0, y0), (x1, y1) = line.points[0], line.points[-1]
            name, middle = _short(line.name), SMALL_MM * self.scale / 2
            if x0 == x1:
                yield from self._below(name, (x0, floor))
                continue
            if is_body and y0 != y1:
                at = (x1 + np.sign(x1 - x0) * off, y1 - middle)
                anchor = Anchor.LEFT if x1 > x0 else Anchor.RIGHT
            else:
                at, anchor = (x0 - off, y0 - middle), Anchor.RIGHT
            if self._is_free(name, at, anchor):
                yield self._text(name, at, anchor, Role.NOTE)

    def _is_free(self, name: str, at: Point, anchor: Anchor, heeds_grid: bool = False) -> bool:
        text = Text(name, at, SMALL_MM * self.scale, Role.NOTE, anchor)
        box = np.array([shapely.box(*text.box)])
        return bool(self.space.are_free(box, heeds_soft=heeds_grid).all())

    def _below(self, name: str, at: Point) -> Iterator[Text]:
        """Yield the name of a plumb line below it, in a second row where the first is taken."""
        for row in range(2):
            place = (at[0], at[1] - row * 1.4 * SMALL_MM * self.scale)
            if self._is_free(name, place, Anchor.CENTRE):
                yield self._text(name, place, Anchor.CENTRE, Role.NOTE)
                return

    def _long_lines(self, view: list[_Line]) -> Iterator[Text]:
        for line in view:
            if line.kind not in ("grid", "section"):
                name = _short(line.name)
                if found := self._place(line, name):
                    yield self._text(name, *found, ROLES[line.kind])

    def _place(self, line: _Line, name: str) -> tuple[Point, Anchor] | None:
        """Return where a line's name stands: over it, else at its end, at worst across the grid."""
        if at := self._along(line, heeds_grid=True):
            return at, Anchor.CENTRE
        x, y = line.points[-1]
        end = x + 1.2 * self.scale, y - SMALL_MM / 2 * self.scale
        if self._is_free(name, end, Anchor.LEFT):
            return end, Anchor.LEFT
        at = self._along(line, heeds_grid=False)
        return (at, Anchor.CENTRE) if at else None

    def _along(self, line: _Line, *, heeds_grid: bool) -> Point | None:
        """Return where over a line its name touches nothing, or nothing but the grid."""
        points = np.array(line.points)
        if points[-1, 0] <= points[0, 0]:
            return None
        height = SMALL_MM * self.scale
        half = text_width(_short(line.name), height) / 2
        shares = np.linspace(0.03, 0.97, TRIED)
        shares = shares[np.abs(shares - FIRST_SHARE).argsort()]
        for share in shares:
            x = points[0, 0] + share * (points[-1, 0] - points[0, 0])
            spans = np.interp([x - half, x, x + half], points[:, 0], points[:, 1])
            if np.ptp(spans) > LEVEL * 2 * half:
                continue
            at = (float(x), float(spans.max()) + (TAIL + 0.25) * height)
            box = shapely.box(x - half, at[1] - TAIL * height, x + half, at[1] + RISE * height)
            if self.space.are_free(np.array([box]), heeds_soft=heeds_grid).all():
                return at
        return None


def _title(name: str, notes: Sequence[str], scale: float, at: Point) -> list[Entity]:
    found, y = list[Entity](), at[1]
    for text, letter in ((name, 2 * LETTER_MM), *((note, LETTER_MM) for note in notes)):
        for piece in wrapped(text, letter, TITLE_MM):
            found.append(Text(piece, (at[0], y), letter * scale, Role.TITLE))
            y -= 1.9 * letter * scale
    return found
