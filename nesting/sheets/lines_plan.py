"""The lines drawing on one sheet: body plan at the top, profile and half-breadth plan below.

Takes plain polylines: this package knows nothing of hulls. Every view is at full size in mm,
moved to its place on the sheet; the title says the scale that fits the paper. With the boat's
parts in the views, each is numbered once, and a key beside the body plan says what it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely

from nesting.sheets.drawing import Anchor, Drawing, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.lettering import wrapped
from nesting.sheets.plan_key import Key, KeyRow, numbers_on
from nesting.units import Unit
from nesting.written_measures import format_length

PAPER_SIZES = (("A3", 400.0, 277.0), ("A2", 574.0, 400.0), ("A1", 821.0, 574.0))
"""Inside a margin of 10 mm (ISO 216 sizes, landscape)."""

SCALES = (5, 8, 10, 12, 15, 16, 20, 24, 25, 30, 32, 40, 48, 50, 75, 100, 150, 200)
"""Boat mm to one of paper; those of a metric and of a feet-and-inches rule."""

GAP_MM, PAD_MM, TITLE_MM, LETTER_MM = 10.0, 10.0, 110.0, 2.5
"""Paper mm: between views, inside the frame, width of the title, and height of lettering."""

SEEN = "Starboard half, seen from the centreline and from above"
"""How the parts are seen."""

SEEN_WITH_PORT = "Starboard half, from inside and above; port parts below"

MOST_SMALLER = 1.35
"""The key may make the boat so much smaller than she would be alone, before a larger paper is
taken."""

KEY_BELOW_MM = 21.5
"""Paper mm from the title's base line down to the head of the key."""

ROLES = {
    "section": Role.MARK_FACE,
    "sheer": Role.MARK_FACE,
    "chine": Role.MARK_FACE,
    "rabbet": Role.MARK_FACE,
    "transom": Role.MARK_FACE,
    "waterline": Role.MARK_BOLT,
    "buttock": Role.MARK_CENTRELINE,
    "diagonal": Role.MARK_REFERENCE,
    "grid": Role.BREAK,
    "part": Role.PART,
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
    body: View,
    profile: View,
    half_breadth: View,
    *,
    name: str,
    unit: Unit = Unit.MM,
    key: Sequence[KeyRow] = (),
) -> Drawing:
    """Return the lines drawing of a boat, with her parts if they are in the views.

    Parameters
    ----------
    body, profile, half_breadth
        The lines of each view, in its own frame: x of profile and half-breadth is aft.
    unit
        What the length over all is written in.
    key
        What is numbered: lines of the kind ``part`` with a name that a row knows.
    """
    views = (body, profile, half_breadth)
    boxes = [_box(view) for view in views]
    listed = Key(tuple(key))
    sheet = _fit(boxes, listed)
    scale, frame = (
        float(sheet.scale),
        (0.0, 0.0, sheet.wide * sheet.scale, sheet.high * sheet.scale),
    )
    corners = _view_corners(boxes, scale)
    shifts = [
        (corner[0] - box[0], corner[1] - box[1]) for box, corner in zip(boxes, corners, strict=True)
    ]
    entities = list[Entity]()
    for view, shift in zip(views, shifts, strict=True):
        entities.extend(_drawn(view, shift, scale))
    right = corners[0][0] + boxes[0][2] - boxes[0][0] + 2 * GAP_MM * scale
    length = format_length(boxes[1][2] - boxes[1][0], unit)
    if key:
        top = frame[3] - (PAD_MM + 2 * LETTER_MM) * scale
        seen = SEEN_WITH_PORT if _are_to_port(half_breadth) else SEEN
        entities += _title(f"{name} with her parts", length, scale, (right, top), seen)
        floor = corners[1][1] + boxes[1][3] - boxes[1][1] + GAP_MM * scale
        entities += listed.drawn((right, top - KEY_BELOW_MM * scale), floor, scale)
        entities += numbers_on(_moved(views, shifts), listed, scale)
    else:
        middle = corners[0][1] + (boxes[0][3] - boxes[0][1]) / 2
        entities += _title(f"Lines of {name}", length, scale, (right, middle))
    entities.append(Polyline(_corners(frame), Role.FRAME, is_closed=True))
    order = {role: place for place, role in enumerate(Role)}
    entities.sort(key=lambda entity: order[entity.role])
    return Drawing(f"Lines of {name}", tuple(entities), frame, scale, sheet.paper)


