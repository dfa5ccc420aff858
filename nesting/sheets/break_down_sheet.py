"""Break-down cuts on a cut sheet: their lines and numbers, where each runs, what they leave."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby, product
from math import dist

import numpy as np
from shapely.geometry import LineString, Point

from nesting.accounts.account import BoardAccount
from nesting.break_down.cuts import BreakDown, BreakDownCut, CutKind, Held, LeftPiece, cut_deep_mm
from nesting.marking.base_line import BaseLine
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.blocks import LETTER_MM, Table, record_table
from nesting.sheets.drawing import Anchor, Entity, Polyline, Role, Tag
from nesting.sheets.figures import figure
from nesting.sheets.labelling import Labelling, set_beside
from nesting.sheets.leaders import needed_beside
from nesting.sheets.lettering import wrapped
from nesting.sheets.lists import measures
from nesting.sheets.window import Window, as_lines
from nesting.units import Unit
from nesting.written_measures import format_length

BEYOND_PAPER_MM = 3.5
"""So far beyond the wood's edge a cut is drawn on: seen where it runs between two close parts."""

EDGE_MM = 0.05
"""A cut that ends so near to the board's edge comes from outside."""

HELD_MM = 52.0
"""Width of a column of numbers; more take another row."""

POUNDS = 0.45359237
"""Kilograms in an avoirdupois pound (exact, international agreement of 1959; from memory)."""

KINDS = {CutKind.CROSS: "cross-cut", CutKind.RIP: "rip", CutKind.OBLIQUE: "oblique"}

LEFT, RIGHT = Anchor.LEFT, Anchor.RIGHT

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


CUT_COLUMNS = ("cut", "kind", "along", "across", "spare", "parts", "from")
LEFT_COLUMNS = ("parts", "long", "wide", "weight", "still to do")

Cells = tuple[str, ...]


def cuts_heading(unit: Unit) -> str:
    """Return what stands over the list of cuts."""
    return f"Break-down cuts, middle of the kerf {measures(unit)}"


def cut_rows(nest: Nest, account: BoardAccount, base: BaseLine, unit: Unit) -> list[Cells]:
    """Return one row a cut, in order: where it runs, and what it parts from what."""
    found, numbers = account.break_down, _numbers(nest)
    rows = []
    for number, (cut, sides) in enumerate(zip(found.cuts, found.sides, strict=True), start=1):
        begin = (
            f"c{number}",
            KINDS[cut.kind],
            *_places(cut, base, unit),
            figure(cut.room_mm, unit),
        )
        told = [_told(side, numbers) for side in sides]
        if cut.is_stopped and not any(side.parts or side.offcuts for side in sides):
            told = ["meets next", ""]
        rows.append((*begin, *told))
    return rows


def break_down_table(nest: Nest, account: BoardAccount, base: BaseLine, unit: Unit) -> Table:
    """Return the cuts as a list; a cut that parts many things takes several lines."""
    given = cut_rows(nest, account, base, unit)
    rows = [_wrapped(row[:5], row[5:]) for row in given]
    anchors = (RIGHT, LEFT, RIGHT, RIGHT, RIGHT, LEFT, LEFT)
    return record_table(cuts_heading(unit), CUT_COLUMNS, anchors, rows)


LEVEL_MM = 0.3
"""Ends of a cut that differ by less along or across the base line have one figure."""


def _places(cut: BreakDownCut, base: BaseLine, unit: Unit) -> tuple[str, str]:
    """Return where a cut runs from the base line: a figure, or from and to if it is oblique."""
    (x, y), (u, v) = base.measured(np.array([cut.start, cut.end])).tolist()
    if cut.kind is CutKind.CROSS and abs(x - u) < LEVEL_MM:
        return figure((x + u) / 2, unit), _between(y, v, cut, unit)
    if cut.kind is CutKind.RIP and abs(y - v) < LEVEL_MM:
        return _between(x, u, cut, unit), figure((y + v) / 2, unit)
    along, across = ((figure(a, unit), figure(b, unit)) for a, b in ((x, u), (y, v)))
    return f"{along[0]} to {along[1]}", f"{across[0]} to {across[1]}"


def _between(low: float, high: float, cut: BreakDownCut, unit: Unit) -> str:
    """Return from where to where a stopped cut runs; nothing of one that runs right across."""
    if not cut.is_stopped:
        return ""
    words = [
        f"STOP {figure(end, unit)}" if stop else "edge"
        for end, stop in zip((low, high), cut.stops, strict=True)
    ]
    return f"{' to '.join(words)}{', by hand' if cut.by_hand else ''}"


