"""``book``: what happened in the shop goes into the stock book, and comes out of it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from nesting.commands.book_given import (
    noted_keep_outs,
    outline_and_thickness,
    piece_and_other,
    tape_notes,
)
from nesting.commands.book_head import Head, head_of, is_book, no_book_in
from nesting.commands.shared import ALL_PLACED, folder_of, known_to_book, say, show, told
from nesting.errors import BookError, OptionError
from nesting.processes.garbage import unlooked
from nesting.processes.one_thread import alone
from nesting.streams import terminal_width
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.book.store import Book


def book(given: argparse.Namespace) -> int:
    """Do what one word of the command says."""
    alone()
    with unlooked():
        _check_why(given)
        if given.word in WITHOUT_HEAD:
            return WITHOUT_HEAD[given.word](given)
        head = head_of(given.book)
        given.unit = head.unit
        return WORDS[given.word](given, head)


def _check_why(given: argparse.Namespace) -> None:
    from nesting.book.wood import check_texts

    why = getattr(given, "why", "")
    check_texts(why)
    if len(why) > 500:
        raise OptionError(f"--why: {len(why)} characters long, at most 500")


@contextmanager
def _book(head: Head) -> Iterator[Book]:
    from nesting.book.integrity import damage_told
    from nesting.book.opening import opened

    with opened(head.book) as found, damage_told(found):
        yield found


def _record(given: argparse.Namespace) -> int:
    from nesting.book.integrity import damage_told
    from nesting.book.opening import opened
    from nesting.book.record import record
    from nesting.project import read_project

    if is_book(given.book):
        raise BookError(f"{given.book} is a book: name the project file whose boards are entered")
    project = read_project(given.book, known=known_to_book)
    given.unit = project.unit
    if project.book is None:
        raise BookError(no_book_in(project.path))
    is_begun = not project.book.exists()
    with opened(project.book, create=not given.was) as found, damage_told(found):
        what = record(found, project, given.why, was=given.was)
    if is_begun:
        say(f"note: a new book is begun: {project.book}", sys.stderr)
    for note in what.notes:
        say(f"note: {told(note, given)}", sys.stderr)
    say(f"{project.book}: {what.said}")
    return ALL_PLACED


def _reserve(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.holds import hold, planned, reserve
    from nesting.book.renamed import called_now
    from nesting.summary.file import read_summary

    if given.boards:
        with _book(head) as found:
            hold(found, head.project, given.boards, given.why)
        say(f"reserved for {head.project}: {', '.join(given.boards)}")
        return ALL_PLACED
    plan = planned(read_summary(folder_of(given, head)))
    with _book(head) as found:
        found.require_project(head.project)
        if called_now(found, plan.project) != head.project:
            raise BookError(f"the plan there is of the project {plan.project}, not {head.project}")
        count = reserve(found, replace(plan, project=head.project), given.why)
    say(f"reserved for {head.project}: the {counted(count, 'board')} of the plan")
    return ALL_PLACED


def _release(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.holds import release

    with _book(head) as found:
        count = release(found, head.project, given.boards, given.why)
    say(f"{counted(count, 'board')} released")
    return ALL_PLACED


def _cut(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.cut_told import Cut, Kept
    from nesting.book.cutting import cut
    from nesting.book.read_sheet import require_known
    from nesting.book.sheet import planned_sheet, sheet_in

    used = dict(piece_and_other(text) for text in given.used)
    kept = Kept(given.keep) if given.keep else None
    what = Cut(tuple(given.pieces), tuple(given.spoiled), used, kept, is_even_so=given.even_so)
    with _book(head) as found:
        found.require_project(head.project)
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
        say(f"note: {told(note, given)}", sys.stderr)
    say(f"{given.board}: {counted(len(sawn.pieces), 'piece')} sawn" + _named(sawn.pieces))
    if sawn.spoiled:
        say(f"spoiled, and wanted again{_named(sawn.spoiled)}")
    say(f"back in stock{_named(sawn.left)}" if sawn.left else "nothing is left of the board")
    return ALL_PLACED


def _named(names: list[str]) -> str:
    return f": {'; '.join(names)}" if names else ""


def _found(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import found as find
    from nesting.book.rows import board_in, board_named

    notes = tape_notes(given)
    if not notes:
        raise OptionError('say what was found: --metal "3/16 at 43, 2 up", --rot, --splits, ...')
    with _book(head) as book:
        board = board_in(board_named(book, given.board))
        keep_outs = [
            k for word, text in notes for k in noted_keep_outs(word, text, board, head.unit)
        ]
        known = find(book, head.project, given.board, keep_outs, given.why)
    before = f", {counted(len(known), 'place')} it had already" if known else ""
    say(
        f"{given.board}: {counted(len(keep_outs) - len(known), 'place')} entered{before}; pieces "
        "of a plan that they lie in are not planned any more: nest again"
    )
    return ALL_PLACED


def _spoiled(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import spoil

    with _book(head) as found:
        name, is_wanted = spoil(found, head.project, given.piece, given.why, is_kept=given.keep)
    again = " and wanted again" if is_wanted else ""
    kept = f"; its wood is back in stock as {name}" if name else ""
    say(f"{given.piece} is spoiled{again}{kept}")
    return ALL_PLACED


def _used(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import lacking, serve, use_for

    with _book(head) as found:
        if given.other is None:
            name = serve(found, head.project, given.piece, given.why)
            say(f"{given.piece} serves as {name}, as the parts list has that now")
            return ALL_PLACED
        note = lacking(found, head.project, given.piece, given.other)
        now, is_wanted = use_for(found, head.project, given.piece, given.other, given.why)
    if note:
        say(f"note: {told(note, given)}", sys.stderr)
    again = f"; {given.piece} is wanted again" if is_wanted else ""
    say(f"{given.piece} is now {now}{again}")
    return ALL_PLACED


def _taped(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.bench import tape
    from nesting.book.rows import board_in, board_named

    with _book(head) as found:
        board = board_in(board_named(found, given.board))
        shape, thick = outline_and_thickness(given, board, head.unit)
        tape(
            found, head.project, given.board, shape, thick, given.why, is_larger=given.larger
        )  # fmt: skip
        now = board_in(board_named(found, given.board))
    size = f"{now.length_mm:g} x {now.width_mm:g} mm, {now.thickness_mm:g} mm thick"
    say(f"{given.board}: {told(size, given)}")
    return ALL_PLACED


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
    from nesting.book.words import chart_svg, headline, tables_of, text_chart

    with _book(head) as found:
        if head.name is not None:
            found.require_project(head.name)
        now = standing(found, head.name)
        chart = text_chart(now, head.unit, terminal_width(sys.stdout))
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
    say(chart)
    return ALL_PLACED


def _history(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.history import history_lines

    with _book(head) as found:
        for line in history_lines(found, given.board):
            say(told(line, given))
    return ALL_PLACED


def _undo(given: argparse.Namespace, head: Head) -> int:
    from nesting.book.steps import undo
    from nesting.book.store import time_here

    with _book(head) as found:
        step = undo(found, head.name, given.why, given.step)
    say(f"took back step {step.number} of {time_here(step.at)}: {step.said}")
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
    "reserve": _reserve, "release": _release, "cut": _cut, "found": _found,
    "spoiled": _spoiled, "used": _used, "taped": _taped, "gone": _gone, "checked": _checked,
    "read": _read, "status": _status, "history": _history, "undo": _undo, "sound": _sound,
    "backup": _backup, "restore": _restore, "export": _export,
}  # fmt: skip

WITHOUT_HEAD: dict[str, Callable[[Any], int]] = {"record": _record, "rebuild": _rebuild}
"""Words that read the whole of a project file, or none."""