@dataclass(frozen=True)
class _Sheet:
    """Paper, its size within the margin in paper mm, and boat mm to one of paper."""

    paper: str
    wide: float
    high: float
    scale: int


def _fit(boxes: Sequence[Box], key: Key) -> _Sheet:
    """Return the least paper at which the views fit at a scale of a rule.

    A larger paper is only taken where A3 would need a scale smaller than 1 in 50, or the key
    would make the boat much smaller than she need be.
    """
    for name, wide, high in PAPER_SIZES:
        room = (wide, high)
        scale = next((s for s in SCALES if _goes_on(room, boxes, key, s)), None)
        alone = next((s for s in SCALES if _goes_on(room, boxes, Key(()), s)), SCALES[-1])
        is_last = name == PAPER_SIZES[-1][0]
        if scale and (is_last or scale <= min(50, MOST_SMALLER * alone)):
            return _Sheet(name, wide, high, scale)
    assert False, "no boat is longer than 40 m"  # noqa: B011


def _goes_on(paper: tuple[float, float], boxes: Sequence[Box], key: Key, scale: int) -> bool:
    """Return whether views and key go on a paper at a scale."""
    (body, profile, plan) = [(box[2] - box[0], box[3] - box[1]) for box in boxes]
    below = (profile[1] + plan[1]) / scale + 2 * GAP_MM + LETTER_MM + 2 * PAD_MM
    beside = max(TITLE_MM, key.width_mm(paper[1] - below - KEY_BELOW_MM - 2 * LETTER_MM))
    across = max(profile[0], plan[0], body[0] + (beside + 2 * GAP_MM) * scale) / scale
    return across + 2 * PAD_MM <= paper[0] and below + body[1] / scale <= paper[1]


def _view_corners(boxes: Sequence[Box], scale: float) -> tuple[Point, Point, Point]:
    """Return the lower left corners of the views: one above the other."""
    gap, pad = GAP_MM * scale, PAD_MM * scale
    tall = [box[3] - box[1] for box in boxes]
    above = pad + tall[2] + gap
    return (pad, above + tall[1] + gap), (pad, above), (pad, pad)


def _moved(views: Sequence[View], shifts: Sequence[Point]) -> list[Mapping[str, list[Polyline]]]:
    """Return the lines of every named part in each view, where they lie on the sheet."""
    found = list[Mapping[str, list[Polyline]]]()
    for view, (dx, dy) in zip(views, shifts, strict=True):
        parts = dict[str, list[Polyline]]()
        for line in view:
            if line.kind == "part":
                points = tuple((x + dx, y + dy) for x, y in line.points)
                parts.setdefault(line.name, []).append(Polyline(points, Role.PART))
        found.append(parts)
    return found


def _are_to_port(plan: View) -> bool:
    """Return whether any part in a half-breadth plan lies below its centreline."""
    return any(y < -1.0 for line in plan if line.kind == "part" for _, y in line.points)


def _box(view: View) -> Box:
    points = [point for line in view for point in line.points]
    x, y = [point[0] for point in points], [point[1] for point in points]
    return min(x), min(y), max(x), max(y)


def _drawn(view: View, shift: Point, scale: float) -> Iterable[Entity]:
    heads = dict[str, Point]()
    for line in view:
        points = tuple((x + shift[0], y + shift[1]) for x, y in line.points)
        yield Polyline(points, ROLES[line.kind])
        if line.kind == "section":
            heads[line.name] = max((points[-1], heads.get(line.name, points[-1])), key=_height)
    taken = FreeSpace()
    for name, (x, y) in heads.items():
        yield _above(name, (x, y + scale), taken, scale)


def _height(point: Point) -> float:
    return point[1]


def _above(name: str, at: Point, taken: FreeSpace, scale: float) -> Text:
    """Return a station's name over its section, above those that stand there already."""
    height = 0.8 * LETTER_MM * scale
    for row in range(4):
        text = Text(name, (at[0], at[1] + row * 1.4 * height), height, Role.NOTE, Anchor.CENTRE)
        if taken.are_free(np.array([shapely.box(*text.box)])).all():
            break
    taken.take_box(text.box)
    return text


def _title(name: str, length: str, scale: float, at: Point, note: str = "") -> list[Entity]:
    rows = (
        (name, 2 * LETTER_MM),
        (f"Length {length}; 1:{scale:g} on paper, full size in the file", LETTER_MM),
        (note, LETTER_MM),
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
