"""The label of each part: the fullest wording that fits inside it, and an arrow for its grain.

Every part carries at least its number from the parts list. Where not even that fits, it
stands in a balloon off the board, or on free wood beside the part, with a leader to it; unless that
would run through other lettering, or far along the board, in a view that larger ones follow.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.accounts.strength import MUCH_WEAKENED, NEARLY_WHOLE, PieceStrength
from nesting.nest import Placement
from nesting.sheets.board_view import grain_arrow, grain_of, seen_outline
from nesting.sheets.drawing import Anchor, Circle, Entity, Point, Role, Text
from nesting.sheets.figures import run_text
from nesting.sheets.free_space import heart_of, room_in
from nesting.sheets.labelling import Labelling, block_size, set_block
from nesting.sheets.leaders import BALLOON_PAPER_MM, led, near_part, off_board
from nesting.sheets.lettering import text_width, wrapped
from nesting.units import Unit
from nesting.words import whole_percent
from nesting.written_measures import exact_length

NAME_PAPER_MM = (3.5, 2.5)
"""Heights of part names on paper, the wanted one first; 2.5 is read at arm's length."""

LEAST_SHARE = 0.15
"""A piece cut off by a window is labelled if it is more of the part than this."""

ARROW_PAPER_MM = (22.0, 14.0, 9.0)
"""Lengths of a part's grain arrow, the wanted one first."""


def part_labels(work: Labelling) -> Iterator[Entity]:
    """Yield the labels of the parts that a window shows."""
    seen = [
        (number, placement, region, heart_of(region))
        for number, placement in enumerate(work.nest.placements, start=1)
        if (region := _seen(work, placement)) is not None
    ]
    height = _name_height(work, seen)
    for number, placement, region, heart in seen:
        yield from _part(work, number, placement, (region, heart), height)


def _seen(work: Labelling, placement: Placement) -> Polygon | None:
    """Return what a window shows of a part, unless it is a corner labelled in the next one."""
    region = work.window.region(seen_outline(placement))
    whole = placement.need.outline.area_mm2 * work.window.times**2
    return region if region and region.area > LEAST_SHARE * whole else None


def _name_height(work: Labelling, seen: list[tuple[int, Placement, Polygon, Point]]) -> float:
    """Return one height for all the names of a window: the larger if they all fit in full."""
    for height in (paper_height * work.paper for paper_height in NAME_PAPER_MM[:-1]):
        if all(
            any(
                _fits(work, (*lines, *_warned(work, number)), height, region, heart)
                for lines in _full(number, placement, work.unit)
            )
            for number, placement, region, heart in seen
        ):
            return height
    return NAME_PAPER_MM[-1] * work.paper


def _fits(
    work: Labelling, lines: tuple[str, ...], height: float, region: Polygon, heart: Point
) -> bool:
    return room_in(work.space, region, block_size(lines, height), heart) is not None


def warning(piece: PieceStrength) -> str:
    """Return what is told beside a piece that grain or holes leave much weaker, or nothing."""
    if piece.left >= MUCH_WEAKENED:
        return ""
    causes = []
    if piece.left_by_grain < NEARLY_WHOLE:
        causes.append(f"run-out {run_text(piece.run)}")
    if piece.left_by_holes < NEARLY_WHOLE:
        causes.append("holes")
    return f"{', '.join(causes)}: {whole_percent(piece.left)} % strength left"


def _warned(work: Labelling, number: int) -> tuple[str, ...]:
    """Return the line that warns of a numbered part, if any is called for."""
    words = warning(work.account.pieces[number - 1])
    return (words,) if words else ()


