"""``book``: what happened in the shop goes into the stock book, and comes out of it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.commands.shared import ALL_PLACED, folder_of, say, show, told
from nesting.errors import BookError, OptionError
from nesting.words import counted

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from nesting.book.store import Book
    from nesting.stock.board import Board
    from nesting.stock.keep_out import KeepOut
    from nesting.units import Unit


@dataclass(frozen=True)
class Head:
    """What a project file says of its book, without its stock and parts being read.

    ``name`` is None where the book itself is named.
    """

    path: Path
    book: Path
    name: str | None
    unit: Unit
    folder: Path | None = None

    @property
    def project(self) -> str:
        """Name of the project, where one is needed.

        Raises
        ------
        BookError
            If the book itself was named.
        """
        if self.name is None:
            raise BookError(
                f"{self.path} is a book: name the project file, to say whose step it is"
            )
        return self.name


def book(given: argparse.Namespace) -> int:
    """Do what one word of the command says."""
    if given.word == "rebuild":
        return _rebuild(given)
    head = head_of(given.book)
    given.unit = head.unit
    _check_why(given)
    return WORDS[given.word](given, head)


def head_of(path: Path) -> Head:
    """Return what a project file says of its book; or of a book, that it is one.

    Raises
    ------
    BookError
        If the file names no book.
    """
    from nesting.book.opening import MAGIC
    from nesting.units import Unit

    try:
        with path.open("rb") as stream:
            is_book = stream.read(len(MAGIC)) == MAGIC
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror or error}") from error
    if is_book:
        return Head(path, path, None, _unit_in(path) or Unit.MM)
    return _head_in(path)


def _head_in(path: Path) -> Head:
    from nesting.project.unit import unit_of
    from nesting.units import Unit
    from nesting.yaml_file.document import read_document
    from nesting.yaml_file.scalars import as_written

    document = read_document(path)
    data = document.data if isinstance(document.data, dict) else {}
    name, file = as_written(data.get("name")), as_written(data.get("book"))
    if not isinstance(file, str) or not file.strip():
        raise BookError(
            f"{path} names no book: write   book: stock.book   beside its name (the book lies "
            "beside the project file, or where several projects find it)"
        )
    if not isinstance(name, str) or not name.strip():
        raise BookError(f"{path} has no name: salvage-nest check says what is wrong with it")
    outputs = data.get("outputs")
    folder = as_written(outputs.get("folder")) if isinstance(outputs, dict) else None
    where = path.parent / folder if isinstance(folder, str) else None
    return Head(path, path.parent / file.strip(), name.strip(), unit_of(document) or Unit.MM, where)


def _unit_in(path: Path) -> Unit | None:
    """Return the unit of the first project in a book."""
    from nesting.book.opening import opened
    from nesting.units import Unit

    with opened(path) as found:
        rows = found.rows("project")
    return Unit(rows[0]["body"]["unit"]) if rows else None


def _check_why(given: argparse.Namespace) -> None:
    from nesting.book.wood import check_texts

    why = getattr(given, "why", "")
    check_texts(why)
    if len(why) > 500:
        raise OptionError(f"--why: {len(why)} characters long, at most 500")


def _book(head: Head, *, create: bool = False) -> AbstractContextManager[Book]:
    from nesting.book.opening import opened

    return opened(head.book, create=create)


def _record(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.record import record
    from nesting.project import read_project

    if head.name is None:
        raise BookError(f"{head.path} is a book: name the project file whose boards are entered")
    project = read_project(head.path)
    with _book(head, create=True) as found:
        what = record(found, project, given.why)
    for note in what.notes:
        say(f"note: {told(note, given)}", sys.stderr)
    say(f"{head.book}: {what.said}")
    return ALL_PLACED


def _reserve(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.holds import hold, planned, reserve
    from nesting.summary_file import read_summary

    if given.boards:
        with _book(head) as found:
            hold(found, head.project, given.boards, given.why)
        say(f"reserved for {head.project}: {', '.join(given.boards)}")
        return ALL_PLACED
    plan = planned(read_summary(folder_of(given, head)))
    if plan.project != head.project:
        raise BookError(f"the plan there is of the project {plan.project}, not {head.project}")
    with _book(head) as found:
        count = reserve(found, plan, given.why)
    say(f"reserved for {head.project}: the {counted(count, 'board')} of the plan")
    return ALL_PLACED


def _release(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.holds import release

    with _book(head) as found:
        count = release(found, head.project, given.boards, given.why)
    say(f"{counted(count, 'board')} released")
    return ALL_PLACED


def _cut(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.cutting import Cut, Kept, cut
    from nesting.book.read_sheet import require_known
    from nesting.book.sheet import planned_sheet, sheet_in

    used = dict(_pair(text) for text in given.used)
    kept = Kept(given.keep) if given.keep else None
    what = Cut(tuple(given.pieces), tuple(given.spoiled), used, kept)
    with _book(head) as found:
        if given.sheet is None:
            sheet = planned_sheet(found, folder_of(given, head), given.board)
        else:
            require_known(found, given.sheet)
            sheet = sheet_in(found, given.sheet, head.project)
        if sheet.board != given.board:
            raise BookError(f"{given.sheet} is the sheet of board {sheet.board}, not {given.board}")
        if sheet.project != head.project:
            raise BookError(f"the plan there is of {sheet.project}, not {head.project}")
        sawn = cut(found, sheet, what, given.why)
    for note in sawn.notes:
        say(f"note: {note}", sys.stderr)
    say(f"{given.board}: {counted(len(sawn.pieces), 'piece')} sawn" + _named(sawn.pieces))
    if sawn.spoiled:
        say(f"spoiled, and wanted again{_named(sawn.spoiled)}")
    say(f"back in stock{_named(sawn.left)}" if sawn.left else "nothing is left of the board")
    return ALL_PLACED


def _named(names: list[str]) -> str:
    return f": {'; '.join(names)}" if names else ""


def _pair(text: str) -> tuple[str, str]:
    piece, sign, other = text.partition("=")
    if not sign or not piece.strip() or not other.strip():
        raise OptionError(f"--used: {text!r} is no PIECE=OTHER, as floor 8=cleat")
    return piece.strip(), other.strip()


def _found(given: argparse.Namespace, head: Head) -> int:
    from nesting.arguments.of_book import NOTE_WORDS
    from nesting.book.bench import found as find
    from nesting.book.rows import board_in, board_named

    notes = [(word.replace("-", " "), text) for word in NOTE_WORDS for text in _given(given, word)]
    if not notes:
        raise OptionError('say what was found: --metal "3/16 at 43, 2 up", --rot, --splits, ...')
    with _book(head) as book:
        board = board_in(board_named(book, given.board))
        keep_outs = [k for word, text in notes for k in _keep_outs(word, text, board, head.unit)]
        find(book, head.project, given.board, keep_outs, given.why)
    say(
        f"{given.board}: {counted(len(keep_outs), 'place')} entered; pieces of a plan that they "
        "lie in are refused: nest again"
    )
    return ALL_PLACED


def _given(given: argparse.Namespace, word: str) -> list[str]:
    found: list[str] = getattr(given, word.replace("-", "_"))
    return found


def _keep_outs(word: str, text: str, board: Board, unit: Unit) -> tuple[KeepOut, ...]:
    """Return the keep-outs of a tape note, laid out from a board's left end."""
    from pydantic import ValidationError

    from nesting.errors import ShapeError
    from nesting.project.keep_out_entry import NotedKeepOut
    from nesting.project.tape_notes import NOTE_KEYS, read_note
    from nesting.project.wording import complaints

    kind = next(kind for kind, key in NOTE_KEYS.items() if key == word)
    try:
        given = {"keep_out": read_note(kind, text)}
        model = NotedKeepOut.model_validate(given, context={"unit": unit}, by_name=False)
        return model.keep_out.keep_outs(board.shape)
    except ValidationError as error:
        said = "; ".join(complaint.message for complaint in complaints(error, NotedKeepOut))
        raise OptionError(f"--{word}: {text!r}: {said}") from error
    except ShapeError as error:
        raise OptionError(f"--{word}: {error}") from error


