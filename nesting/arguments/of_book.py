"""Words of the ``book`` command: what can be said to a stock book, and its help."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from nesting.arguments.shared import add_explained, add_plan_folder
from nesting.arguments.values import as_path, as_whole
from nesting.unseen import same_letters

BOOK_PURPOSE = """Keep the stock book: what happened to every board. The project names it (book:
stock.book); the stock files stay what you edit, the book is what was done. Every word below
writes one step, with when and why; undo takes the last one back."""

BOOK_EXAMPLES = """examples:
  salvage-nest book record my-boat.yaml
  salvage-nest nest my-boat.yaml
  salvage-nest book reserve my-boat.yaml
  salvage-nest book cut my-boat.yaml D-07
  salvage-nest book cut my-boat.yaml D-07 --pieces "floor 8" "cleat, 1 of 2" --spoiled "floor 8"
  salvage-nest book found my-boat.yaml D-07 --metal "3/16 at 43, 2 up" --why "hit with the plane"
  salvage-nest book status my-boat.yaml"""

NOTE_WORDS = (
    "metal", "holes", "recesses", "grooves", "rot", "splits", "knots", "stains", "worn-edges",
)  # fmt: skip
"""Kinds of keep-outs, as the columns of a table of boards have them."""

Adder = Callable[..., argparse.ArgumentParser]


def add_book(commands: Any) -> None:
    """Add the command and its words to a parser."""
    book = add_explained(
        commands,
        "book",
        "keep the stock book: boards cut, offcuts, pieces done, where you are",
        BOOK_PURPOSE,
        BOOK_EXAMPLES,
    )
    words = book.add_subparsers(dest="word", metavar="WORD", required=True)

    def add(name: str, help_: str, *, writes: bool = True) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = words.add_parser(name, help=help_, description=help_)
        parser.add_argument(
            "book", type=as_path, metavar="PROJECT.yaml",
            help="the project file; for what asks no more, the book itself will do",
        )  # fmt: skip
        if writes:
            parser.add_argument("--why", default="", metavar="TEXT", help="why, for the history")
        return parser

    _add_days(add)
    _add_bench(add)
    _add_looks(add)
    _add_safety(add, words)


def _add_days(add: Adder) -> None:
    record = add("record", "enter the project's boards and parts list; again after any change")
    record.add_argument(
        "--allow-code", action="store_true", help="let the project's own part families run"
    )
    record.add_argument(
        "--was", default="", type=same_letters, metavar="NAME",
        help="what the project was called before, if it has a new name: what it has sawn and "
        "reserved goes with it",
    )  # fmt: skip
    reserve = add("reserve", "hold the boards of the last plan, or those named, for this project")
    _add_boards(reserve, "*")
    add_plan_folder(reserve)
    release = add("release", "let go of boards that this project holds: all, or those named")
    _add_boards(release, "*")
    cut = add("cut", "a board of the plan was cut, whole or some pieces of it")
    cut.add_argument("board", type=same_letters, metavar="BOARD", help="as on its cut sheet")
    cut.add_argument(
        "--pieces",
        nargs="+",
        default=[],
        type=same_letters,
        metavar="PIECE",
        help="only these (default: all)",
    )
    cut.add_argument(
        "--spoiled",
        nargs="+",
        default=[],
        type=same_letters,
        metavar="PIECE",
        help="those of them that were spoiled",
    )
    cut.add_argument(
        "--used",
        nargs="+",
        default=[],
        type=same_letters,
        metavar="PIECE=OTHER",
        help="one that became another part",
    )
    cut.add_argument(
        "--keep", choices=("offcuts", "rest", "nothing"),
        help="what is kept of the board: the sheet's offcuts, all that is left, nothing (default: "
        "offcuts when no piece is left on it, else the rest)",
    )  # fmt: skip
    cut.add_argument(
        "--even-so", action="store_true",
        help="saw pieces too in which something but metal was found since the sheet was drawn: "
        "they serve all the same",
    )  # fmt: skip
    cut.add_argument(
        "--sheet", type=as_path, metavar="FILE.dxf",
        help="the sheet that was cut from, if it is not the plan's own: one changed in CAD",
    )  # fmt: skip
    add_plan_folder(cut)


def _add_bench(add: Adder) -> None:
    found = add("found", "metal, rot or anything else was found in a board")
    found.add_argument("board", type=same_letters, metavar="BOARD")
    for word in NOTE_WORDS:
        found.add_argument(
            f"--{word}", nargs="+", default=[], metavar="NOTE",
            help="tape notes, as in a table of boards: 3/16 at 43, 2 up",
        )  # fmt: skip
    spoiled = add("spoiled", "a piece that was sawn is spoiled: it is wanted again")
    spoiled.add_argument("piece", type=same_letters, metavar="PIECE")
    spoiled.add_argument(
        "--keep", action="store_true", help="its wood goes back into stock, as a board"
    )
    used = add("used", "a sawn piece became another part, or serves though its own changed")
    used.add_argument("piece", type=same_letters, metavar="PIECE")
    used.add_argument(
        "other", nargs="?", type=same_letters, metavar="OTHER",
        help="what it became (default: its own part, as the parts list has that now)",
    )  # fmt: skip
    taped = add("taped", "a tape says otherwise of a board or an offcut")
    taped.add_argument("board", type=same_letters, metavar="BOARD")
    for name in ("length", "width", "thickness"):
        taped.add_argument(f"--{name}", metavar="LENGTH")
    taped.add_argument(
        "--widths", metavar="WIDTHS", help="widths at stations: 0: 5; 24: 5 3/4; 48: 5"
    )
    taped.add_argument(
        "--string", metavar="EDGES",
        help="both edges of a curved one, from a stretched string: 0: -2 to 3; 24: -1 to 3 1/2",
    )  # fmt: skip
    taped.add_argument(
        "--larger", action="store_true",
        help="it is larger than the wood it came of, all the same: a board more than a tenth, an "
        "offcut at all (a tenth: common practice, no source)",
    )  # fmt: skip
    _add_boards(add("gone", "boards are gone: burnt, given away, used elsewhere"), "+")
    _add_boards(add("checked", "boards were gone over with the metal detector"), "+")


def _add_looks(add: Adder) -> None:
    read = add("read", "read a cut sheet, also one changed in CAD, back as stock")
    read.add_argument("sheet", type=as_path, metavar="FILE.dxf")
    read.add_argument("--species", metavar="WOOD", help="of a board that the book does not know")
    status = add("status", "where you are: parts, wood, what is to buy, scrap so far", writes=False)
    status.add_argument("--json", action="store_true", help="print it as JSON, nothing else")
    status.add_argument("--svg", type=as_path, metavar="FILE.svg", help="draw the days into a file")
    status.add_argument("--overwrite", action="store_true", help="replace FILE.svg if it is there")
    history = add("history", "what happened, step by step: of all, or of one board", writes=False)
    history.add_argument("board", nargs="?", type=same_letters, metavar="BOARD")
    undo = add("undo", "take the last step back, or an earlier one that no later step goes by")
    undo.add_argument(
        "--step",
        type=as_whole,
        metavar="NUMBER",
        help="which one, as history counts (default: the last)",
    )


def _add_safety(add: Adder, words: Any) -> None:
    add("sound", "check the whole book: the file, the steps, the wood", writes=False)
    backup = add("backup", "copy the book, as it is now, into a file", writes=False)
    backup.add_argument("file", type=as_path, metavar="FILE")
    restore = add("restore", "put a backup in the book's place", writes=False)
    restore.add_argument("file", type=as_path, metavar="FILE")
    export = add("export", "write the book as plain CSV and YAML into a folder", writes=False)
    export.add_argument("folder", type=as_path, metavar="DIR")
    for parser in (backup, restore, export):
        parser.add_argument("--overwrite", action="store_true", help="replace what is there")
    rebuild = words.add_parser("rebuild", help="make a book of exported files")
    rebuild.add_argument("folder", type=as_path, metavar="DIR", help="what export wrote")
    rebuild.add_argument("book", type=as_path, metavar="BOOK", help="the new book")


def _add_boards(parser: argparse.ArgumentParser, count: str) -> None:
    parser.add_argument("boards", nargs=count, type=same_letters, metavar="BOARD")