def wordings(number: int, placement: Placement, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Yield the wordings of a part's label, the fullest first; each is one or more lines."""
    yield from _full(number, placement, unit)
    side = placement.marked_face
    name = f"{number}  {placement.label}"
    yield name, f"face {side}"
    yield (f"{name}, face {side}",)
    if side == "up":
        yield (name,)
    yield (f"{number}  face {side}",)
    if side == "down":
        yield str(number), "face", side


def _full(number: int, placement: Placement, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Yield the wordings with name, thickness and face: compact, flat, in one line."""
    side = placement.marked_face
    name = f"{number}  {placement.label}"
    outline = placement.need.outline
    thick = f"{outline.thickness_word} {exact_length(outline.siding_mm, unit)}"
    broken = wrapped(name, 1.0, text_width(name, 1.0) * 0.6)
    yield name, thick, f"marked face {side}"
    yield name, f"{thick}, marked face {side}"
    yield (f"{name}, {thick}, marked face {side}",)
    if len(broken) > 1:
        yield *broken, thick, f"marked face {side}"
        yield *broken, f"{thick}, face {side}"


def _part(
    work: Labelling,
    number: int,
    placement: Placement,
    shown: tuple[Polygon, Point],
    height: float,
) -> Iterable[Entity]:
    """Return the label of a part, of which a region is shown, best about its heart."""
    (region, heart), warned = shown, _warned(work, number)
    plain = wordings(number, placement, work.unit)
    full = [(*lines, *warned) for lines in _full(number, placement, work.unit)] if warned else []
    for lines in [*full, *plain]:
        block = set_block(work, lines, height, region, heart)
        if block:
            arrow = _part_grain(work, placement, region, heart)
            is_told = lines[-len(warned) :] == warned
            return [*block, *arrow, *([] if is_told else _warning(work, number, region, heart))]
    return [*_balloon(work, number, region, heart), *_warning(work, number, region, heart)]


def _part_grain(
    work: Labelling, placement: Placement, region: Polygon, near: Point
) -> Iterable[Entity]:
    """Return the arrow along a part's grain, beside its name; the shortest need not fit."""
    at = np.asarray(near)
    window = work.window
    angle = grain_of(placement, tuple((at - window.shift) / window.times))
    for paper_length in ARROW_PAPER_MM:
        arrow = grain_arrow((0.0, 0.0), angle, paper_length * work.paper, window)
        dx, dy = arrow.end
        size = (2 * abs(dx) + 1.5 * work.paper, 2 * abs(dy) + 1.5 * work.paper)
        centre = room_in(work.space, region, size, near)
        if centre:
            placed = grain_arrow(centre, angle, paper_length * work.paper, window)
            line = LineString([placed.start, placed.end])
            work.space.take([line.buffer(0.75 * work.paper)])
            return [placed]
    return []


def _balloon(work: Labelling, number: int, region: Polygon, heart: Point) -> Iterable[Entity]:
    """Return a number in a ring: inside the part, or off the board with a leader."""
    radius = BALLOON_PAPER_MM * work.paper
    centre = room_in(work.space, region, (2 * radius, 2 * radius), heart)
    if centre:
        return _ring(work, number, centre)
    plain = set_block(work, (str(number),), NAME_PAPER_MM[-1] * work.paper, region, heart)
    if plain:
        return plain
    return _leader(work, number, region, heart)


def _ring(work: Labelling, number: int, centre: Point) -> list[Entity]:
    radius, height = BALLOON_PAPER_MM * work.paper, NAME_PAPER_MM[-1] * work.paper
    work.space.take_word(shapely.Point(centre).buffer(radius))
    at = (centre[0], centre[1] - height / 2)
    view = work.window.view
    return [
        Circle(centre, radius, Role.PART_NAME, view),
        Text(str(number), at, height, Role.PART_NAME, Anchor.CENTRE, view),
    ]


def _warning(work: Labelling, number: int, region: Polygon, heart: Point) -> Iterable[Entity]:
    """Return the warning of a part whose label has no room for it, if it has one.

    In the part or, by its number, off the board if there is room: a leader to the part would run
    over the wood like a line to be sawn. The parts list has the figures in any case.
    """
    if not (warned := _warned(work, number)):
        return []
    if block := set_block(work, warned, NAME_PAPER_MM[-1] * work.paper, region, heart):
        return block
    words = f"{number}: {warned[0]}"
    height, radius = NAME_PAPER_MM[-1] * work.paper, BALLOON_PAPER_MM * work.paper
    width = text_width(words, height) + height
    found = off_board(work, (width, 2.2 * radius), heart)
    if found is None:
        return []
    x, y = found
    work.space.take_box((x - width / 2, y - radius, x + width / 2, y + radius))
    at = (x, y - height / 2)
    return [Text(words, at, height, Role.PART_NAME, Anchor.CENTRE, work.window.view)]


def _leader(work: Labelling, number: int, region: Polygon, heart: Point) -> Iterable[Entity]:
    """Return a balloon near a part, its leader clear of other lettering where it can be."""
    radius = BALLOON_PAPER_MM * work.paper
    found = near_part(work, (2.2 * radius, 2.2 * radius), region, heart)
    if found is None:
        return []
    centre, foot = found
    end = LineString([centre, foot]).interpolate(radius)
    return [*_ring(work, number, centre), *led((end.x, end.y), foot, work)]
