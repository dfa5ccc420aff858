"""Lettering that has no room where it belongs: off the board, or farther off, with a leader.

No line runs through lettering: what finds no such place is left to the lists.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.sheets.board_view import seen_outline
from nesting.sheets.drawing import Anchor, Circle, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import boxes_at, heart_of
from nesting.sheets.labelling import SMALL_PAPER_MM, Labelling, set_beside
from nesting.sheets.lettering import text_width

BALLOON_PAPER_MM = 2.9
"""Radius of a number's balloon."""

LEADERS = 64
"""So many leaders are looked at first, the shortest."""

LONGEST_PAPER_MM = 30.0
"""Longest leader of a number where a larger view has it as well: one at the far end of a row of
others is taken for that of a part nearby."""

LONGEST_OVER_WOOD_PAPER_MM = 60.0
"""Longest leader of a word or a cut's number: a longer one over the wood looks like a line to be
sawn, and the lists say where the cut lies."""

MOST_FEET = 12
"""So many places of a part are tried for the foot of a leader, those nearest its heart first."""

WOOD_PLACES = 900
"""So many places on the wood are tried for each foot, those nearest to where they are wanted."""

MOST_PARTS = 40
"""On a board with more parts leaders would cover the wood: the lists have what has no room."""

END_FEET = 2
"""So many feet at a part's far ends are tried for a leader over the wood: from its middle every way
may lead over its neighbours."""

FOOT_IN_PAPER_MM = 0.8
"""So far within its part a leader ends at least, where that is broad enough."""

AWAY_PAPER_MM = (3.0, 5.0, 8.0, 12.0)
"""How far from a point a word with a leader is tried, beyond what the point itself takes."""

ROUND = np.radians(np.arange(15.0, 375.0, 30.0))
"""Ways in which it is tried."""


def needed_beside(work: Labelling, text: str, at: Point, reach: float, role: Role) -> list[Entity]:
    """Return a word beside a point, else farther off with a leader, else in the margin with one."""
    return set_beside(work, text, at, reach, role) or _led_word(work, text, at, reach, role)


def _led_word(work: Labelling, text: str, at: Point, reach: float, role: Role) -> list[Entity]:
    height = SMALL_PAPER_MM * work.paper
    size = np.array([text_width(text, height) + 0.4 * height, 1.5 * height])
    ways = np.column_stack([np.cos(ROUND), np.sin(ROUND)])
    away = np.array(AWAY_PAPER_MM) * work.paper + reach
    centres = np.asarray(at) + (away[:, None, None] * ways).reshape(-1, 2)
    centres = np.concatenate(
        [centres, _margin_places(work, size, np.asarray(at), LONGEST_OVER_WOOD_PAPER_MM)]
    )
    centres = centres[work.space.are_free(boxes_at(centres, *size))]
    if not len(centres):
        return []
    off = centres - at
    far = np.maximum(np.hypot(*off.T), 1e-9)[:, None]
    # A leader goes from the sign to the side of the box about the word.
    to_side = np.min(size / 2 / np.maximum(np.abs(off / far), 1e-9), axis=1)[:, None]
    starts = np.asarray(at) + off / far * np.minimum(1.05 * reach, far)
    ends = centres - off / far * np.minimum(to_side, far)
    leaders = np.asarray(shapely.linestrings(np.stack([starts, ends], axis=1)))
    clear = np.flatnonzero(work.space.are_off_words(leaders))
    if not len(clear):
        return []
    # A line from the wood's own faults across a part might be taken for one to be scribed or sawn;
    # numbers of bungs and cuts stand among parts, and have little room.
    crosses = shapely.intersects(leaders[clear], work.cuts) & (role is Role.NOTE)
    best = clear[np.lexsort((far[clear, 0], crosses))[0]]
    x, y = map(float, centres[best])
    work.space.take_box((x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2))
    work.space.take([leaders[best]], is_soft=True)
    view = work.window.view
    leader = Polyline(tuple(leaders[best].coords), Role.LEADER, view=view)
    return [leader, Text(text, (x, y - height / 2), height, role, Anchor.CENTRE, view)]


