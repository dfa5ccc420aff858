"""The title corner, the cautions and the legend of a cut sheet, in paper mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from nesting.accounts.account import BoardAccount
from nesting.cautions import IN_SHORT
from nesting.marking.marking_out import MarkingOut
from nesting.nest import Nest
from nesting.outline import MarkKind
from nesting.rules import Rules
from nesting.sheets.blocks import HEADING_MM, LETTER_MM, Block
from nesting.sheets.board_view import grain_arrow, mark_role
from nesting.sheets.break_down_lists import run_out_words
from nesting.sheets.drawing import Circle, Entity, Polyline, Role, Text, View, moved
from nesting.sheets.figures import board_size
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.marking_view import compass_sign
from nesting.sheets.symbols import keep_out_entities
from nesting.sheets.window import Window
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region, slot
from nesting.units import Unit
from nesting.written_measures import exact_length, format_length, taped_length

WIDTH_MM = 118.0
"""Width of the title corner."""

LINE_MM = 4.0
NAME_MM = 7.0

CAUTION_LINE_MM = 3.5
"""Cautions stand a little closer, and so take no more of the sheet than they must."""

RULE_MM = 2.0
"""From lettering down to the line below it."""

SAMPLE_MM = 13.0
ENTRY_MM = 5.1


def title_corners(
    nest: Nest, account: BoardAccount, rules: Rules, *, project_name: str, unit: Unit
) -> Callable[[str, float], Block]:
    """Return what makes the framed title block for a paper and a scale."""
    return partial(_title_corner, nest.board.name, facts(nest, account, rules, project_name, unit))


def _title_corner(name: str, told: Sequence[str], paper: str, scale: float) -> Block:
    """Return a title block for a board's name and what is told of it."""
    inner = WIDTH_MM - 6.0
    entities: list[Entity] = []
    y = -3.0 - NAME_MM
    for line in wrapped(f"Board {name}", NAME_MM, inner):
        entities.append(Text(line, (3.0, y), NAME_MM, Role.TITLE))
        y -= 1.5 * NAME_MM
    y += 0.4 * NAME_MM
    for line in told:
        for piece in wrapped(line, LETTER_MM, inner):
            entities.append(Text(piece, (3.0, y), LETTER_MM, Role.TITLE))
            y -= LINE_MM
    ratio = f"1:{scale:g} printed to fit {paper}; the file is full size, in mm"
    entities.append(Text(ratio, (3.0, y), LETTER_MM, Role.TITLE))
    y -= RULE_MM
    entities.append(Polyline(((0.0, y), (WIDTH_MM, y)), Role.TITLE))
    y -= 1.0 + LETTER_MM
    for caution in IN_SHORT:
        for piece in wrapped(caution, LETTER_MM, inner):
            entities.append(Text(piece, (3.0, y), LETTER_MM, Role.CAUTION))
            y -= CAUTION_LINE_MM
    height = -y - CAUTION_LINE_MM + RULE_MM
    corners = ((0.0, 0.0), (WIDTH_MM, 0.0), (WIDTH_MM, -height), (0.0, -height))
    entities.append(Polyline(corners, Role.TITLE, is_closed=True))
    return Block(WIDTH_MM, height, tuple(entities))


def facts(
    nest: Nest, account: BoardAccount, rules: Rules, project_name: str, unit: Unit
) -> list[str]:
    """Return what a sheet says of its board, its account and the rules it was made by."""
    whose = [f"Project {project_name}", *origin(nest), wood(nest, rules, unit)]
    return [*whose, *shares_and_rules(nest, account, rules, unit)]


def origin(nest: Nest) -> list[str]:
    """Return where a board came from on the old boat, if anybody knows, and what was noted."""
    told = ", ".join(text for text in (nest.board.member, nest.board.came_from) if text)
    note = nest.board.note
    return [*([f"Came from: {told}"] if told else []), *([f"Note: {note}"] if note else [])]


def wood(nest: Nest, rules: Rules, unit: Unit) -> str:
    """Return a board's wood and size, as it lies and cleaned up."""
    board = nest.board
    clean = rules.clean_thickness_mm(board.thickness_mm)
    return (
        f"{board.species}, {board_size(board, unit)}, "
        f"{taped_length(board.thickness_mm, unit)} thick ({format_length(clean, unit)} clean)"
    )


