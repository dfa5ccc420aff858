"""Compiled: where a part comes to lie against the front that others form on lines along a board.

Plain twins of these kernels are in the tests.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nesting.engine.geometry.arrays import BEGIN, END, Floats, Ints
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.geometry.keep_cheapest import keep

FRONT, FIGURE, LINE, PLACE_X, EDGE, LOST = 0, 1, 2, 3, 4, 5
"""Of a next place: on which front which figure, its line, x and edge (1 or -1), wood lost, mm2."""

HOW_NEAR, REST_X, REST_LINE, REST_EDGE = 0, 1, 2, 3
"""Of a place at rest, how near to the end of the board first."""


class Lines(NamedTuple):
    """A board on m lines: its free stretches, where it begins, and the distance of lines, mm.

    Those of line k for parts of kind h are ``x[first[h, k] : first[h, k + 1]]``.
    """

    first: Ints
    x: Floats
    low: float
    step: float


class Looks(NamedTuple):
    """Figures on lines from each one's own lowest: need, kind of wood and area, mm2, of each.

    Its lines are ``lines[f]`` to ``lines[f + 1]``, where each begins (inf: nowhere), and its
    stretches ``x[first[k] : first[k + 1]]``. With the gap around it: how many lines higher its
    lowest is, its lines in ``grown``, where each ends and how much of it is covered.
    """

    need: Ints
    kind: Ints
    area: Floats
    lines: Ints
    begins: Floats
    first: Ints
    x: Floats
    grown_from: Ints
    grown: Ints
    ends: Floats
    covered: Floats


class Room(NamedTuple):
    """Where figures may lie on the board while it is empty.

    Figure f with its lowest on line a from begin to end of ``x[first[r]]``, and so on up to row
    ``first[r + 1]``, r being ``rows[f] + a``.
    """

    rows: Ints
    first: Ints
    x: Floats


HAIR = 1e-9
"""Rounding, mm."""

LONG = 1e9
"""Longer than any board, mm."""

PLACES, STEEP = 3, 2.0
"""Places of a figure toward each edge that are tried next; and how steep a side of wood, along to
across, holds it where it is, for it might slide off a flatter one."""


@inner
def _free_before(x: float, line: int, lines: Lines) -> float:
    """Return the free wood before x on a line, that for parts of the first kind, mm."""
    free = 0.0
    for w in range(lines.first[0, line], lines.first[0, line + 1], 2):
        free += max(0.0, min(x, lines.x[w + 1]) - lines.x[w])
    return free


@inner
def _on_wood(x: float, at: int, f: int, lines: Lines, looks: Looks) -> float:
    """Return the least x from the given one on at which a figure lies on free wood, or inf."""
    own, kind = looks.lines[f], looks.kind[f]
    count, settled, k = looks.lines[f + 1] - own, 0, 0
    while settled < count:
        before = x
        for s in range(looks.first[own + k], looks.first[own + k + 1], 2):
            x = _stretch(x, looks.x[s], looks.x[s + 1], kind, at + k, lines)[0]
            if x == np.inf:
                return x
        settled = settled + 1 if x == before else 0
        k = k + 1 if k + 1 < count else 0
    return x


@inner
def _stretch(
    x: float, begin: float, end: float, kind: int, line: int, lines: Lines
) -> tuple[float, float]:
    """Return the least x from the given one on, and the greatest, that keep a stretch on wood."""
    for w in range(lines.first[kind, line], lines.first[kind, line + 1], 2):
        there, last = max(x, lines.x[w] - begin), lines.x[w + 1] - end + HAIR
        if there <= last:
            return there, last
    return np.inf, np.inf


@inner
def _as_far(x: float, at: int, f: int, lines: Lines, looks: Looks) -> float:
    """Return up to what x a figure may slide along from the given one."""
    far, own, kind = np.inf, looks.lines[f], looks.kind[f]
    for k in range(looks.lines[f + 1] - own):
        for s in range(looks.first[own + k], looks.first[own + k + 1], 2):
            far = min(far, _stretch(x, looks.x[s], looks.x[s + 1], kind, at + k, lines)[1])
    return far


@door
def room_on(lines: Lines, looks: Looks) -> Room:
    """Return the room of every figure on the empty board."""
    m, figures = lines.first.shape[1] - 1, looks.need.shape[0]
    rows = np.zeros(figures + 1, np.int64)
    for f in range(figures):
        rows[f + 1] = rows[f] + max(0, m + 1 - looks.lines[f + 1] + looks.lines[f])
    first, x, count = np.zeros(rows[figures] + 1, np.int64), np.empty((1024, 2)), 0
    for f in range(figures):
        for at in range(rows[f + 1] - rows[f]):
            begin = _on_wood(lines.low - LONG, at, f, lines, looks)
            while begin < np.inf:
                end = _as_far(begin, at, f, lines, looks)
                if end == np.inf:  # Between all lines.
                    break
                if count == x.shape[0]:
                    x = np.concatenate((x, np.empty_like(x)))
                x[count, BEGIN], x[count, END] = begin, end
                begin = _on_wood(end + 2.0 * HAIR, at, f, lines, looks)
                count += 1
            first[rows[f] + at + 1] = count
    return Room(rows, first, x[:count])


@inner
def _against(front: Floats, f: int, looks: Looks, x: Floats) -> None:
    """Write to x (a) the least x at which a figure begins behind the front, lowest on each line.

    Through views, so that indices begin at 0 and loops become vector instructions; four lines at
    once, for then x is read and written four times less: a third of the time.
    """
    places = x.shape[0]
    begins = looks.begins[looks.lines[f] : looks.lines[f + 1]]
    for at in range(places):
        x[at] = -np.inf
    fours = begins.shape[0] // 4 * 4
    for k in range(0, fours, 4):
        p, q, r, s = begins[k], begins[k + 1], begins[k + 2], begins[k + 3]
        ends, second = front[k : k + places], front[k + 1 : k + 1 + places]
        third, fourth = front[k + 2 : k + 2 + places], front[k + 3 : k + 3 + places]
        for at in range(places):
            one = _greater(ends[at] - p, second[at] - q)
            two = _greater(third[at] - r, fourth[at] - s)
            x[at] = _greater(x[at], _greater(one, two))
    for k in range(fours, begins.shape[0]):
        begin, ends = begins[k], front[k : k + places]
        for at in range(places):
            x[at] = _greater(x[at], ends[at] - begin)


@inner
def _greater(one: float, other: float) -> float:
    """Return the greater: max() looks for nan, and its loops do not become vector instructions."""
    return one if one > other else other


@inner
def _with_room(f: int, room: Room, x: Floats) -> None:
    """Raise each x (a) to where there is room, or inf."""
    for at in range(x.shape[0]):
        row, here = room.rows[f] + at, np.inf
        for r in range(room.first[row], room.first[row + 1]):
            if x[at] <= room.x[r, END]:
                here = max(x[at], room.x[r, BEGIN])
                break
        x[at] = here


@inner
def _lost(
    front: Floats, behind: Floats, x: float, at: int, f: int, lines: Lines, looks: Looks
) -> float:
    """Return the free wood that a figure leaves behind the front, mm2.

    ``behind`` (m) is the free wood behind the front before, mm on each line.
    """
    lost, from_line, own = 0.0, at + looks.grown_from[f], looks.grown[f]
    for k in range(looks.grown[f + 1] - own):
        line = from_line + k
        if 0 <= line < front.shape[0]:
            end = looks.ends[own + k] + x
            if end > front[line]:
                lost += _free_before(end, line, lines) - behind[line]
            lost -= looks.covered[own + k]
    return lost * lines.step


@inner
def _keep_rests(x: Floats, edge: int, tilt: float, steep: float, kept: Floats) -> None:
    """Fill kept (k, 4) with the lines on which a figure is at rest, those nearest to the end first.

    There it would have to go ``steep`` back for a line toward its edge, or back for a line either
    way. ``x`` (a + 2) is the least x on each line, inf before the first and after the last. Rows
    are infinite where there are fewer.
    """
    for k in range(kept.shape[0]):
        kept[k, HOW_NEAR] = np.inf
    for at in range(x.shape[0] - 2):
        here, toward, away = x[at + 1], x[at + 1 - edge], x[at + 1 + edge]
        if here < toward and (here <= away or here + steep <= toward):
            keep(kept, here + edge * tilt * at, here, float(at), float(edge))


@inner
def _without_twins(kept: Floats, others: Floats) -> None:
    """Take the lines that are among others out of kept (k, 4)."""
    for k in range(kept.shape[0]):
        for j in range(others.shape[0]):
            if others[j, HOW_NEAR] < np.inf and others[j, REST_LINE] == kept[k, REST_LINE]:
                kept[k, HOW_NEAR] = np.inf


@door
def next_places(
    fronts: Floats, left: Ints, tilt: float, lines: Lines, looks: Looks, room: Room, rows: Floats
) -> int:
    """Fill rows (r, 6) with where each figure may lie next on each front; return how many.

    Only places at rest, ``tilt`` mm along the board being worth a millimetre toward one edge or
    the other.
    """
    count, tilt, steep = 0, tilt * lines.step, STEEP * lines.step
    x = np.empty(fronts.shape[1] + 2)
    rests = np.empty((2 * PLACES, 4))
    lows, highs = rests[:PLACES], rests[PLACES:]
    behind = np.empty(fronts.shape[1])
    for b in range(fronts.shape[0]):
        for line in range(behind.shape[0]):
            behind[line] = _free_before(fronts[b, line], line, lines)
        for f in range(looks.need.shape[0]):
            places = room.rows[f + 1] - room.rows[f]
            if left[b, looks.need[f]] <= 0 or places == 0:
                continue
            x[0] = x[places + 1] = np.inf
            _against(fronts[b], f, looks, x[1 : places + 1])
            _with_room(f, room, x[1 : places + 1])
            _keep_rests(x[: places + 2], 1, tilt, steep, lows)
            _keep_rests(x[: places + 2], -1, tilt, steep, highs)
            _without_twins(highs, lows)
            for k in range(rests.shape[0]):
                if rests[k, HOW_NEAR] < np.inf:
                    here, at, edge = rests[k, REST_X], int(rests[k, REST_LINE]), rests[k, REST_EDGE]
                    rows[count, FRONT], rows[count, FIGURE], rows[count, LINE] = b, f, at
                    rows[count, PLACE_X], rows[count, EDGE] = here, edge
                    rows[count, LOST] = _lost(fronts[b], behind, here, at, f, lines, looks)
                    count += 1
    return count


@door
def advance(fronts: Floats, rows: Floats, looks: Looks) -> None:
    """Move each front (b, m) to where the figure of its row (b, 6) ends."""
    for b in range(fronts.shape[0]):
        f, x = int(rows[b, FIGURE]), rows[b, PLACE_X]
        from_line, own = int(rows[b, LINE]) + looks.grown_from[f], looks.grown[f]
        for k in range(looks.grown[f + 1] - own):
            line = from_line + k
            if 0 <= line < fronts.shape[1]:
                fronts[b, line] = max(fronts[b, line], looks.ends[own + k] + x)
