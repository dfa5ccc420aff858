"""Options of the commands for recording boards: on paper, and from photographs."""

from __future__ import annotations

from typing import Any

from nesting.arguments.shared import add_explained, add_output, add_project, add_shown
from nesting.arguments.values import as_bend, as_focal, as_path, as_whole

PHOTO_PURPOSE = """Measure boards from photographs with printed mark sheets beside them (see marks):
a stock file with outline, holes, recesses and bungs, and a picture of each board to check them
by. A picture that is not fit to be measured from gets a sentence that says why, and no board."""

PHOTO_EXAMPLES = """examples:
  salvage-nest photo deck-07.jpg --species teak --thickness "1 3/8 in" --unit in
  salvage-nest photo photos/ --species oak --thickness "28 mm" --marks-below "28 mm"

A picture is a board, named as its file. Several pictures of one long board lie in a folder of
its name inside the given one; neighbours share two sheets that nobody moved."""


def add_marks(commands: Any) -> None:
    """Add the words of ``marks``."""
    marks = commands.add_parser(
        "marks", help="print mark sheets, to lie beside boards that are photographed"
    )
    marks.add_argument(
        "--sheets", type=as_whole, default=6, metavar="N", help="how many (default 6)"
    )
    marks.add_argument(
        "--first", type=as_whole, default=1, metavar="N", help="number of the first (default 1)"
    )
    marks.add_argument("--paper", choices=("A4", "letter"), default="A4", help="(default A4)")
    marks.add_argument(
        "-o", "--output", type=as_path, metavar="FILE", help="(default mark-sheets.pdf)"
    )
    marks.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")


def add_photo(commands: Any) -> None:
    """Add the words of ``photo``."""
    photo = add_explained(
        commands,
        "photo",
        "measure boards from photographs with mark sheets beside them",
        PHOTO_PURPOSE,
        PHOTO_EXAMPLES,
    )
    photo.add_argument(
        "pictures", nargs="+", type=as_path, metavar="PICTURE", help="pictures, or folders of them"
    )
    told = photo.add_argument_group("told by you")
    told.add_argument("--species", required=True, metavar="WOOD", help="of all these boards")
    told.add_argument(
        "--thickness", required=True, metavar="LENGTH",
        help="of all these boards; sides that are seen are told from the face by it",
    )  # fmt: skip
    told.add_argument(
        "--unit", dest="unit_written", choices=("mm", "cm", "m", "in", "ft"), default="mm",
        help="of bare numbers, here and in the stock file (default mm)",
    )  # fmt: skip
    told.add_argument(
        "--ruler", metavar="LENGTH",
        help="what the long ruler on the printed sheets measures (default 250 mm)",
    )  # fmt: skip
    told.add_argument(
        "--marks-below", metavar="LENGTH",
        help="how far below the board's face the sheets lie (default 0: at its height)",
    )  # fmt: skip
    lens = photo.add_argument_group("lens, fitted to the marks where not given")
    lens.add_argument("--focal", type=as_focal, metavar="PIXELS", help="focal length")
    lens.add_argument(
        "--k1", type=as_bend, metavar="K", help="first figure of its bend, as OpenCV's"
    )
    lens.add_argument("--k2", type=as_bend, metavar="K", help="second one (default with --k1: 0)")
    photo.add_argument(
        "--workers", type=as_whole, metavar="N", help="processes that measure (default: all cores)"
    )
    group = photo.add_argument_group("output")
    group.add_argument(
        "-o",
        "--output",
        type=as_path,
        metavar="DIR",
        help="folder to write into (default photographed)",
    )
    group.add_argument(
        "--overwrite", action="store_true", help="replace files of an earlier run in that folder"
    )
    add_shown(photo)


def add_forms(commands: Any) -> None:
    """Add the words of ``forms``."""
    forms = commands.add_parser(
        "forms", help="print blank recording forms, labels and a contact sheet of all boards"
    )
    add_project(forms)
    add_output(forms)
