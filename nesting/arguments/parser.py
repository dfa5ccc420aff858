"""The command line's words: commands, options, and what help says of them."""

from __future__ import annotations

import argparse
from typing import NoReturn

from nesting.arguments.of_boards import add_marks, add_photo
from nesting.arguments.of_boats import add_judge, add_loft
from nesting.arguments.of_book import add_book
from nesting.arguments.of_patterns import add_pattern
from nesting.arguments.of_plans import add_changes, add_nest
from nesting.arguments.shared import add_output, add_own_project, add_project, add_shown
from nesting.arguments.values import as_moisture, as_not_negative, as_path
from nesting.cautions import IN_BRIEF
from nesting.unseen import shown

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
    add_nest(commands)
    check = commands.add_parser(
        "check", help="read a project and say what is wrong, or what it holds"
    )
    add_project(check)
    measure = commands.add_parser(
        "remeasure", help="read written cut sheets back and measure them against project and plan"
    )
    add_project(measure)
    measure.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the sheets are")
    add_shown(measure)
    plank = commands.add_parser(
        "plank",
        help="find how long a new plank of some width the parts left over need",
        description=PLANK_PURPOSE,
        epilog=PLANK_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_project(plank)
    plank.add_argument(
        "--width", required=True, metavar="LENGTH",
        help="of the rough plank, as 8 in or 200 mm; a bare number is in the project's unit",
    )  # fmt: skip
    plank.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the plan is")
    plank.add_argument(
        "--seconds", type=as_not_negative, default=10.0, metavar="S",
        help="time for each wood and thickness (default 10)",
    )  # fmt: skip
    plank.add_argument(
        "--json", action="store_true", help="print planks, crooks and what is too wide as JSON"
    )
    add_shown(plank)
    strength = commands.add_parser(
        "strength",
        help="what old holes, cross grain and drying do to the pieces of a plan",
    )
    add_project(strength)
    strength.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the plan is")
    strength.add_argument(
        "--moisture", type=as_moisture, metavar="PERCENT",
        help="what the wood comes to in its place (default 15, that of planking and "
        "decking when installed; boards need theirs recorded)",
    )  # fmt: skip
    families = commands.add_parser("families", help="list the part families and their parameters")
    families.add_argument("family", nargs="?", help="only this one, in full")
    add_own_project(families)
    schema = commands.add_parser("schema", help="print the JSON Schema of project files")
    schema.add_argument(
        "-o", "--output", type=as_path, metavar="FILE", help="write it here instead"
    )
    schema.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    add_own_project(schema)
    solids = commands.add_parser("solids", help="write each part as a solid, in STEP files")
    add_project(solids)
    add_output(solids)
    add_shown(solids)
    boat = commands.add_parser(
        "boat",
        help="show the parts in the boat: one STEP file, a picture, the lines with parts; and say "
        "which run into each other",
    )
    add_project(boat)
    boat.add_argument(
        "--all-pairs",
        action="store_true",
        help="name every pair of pieces that run into each other, not only the worst",
    )
    add_output(boat)
    add_shown(boat)
    add_changes(commands)
    add_pattern(commands)
    add_loft(commands)
    add_judge(commands)
    forms = commands.add_parser(
        "forms", help="print blank recording forms, labels and a contact sheet of all boards"
    )
    add_project(forms)
    add_output(forms)
    add_marks(commands)
    add_photo(commands)
    add_book(commands)
    return parser