def left_heading(account: BoardAccount, unit: Unit) -> str:
    """Return what stands over the list of what straight cuts leave."""
    return f"After straight cuts {freed_words(account.break_down)}, sizes {measures(unit)}"


def left_rows(nest: Nest, account: BoardAccount, unit: Unit) -> list[Cells]:
    """Return one row for each piece that straight cuts leave too large, or with more in it."""
    numbers, rows = _numbers(nest), list[Cells]()
    for piece in account.break_down.pieces:
        if piece.is_handy and (piece.is_freed or not piece.parts):
            continue
        size = (figure(piece.length_mm, unit), figure(piece.width_mm, unit))
        held = _told(Held(piece.parts, piece.offcuts), numbers)
        rows.append((held, *size, _weight(piece, unit), _for_what(piece)))
    return rows


def left_table(nest: Nest, account: BoardAccount, unit: Unit) -> Table:
    """Return what straight cuts leave as a list."""
    rows = [_wrapped((), row[:1], row[1:]) for row in left_rows(nest, account, unit)]
    anchors = (LEFT, RIGHT, RIGHT, RIGHT, LEFT)
    return record_table(left_heading(account, unit), LEFT_COLUMNS, anchors, rows)


def freed_words(found: BreakDown) -> str:
    """Return how many parts straight cuts free."""
    whole = sum(len(piece.parts) for piece in found.pieces)
    return f"{found.parts_freed} of {whole} parts free"


def run_out_words(nest: Nest, account: BoardAccount, rules: Rules, unit: Unit) -> list[str]:
    """Return how much further a stopped cut runs on the face sawn from, where one may be tried."""
    if not account.break_down.not_freed and not account.break_down.has_stops:
        return []
    more = cut_deep_mm(nest.board.thickness_mm, rules.saw_blade_mm)
    blade = format_length(rules.saw_blade_mm, unit)
    if more is None:
        return [f"A blade of {blade} does not saw through from one face."]
    stopped = [cut for cut in account.break_down.cuts if cut.is_stopped]
    told, further = [], format_length(more, unit)
    if not all(cut.by_hand for cut in stopped):
        told.append(
            f"STOP: sawn through to the bar; on top a blade of {blade} cuts {further} past it, "
            "into waste."
        )
    if any(cut.by_hand for cut in stopped):
        told.append(
            f"STOP, by hand: saw to the bar on top; a blade of {blade} leaves {further} below: "
            "finish with a handsaw."
        )
    if stopped:
        return told
    return [f"Stopped short, a blade of {blade} cuts {format_length(more, unit)} further on top."]


def _weight(piece: LeftPiece, unit: Unit) -> str:
    if piece.mass_kg is None:
        return ""
    if unit.is_imperial:
        return f"{piece.mass_kg / POUNDS:.0f} lb"
    return f"{piece.mass_kg:.0f} kg"


def _for_what(piece: LeftPiece) -> str:
    tool = "" if piece.is_freed or not piece.parts else "bandsaw or saber saw"
    return ", ".join(word for word in (tool, "" if piece.is_handy else "two to carry") if word)


def _numbers(nest: Nest) -> dict[str, int]:
    return {placement.label: number for number, placement in enumerate(nest.placements, start=1)}


def _told(held: Held, numbers: dict[str, int]) -> str:
    """Return what lies on a side by the numbers on the sheet: ``1-4, 7, k1``."""
    parts = _runs(sorted(numbers[label] for label in held.parts), "")
    return ", ".join((*parts, *_runs(held.offcuts, "k"))) or "waste"


def _runs(numbers: Sequence[int], letter: str) -> list[str]:
    """Return numbers with three or more in a row as from the first to the last."""
    found = []
    for _, pairs in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        some = [number for _, number in pairs]
        if len(some) > 2:
            found.append(f"{letter}{some[0]}-{letter}{some[-1]}")
        else:
            found += [f"{letter}{number}" for number in some]
    return found


def _wrapped(
    before: tuple[str, ...], long: Sequence[str], after: tuple[str, ...] = ()
) -> list[tuple[str, ...]]:
    """Return a row, and more below it where its lists of numbers are long."""
    lines = [wrapped(text, LETTER_MM, HELD_MM) for text in long]
    rows = []
    for place in range(max(map(len, lines))):
        held = [line[place] if place < len(line) else "" for line in lines]
        is_first = place == 0
        begin = before if is_first else ("",) * len(before)
        rows.append((*begin, *held, *(after if is_first else ("",) * len(after))))
    return rows