def _margin_places(
    work: Labelling,
    size: NDArray[np.float64],
    near: NDArray[np.float64],
    longest: float = math.inf,
) -> NDArray[np.float64]:
    """Return (n, 2) middles for a box in the margin, the nearest to a point first.

    None is farther off than ``longest``, paper mm.
    """
    radius = BALLOON_PAPER_MM * work.paper
    half = max(radius, size[0] / 2 - 0.1 * radius)
    low_x, low_y, high_x, high_y = work.margin.bounds
    xs = np.arange(low_x + half, high_x - half, radius / 2)
    rows = np.arange(low_y + 1.2 * radius, high_y - radius + 1e-9, 2.3 * radius)
    if not len(xs) or not len(rows):
        return np.empty((0, 2))
    centres = np.array([(x, y) for y in rows for x in xs])
    far = np.hypot(*(centres - near).T)
    order = np.argsort(far, kind="stable")
    longest = longest if work.is_read else min(longest, LONGEST_PAPER_MM)
    return np.asarray(centres[order[far[order] <= longest * work.paper]])


def off_board(work: Labelling, size: tuple[float, float], near: Point) -> Point | None:
    """Return the middle of the nearest place off the board where a box has room, or None."""
    free = _free(work, size, _margin_places(work, np.array(size), np.array(near)))
    return _point(free[0]) if len(free) else None


def _free(
    work: Labelling, size: tuple[float, float], centres: NDArray[np.float64]
) -> NDArray[np.float64]:
    return np.asarray(centres[work.space.are_free(boxes_at(centres, *size))])


def near_part(
    work: Labelling, size: tuple[float, float], region: Polygon, heart: Point
) -> tuple[Point, Point] | None:
    """Return where a box stands near to a part, and where in the part a leader to it ends.

    Off the board, where the leader is short; else on free wood beside the part, else farther off
    the board, where the sheet is read. None if there is no room; or if the leader would run through
    lettering, and a larger view follows.
    """
    feet = _feet(work, region, heart)
    for places, from_feet in _tiers(work, size, region, heart, feet):
        free = _free(work, size, places)
        for led_to in (_first_led, _first_off_words):
            for foot in from_feet:
                clear = led_to(work, foot, free)
                if clear is not None:
                    return _point(clear), foot
    if not (work.is_read and len(free)):
        return None
    return _point(free[0]), feet[0] if feet else heart_of(region)


def _tiers(
    work: Labelling,
    size: tuple[float, float],
    region: Polygon,
    heart: Point,
    feet: Sequence[Point],
) -> Iterator[tuple[NDArray[np.float64], Sequence[Point]]]:
    """Yield (n, 2) middles of places for a box, and the feet of leaders to them; the best first."""
    box, near = np.array(size), np.array(heart)
    yield _margin_places(work, box, near, LONGEST_PAPER_MM), feet
    if work.is_read and len(work.nest.placements) <= MOST_PARTS:
        for foot in (*feet[-END_FEET:], *feet[:1]):
            yield _wood_places(work, size, region, foot), (foot,)
    if work.is_read:
        yield _margin_places(work, box, near, LONGEST_OVER_WOOD_PAPER_MM), feet


