"""The command line's words: commands, options, and what help says of them.

Building the parser imports nothing heavy and changes nothing.
"""

from __future__ import annotations

import argparse
import math
import re
from pathlib import Path
from typing import Any, NoReturn

from nesting.book_arguments import add_book
from nesting.cautions import IN_BRIEF
from nesting.errors import ShapeError
from nesting.shop.kinds import NOTHING, Output, Paper, outputs_named
from nesting.unseen import quoted, shown

USUAL_SECONDS = 30.0
"""With the writing of forty sheets this keeps a full project within a minute on two cores."""

AGAIN_SECONDS = 7.0
"""With the last plan in view little is laid anew."""

PURPOSE = "Find which salvaged board gives which part of a new boat, and draw the cut sheets."

EXAMPLES = f"""examples:
  salvage-nest nest demo_projects/first_cut/project.yaml --seconds 10
  salvage-nest check my-boat.yaml

exit codes: 0 done, a plan written, parts left over or not; 2 wrong command; 3 project file wrong;
4 written, but parts are left over and --must-place-all was given; 5 cannot read or write; 6 the
referee refused; 130, 143, 129 stopped by Ctrl-C, SIGTERM, SIGHUP: from the first plan on the best
is written, and once more while it is written leaves the folder as it was; 141 what reads the
output has ended, as head does.

{IN_BRIEF}"""


PLANK_PURPOSE = """Find how long a new plank of some width must be for the parts that the last
plan left over: one for each wood and thickness as sold, without defects, grain along it.
Grown crooks, and parts wider than the plank, are named and left out."""

PLANK_EXAMPLES = """examples:
  salvage-nest plank my-boat.yaml --width "8 in"
  salvage-nest plank my-boat.yaml --width "200 mm" --seconds 60"""


LOFT_PURPOSE = """Lay a table of offsets down, without any part or board: say which figures no fair
line could have and what each should probably read, and what fairing corrects; write the
faired table, the lines drawing (DXF, SVG, PDF), how each long line bends along the batten,
how she floats, and the mould loft's book of half-breadths, heights, bevels and girths."""

LOFT_EXAMPLES = '''examples:
  salvage-nest loft demo_projects/lines/withy_offsets.csv --heel "0 to 20 by 10"
  salvage-nest loft --project my-boat.yaml --draught "2 ft"'''


CHANGES_PURPOSE = """Say what differs between an earlier plan of a project and the one in its
folder: board by board which pieces stay, moved, are new or gone, which printed sheets stay true
and which to throw away."""

CHANGES_EXAMPLES = """examples:
  salvage-nest changes my-boat.yaml output/before
  salvage-nest changes my-boat.yaml output/before -o output/after --drawing changes.svg"""


PATTERN_PURPOSE = """Write the pattern of a part, or of all parts, at full size: pages that are
joined by crosses (PDF), and one long roll (PDF, SVG, DXF). Measure the check square before you
trust one."""

PATTERN_EXAMPLES = """examples:
  salvage-nest pattern my-boat.yaml "floor 3"
  salvage-nest pattern my-boat.yaml --paper A3 --roll "24 in\""""


JUDGE_PURPOSE = """Judge an old boat for a parts list before she is taken apart: what every member
would give when its joints are parted in the best way, how many hours that takes, what to save,
what to scrap, what to save only if hours are cheap, and why; in which order; and, with
--piles, how likely the pile gives each part."""

JUDGE_EXAMPLES = """examples:
  salvage-nest judge old-boat.yaml --project my-boat.yaml
  salvage-nest judge old-boat.yaml --project my-boat.yaml --piles 50"""


PHOTO_PURPOSE = """Measure boards from photographs with printed mark sheets beside them (see marks):
a stock file with outline, holes, recesses and bungs, and a picture of each board to check them
by. A picture that is not fit to be measured from gets a sentence that says why, and no board."""

