"""A cutting day: pieces of a plan's board are sawn, and what is left of it goes into stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import shapely
import shapely.affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.book.cut_line import (
    found_since,
    largest,
    lies_in,
    require_apart,
    require_no_metal,
    require_nothing_found,
)
from nesting.book.cut_told import ALL_SAWN, Cut, Kept, by_label
from nesting.book.effects import Row
from nesting.book.fitting import serving, told_lacking
from nesting.book.outlines import rings_of, wood_of
from nesting.book.pieces import (
    make_way,
    next_number,
    other_piece,
    piece_row,
    sawn_of,
    why_odd,
)
from nesting.book.rests import Rest, left_after, rest_of, sawn_away
from nesting.book.rows import (
    OFFCUT,
    REST,
    SAWN_UP,
    SPOILED,
    board_in,
    in_root,
    next_name,
    require_free,
    rest_row,
    shrunk_row,
)
from nesting.book.sheet import Drawn, Sheet
from nesting.book.sheet_place import sheet_place
from nesting.book.still_given import LINE_MM
from nesting.book.store import Book, Writing
from nesting.book.wood import keep_out_data
from nesting.errors import BookError
from nesting.flat_geometry.overlay import shared, united, without
from nesting.piece_names import said


@dataclass
class Sawn:
    """What came of a cut: labels, names of boards, and what to look at."""

    pieces: list[str] = field(default_factory=list)
    spoiled: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def cut(book: Book, sheet: Sheet, what: Cut = ALL_SAWN, why: str = "") -> Sawn:
    """Enter what was sawn by a sheet, in one step.

    Raises
    ------
    BookError
        If the sheet is of another state of the board, a piece was sawn before, or something that
        was found since lies in one.
    """
    with book.writing(sheet.project, "cut", why) as writing:
        return _Day(writing, sheet, what).done()


class _Day:
    """One cut while it is entered."""

    def __init__(self, writing: Writing, sheet: Sheet, what: Cut) -> None:
        self.writing, self.sheet, self.book = writing, sheet, writing.book
        self.what = by_label(sheet, what)
        self.project = _project(self.book, sheet.project)
        self.sawn = Sawn()
        self.root, self.at = sheet_place(self.book, sheet)
        self.counts = sawn_of(self.book, sheet.project, {piece.part for piece in sheet.pieces})
        self.open_pieces: list[Drawn] = []
        self.own: set[str] = set()
        self.rests = self.book.rows("board", "state = 'in stock' AND " + _ROOT, self.root)

    def done(self) -> Sawn:
        chosen, more = self._chosen()
        self._require_once([piece.label for piece, _ in chosen])
        for rest in self.rests:
            if mine := [piece for piece, row in chosen if row is rest]:
                require_free(rest, self.sheet.project)
                self._saw(rest, mine, is_done=more == 0)
        if not chosen:
            raise BookError(f"no piece of the sheet of {self.sheet.board} is left to be sawn")
        self.writing.said = self._said()
        return self.sawn

    def _require_once(self, chosen: Sequence[str]) -> None:
        """Refuse a piece that is used for one which the same cut makes as well."""
        otherwise = {*self.what.spoiled, *self.what.used_for}
        self.own = {label for label in chosen if label not in otherwise}
        for label, other in self.what.used_for.items():
            other = said(other, self.own)
            if other in self.own:
                raise BookError(
                    f"{other} is sawn of board {self.sheet.board} too: {label} cannot be used for "
                    f"it. If {other} is not sawn yet, name those that are (--pieces)"
                )

    def _said(self) -> str:
        sound = self.sawn.pieces
        parts = (
            [f"sawed {' + '.join(sound[:4])}{' ...' if len(sound) > 4 else ''}"] if sound else []
        )
        parts += [f"spoiled {' + '.join(self.sawn.spoiled)}"] if self.sawn.spoiled else []
        left = f"; left: {', '.join(self.sawn.left)}" if self.sawn.left else "; nothing left"
        return f"{self.sheet.board}: {'; '.join(parts)}{left}"

    def _chosen(self) -> tuple[list[tuple[Drawn, Row]], int]:
        """Return the pieces to saw, each with the board that it lies on, and how many stay."""
        named = self.sheet.pieces_named([*self.what.pieces, *self._spoiled_alone()])
        open_ones = [(piece, row) for piece in self.sheet.pieces if (row := self._lies_on(piece))]
        self.open_pieces = [piece for piece, _ in open_ones]
        for piece in named:
            self._require_open(piece, [one for one, _ in open_ones])
        wanted_ones = named or tuple(piece for piece, _ in open_ones)
        if not named:
            gone = [p.label for p in self.sheet.pieces if p not in wanted_ones]
            if gone and wanted_ones:
                why = "not sawn now, being sawn before or not wholly in the wood that is left"
                self.sawn.notes.append(f"{why}: {'; '.join(gone)}")
        chosen = [(piece, row) for piece, row in open_ones if piece in wanted_ones]
        require_apart([piece for piece, _ in chosen])
        return chosen, len(open_ones) - len(chosen)

    def _spoiled_alone(self) -> tuple[str, ...]:
        """Return spoiled pieces and those used otherwise, where some pieces are named at all."""
        return (*self.what.spoiled, *self.what.used_for) if self.what.pieces else ()

    def _lies_on(self, piece: Drawn) -> Row | None:
        """Return the board in stock that a piece still lies on, if it is not sawn."""
        if self._is_sawn(piece):
            return None
        polygon = self._in_root(piece.polygon)
        for row in self.rests:
            outside = without(polygon, in_root(row)).area
            if outside <= LINE_MM * polygon.length:
                return row
        return None

    def _is_sawn(self, piece: Drawn) -> bool:
        # A piece that was used for another one has that one's name; its own is wanted again.
        return piece.number in self.counts[piece.part]

    def _require_open(self, piece: Drawn, open_ones: Sequence[Drawn]) -> None:
        if piece in open_ones:
            return
        if self._is_sawn(piece):
            raise BookError(f"{piece.label} was sawn before: a piece is there once")
        raise BookError(
            f"{piece.label} does not lie wholly on what is left of board {self.sheet.board}: nest "
            "again, and cut from the new sheet"
        )

    def _in_root(self, polygon: Polygon) -> Polygon:
        return shapely.affinity.translate(polygon, *self.at)

    def _saw(self, row: Row, pieces: Sequence[Drawn], *, is_done: bool) -> None:
        """Saw pieces out of one board and put what is left into stock."""
        x, y = row["body"]["at"]
        shapes = {
            p.label: shapely.affinity.translate(self._in_root(p.polygon), -x, -y) for p in pieces
        }
        board = board_in(row)
        at = (x - self.at[0], y - self.at[1])
        since = [] if self.what.is_even_so else found_since(board, self.sheet.keep_outs, at)
        for piece in pieces:
            if piece.label not in self.what.spoiled:
                require_no_metal(piece, shapes[piece.label], board.keep_outs)
                require_nothing_found(piece, shapes[piece.label], since)
        self._put_pieces(row, pieces, shapes)
        wood = wood_of(row["body"]["wood"])
        taken = sawn_away(list(shapes.values()), self.project["kerf_mm"] + self.project["trim_mm"])
        kept = self.what.kept or (Kept.OFFCUTS if is_done else Kept.REST)
        if kept is Kept.REST:
            still = self._still_on(x, y, pieces)
            left = self._put_rests(
                row, [rest_of(board, part) for part in left_after(wood, taken, still)]
            )
        else:
            found = self._offcuts(wood, taken, (x, y)) if kept is Kept.OFFCUTS else []
            left = self._put_offcuts(row, [rest_of(board, part) for part in found])
            self._note_not_kept(row, pieces)
        lost = without(without(wood, united(list(shapes.values()))), united(left)).area
        self.writing.lose(lost, lost * board.thickness_mm)

    def _note_not_kept(self, row: Row, sawn: Sequence[Drawn]) -> None:
        """Note pieces of the sheet that were still to come of a board of which no rest is kept."""
        missed = [p.label for p in self.open_pieces if p not in sawn and self._lies_on(p) is row]
        if missed:
            self.sawn.notes.append(
                f"of {row['name']} no rest is kept: nest again, or take this back (book undo) and "
                f"keep the rest, for what is not sawn of it: {'; '.join(missed)}"
            )

    def _still_on(self, x: float, y: float, sawn: Sequence[Drawn]) -> list[Polygon]:
        """Return the pieces of the sheet that are still to be sawn, in a board's frame."""
        others = [p for p in self.open_pieces if p not in sawn]
        return [shapely.affinity.translate(self._in_root(p.polygon), -x, -y) for p in others]

    def _put_pieces(self, row: Row, pieces: Sequence[Drawn], shapes: Mapping[str, Polygon]) -> None:
        wood, held = row["body"]["wood"], board_in(row).keep_outs
        thick, species = wood["thickness_mm"], wood["species"]
        for piece in pieces:
            shape = shapes[piece.label]
            part, number, siding, label = piece.part, piece.number, piece.siding_mm, piece.label
            serves = None
            if label in self.what.used_for:
                other = self.what.used_for[label]
                part, number, want = other_piece(
                    self.book, self.sheet.project, other, beside=self.own
                )
                label = want["labels"][number - 1]
                siding, serves = want["siding_mm"], serving(want)
                if lacking := told_lacking(shape, species, piece.label, want, label):
                    self.sawn.notes.append(lacking)
            if siding > thick + LINE_MM:
                raise BookError(
                    f"board {row['name']} is {thick:g} mm thick, too thin for {label}, which is "
                    f"{siding:g} mm"
                )
            body = {
                "label": label, "siding_mm": siding, "outline": rings_of(shape),
                "sawn_as": piece.label, "frame": row["body"]["at"], "thickness_mm": thick,
                "keep_outs": [keep_out_data(k) for k in held if lies_in(k, shape)],
                "taped": row["body"]["taped"], "serves": serves,
            }  # fmt: skip
            made = piece_row(
                next_number(self.writing), self.sheet.project, part, number, row["name"], body
            )
            if piece.label in self.what.spoiled:
                made["state"] = SPOILED
                self.sawn.spoiled.append(piece.label)
                self.writing.lose(shape.area, shape.area * thick)
            else:
                self.sawn.pieces.append(label)
                self.writing.lose(0.0, shape.area * (thick - siding))
                self._call(made)
            self.writing.put("piece", made)

    def _call(self, made: Row) -> None:
        """Take the name that a piece is given from one that has it and does not count."""
        part, number, label = made["part"], made["copy"], made["body"]["label"]
        if number in self.counts[part]:
            raise BookError(f"{label} was sawn before: a piece is there once")
        make_way(self.writing, self.sheet.project, part, number)
        self.counts[part].add(number)
        if why := why_odd(self.book, made):
            self.sawn.notes.append(f"{label} does not count: {why}")

    def _offcuts(
        self, wood: Polygon, taken: BaseGeometry, at: tuple[float, float]
    ) -> list[Polygon]:
        """Return the offcuts of the sheet that are there, in the board's frame."""
        found: list[Polygon] = []
        for number, drawn in enumerate(self.sheet.offcuts, start=1):
            offcut = shapely.affinity.translate(self._in_root(drawn), -at[0], -at[1])
            inside = largest(without(shared(offcut, wood), united([taken, *found])))
            if inside is None or inside.area < 0.5 * offcut.area:
                if not shapely.intersects(offcut, wood) or inside is None:
                    continue
                self.sawn.notes.append(f"offcut {number} is not there any more, and is not kept")
                continue
            found.append(inside)
        return found

    def _put_offcuts(self, row: Row, rests: Sequence[Rest]) -> list[Polygon]:
        self.writing.put("board", {**row, "state": SAWN_UP, "held_by": None})
        for rest in rests:
            self._put_new(row, rest, OFFCUT, held_by=None)
        return [rest.wood for rest in rests]

    def _put_rests(self, row: Row, rests: Sequence[Rest]) -> list[Polygon]:
        """Keep the largest rest under the board's name; what falls off it gets names of its own."""
        if not rests:
            return self._put_offcuts(row, [])
        self.writing.put("board", shrunk_row(row, rests[0]))
        self.sawn.left.append(row["name"])
        for rest in rests[1:]:
            self._put_new(row, rest, REST, held_by=row["held_by"])
        return [rest.wood for rest in rests]

    def _put_new(self, row: Row, rest: Rest, came: str, *, held_by: str | None) -> None:
        name = next_name(self.book, row["body"]["root"])
        made = rest_row(name, rest, row, came, self.sheet.project)
        self.writing.put("board", {**made, "held_by": held_by})
        self.sawn.left.append(name)


_ROOT = "json_extract(body, '$.root') = ?"


def _project(book: Book, name: str) -> Row:
    row = book.row("project", name)
    if row is None:
        raise BookError(
            f"the book knows no project {name}: enter it first (salvage-nest book record)"
        )
    body: Row = row["body"]
    return body
