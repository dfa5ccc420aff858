"""The neutral drawing model: what is on a sheet and what each line is for.

A :class:`Drawing` knows no file format. Geometry is in mm; in a cut sheet it is the board's
own frame, so that a cut line's coordinates are the board's. *Paper millimetres* are
millimetres on the printed sheet: one of them is ``scale`` mm of the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from nesting.sheets.lettering import text_width

Point = tuple[float, float]


class Role(StrEnum):
    """What a line or text is for; writers choose layer, pen and order by it.

    The keep-outs carry the names of their kinds, the marks those of theirs after ``mark``.
    """

    SAW_OPENING = "saw opening"
    SAW_OUTLINE = "saw outline"
    BOARD = "board edge"
    METAL = "metal"
    HOLE = "hole"
    RECESS = "recess"
    GROOVE = "groove"
    ROT = "rot"
    SPLIT = "split"
    KNOT = "knot"
    STAIN = "stain"
    WORN_EDGE = "worn edge"
    BUNG = "bung"
    OFFCUT = "offcut kept"
    BREAK_DOWN = "break-down cut"
    MARK_CENTRELINE = "mark centreline"
    MARK_FRAME = "mark frame"
    MARK_BOLT = "mark bolt"
    MARK_FACE = "mark face"
    MARK_REFERENCE = "mark reference"
    PATTERN = "pattern edge"
    REGISTER = "registration cross"
    ROUT_OPENING = "rout opening"
    ROUT_OUTLINE = "rout outline"
    BORE_BOLT = "bore bolt"
    BORE_BUNG = "bore bung"
    NO_CUTTER = "no cutter"
    TIGHT_CORNER = "tight corner"
    PART = "part in the boat"
    SECTION = "section"
    WATERLINE = "waterline"
    BUTTOCK = "buttock"
    DIAGONAL = "diagonal"
    SHEER = "sheer"
    CHINE = "chine"
    RABBET = "rabbet"
    TRANSOM = "transom"
    GRID = "grid"
    BATTEN = "batten"
    GRAIN = "grain"
    GRAIN_LINE = "grain line"
    BASE_LINE = "base line"
    MARKED_POINT = "marked point"
    LEADER = "leader"
    PART_NAME = "part name"
    NOTE = "note"
    RULER = "ruler"
    BREAK = "break"
    TABLE = "table"
    LEGEND = "legend"
    TITLE = "title"
    CAUTION = "caution"
    FRAME = "frame"


class View(StrEnum):
    """Whether a line may be measured and cut from, or only read."""

    FULL_SIZE = "full size"
    COPY = "copy"
    """Drawn again, enlarged or reduced: never to be sent to a machine."""


class Anchor(StrEnum):
    """Which end of its base line a text hangs on."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True)
class Tag:
    """What an entity stands for, so that a written sheet can be read back into numbers."""

    subject: str
    fields: tuple[tuple[str, str], ...] = ()

    def get(self, name: str, default: str = "") -> str:
        """Return a field's text."""
        return dict(self.fields).get(name, default)


@dataclass(frozen=True)
class Polyline:
    """Points joined in turn.

    ``bulges`` is empty, or holds one value a point for the stretch that starts there: the
    tangent of a quarter of its arc's angle, positive anticlockwise, 0 for a straight one.
    """

    points: tuple[Point, ...]
    role: Role
    is_closed: bool = False
    bulges: tuple[float, ...] = ()
    view: View = View.FULL_SIZE
    tag: Tag | None = None

    def __post_init__(self) -> None:
        assert len(self.points) >= 2
        assert len(self.bulges) in (0, len(self.points))


@dataclass(frozen=True)
class Circle:
    """A full circle."""

    centre: Point
    radius_mm: float
    role: Role
    view: View = View.FULL_SIZE
    tag: Tag | None = None


@dataclass(frozen=True)
class Text:
    """One level line of lettering; ``height_mm`` is that of a capital."""

    text: str
    at: Point
    height_mm: float
    role: Role
    anchor: Anchor = Anchor.LEFT
    view: View = View.FULL_SIZE

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Low x, low y, high x, high y of the room the lettering needs, tails included."""
        width = text_width(self.text, self.height_mm)
        shift = {Anchor.LEFT: 0.0, Anchor.CENTRE: width / 2, Anchor.RIGHT: width}[self.anchor]
        x, y = self.at
        return (
            x - shift,
            y - TAIL * self.height_mm,
            x - shift + width,
            y + RISE * self.height_mm,
        )


TAIL = 0.33
"""Depth of a tail (g, y) below the base line over a capital's height; DejaVu Sans, measured."""

RISE = 1.06
"""Height of the tallest letter (l, b) over a capital's; DejaVu Sans, measured."""