def shares_and_rules(nest: Nest, account: BoardAccount, rules: Rules, unit: Unit) -> list[str]:
    """Return what becomes of a board, and how lines on its sheet are to be taken."""

    def given(mm: float) -> str:
        return exact_length(mm, unit)

    share = account.area.percent
    return [
        f"{faces(nest.board)} Positions: from the base line.",
        f"Parts {share('parts'):.1f} %, offcuts kept {share('offcuts'):.1f} %, "
        f"scrap {account.scrap_percent:.1f} %",
        f"(defects {share('defects'):.1f}, kerf and trim {share('kerf_and_trim'):.1f}, "
        f"oddments {share('oddments'):.1f})",
        f"Kerf {given(rules.kerf_mm)}, trim {given(rules.trim_mm)}, "
        f"clear of metal {given(rules.blade_clearance_mm)}",
        f"Cut lines are finished edges: saw {given(rules.trim_mm)} outside.",
        "Strength: in bending, what run-out and holes leave.",
        *run_out_words(nest, account, rules, unit),
    ]


def face_up(board: Board) -> str:
    """Return in few words which face is seen.

    >>> face_up(Board.rectangle("D/2", 900, 90, 20, "teak", leaf=(2, 3)))
    'leaf 2 of 3: face towards leaf 1 up'
    """
    if board.leaf is None:
        return "recorded face up"
    number, count = board.leaf
    side = "recorded face" if number == 1 else f"face towards leaf {number - 1}"
    return f"leaf {number} of {count}: {side} up"


def faces(board: Board) -> str:
    """Return which face is up, and of a leaf what is to be marked before the saw parts it."""
    if board.leaf is None:
        return "Face up: the recorded face."
    number, count = board.leaf
    if number == 1:
        return (
            f"Leaf 1 of {count}. Face up: the recorded face. Before resawing mark the left end and "
            "the lower edge across all leaves."
        )
    return (
        f"Leaf {number} of {count}. Face up: its sawn face, towards leaf {number - 1}: mark it as "
        "it comes off the saw. Left end and lower edge: as marked before resawing."
    )


_WORDS = {
    KeepOutKind.HOLE: "old hole, metal out",
    KeepOutKind.RECESS: "counterbore or old bung",
}


Entry = tuple[tuple[Entity, ...], str]


@dataclass(frozen=True)
class Legend:
    """Signs and what they mean; carried on in the next column like a table."""

    entries: tuple[Entry, ...]
    heading: str = "Signs"

    @property
    def count(self) -> int:
        """Number of signs."""
        return len(self.entries)

    @property
    def narrowest(self) -> float:
        """Width of its shortest entry."""
        return SAMPLE_MM + 3.0 + min(text_width(words, LETTER_MM) for _, words in self.entries)

    def height_of(self, rows: int) -> float:
        """Return the height with so many signs."""
        return HEADING_MM + 3.0 + ENTRY_MM * rows

    def whole(self, rows: int) -> int:
        """Return after how many signs, no more than given, the list may be cut: any."""
        return rows

    def cut(self, rows: int) -> tuple[Block, Legend | None]:
        """Return the first signs as a block, and the list of the rest."""
        rest = self.entries[rows:]
        block = _listed(self.heading, self.entries[:rows], self.height_of(rows))
        return block, Legend(rest, "Signs (continued)") if rest else None


def legend(
    nest: Nest, account: BoardAccount, rules: Rules, unit: Unit, marked: MarkingOut
) -> Legend:
    """Return what each sign on this sheet means; signs that are not on it are left out."""
    entries: list[Entry] = [
        ((Polyline(((0, 0), (SAMPLE_MM, 0)), Role.SAW_OUTLINE, view=View.COPY),), "cut line")
    ]
    kinds = {keep_out.kind for keep_out in nest.board.keep_outs}
    entries.extend(_kind_entry(kind, rules, unit) for kind in KeepOutKind if kind in kinds)
    if account.bungs:
        entries.append((_bung_sample(), "bung: ream, plug, see list"))
    if account.offcuts:
        dashes = Polyline(((0, 0), (SAMPLE_MM, 0)), Role.OFFCUT, view=View.COPY)
        entries.append(((dashes,), "offcut kept"))
    if not nest.board.grain.is_straight:
        entries.append((_grain_sample(), "grain line of the board: no cut"))
    if account.break_down.cuts:
        line = Polyline(((0, 0), (SAMPLE_MM, 0)), Role.BREAK_DOWN, view=View.COPY)
        entries.append(((line,), "break-down cut, right across"))
    if account.break_down.has_stops:
        bars = [
            Polyline(((x, -1.6), (x, 1.6)), Role.BREAK_DOWN, view=View.COPY) for x in (8.0, 8.6)
        ]
        line = Polyline(((0, 0), (8.6, 0)), Role.BREAK_DOWN, view=View.COPY)
        entries.append(((line, *bars), "STOP: cut ends at the bar, in the wood"))
    marks = {mark.kind for p in nest.placements for mark in p.need.outline.marks}
    entries.extend(_mark_entry(kind) for kind in MarkKind if kind in marks)
    points = [p for part in marked.parts for ring in part.rings for p in ring.points]
    if any(point.radius_mm is not None for point in points):
        sign = compass_sign((SAMPLE_MM / 2, 0.0), 1.0, View.COPY)
        entries.append(((sign,), "compass: centre of an arc or round line"))
    window = Window(1.0, view=View.COPY)
    entries.append(((grain_arrow((SAMPLE_MM / 2, 0), 0.0, SAMPLE_MM, window),), "grain"))
    return Legend(tuple(entries))


