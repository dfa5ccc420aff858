"""``marks`` and ``photo``: mark sheets to print, and boards out of photographs with them."""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.commands.shared import ALL_PLACED, PROJECT_WRONG, say, told, work_shown
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.photo.photographed import Asked, NoBoard, Photographed
    from nesting.photo.picture_file import Group
    from nesting.units import Unit
    from nesting.work import Tell

SHEETS_FILE, STOCK_FILE = "mark-sheets.pdf", "photographed.yaml"


def marks(given: argparse.Namespace) -> int:
    """Write mark sheets to be printed."""
    from nesting.errors import OptionError
    from nesting.photo.mark_sheet import MOST_SHEETS, RULER_MM, mark_sheets
    from nesting.sheets.pdf import write_pdf
    from nesting.shop.kinds import Paper

    last = given.first + given.sheets - 1
    if given.sheets < 1 or given.first < 1 or last > MOST_SHEETS:
        raise OptionError(
            f"--sheets {given.sheets} from --first {given.first}: numbers go from 1 to "
            f"{MOST_SHEETS}"
        )
    path = given.output or Path(SHEETS_FILE)
    pages = mark_sheets(given.sheets, Paper(given.paper), first=given.first)
    write_pdf(pages, path, overwrite=given.overwrite)
    say(
        f"wrote {path}: {counted(given.sheets, 'sheet')}. Print at 100 %, and measure the ruler up "
        f"the middle of one: it must be {RULER_MM:g} mm"
    )
    return ALL_PLACED


def photo(given: argparse.Namespace) -> int:
    """Measure boards from photographs: a stock file, and a picture of each to check by."""
    from nesting.folders.whole_folder import replaced_whole, require_free
    from nesting.photo.opencv import opencv
    from nesting.photo.photographed import NoBoard
    from nesting.photo.picture_file import groups_in
    from nesting.photo.stock_text import stock_text

    opencv()
    asked, unit = _asked(given)
    folder = given.output or Path("photographed")
    groups = groups_in(given.pictures)
    names = _overlay_names(groups)
    require_free(
        [folder / STOCK_FILE, *(folder / name for name in names)], overwrite=given.overwrite
    )
    with work_shown(given) as tell:
        made = _all(groups, asked, unit, given.workers, tell)
    results = [result for result, _ in made]
    found = [result for result in results if not isinstance(result, NoBoard)]
    for result in results:
        if isinstance(result, NoBoard):
            say(told(f"no board {result.name}: {result.reason}", given), sys.stderr)
    if not found:
        say("salvage-nest: no board was found, nothing was written", sys.stderr)
        return PROJECT_WRONG
    with replaced_whole(folder) as fresh:
        text = stock_text(results, unit=unit, species=given.species, thickness=given.thickness)
        (fresh / STOCK_FILE).write_text(text, encoding="utf-8")
        for name, (_, picture) in zip(names, made, strict=True):
            if picture is not None:
                (fresh / name).write_bytes(picture)
    _tell_end(folder, results, found, given)
    return ALL_PLACED if len(found) == len(results) else PROJECT_WRONG


def _overlay_names(groups: tuple[Group, ...]) -> list[str]:
    from nesting.folders.file_names import file_names

    named = file_names([group.name for group in groups], prefix="seen-", ending=".png")
    return [named[group.name] for group in groups]


def _tell_end(
    folder: Path, results: list[Photographed | NoBoard], found: list[Photographed],
    given: argparse.Namespace,
) -> None:  # fmt: skip
    from nesting.photo.round_finds import LISTED, SURE

    doubtful = sum(
        sum(LISTED <= find.confidence < SURE for find in board.finds)
        + len(board.bites)
        + len(board.blind)
        for board in found
    )
    say(
        f"wrote {folder / STOCK_FILE}: {counted(len(found), 'board')} of {len(results)}, "
        f"{counted(doubtful, 'doubtful find')}. Look at the seen-*.png beside it, then name the "
        "file under stock: in your project"
    )
    if not given.quiet:
        for board in found:
            for note in board.notes:
                say(told(f"note: {board.name}: {note}", given), sys.stderr)


def _asked(given: argparse.Namespace) -> tuple[Asked, Unit]:
    """Return what the options say of thickness, marks and lens, and the unit to write in."""
    from nesting.errors import LengthError, OptionError
    from nesting.photo.mark_sheet import RULER_MM
    from nesting.photo.photographed import Asked
    from nesting.photo.pose_problem import GivenLens
    from nesting.units import Unit, parse_length

    unit = Unit(given.unit_written)
    given.unit = unit
    figures = {"ruler": f"{RULER_MM:g} mm", "marks_below": "0 mm", "thickness": ""}
    lengths = {}
    for name, usual in figures.items():
        words = getattr(given, name) or usual
        try:
            lengths[name] = parse_length(words, unit)
        except LengthError as error:
            raise OptionError(f"--{name.replace('_', '-')}: {error}") from error
    if not 3 <= lengths["thickness"] <= 500:
        raise OptionError(f"--thickness: {given.thickness} is no board's; 3 to 500 mm are read")
    if not 0.9 * RULER_MM <= lengths["ruler"] <= 1.1 * RULER_MM:
        raise OptionError(
            f"--ruler: {given.ruler} is not within a tenth of {RULER_MM:g} mm: measure the long "
            "ruler up the middle of a mark sheet"
        )
    if not -300 <= lengths["marks_below"] <= 500:
        raise OptionError(f"--marks-below: {given.marks_below} is too far; -300 to 500 mm are read")
    lens = GivenLens(given.focal, given.k1, given.k2)
    return Asked(lengths["thickness"], lengths["marks_below"], lengths["ruler"], lens), unit


def _all(
    groups: tuple[Group, ...], asked: Asked, unit: Unit, workers: int | None, tell: Tell
) -> list[tuple[Photographed | NoBoard, bytes | None]]:
    """Return every board with its overlay, by so many processes, telling how far it is."""
    from nesting.processes.workers import Workers, answers
    from nesting.work import Step

    count = min(len(groups), (os.cpu_count() or 1) if workers is None else max(1, workers))
    work = partial(_one, asked=asked, unit=unit)
    tell(Step("photographs", 0, len(groups)))
    made = []
    if count < 2:
        for number, group in enumerate(groups, 1):
            made.append(work(group))
            tell(Step("photographs", number, len(groups)))
        return made
    with Workers(count) as others:
        for number, answer in enumerate(answers(others, work, groups), 1):
            made.append(answer)
            tell(Step("photographs", number, len(groups)))
    return made


def _one(group: Group, *, asked: Asked, unit: Unit) -> tuple[Photographed | NoBoard, bytes | None]:
    """Return a board and its overlay; what only the overlay needs stays in this process."""
    from nesting.photo.opencv import opencv
    from nesting.photo.photo_overlay import overlay_png
    from nesting.photo.photographed import NoBoard, board_in

    opencv().setNumThreads(1)
    board = board_in(group, asked)
    if isinstance(board, NoBoard):
        return board, None
    return replace(board, plan=None), overlay_png(board, unit)