@dataclass(frozen=True)
class Arrow:
    """A straight arrow, with a head of ``head_mm`` at its end, or at both."""

    start: Point
    end: Point
    head_mm: float
    role: Role
    is_double: bool = False
    view: View = View.FULL_SIZE


@dataclass(frozen=True)
class Area:
    """What is filled, for reading alone: a ring and what it leaves white.

    A ring within a ring goes round the other way, so that writers fill alike whatever their rule.
    ``shade`` is how much of the role's ink is laid on: 1 all of it, 0.1 a light tint.
    """

    rings: tuple[tuple[Point, ...], ...]
    role: Role
    shade: float = 1.0
    view: View = View.COPY

    def __post_init__(self) -> None:
        assert self.rings and all(len(ring) >= 3 for ring in self.rings)
        assert 0.0 < self.shade <= 1.0


Entity = Polyline | Circle | Text | Arrow | Area


@dataclass(frozen=True)
class Port:
    """A hole in a paper sheet through which the drawing is seen, to scale.

    ``corner`` is its lower left on the paper and ``size`` its own, paper mm; ``at`` is the place
    of the drawing that comes to the corner, and ``scale`` its mm in one of the paper.
    """

    corner: Point
    size: Point
    at: Point
    scale: float

    @property
    def middle(self) -> Point:
        """Its middle on the paper."""
        return self.corner[0] + self.size[0] / 2, self.corner[1] + self.size[1] / 2

    @property
    def seen(self) -> Point:
        """The place of the drawing that comes to its middle."""
        half = self.scale / 2
        return self.at[0] + half * self.size[0], self.at[1] + half * self.size[1]


@dataclass(frozen=True)
class PaperSheet:
    """A drawing laid on paper at a true scale, to be printed from any drawing program.

    Attributes
    ----------
    paper
        Its name: ``A4``.
    size_mm
        Width and height of the paper, as it lies.
    margin_mm
        Left white on all sides; places count from the corner inside it.
    entities
        What stands on the paper itself, paper mm.
    """

    paper: str
    size_mm: Point
    margin_mm: float
    ports: tuple[Port, ...]
    entities: tuple[Entity, ...]


@dataclass(frozen=True)
class Drawing:
    """One sheet.

    Attributes
    ----------
    frame
        Low x, low y, high x, high y of the whole sheet, mm: everything lies within.
    scale
        mm of the drawing in one mm of paper when the sheet is printed on ``paper``.
    paper
        The paper that the lettering is sized for: ``A3``.
    sheet
        The drawing laid on paper for the shop's printer, if it is.
    """

    title: str
    entities: tuple[Entity, ...]
    frame: tuple[float, float, float, float]
    scale: float = 1.0
    paper: str = "A3"
    sheet: PaperSheet | None = None

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the frame."""
        low_x, low_y, high_x, high_y = self.frame
        return high_x - low_x, high_y - low_y


def arrow_lines(arrow: Arrow) -> tuple[Polyline, ...]:
    """Return an arrow as plain lines: the shaft and two strokes a head."""
    lines = [Polyline((arrow.start, arrow.end), arrow.role, view=arrow.view)]
    lines.append(_head(arrow, arrow.start, arrow.end))
    if arrow.is_double:
        lines.append(_head(arrow, arrow.end, arrow.start))
    return tuple(lines)


HEAD_DEG = 18.0
"""Half the angle of an arrow head: slender, as drawn by hand."""


def _head(arrow: Arrow, start: Point, end: Point) -> Polyline:
    back = math.atan2(start[1] - end[1], start[0] - end[0])
    barbs = [back + sign * math.radians(HEAD_DEG) for sign in (1, -1)]
    one, other = (
        (end[0] + arrow.head_mm * math.cos(turn), end[1] + arrow.head_mm * math.sin(turn))
        for turn in barbs
    )
    return Polyline((one, end, other), arrow.role, view=arrow.view)


def moved(entity: Entity, scale: float, shift: Point) -> Entity:
    """Return an entity scaled about the origin, then shifted; lettering scales with it."""

    def place(point: Point) -> Point:
        return point[0] * scale + shift[0], point[1] * scale + shift[1]

    return _mapped(entity, place, scale)


def _mapped(entity: Entity, place: Callable[[Point], Point], scale: float) -> Entity:
    if isinstance(entity, Polyline):
        return replace(entity, points=tuple(place(point) for point in entity.points))
    if isinstance(entity, Circle):
        return replace(entity, centre=place(entity.centre), radius_mm=entity.radius_mm * scale)
    if isinstance(entity, Text):
        return replace(entity, at=place(entity.at), height_mm=entity.height_mm * scale)
    if isinstance(entity, Area):
        return replace(
            entity, rings=tuple(tuple(place(point) for point in ring) for ring in entity.rings)
        )
    return replace(
        entity,
        start=place(entity.start),
        end=place(entity.end),
        head_mm=entity.head_mm * scale,
    )
