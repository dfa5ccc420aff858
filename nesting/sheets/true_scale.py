"""A board on the shop's paper at a standard scale: the paper layout of a cut sheet.

Any drawing program prints it right: its viewports show the board, in as many lengths as the paper
needs, at one scale; title, key figures and a ruler that proves the print stand on the paper itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from nesting.accounts.account import BoardAccount
from nesting.cautions import IN_SHORT
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.blocks import LETTER_MM
from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    Entity,
    PaperSheet,
    Point,
    Polyline,
    Port,
    Role,
    Text,
)
from nesting.sheets.lettering import cut_short, name_short, wrapped
from nesting.sheets.ruler import FIGURE_PAPER_MM
from nesting.sheets.title import face_up, shares_and_rules, wood
from nesting.shop.kinds import Paper
from nesting.units import MM_PER_INCH, Unit
from nesting.words import counted

MARGIN_MM = 10.0
"""White at the paper's edge, as on what is printed."""

METRIC_SCALES = (1, 2, 2.5, 5, 7.5, 10, 12.5, 20, 25, 50, 75, 100, 200, 500)
"""Standard reductions (ISO 5455, from memory), and those between that metric scale rules have: 2.5,
7.5, 12.5, 25, 75 (common practice, no source)."""

IMPERIAL_SCALES = (1, 2, 4, 6, 8, 12, 16, 24, 32, 48, 96, 192, 384)
"""12, 6, 3, 2, 1 1/2, 1, 3/4, 1/2, 3/8, 1/4, 1/8, 1/16, 1/32 in to the foot, as rules have them
(common practice, no source)."""

NAME_MM = 7.0
LINE_MM = 4.0

LEAST_LETTER_MM = 1.8
"""Smaller lettering than this is said to be too small (ISO 3098-1: the least nominal size; from
memory)."""

SHARED_MM = 24.0
"""Of paper that one length shows of the next, so that a word cut in one is whole in the other."""

ROW_HEAD_MM = 4.5
"""Above each length, for which it is."""

ROW_APART_MM = 2.0

FOOT_MM = 22.0
"""Below the lengths: the ruler that proves the print, and the cautions."""

RULER_MM, RULER_IN = 100.0, 4
"""Length of that ruler, of each unit."""

TICK_MM = (1.5, 3.0)
"""Of the ruler: between its figures, and at them."""


@dataclass(frozen=True)
class _Rows:
    """Lengths of a drawing at a scale: how many, how wide and high on paper, how far apart."""

    scale: float
    count: int
    wide: float
    high: float
    pitch: float


def paper_sheet(
    nest: Nest,
    account: BoardAccount,
    rules: Rules,
    *,
    shown: Iterable[Entity],
    scale: float,
    project_name: str,
    unit: Unit,
    paper: Paper,
) -> PaperSheet:
    """Return a board on a paper that lies on its side.

    Parameters
    ----------
    shown
        What the drawing has of the board at full size: all of it is shown.
    scale
        mm of the drawing in one of the paper that its lettering is sized for.
    """
    high, wide = paper.size_mm
    room = wide - 2 * MARGIN_MM, high - 2 * MARGIN_MM
    low_x, low_y, high_x, high_y = _extent(shown, scale)
    size = high_x - low_x, high_y - low_y
    told = _told(nest, account, rules, project_name, unit)
    letters, depth = _head(f"Board {nest.board.name}", told, room)
    body = room[1] - depth - FOOT_MM
    rows = _rows(size, (room[0], body), unit)
    ports = list[Port]()
    top = room[1] - depth
    step = 0.0 if rows.count == 1 else (size[0] / rows.scale - rows.wide) / (rows.count - 1)
    for number in range(rows.count):
        y = top - number * rows.pitch - ROW_HEAD_MM - rows.high
        at = low_x + number * step * rows.scale, low_y
        ports.append(Port((0.0, y), (rows.wide, rows.high), at, rows.scale))
    entities = [
        *letters,
        *_scale_words(rows, scale, room),
        *_row_words(ports),
        *_ruler(unit),
        *_cautions(room[0]),
    ]
    return PaperSheet(paper.value, (wide, high), MARGIN_MM, tuple(ports), tuple(entities))


def _extent(shown: Iterable[Entity], about_mm: float) -> tuple[float, float, float, float]:
    """Return the least rectangle around entities, lettering with its room, and a little more."""
    boxes = list(map(_box, shown))
    lows, highs = [box[:2] for box in boxes], [box[2:] for box in boxes]
    return (
        min(x for x, _ in lows) - about_mm, min(y for _, y in lows) - about_mm,
        max(x for x, _ in highs) + about_mm, max(y for _, y in highs) + about_mm,
    )  # fmt: skip