def _wood_places(
    work: Labelling, size: tuple[float, float], region: Polygon, foot: Point
) -> NDArray[np.float64]:
    """Return (n, 2) middles for a box on the board off all parts, the best first.

    No leader to one of them runs over another part than the foot's.
    """
    reach, step = LONGEST_OVER_WOOD_PAPER_MM * work.paper, BALLOON_PAPER_MM * work.paper
    seen = work.window.all_seen([seen_outline(p) for p in work.nest.placements])
    others = seen[~shapely.contains_xy(seen, *heart_of(region))]
    off = np.arange(-reach, reach + step, step)
    places = np.asarray(foot) + np.stack(np.meshgrid(off, off), axis=-1).reshape(-1, 2)
    places = places[np.hypot(*(places - foot).T) <= reach]
    wanted = _fanned_out(np.asarray(foot), others, size, reach / 2)
    nearest = np.argsort(np.hypot(*(places - wanted).T), kind="stable")
    places = places[nearest[:WOOD_PLACES]]
    wood = work.window.seen(work.nest.board.shape)
    shapely.prepare(wood)
    boxes = boxes_at(places, *size)
    is_wood = shapely.contains_properly(wood, boxes)
    places, boxes = places[is_wood], boxes[is_wood]
    ways = np.stack([np.broadcast_to(np.asarray(foot), places.shape), places], axis=1)
    lines = shapely.linestrings(ways)
    is_off = ~shapely.intersects(boxes, region)
    tree = shapely.STRtree(others)
    for shapes in (boxes, lines):
        is_off[tree.query(shapes, predicate="intersects")[0]] = False
    return np.asarray(places[is_off])


def _fanned_out(
    foot: NDArray[np.float64],
    others: NDArray[np.object_],
    size: tuple[float, float],
    within: float,
) -> NDArray[np.float64]:
    """Return where a box is wanted so that those of neighbours have room as well: theirs spread.

    At the foot itself where no other part is near.
    """
    near = others[shapely.dwithin(others, shapely.Point(foot), within)]
    feet = np.concatenate([shapely.get_coordinates(shapely.centroid(near)), [foot]])
    spread = float(np.hypot(*np.ptp(feet, axis=0)))
    if not spread:
        return foot
    off: NDArray[np.float64] = foot - feet.mean(axis=0)
    return foot + off * max(len(feet) * max(size) / spread - 1, 0.0)


def _point(given: NDArray[np.float64]) -> Point:
    return float(given[0]), float(given[1])


def _feet(work: Labelling, region: Polygon, heart: Point) -> Sequence[Point]:
    """Return places of a part where no lettering stands, those nearest its heart first."""
    inner = region.buffer(-FOOT_IN_PAPER_MM * work.paper)
    ground = region if inner.is_empty else inner
    low_x, low_y, high_x, high_y = ground.bounds
    x, y = np.meshgrid(np.linspace(low_x, high_x, 24), np.linspace(low_y, high_y, 9))
    places = np.column_stack([x.ravel(), y.ravel()])
    places = places[shapely.intersects_xy(ground, places[:, 0], places[:, 1])]
    order = np.argsort(np.hypot(*(places - heart).T), kind="stable")
    places = np.concatenate([[heart, heart_of(region)], places[order]])
    places = places[shapely.intersects_xy(region, places[:, 0], places[:, 1])]
    free = places[work.space.are_free(np.asarray(shapely.points(places)), heeds_soft=False)]
    return [_point(place) for place in free[:: max(1, len(free) // MOST_FEET)][:MOST_FEET]]


def _first_led(
    work: Labelling, foot: Point, centres: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Return the first of (n, 2) centres to which a leader is clear of all lettering, or None."""
    for some in (centres[:LEADERS], centres[LEADERS:]):
        is_clear = work.space.are_clear(foot, some)
        if is_clear.any():
            return np.asarray(some[int(np.argmax(is_clear))])
    return None


def _first_off_words(
    work: Labelling, foot: Point, centres: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Return the first of (n, 2) centres to which a leader crosses holes at the worst, or None."""
    some = centres[:LEADERS]
    ways = np.stack([np.broadcast_to(np.asarray(foot), some.shape), some], axis=1)
    clear = np.flatnonzero(work.space.are_off_words(np.asarray(shapely.linestrings(ways))))
    return np.asarray(some[clear[0]]) if len(clear) else None


def led(start: Point, foot: Point, work: Labelling) -> list[Entity]:
    """Return a leader from a place off the board to a part, with a dot at its end."""
    leader = Polyline((start, foot), Role.LEADER, view=work.window.view)
    work.space.take([LineString(leader.points)], is_soft=True)
    return [leader, Circle(foot, 0.5 * work.paper, Role.LEADER, work.window.view)]
