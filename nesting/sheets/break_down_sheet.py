"""Break-down cuts on a cut sheet: their lines and numbers, where each runs, what they leave."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from shapely.geometry import LineString, Point

from nesting.account import BoardAccount
from nesting.break_down_cuts import BreakDown, BreakDownCut, CutKind, Held, LeftPiece, cut_deep_mm
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.blocks import LETTER_MM, Table, table
from nesting.sheets.drawing import Anchor, Entity, Polyline, Role, Tag
from nesting.sheets.figures import figure
from nesting.sheets.labelling import Labelling, set_beside
from nesting.sheets.lettering import wrapped
from nesting.sheets.lists import measures
from nesting.sheets.window import Window, as_lines
from nesting.units import Unit, exact_length, format_length

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


def break_down_lines(nest: Nest, account: BoardAccount, window: Window) -> Iterable[Entity]:
    """Yield the line of each cut, tagged, and where it runs on outside the wood."""
    edge = nest.board.shape.exterior
    for number, cut in enumerate(account.break_down.cuts, start=1):
        if window.is_whole:
            points = window.point(*cut.start), window.point(*cut.end)
            tag = Tag("break-down cut", (("number", str(number)), ("kind", cut.kind.value)))
            role = Role.BREAK_DOWN
            yield Polyline(points, role, view=window.view, tag=window.tag(tag))
        else:
            yield from window.lines(LineString([cut.start, cut.end]), Role.BREAK_DOWN)
        for end, other in ((cut.start, cut.end), (cut.end, cut.start)):
            if edge.distance(Point(end)) <= EDGE_MM:
                yield from _beyond(end, other, cut, window)


def _beyond(
    end: tuple[float, float], other: tuple[float, float], cut: BreakDownCut, window: Window
) -> Iterable[Entity]:
    if not window.shows(end[0]):
        return
    (x, y), size = end, max(cut.length_mm, EDGE_MM)
    reach = BEYOND_PAPER_MM * window.paper_mm / window.times / size
    out = (x + (x - other[0]) * reach, y + (y - other[1]) * reach)
    line = LineString([window.point(x, y), window.point(*out)])
    yield from as_lines(line, Role.BREAK_DOWN, window.view)


def break_down_numbers(work: Labelling) -> Iterable[Entity]:
    """Yield the number of each cut: at its end on the upper or right edge, at the other at need."""
    window, edge = work.window, work.nest.board.shape.exterior
    for number, cut in enumerate(work.account.break_down.cuts, start=1):
        ends = sorted((cut.start, cut.end), key=lambda end: (edge.distance(Point(end)), -end[1]))
        is_set = False
        for end in (*ends, _middle(cut)):
            if is_set or not window.shows(end[0]):
                continue
            at = window.point(*end)
            reach, role = 1.0 * work.paper, Role.BREAK_DOWN
            lettering = set_beside(work, f"c{number}", at, reach, role, is_needed=end is ends[-1])
            is_set = bool(lettering)
            yield from lettering


def _middle(cut: BreakDownCut) -> tuple[float, float]:
    (x, y), (u, v) = cut.start, cut.end
    return (x + u) / 2, (y + v) / 2


def break_down_table(nest: Nest, account: BoardAccount, unit: Unit) -> Table:
    """Return one row a cut, in order: from where to where, and what it parts from what."""
    found, numbers = account.break_down, _numbers(nest)
    columns = (
        "cut", "kind", "along", "across", "to along", "across", "spare", "parts", "from parts",
    )  # fmt: skip
    rows = []
    for number, (cut, sides) in enumerate(zip(found.cuts, found.sides, strict=True), start=1):
        places = (*cut.start, *cut.end, cut.room_mm)
        rows += _wrapped(
            (f"c{number}", KINDS[cut.kind], *(figure(place, unit) for place in places)),
            [_told(side, numbers) for side in sides],
        )
    anchors = (RIGHT, LEFT, *[RIGHT] * 5, LEFT, LEFT)
    heading = f"Break-down cuts in order, middle of the kerf, {measures(unit)}"
    return table(heading, columns, anchors, tuple(rows))


def left_table(nest: Nest, account: BoardAccount, rules: Rules, unit: Unit) -> Table:
    """Return one row for each piece that straight cuts leave too large, or with more in it."""
    found, numbers = account.break_down, _numbers(nest)
    rows = []
    for piece in found.pieces:
        if piece.is_handy and (piece.is_freed or not piece.parts):
            continue
        size = (figure(piece.length_mm, unit), figure(piece.width_mm, unit))
        held = _told(Held(piece.parts, piece.offcuts), numbers)
        rows += _wrapped((), [held], (*size, _weight(piece, unit), _for_what(piece)))
    heading = f"Left after straight cuts: {freed_words(found)}, {measures(unit)}"
    columns = ("parts", "long", "wide", "weight", "for")
    shown = table(heading, columns, (LEFT, RIGHT, RIGHT, RIGHT, LEFT), tuple(rows))
    return _with_run_out(shown, nest, found, rules, unit)


def freed_words(found: BreakDown) -> str:
    """Return how many parts straight cuts free."""
    whole = sum(len(piece.parts) for piece in found.pieces)
    return f"{found.parts_freed} of {whole} parts free"


def _with_run_out(shown: Table, nest: Nest, found: BreakDown, rules: Rules, unit: Unit) -> Table:
    """Return a table that says how much further a stopped cut runs on the face sawn from."""
    if not found.not_freed:
        return shown
    more = cut_deep_mm(nest.board.thickness_mm, rules.saw_blade_mm)
    blade = exact_length(rules.saw_blade_mm, unit)
    if more is None:
        words = f"too thick to saw from one face with a blade of {blade}"
    else:
        words = f"a {blade} blade stopped short cuts {format_length(more, unit)} further on top"
    row = ("", "", "", "", words)
    return table(shown.heading, shown.columns, shown.anchors, (*shown.rows, row))


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