def _box(entity: Entity) -> tuple[float, float, float, float]:
    if isinstance(entity, Text):
        return entity.box
    if isinstance(entity, Circle):
        (x, y), r = entity.centre, entity.radius_mm
        return x - r, y - r, x + r, y + r
    if isinstance(entity, Arrow):
        points: Sequence[Point] = (entity.start, entity.end)
    else:
        assert isinstance(entity, Polyline), "no cut sheet has filled areas"
        points = entity.points
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _rows(size: Point, room: Point, unit: Unit) -> _Rows:
    """Return the lengths at the largest standard scale at which all of them have room."""
    scales = IMPERIAL_SCALES if unit.is_imperial else METRIC_SCALES
    found = None
    for scale in scales:
        wide, high = size[0] / scale, size[1] / scale
        shared = min(SHARED_MM, room[0] / 4)
        count = max(1, math.ceil((wide - shared) / (room[0] - shared) - 1e-9))
        if wide <= room[0]:
            count = 1
        pitch = high + ROW_HEAD_MM + ROW_APART_MM
        found = _Rows(float(scale), count, min(wide, room[0]), high, pitch)
        if count * pitch <= room[1]:
            break
    assert found is not None, "there are scales"
    return found


def _told(
    nest: Nest, account: BoardAccount, rules: Rules, project_name: str, unit: Unit
) -> list[str]:
    """Return the key figures: whose board, its wood, how many parts, shares, how lines are cut."""
    _, shares, _, kerf, lines, *_ = shares_and_rules(nest, account, rules, unit)
    parts = counted(len(nest.placements), "part")
    face = "the recorded face up" if nest.board.leaf is None else face_up(nest.board)
    (project,) = cut_short(project_name, LETTER_MM, PROJECT_MM)
    return [
        f"Project {project}; {wood(nest, rules, unit)}; {face}",
        f"{parts}. {shares}. {kerf}. {lines}",
        "Lists, signs and enlargements stand in the drawing itself.",
    ]


def _head(name: str, told: Sequence[str], room: Point) -> tuple[list[Entity], float]:
    """Return the lettering at the head, and how deep it is."""
    width = room[0] - SCALE_WIDE_MM
    (first,) = name_short(name, NAME_MM, width)
    y = room[1] - NAME_MM - 1.0
    found: list[Entity] = [Text(first, (0.0, y), NAME_MM, Role.TITLE)]
    y -= 1.5
    for text in told:
        for line in cut_short(text, LETTER_MM, width, most=MOST_LINES):
            y -= LINE_MM
            found.append(Text(line, (0.0, y), LETTER_MM, Role.TITLE))
    y -= 2.0
    found.append(Polyline(((0.0, y), (room[0], y)), Role.TITLE))
    return found, room[1] - y


SCALE_WIDE_MM = 62.0
"""Width of what says the scale, at the right of the head."""

MOST_LINES = 2
"""A text of the head that takes more lines is cut short: all of it stands in the drawing."""

PROJECT_MM = 80.0
"""Of these the project's name takes no more than this: wood and face stand behind it."""


def _scale_words(rows: _Rows, scale: float, room: Point) -> Iterator[Entity]:
    """Yield the scale, and what is to be said where its lettering comes out small."""
    y = room[1] - NAME_MM - 1.0
    words = f"scale 1:{rows.scale:g}"
    yield Text(words, (room[0], y), NAME_MM, Role.TITLE, Anchor.RIGHT)
    y -= 1.5 + LINE_MM
    yield Text("print at 100 %, not to fit", (room[0], y), LETTER_MM, Role.TITLE, Anchor.RIGHT)
    letter = FIGURE_PAPER_MM * scale / rows.scale
    if letter < LEAST_LETTER_MM:
        for line in (f"Figures are {letter:.1f} mm high here:", "larger paper, or sheets.pdf"):
            y -= LINE_MM
            yield Text(line, (room[0], y), LETTER_MM, Role.CAUTION, Anchor.RIGHT)


def _row_words(ports: Sequence[Port]) -> Iterator[Entity]:
    """Yield which length is which, above each."""
    for number, port in enumerate(ports, start=1):
        words = f"length {number} of {len(ports)}" if len(ports) > 1 else "the whole board"
        at = port.corner[0], port.corner[1] + port.size[1] + 1.0
        yield Text(words, at, LETTER_MM, Role.TITLE)


def _ruler(unit: Unit) -> Iterator[Entity]:
    """Yield a ruler that is as long on paper as it says, whatever the scale."""
    step, count, every = (10.0, 10, 5) if not unit.is_imperial else (MM_PER_INCH / 2, 8, 2)
    y = FOOT_MM - 7.0
    yield Polyline(((0.0, y), (step * count, y)), Role.RULER)
    for number in range(count + 1):
        tall = TICK_MM[number % every == 0]
        yield Polyline(((step * number, y), (step * number, y + tall)), Role.RULER)
    length = f"{RULER_MM:g} mm" if not unit.is_imperial else f"{RULER_IN} in"
    words = f"This line is {length} long on paper: measure it before you trust a print."
    yield Text(words, (step * count + 4.0, y), LETTER_MM, Role.RULER)


def _cautions(width: float) -> Iterator[Entity]:
    y = FOOT_MM - 10.0
    for line in wrapped(" ".join(IN_SHORT), LETTER_MM, width):
        y -= LINE_MM - 0.4
        yield Text(line, (0.0, y + 1.5), LETTER_MM, Role.CAUTION)
