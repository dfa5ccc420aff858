"""Break-down cuts drawn on a cut sheet: their lines, where they stop, their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product
from math import dist

from shapely.geometry import LineString, Point

from nesting.accounts.account import BoardAccount
from nesting.break_down.cuts import BreakDownCut
from nesting.nest import Nest
from nesting.sheets.drawing import Entity, Polyline, Role, Tag
from nesting.sheets.labelling import Labelling, set_beside
from nesting.sheets.leaders import needed_beside
from nesting.sheets.window import Window, as_lines

BEYOND_PAPER_MM = 3.5
"""So far beyond the wood's edge a cut is drawn on: seen where it runs between two close parts."""

EDGE_MM = 0.05
"""A cut that ends so near to the board's edge comes from outside."""

Place = tuple[float, float]


def break_down_lines(nest: Nest, account: BoardAccount, window: Window) -> Iterable[Entity]:
    """Yield the line of each cut, tagged, and where it runs on outside the wood."""
    for number, cut in enumerate(account.break_down.cuts, start=1):
        if window.is_whole:
            points = window.point(*cut.start), window.point(*cut.end)
            fields = [("number", str(number)), ("kind", cut.kind.value)]
            if cut.is_stopped:
                fields.append(("stops", _stops_said(cut)))
            tag = Tag("break-down cut", tuple(fields))
            role = Role.BREAK_DOWN
            yield Polyline(points, role, view=window.view, tag=window.tag(tag))
        else:
            yield from window.lines(LineString([cut.start, cut.end]), Role.BREAK_DOWN)
        for stop, along in stops_of(cut):
            yield from _stop_bar(stop, along, window)
        for line in _beyond(nest, cut, window):
            yield from as_lines(line, Role.BREAK_DOWN, window.view)


def _stops_said(cut: BreakDownCut) -> str:
    """Return at which ends a cut stops, as a tag has it."""
    ends = (*cut.stops, cut.by_hand)
    return " ".join(name for name, said in zip(("start", "end", "hand"), ends, strict=True) if said)


def stops_of(cut: BreakDownCut) -> Iterable[tuple[Place, Place]]:
    """Yield each place where a cut stops, and the direction in which it comes there."""
    size = max(cut.length_mm, EDGE_MM)
    (x, y), (u, v) = cut.start, cut.end
    along = (u - x) / size, (v - y) / size
    if cut.stops[0]:
        yield cut.start, (-along[0], -along[1])
    if cut.stops[1]:
        yield cut.end, along


STOP_PAPER_MM = 2.0
"""Half the bar across a cut where the saw stops."""


def _stop_bar(stop: Place, along: Place, window: Window) -> Iterable[Entity]:
    """Yield the bar across a cut where the saw stops, twice: it is seen in any print."""
    if not window.shows(stop[0]):
        return
    paper = window.paper_mm / window.times
    for back in (0.0, 0.6 * paper):
        x, y = stop[0] - back * along[0], stop[1] - back * along[1]
        dx, dy = -along[1] * STOP_PAPER_MM * paper, along[0] * STOP_PAPER_MM * paper
        line = LineString([window.point(x - dx, y - dy), window.point(x + dx, y + dy)])
        yield from as_lines(line, Role.BREAK_DOWN, window.view)


def _outside(
    end: Place, other: Place, cut: BreakDownCut, reach_paper_mm: float, window: Window
) -> Place:
    """Return the place of the board's frame so far beyond an end of a cut."""
    reach = reach_paper_mm * window.paper_mm / window.times / max(cut.length_mm, EDGE_MM)
    return end[0] + (end[0] - other[0]) * reach, end[1] + (end[1] - other[1]) * reach


def break_down_obstacles(nest: Nest, account: BoardAccount, window: Window) -> Iterable[LineString]:
    """Yield what lettering off the wood keeps clear of: lines that run on there."""
    for cut in account.break_down.cuts:
        yield from _beyond(nest, cut, window)


def stop_bars(account: BoardAccount, window: Window) -> Iterable[LineString]:
    """Yield the bars across cuts where the saw stops."""
    for cut in account.break_down.cuts:
        for stop, along in stops_of(cut):
            for bar in _stop_bar(stop, along, window):
                if isinstance(bar, Polyline):
                    yield LineString(bar.points)


def _beyond(nest: Nest, cut: BreakDownCut, window: Window) -> Iterable[LineString]:
    """Yield how a cut is drawn on outside the wood, at each of its ends that a window shows."""
    edge = nest.board.shape.exterior
    for end, other in ((cut.start, cut.end), (cut.end, cut.start)):
        if edge.distance(Point(end)) <= EDGE_MM and window.shows(end[0]):
            out = _outside(end, other, cut, BEYOND_PAPER_MM, window)
            yield LineString([window.point(*end), window.point(*out)])


def break_down_numbers(work: Labelling) -> Iterable[Entity]:
    """Yield the number of each cut, once: off the wood at an end on its edge, else beside it."""
    for number, cut in enumerate(work.account.break_down.cuts, start=1):
        places = [at for at in _number_places(cut, work) if work.window.shows(at[0])]
        reach = 0.4 * work.paper
        for setting, place in product((set_beside, needed_beside), places):
            at = work.window.point(*place)
            lettering = setting(work, f"c{number}", at, reach, Role.BREAK_DOWN)
            yield from lettering
            if lettering:
                break
    near = 2 * STOP_PAPER_MM * work.window.paper_mm / work.window.times
    for stop, words in stops_together(work.account.break_down.cuts, near):
        if not work.window.shows(stop[0]):
            continue
        at, reach = work.window.point(*stop), (STOP_PAPER_MM + 0.4) * work.paper
        yield from needed_beside(work, words, at, reach, Role.BREAK_DOWN)


def stops_together(cuts: Sequence[BreakDownCut], near_mm: float) -> Iterable[tuple[Place, str]]:
    """Yield the places where cuts stop, those of cuts that meet as one, each with its words."""
    found = list[tuple[Place, list[str]]]()
    for number, cut in enumerate(cuts, start=1):
        for stop, _ in stops_of(cut):
            beside = next((names for at, names in found if dist(at, stop) <= near_mm), None)
            if beside is None:
                found.append((stop, [f"c{number}"]))
            else:
                beside.append(f"c{number}")
    for stop, names in found:
        yield stop, f"STOP {' '.join(names)}"


ALONG = (0.5, 0.25, 0.75, 0.12, 0.88, 0.38, 0.62)
"""Places along a cut at which its number may stand, as shares of it."""


def _number_places(cut: BreakDownCut, work: Labelling) -> list[Place]:
    """Return where a cut's number may stand, the best place first: upper ends before lower ones."""
    edge = work.nest.board.shape.exterior
    outer, inner = list[Place](), list[Place]()
    for end, other in sorted(((cut.start, cut.end), (cut.end, cut.start)), key=lambda e: -e[0][1]):
        if edge.distance(Point(end)) <= EDGE_MM:
            outer.append(_outside(end, other, cut, BEYOND_PAPER_MM, work.window))
        else:
            inner.append(end)
    (x, y), (u, v) = cut.start, cut.end
    along = [(x + share * (u - x), y + share * (v - y)) for share in ALONG]
    return [*outer, *inner, *along]
