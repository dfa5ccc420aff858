"""The label of each part: the fullest wording that fits inside it, and an arrow for its grain.

Every part carries at least its number from the parts list. Where not even that fits, it
stands in a balloon off the board with a leader to the part.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.nest import Placement
from nesting.sheets.board_view import grain_arrow, grain_of
from nesting.sheets.drawing import Anchor, Circle, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import first_free, heart_of, room_in
from nesting.sheets.labelling import Labelling, block_size, set_block
from nesting.sheets.lettering import text_width, wrapped
from nesting.units import Unit, exact_length

NAME_PAPER_MM = (3.2, 2.5)
"""Heights of part names on paper, the wanted one first; 2.5 is read at arm's length."""

BALLOON_PAPER_MM = 2.9
"""Radius of a number's balloon."""

LEAST_SHARE = 0.15
"""A piece cut off by a window is labelled if it is more of the part than this."""

ARROW_PAPER_MM = (22.0, 14.0, 9.0)
"""Lengths of a part's grain arrow, the wanted one first."""


def part_labels(work: Labelling) -> Iterator[Entity]:
    """Yield the labels of the parts that a window shows."""
    seen = [
        (number, placement, region)
        for number, placement in enumerate(work.nest.placements, start=1)
        if (region := _seen(work, placement)) is not None
    ]
    height = _name_height(work, seen)
    for number, placement, region in seen:
        yield from _part(work, number, placement, region, height)


def _seen(work: Labelling, placement: Placement) -> Polygon | None:
    """Return what a window shows of a part, unless it is a corner labelled in the next one."""
    region = work.window.region(placement.polygon)
    whole = placement.need.outline.area_mm2 * work.window.times**2
    return region if region and region.area > LEAST_SHARE * whole else None


def _name_height(work: Labelling, seen: list[tuple[int, Placement, Polygon]]) -> float:
    """Return one height for all the names of a window: the larger if they all fit in full."""
    for height in (paper_height * work.paper for paper_height in NAME_PAPER_MM[:-1]):
        if all(
            any(_fits(work, lines, height, region) for lines in _full(number, placement, work.unit))
            for number, placement, region in seen
        ):
            return height
    return NAME_PAPER_MM[-1] * work.paper


def _fits(work: Labelling, lines: tuple[str, ...], height: float, region: Polygon) -> bool:
    size = block_size(lines, height)
    return room_in(work.space, region, size, heart_of(region)) is not None


def wordings(number: int, placement: Placement, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Yield the wordings of a part's label, the fullest first; each is one or more lines."""
    yield from _full(number, placement, unit)
    side = _side(placement)
    name = f"{number}  {placement.label}"
    yield name, f"face {side}"
    yield (f"{name}, face {side}",)
    if not placement.is_turned_over:
        yield (name,)
    yield (f"{number}  face {side}",)


def _side(placement: Placement) -> str:
    return "down" if placement.is_turned_over else "up"


def _full(number: int, placement: Placement, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Yield the wordings with name, siding and face: compact, flat, in one line."""
    side = _side(placement)
    name = f"{number}  {placement.label}"
    siding = f"siding {exact_length(placement.need.outline.siding_mm, unit)}"
    broken = wrapped(name, 1.0, text_width(name, 1.0) * 0.6)
    yield name, siding, f"marked face {side}"
    yield name, f"{siding}, marked face {side}"
    yield (f"{name}, {siding}, marked face {side}",)
    if len(broken) > 1:
        yield *broken, siding, f"marked face {side}"
        yield *broken, f"{siding}, face {side}"


def _part(
    work: Labelling, number: int, placement: Placement, region: Polygon, height: float
) -> Iterable[Entity]:
    heart = heart_of(region)
    for lines in wordings(number, placement, work.unit):
        block = set_block(work, lines, height, region, heart)
        if block:
            return [*block, *_part_grain(work, placement, region, heart)]
    return _balloon(work, number, region, heart)


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
    work.space.take([shapely.Point(centre).buffer(radius)])
    at = (centre[0], centre[1] - height / 2)
    view = work.window.view
    return [
        Circle(centre, radius, Role.PART_NAME, view),
        Text(str(number), at, height, Role.PART_NAME, Anchor.CENTRE, view),
    ]


def _leader(work: Labelling, number: int, region: Polygon, heart: Point) -> Iterable[Entity]:
    """Return a balloon off the board, its leader clear of other lettering where it can be."""
    radius = BALLOON_PAPER_MM * work.paper
    low_x, low_y, high_x, high_y = work.margin.bounds
    xs = np.arange(low_x + radius, high_x - radius, radius / 2)
    rows = np.arange(low_y + 1.2 * radius, high_y - radius + 1e-9, 2.3 * radius)
    centres = np.array([(x, y) for y in rows for x in xs])
    centres = centres[np.argsort(np.hypot(*(centres - heart).T), kind="stable")]
    foot = heart if region.contains(shapely.Point(heart)) else heart_of(region)
    lines = np.array([LineString([foot, centre]) for centre in centres])
    clear = centres[work.space.are_free(lines, heeds_soft=False)]
    size = (2.2 * radius, 2.2 * radius)
    centre = first_free(work.space, clear, size) or first_free(work.space, centres, size)
    if centre is None:
        return []
    dot = 0.5 * work.paper
    end = LineString([centre, foot]).interpolate(radius)
    leader = Polyline(((end.x, end.y), foot), Role.PART_NAME, view=work.window.view)
    work.space.take([LineString(leader.points)], is_soft=True)
    return [
        *_ring(work, number, centre),
        leader,
        Circle(foot, dot, Role.PART_NAME, work.window.view),
    ]