def _spoiled(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import spoil

    with _book(head) as found:
        name = spoil(found, head.project, given.piece, given.why, is_kept=given.keep)
    kept = f"; its wood is back in stock as {name}" if name else ""
    say(f"{given.piece} is spoiled and wanted again{kept}")
    return ALL_PLACED


def _used(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import use_for

    with _book(head) as found:
        use_for(found, head.project, given.piece, given.other, given.why)
    say(f"{given.piece} is now {given.other}; {given.piece} is wanted again")
    return ALL_PLACED


def _taped(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import tape
    from nesting.book.rows import board_in, board_named

    with _book(head) as found:
        board = board_in(board_named(found, given.board))
        shape, thick = _tape(given, board, head.unit)
        tape(found, head.project, given.board, shape, thick, given.why)
        now = board_in(board_named(found, given.board))
    size = f"{now.length_mm:g} x {now.width_mm:g} mm, {now.thickness_mm:g} mm thick"
    say(f"{given.board}: {told(size, given)}")
    return ALL_PLACED


def _tape(
    given: argparse.Namespace, board: Board, unit: Unit
) -> tuple[Polygon | None, float | None]:
    """Return outline and thickness as the tape has them, None where it says nothing."""
    from shapely.geometry import box

    from nesting.stock.board import widths_outline

    thick = _length(given.thickness, "thickness", unit)
    length, width = (_length(getattr(given, name), name, unit) for name in ("length", "width"))
    if given.widths is not None:
        if length or width:
            raise OptionError("give --widths, or --length and --width, not both")
        stations = _widths(given.widths, unit)
        return widths_outline([x for x, _ in stations], [w for _, w in stations]), thick
    if length is None and width is None:
        if thick is None:
            raise OptionError("say what the tape has: --length, --width, --thickness or --widths")
        return None, thick
    is_plain = board.shape.area >= 0.999 * board.length_mm * board.width_mm
    if not is_plain and (length is None or width is None):
        raise OptionError(
            f"{board.name} is no rectangle: give --length and --width of the rectangle that it is "
            "now, or --widths"
        )
    return box(0.0, 0.0, length or board.length_mm, width or board.width_mm), thick


def _length(text: str | None, name: str, unit: Unit) -> float | None:
    from nesting.errors import LengthError
    from nesting.units import parse_length

    if text is None:
        return None
    try:
        length = parse_length(text, unit)
    except LengthError as error:
        raise OptionError(f"--{name}: {error}") from error
    if length <= 0:
        raise OptionError(f"--{name}: {text!r} must be over 0")
    return length


def _widths(text: str, unit: Unit) -> list[tuple[float, float]]:
    found = []
    for one in filter(None, (part.strip() for part in text.split(";"))):
        station, sign, width = one.partition(":")
        if not sign:
            raise OptionError(f"--widths: {one!r} is no station; write 0: 5; 24: 5 3/4; 48: 5")
        at = 0.0 if station.strip() == "0" else _length(station, "widths", unit)
        found.append((at or 0.0, _length(width, "widths", unit) or 0.0))
    return found


def _gone(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import discard

    with _book(head) as found:
        discard(found, head.project, given.boards, given.why)
    say(f"gone: {', '.join(given.boards)}")
    return ALL_PLACED


def _checked(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import check_off

    with _book(head) as found:
        check_off(found, head.project, given.boards, given.why)
    say(f"checked: {', '.join(given.boards)}")
    return ALL_PLACED


def _read(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.read_sheet import read_sheet

    with _book(head) as found:
        what = read_sheet(found, head.project, given.sheet, given.species, given.why)
    say(told(what, given))
    return ALL_PLACED


def _status(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.standing import standing
    from nesting.book_words import chart_svg, headline, tables_of, text_chart

    with _book(head) as found:
        now = standing(found, head.name)
    if given.svg is not None:
        from nesting.sheets.whole_file import write_whole

        write_whole(given.svg, chart_svg(now, head.unit).encode(), overwrite=given.overwrite)
    if given.json:
        say(json.dumps(asdict(now), indent=1))
        return ALL_PLACED
    from nesting.console import text_table

    say(headline(now, head.unit))
    for table in tables_of(now, head.unit):
        if table.rows:
            show(text_table(table))
    say(text_chart(now, head.unit))
    return ALL_PLACED


def _history(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.history import history_lines

    with _book(head) as found:
        for line in history_lines(found, given.board):
            say(told(line, given))
    return ALL_PLACED


def _undo(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.steps import undo

    with _book(head) as found:
        step = undo(found, head.name, given.why)
    say(f"took back step {step.number} of {step.at[:10]}: {step.said}")
    return ALL_PLACED


def _sound(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.integrity import require_sound

    with _book(head) as found:
        require_sound(found)
        count = found.last_step
    say(f"{head.book} is sound: {counted(count, 'step')}, all wood is accounted for")
    return ALL_PLACED


def _backup(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.backup import back_up

    with _book(head) as found:
        back_up(found, given.file, overwrite=given.overwrite)
    say(f"copied {head.book} to {given.file}")
    return ALL_PLACED


def _restore(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.backup import restore

    count = restore(given.file, head.book, overwrite=given.overwrite)
    say(f"{head.book} is the backup {given.file} again, {counted(count, 'step')}")
    return ALL_PLACED


def _export(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.export import export

    with _book(head) as found:
        files = export(found, given.folder, overwrite=given.overwrite)
    say(f"wrote {', '.join(file.name for file in files)} into {given.folder}")
    return ALL_PLACED


def _rebuild(given: argparse.Namespace) -> int:
    from nesting.book.export import rebuild

    count = rebuild(given.folder, given.book)
    say(f"made {given.book} of {counted(count, 'step')}")
    return ALL_PLACED


WORDS: dict[str, Callable[[Any, Head], int]] = {
    "record": _record, "reserve": _reserve, "release": _release, "cut": _cut, "found": _found,
    "spoiled": _spoiled, "used": _used, "taped": _taped, "gone": _gone, "checked": _checked,
    "read": _read, "status": _status, "history": _history, "undo": _undo, "sound": _sound,
    "backup": _backup, "restore": _restore, "export": _export,
}  # fmt: skip