PHOTO_EXAMPLES = """examples:
  salvage-nest photo deck-07.jpg --species teak --thickness "1 3/8 in" --unit in
  salvage-nest photo photos/ --species oak --thickness "28 mm" --marks-below "28 mm"

A picture is a board, named as its file. Several pictures of one long board lie in a folder of
its name inside the given one; neighbours share two sheets that nobody moved."""


class _Parser(argparse.ArgumentParser):
    """A parser that repeats nothing on the terminal that cannot be seen."""

    def error(self, message: str) -> NoReturn:
        super().error(shown(message))


def make_parser() -> argparse.ArgumentParser:
    """Return the parser; building it imports nothing and changes nothing."""
    parser = _Parser(
        prog="salvage-nest",
        description=PURPOSE,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("-V", "--version", action="store_true", help="print the version")
    parser.add_argument("--debug", action="store_true", help="show where an error arose")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _add_nest(commands)
    check = commands.add_parser(
        "check", help="read a project and say what is wrong, or what it holds"
    )
    _add_project(check)
    measure = commands.add_parser(
        "remeasure", help="read written cut sheets back and measure them against project and plan"
    )
    _add_project(measure)
    measure.add_argument("-o", "--output", type=_path, metavar="DIR", help="where the sheets are")
    _add_shown(measure)
    plank = commands.add_parser(
        "plank",
        help="find how long a new plank of some width the parts left over need",
        description=PLANK_PURPOSE,
        epilog=PLANK_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_project(plank)
    plank.add_argument(
        "--width", required=True, metavar="LENGTH",
        help="of the rough plank, as 8 in or 200 mm; a bare number is in the project's unit",
    )  # fmt: skip
    plank.add_argument("-o", "--output", type=_path, metavar="DIR", help="where the plan is")
    plank.add_argument(
        "--seconds", type=_not_negative, default=10.0, metavar="S",
        help="time for each wood and thickness (default 10)",
    )  # fmt: skip
    plank.add_argument(
        "--json", action="store_true", help="print planks, crooks and what is too wide as JSON"
    )
    _add_shown(plank)
    strength = commands.add_parser(
        "strength",
        help="what old holes, cross grain and drying do to the pieces of a plan",
    )
    _add_project(strength)
    strength.add_argument("-o", "--output", type=_path, metavar="DIR", help="where the plan is")
    strength.add_argument(
        "--moisture", type=_moisture, metavar="PERCENT",
        help="what the wood comes to in its place (default 15, that of planking and "
        "decking when installed; boards need theirs recorded)",
    )  # fmt: skip
    families = commands.add_parser("families", help="list the part families and their parameters")
    families.add_argument("family", nargs="?", help="only this one, in full")
    _add_own_project(families)
    schema = commands.add_parser("schema", help="print the JSON Schema of project files")
    schema.add_argument("-o", "--output", type=_path, metavar="FILE", help="write it here instead")
    schema.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    _add_own_project(schema)
    solids = commands.add_parser("solids", help="write each part as a solid, in STEP files")
    _add_project(solids)
    _add_output(solids)
    _add_shown(solids)
    boat = commands.add_parser(
        "boat",
        help="show the parts in the boat: one STEP file, a picture, the lines with parts; and say "
        "which run into each other",
    )
    _add_project(boat)
    boat.add_argument(
        "--all-pairs",
        action="store_true",
        help="name every pair of pieces that run into each other, not only the worst",
    )
    _add_output(boat)
    _add_shown(boat)
    _add_changes(commands)
    _add_pattern(commands)
    _add_loft(commands)
    _add_judge(commands)
    forms = commands.add_parser(
        "forms", help="print blank recording forms, labels and a contact sheet of all boards"
    )
    _add_project(forms)
    _add_output(forms)
    _add_marks(commands)
    _add_photo(commands)
    add_book(commands, _path)
    return parser


def _add_marks(commands: Any) -> None:
    marks = commands.add_parser(
        "marks", help="print mark sheets, to lie beside boards that are photographed"
    )
    marks.add_argument("--sheets", type=_whole, default=6, metavar="N", help="how many (default 6)")
    marks.add_argument(
        "--first", type=_whole, default=1, metavar="N", help="number of the first (default 1)"
    )
    marks.add_argument("--paper", choices=("A4", "letter"), default="A4", help="(default A4)")
    marks.add_argument(
        "-o", "--output", type=_path, metavar="FILE", help="(default mark-sheets.pdf)"
    )
    marks.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")


def _add_photo(commands: Any) -> None:
    photo = commands.add_parser(
        "photo",
        help="measure boards from photographs with mark sheets beside them",
        description=PHOTO_PURPOSE,
        epilog=PHOTO_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    photo.add_argument(
        "pictures", nargs="+", type=_path, metavar="PICTURE", help="pictures, or folders of them"
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
    lens.add_argument("--focal", type=_focal, metavar="PIXELS", help="focal length")
    lens.add_argument("--k1", type=_bend, metavar="K", help="first figure of its bend, as OpenCV's")
    lens.add_argument("--k2", type=_bend, metavar="K", help="second one (default with --k1: 0)")
    photo.add_argument(
        "--workers", type=_whole, metavar="N", help="processes that measure (default: all cores)"
    )
    group = photo.add_argument_group("output")
    group.add_argument(
        "-o",
        "--output",
        type=_path,
        metavar="DIR",
        help="folder to write into (default photographed)",
    )
    group.add_argument(
        "--overwrite", action="store_true", help="replace files of an earlier run in that folder"
    )
    _add_shown(photo)


def _focal(text: str) -> float:
    value = _number(text)
    if not 100 <= value <= 100_000:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not from 100 to 100000 pixels")
    return value


def _bend(text: str) -> float:
    value = _number(text)
    if not -1 <= value <= 1:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not from -1 to 1")
    return value


def _add_judge(commands: Any) -> None:
    judge = commands.add_parser(
        "judge",
        help="say what is worth pulling off an old boat, before she is taken apart",
        description=JUDGE_PURPOSE,
        epilog=JUDGE_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    judge.add_argument(
        "old_boat", type=_path, metavar="OLD_BOAT.yaml", help="her members and joints"
    )
    judge.add_argument(
        "--project", type=_path, metavar="PROJECT.yaml", required=True,
        help="whose parts list she is judged for",
    )  # fmt: skip
    _add_consent(judge)
    ahead = judge.add_argument_group("forecast")
    ahead.add_argument(
        "--piles", type=_whole, default=0, metavar="N",
        help="draw so many piles of boards by lot and nest each: how likely every part is given "
        "(default 0, none; 50 take some minutes)",
    )  # fmt: skip
    ahead.add_argument(
        "--recorded", action="store_true",
        help="boards of the project that came from one of her members take the place of drawn ones",
    )  # fmt: skip
    ahead.add_argument("--seed", type=_whole, default=0, metavar="N", help="of chance (default 0)")
    ahead.add_argument(
        "--workers", type=_whole, metavar="N", help="processes that nest (default: all cores)"
    )
    _add_output(judge)
    _add_shown(judge)
    judge.add_argument("--json", action="store_true", help="print the judgement as JSON")


def _add_loft(commands: Any) -> None:
    loft = commands.add_parser(
        "loft",
        help="lay a table of offsets down: odd figures, fair table, lines, battens, book",
        description=LOFT_PURPOSE,
        epilog=LOFT_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    loft.add_argument(
        "table", nargs="?", type=_path, metavar="TABLE", help="table of offsets, CSV or YAML"
    )
    loft.add_argument(
        "--project", type=_path, metavar="PROJECT.yaml",
        help="in its place: the table and the frames of this project's boat",
    )  # fmt: skip
    _add_consent(loft)
    loft.add_argument(
        "--keep-odd", action="store_true",
        help="let the hull pass odd figures as they stand, as odd figures, kept in the table does",
    )  # fmt: skip
    afloat = loft.add_argument_group("afloat")
    afloat.add_argument(
        "--draught", metavar="RANGE",
        help="from the lowest rabbet up to the water, as 2-0-0, or 1-6-0 to 2-6-0 by 0-3-0 "
        "(default: at every waterline of the table)",
    )  # fmt: skip
    afloat.add_argument(
        "--heel", metavar="RANGE",
        help="degrees, as 15, or 0 to 30 by 10 (default: upright alone); with --trim at each trim, "
        "too",
    )  # fmt: skip
    afloat.add_argument(
        "--trim", metavar="RANGE",
        help="more draught aft than forward, as 0-2-0, or -50 to 150 by 50, at the same "
        "displacement; below 0 by the bow (default: on an even keel alone)",
    )  # fmt: skip
    afloat.add_argument(
        "--water", choices=("salt", "fresh"), default="salt",
        help="1025 or 1000 kg in a cubic metre (default salt; common practice, no source)",
    )  # fmt: skip
    _add_output(loft)
    _add_shown(loft)
    loft.add_argument("--dxf", choices=("R2010", "R12"), help="form of the DXF (default R2010)")


def _add_project(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("project", type=_path, metavar="PROJECT.yaml", help="the project file")
    _add_consent(parser)


def _add_own_project(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--project", type=_path, metavar="PROJECT.yaml", help="with the families of this project"
    )
    _add_consent(parser)


def _add_consent(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--allow-code", action="store_true",
        help="let the project's own part families (its families: files) run, and remember that "
        "for as long as they do not change; on a terminal you are asked",
    )  # fmt: skip


def _add_output(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("output")
    group.add_argument(
        "-o", "--output", type=_path, metavar="DIR",
        help="folder to write into (default: the project's own, or output/ and its name)",
    )  # fmt: skip
    group.add_argument(
        "--overwrite", action="store_true", help="replace files of an earlier run in that folder"
    )


def _add_shown(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("shown")
    group.add_argument("-q", "--quiet", action="store_true", help="no notes, no progress")
    group.add_argument("--no-progress", action="store_true", help="do not say how far it is")


def _add_nest(commands: Any) -> None:
    nest = commands.add_parser("nest", help="pack a project's parts and write its cut sheets")
    _add_project(nest)
    search = nest.add_argument_group("search")
    search.add_argument(
        "--seconds", type=_not_negative, metavar="S",
        help=f"time for the search (default {USUAL_SECONDS:g}, {AGAIN_SECONDS:g} with --again, "
        "none with --rounds)",
    )  # fmt: skip
    search.add_argument(
        "--rounds", type=_whole, metavar="N", help="rounds of improvement; makes a plan repeatable"
    )
    search.add_argument(
        "--workers", type=_whole, metavar="N", help="processes that search (default: all cores)"
    )
    search.add_argument(
        "--cluster", metavar="ADDRESS",
        help="search on a Dask cluster instead, by its scheduler's address (needs [cluster])",
    )  # fmt: skip
    search.add_argument("--seed", type=_whole, default=0, metavar="N", help="of chance (default 0)")
    search.add_argument(
        "--must-place-all", action="store_true",
        help="for scripts: parts left over end it with exit code 4, the plan written all the same",
    )  # fmt: skip
    _add_again(nest)
    _add_output(nest)
    written = nest.add_argument_group("written")
    written.add_argument(
        "--write", type=_outputs, metavar="WORDS",
        help=f"beside cut sheets, overview and summary: {', '.join(Output)}, with commas between, "
        f"or {NOTHING}; the project's if not given",
    )  # fmt: skip
    written.add_argument(
        "--paper",
        choices=[paper.value for paper in Paper],
        help="paper that is printed on, if not the project's",
    )
    _add_roll(written)
    written.add_argument(
        "--cutter", metavar="LENGTH",
        help="diameter of the router's cutter for machine files, if not the project's; the kerf "
        "if neither says",
    )  # fmt: skip
    shown = nest.add_argument_group("shown")
    shown.add_argument(
        "--dxf", choices=("R2010", "R12"), help="form of the DXFs, if not the project's"
    )
    shown.add_argument(
        "--json", action="store_true", help="print the summary as JSON, nothing else"
    )
    shown.add_argument("-q", "--quiet", action="store_true", help="no tables, no progress")
    shown.add_argument("--no-progress", action="store_true", help="do not say how far it is")


def _add_again(nest: Any) -> None:
    again = nest.add_argument_group("with the last plan in view")
    again.add_argument(
        "--again", nargs="?", const=True, type=_path, metavar="DIR",
        help="keep every piece of the last plan where it lies, if it still may, and move others "
        "only where that saves more wood than it costs; DIR holds that plan (default: the folder "
        "that is written into)",
    )  # fmt: skip
    again.add_argument(
        "--moving", metavar="AREA",
        help="wood that moving a piece must save, as 0.1 m2 or 1 sq ft (default 0.05 m2; common "
        "practice, no source)",
    )  # fmt: skip


def _add_changes(commands: Any) -> None:
    changes = commands.add_parser(
        "changes",
        help="say what differs between an earlier plan and the one in the project's folder",
        description=CHANGES_PURPOSE,
        epilog=CHANGES_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_project(changes)
    changes.add_argument("earlier", type=_path, metavar="DIR", help="where the earlier plan is")
    changes.add_argument("-o", "--output", type=_path, metavar="DIR", help="where the plan is")
    changes.add_argument(
        "--drawing", type=_drawing, metavar="FILE", help="draw it too, as .svg or .pdf"
    )
    changes.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    _add_shown(changes)


def _drawing(text: str) -> Path:
    path = _path(text)
    if path.suffix.lower() not in (".svg", ".pdf"):
        raise argparse.ArgumentTypeError(f"{quoted(text)} must end in .svg or .pdf")
    return path


def _add_roll(group: Any) -> None:
    group.add_argument(
        "--roll", metavar="LENGTH",
        help="width of the paper roll for patterns, if not the project's (usual 36 in, common "
        "practice, no source)",
    )  # fmt: skip


def _add_pattern(commands: Any) -> None:
    pattern = commands.add_parser(
        "pattern",
        help="write patterns at full size, of one part or of all; no plan is needed",
        description=PATTERN_PURPOSE,
        epilog=PATTERN_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_project(pattern)
    pattern.add_argument(
        "part", nargs="?", metavar="PART", help="name in the parts list (default: all parts)"
    )
    pattern.add_argument(
        "--paper",
        choices=[paper.value for paper in Paper],
        help="paper that is printed on, if not the project's",
    )
    _add_roll(pattern)
    pattern.add_argument(
        "--dxf", choices=("R2010", "R12"), help="form of the DXF, if not the project's"
    )
    _add_output(pattern)
    _add_shown(pattern)


def _path(text: str) -> Path:
    if not text.strip():
        raise argparse.ArgumentTypeError("an empty name; for the folder you are in write .")
    if "\0" in text:
        raise argparse.ArgumentTypeError("no name of a file holds a zero byte")
    return Path(text)


def _outputs(text: str) -> tuple[Output, ...]:
    try:
        return outputs_named(text)
    except ShapeError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _not_negative(text: str) -> float:
    value = _number(text)
    if not 0 <= value < 1e9:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a number of 0 or more")
    return value


def _moisture(text: str) -> float:
    value = _number(text)
    if not 0 <= value <= 30:
        raise argparse.ArgumentTypeError(
            f"{quoted(text)} is not from 0 to 30 per cent: wood of a boat"
        )
    return value


def _whole(text: str) -> int:
    if not re.fullmatch(r"\s*\d{1,18}\s*", text):
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a whole number of 0 or more")
    return int(text)
