"""Break-down cuts as lists and words: where each runs, what it parts, what they leave."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from nesting.accounts.account import BoardAccount
from nesting.break_down.cuts import BreakDown, BreakDownCut, CutKind, Held, LeftPiece, cut_deep_mm
from nesting.marking.base_line import BaseLine
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.blocks import LETTER_MM, Table, record_table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import figure
from nesting.sheets.lettering import wrapped
from nesting.sheets.lists import measures
from nesting.units import Unit
from nesting.written_measures import format_length

HELD_MM = 52.0
"""Width of a column of numbers; more take another row."""

POUNDS = 0.45359237
"""Kilograms in an avoirdupois pound (exact, international agreement of 1959; from memory)."""

KINDS = {CutKind.CROSS: "cross-cut", CutKind.RIP: "rip", CutKind.OBLIQUE: "oblique"}

LEFT, RIGHT = Anchor.LEFT, Anchor.RIGHT

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
