"""The lines drawing on one sheet: body plan at the top, profile and half-breadth plan below.

Takes plain polylines: this package knows nothing of hulls. Every view is at full size in mm,
moved to its place on the sheet; the title says the scale that fits the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from nesting.sheets.drawing import Anchor, Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.lettering import wrapped
from nesting.units import Unit, format_length

PAPER_SIZES = (("A3", 400.0, 277.0), ("A2", 574.0, 400.0), ("A1", 821.0, 574.0))
"""Inside a margin of 10 mm (ISO 216 sizes, landscape)."""

SCALES = (5, 8, 10, 12, 15, 16, 20, 24, 25, 30, 32, 40, 48, 50, 75, 100, 150, 200)
"""Boat mm to one of paper; those of a metric and of a feet-and-inches rule."""

GAP_MM, PAD_MM, TITLE_MM, LETTER_MM = 10.0, 10.0, 110.0, 2.5
"""Paper mm: between views, inside the frame, width of the title, and height of lettering."""

ROLES = {
    "section": Role.MARK_FACE,
    "sheer": Role.MARK_FACE,
    "rabbet": Role.MARK_FACE,
    "transom": Role.MARK_FACE,
    "waterline": Role.MARK_BOLT,
    "buttock": Role.MARK_CENTRELINE,
    "diagonal": Role.MARK_REFERENCE,
    "grid": Role.BREAK,
}
"""The pen that each kind of line is drawn with: those of marks, as none of it is ever a cut."""


class NamedLine(Protocol):
    """One line of a view."""

    @property
    def kind(self) -> str:
        """What it is: a key of :data:`ROLES`."""
        ...

    @property
    def name(self) -> str:
        """Its name in the table."""
        ...

    @property
    def points(self) -> tuple[Point, ...]:
        """Two points or more, mm."""
        ...


View = Sequence[NamedLine]
Box = tuple[float, float, float, float]


def lines_plan(
    body: View, profile: View, half_breadth: View, *, name: str, unit: Unit = Unit.MM
) -> Drawing:
    """Return the lines drawing of a boat.

    Parameters
    ----------
    body, profile, half_breadth
        The lines of each view, in its own frame: x of profile and half-breadth is aft.
    unit
        What the length over all is written in.
    """
    boxes = [_box(view) for view in (body, profile, half_breadth)]
    paper, width, height, scale = _fit(boxes)
    gap, pad = GAP_MM * scale, PAD_MM * scale
    size = [(box[2] - box[0], box[3] - box[1]) for box in boxes]
    above = pad + size[2][1] + gap
    corners = ((pad, above + size[1][1] + gap), (pad, above), (pad, pad))
    beside = (pad + size[0][0] + 2 * gap, corners[0][1] + size[0][1] / 2)
    entities = list[Entity]()
    for view, box, corner in zip((body, profile, half_breadth), boxes, corners, strict=True):
        entities.extend(_drawn(view, (corner[0] - box[0], corner[1] - box[1]), scale))
    frame = (0.0, 0.0, width * scale, height * scale)
    entities += _title(name, format_length(size[1][0], unit), scale, beside)
    entities.append(Polyline(_corners(frame), Role.FRAME, is_closed=True))
    order = {role: place for place, role in enumerate(Role)}
    entities.sort(key=lambda entity: order[entity.role])
    return Drawing(f"Lines of {name}", tuple(entities), frame, float(scale), paper)


def _fit(boxes: Sequence[Box]) -> tuple[str, float, float, int]:
    """Return the least paper and its size at which the views fit at a scale of a rule.

    A larger paper is only taken where A3 would need a scale smaller than 1 in 50.
    """
    (body, profile, plan) = [(box[2] - box[0], box[3] - box[1]) for box in boxes]
    for name, wide, high in PAPER_SIZES:
        for scale in SCALES:
            across = max(profile[0], plan[0], body[0] + (TITLE_MM + 2 * GAP_MM) * scale) / scale
            up = (body[1] + profile[1] + plan[1]) / scale + 2 * GAP_MM + LETTER_MM
            across, up = across + 2 * PAD_MM, up + 2 * PAD_MM
            if across <= wide and up <= high and (scale <= 50 or name == PAPER_SIZES[-1][0]):
                return name, wide, high, scale
    assert False, "no boat is longer than 40 m"  # noqa: B011


def _box(view: View) -> Box:
    points = [point for line in view for point in line.points]
    x, y = [point[0] for point in points], [point[1] for point in points]
    return min(x), min(y), max(x), max(y)


def _drawn(view: View, shift: Point, scale: float) -> Iterable[Entity]:
    for line in view:
        points = tuple((x + shift[0], y + shift[1]) for x, y in line.points)
        yield Polyline(points, ROLES[line.kind])
        if line.kind == "section":
            at = (points[-1][0], points[-1][1] + 1.0 * scale)
            yield Text(line.name, at, LETTER_MM * 0.8 * scale, Role.NOTE, Anchor.CENTRE)


def _title(name: str, length: str, scale: float, at: Point) -> list[Entity]:
    rows = (
        (f"Lines of {name}", 2 * LETTER_MM),
        (f"Length {length}; 1:{scale:g} on paper, full size in the file", LETTER_MM),
    )
    found, y = list[Entity](), at[1]
    for text, letter in rows:
        for piece in wrapped(text, letter, TITLE_MM):
            found.append(Text(piece, (at[0], y), letter * scale, Role.TITLE))
            y -= 2.0 * letter * scale
    return found


def _corners(frame: Box) -> tuple[Point, ...]:
    low_x, low_y, high_x, high_y = frame
    return (low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)