def _listed(heading: str, entries: tuple[Entry, ...], height: float) -> Block:
    beside = max(text_width(words, LETTER_MM) for _, words in entries)
    width = max(SAMPLE_MM + 3.0 + beside, text_width(heading, HEADING_MM))
    return Block(width, height, partial(_list_drawn, heading, entries))


def _list_drawn(heading: str, entries: tuple[Entry, ...]) -> tuple[Entity, ...]:
    entities: list[Entity] = [Text(heading, (0.0, -HEADING_MM), HEADING_MM, Role.LEGEND)]
    y = -HEADING_MM - 2.0 - ENTRY_MM / 2
    for sample, words in entries:
        entities.extend(moved(entity, 1.0, (0.5, y)) for entity in sample)
        at = (SAMPLE_MM + 3.0, y - LETTER_MM / 2)
        entities.append(Text(words, at, LETTER_MM, Role.LEGEND))
        y -= ENTRY_MM
    return tuple(entities)


def _kind_entry(kind: KeepOutKind, rules: Rules, unit: Unit) -> Entry:
    words = _WORDS.get(kind, kind.value)
    if kind is KeepOutKind.METAL:
        words = f"metal: no cut within {exact_length(rules.blade_clearance_mm, unit)}"
    return keep_out_sample(kind), words


def keep_out_sample(kind: KeepOutKind) -> tuple[Entity, ...]:
    """Return a kind of keep-out as a list of signs shows it, about the middle of a sample."""
    middle = SAMPLE_MM / 2
    if kind in (KeepOutKind.METAL, KeepOutKind.HOLE, KeepOutKind.RECESS):
        sample = circle(kind, middle, 0.0, 2.0)
    elif kind is KeepOutKind.KNOT:
        sample = circle(kind, middle, 0.0, 4.4)
    elif kind in (KeepOutKind.SPLIT, KeepOutKind.GROOVE):
        sample = slot(kind, (1.5, 0.0), (SAMPLE_MM - 1.5, 0.0), 2.4)
    else:
        sample = region(
            kind, [(0.5, -2.2), (SAMPLE_MM - 0.5, -2.2), (SAMPLE_MM - 0.5, 2.2), (0.5, 2.2)]
        )
    return keep_out_entities(sample, Window(1.0, view=View.COPY), 0)


def _bung_sample() -> tuple[Entity, ...]:
    x, reach = SAMPLE_MM / 2, 2.2
    corners = ((x - reach, 0.0), (x, -reach), (x + reach, 0.0), (x, reach))
    return (
        Circle((x, 0.0), 1.1, Role.BUNG, View.COPY),
        Polyline(corners, Role.BUNG, is_closed=True, view=View.COPY),
    )


_MARK_WORDS = {
    MarkKind.CENTRELINE: "scribe: centreline",
    MarkKind.FRAME: "scribe: frame",
    MarkKind.BOLT: "bolt, bored after fitting",
    MarkKind.FACE: "scribe: face",
    MarkKind.REFERENCE: "scribe: reference line",
}


def _grain_sample() -> tuple[Entity, ...]:
    return tuple(
        Polyline(((x, 0.0), (x + 1.8, 0.0)), Role.GRAIN_LINE, view=View.COPY)
        for x in (0.0, 5.6, 11.2)
    )


def _mark_entry(kind: MarkKind) -> Entry:
    role, x = mark_role(kind), SAMPLE_MM / 2
    if kind not in (MarkKind.BOLT, MarkKind.FACE):
        return (Polyline(((0, 0), (SAMPLE_MM, 0)), role, view=View.COPY),), _MARK_WORDS[kind]
    is_bored = kind is MarkKind.BOLT
    sample: list[Entity] = [Circle((x, 0.0), 1.0, role, View.COPY)] if is_bored else []
    for line in (((x - 2, 0.0), (x + 2, 0.0)), ((x, -2.0), (x, 2.0))):
        sample.append(Polyline(line, role, view=View.COPY))
    return tuple(sample), _MARK_WORDS[kind]
