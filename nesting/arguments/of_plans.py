"""Options of the commands that make a plan, or look at one."""

from __future__ import annotations

from typing import Any

from nesting.arguments.shared import (
    add_explained,
    add_output,
    add_paper,
    add_plan_folder,
    add_project,
    add_roll,
    add_shown,
)
from nesting.arguments.values import (
    as_drawing,
    as_moisture,
    as_not_negative,
    as_outputs,
    as_path,
    as_whole,
)
from nesting.shop.kinds import NOTHING, Output

USUAL_SECONDS = 30.0
"""With the writing of forty sheets this keeps a full project within a minute on two cores."""

AGAIN_SECONDS = 7.0
"""With the last plan in view little is laid anew."""

CHANGES_PURPOSE = """Say what differs between an earlier plan of a project and the one in its
folder: board by board which pieces stay, moved, are new or gone, which printed sheets stay true
and which to throw away."""

CHANGES_EXAMPLES = """examples:
  salvage-nest changes my-boat.yaml output/before
  salvage-nest changes my-boat.yaml output/before -o output/after --drawing changes.svg"""

PLANK_PURPOSE = """Find how long a new plank of some width must be for the parts that the last
plan left over: one for each wood and thickness as sold, without defects, grain along it.
Grown crooks, and parts wider than the plank, are named and left out."""

PLANK_EXAMPLES = """examples:
  salvage-nest plank my-boat.yaml --width "8 in"
  salvage-nest plank my-boat.yaml --width "200 mm" --seconds 60"""


def add_nest(commands: Any) -> None:
    """Add the words of ``nest``."""
    nest = commands.add_parser("nest", help="pack a project's parts and write its cut sheets")
    add_project(nest)
    search = nest.add_argument_group("search")
    search.add_argument(
        "--seconds", type=as_not_negative, metavar="S",
        help=f"time for the search (default {USUAL_SECONDS:g}, {AGAIN_SECONDS:g} with --again, "
        "none with --rounds)",
    )  # fmt: skip
    search.add_argument(
        "--rounds",
        type=as_whole,
        metavar="N",
        help="rounds of improvement; makes a plan repeatable",
    )
    search.add_argument(
        "--workers", type=as_whole, metavar="N", help="processes that search (default: all cores)"
    )
    search.add_argument(
        "--cluster", metavar="ADDRESS",
        help="search on a Dask cluster instead, by its scheduler's address (needs [cluster])",
    )  # fmt: skip
    search.add_argument(
        "--seed", type=as_whole, default=0, metavar="N", help="of chance (default 0)"
    )
    search.add_argument(
        "--must-place-all", action="store_true",
        help="for scripts: parts left over end it with exit code 4, the plan written all the same",
    )  # fmt: skip
    add_again(nest)
    add_output(nest)
    written = nest.add_argument_group("written")
    written.add_argument(
        "--write", type=as_outputs, metavar="WORDS",
        help=f"beside cut sheets, overview and summary: {', '.join(Output)}, with commas between, "
        f"or {NOTHING}; the project's if not given",
    )  # fmt: skip
    add_paper(written)
    add_roll(written)
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


def add_again(nest: Any) -> None:
    """Add the options of nesting with the last plan in view."""
    again = nest.add_argument_group("with the last plan in view")
    again.add_argument(
        "--again", nargs="?", const=True, type=as_path, metavar="DIR",
        help="keep every piece of the last plan where it lies, if it still may, and move others "
        "only where that saves more wood than it costs; DIR holds that plan (default: the folder "
        "that is written into)",
    )  # fmt: skip
    again.add_argument(
        "--moving", metavar="AREA",
        help="wood that moving a piece must save, as 0.2 m2 or 1 sq ft (default 0.1 m2; common "
        "practice, no source)",
    )  # fmt: skip


def add_changes(commands: Any) -> None:
    """Add the words of ``changes``."""
    changes = add_explained(
        commands,
        "changes",
        "say what differs between an earlier plan and the one in the project's folder",
        CHANGES_PURPOSE,
        CHANGES_EXAMPLES,
    )
    add_project(changes)
    changes.add_argument("earlier", type=as_path, metavar="DIR", help="where the earlier plan is")
    add_plan_folder(changes)
    changes.add_argument(
        "--drawing", type=as_drawing, metavar="FILE", help="draw it too, as .svg or .pdf"
    )
    changes.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    add_shown(changes)


def add_check(commands: Any) -> None:
    """Add the words of ``check``."""
    check = commands.add_parser(
        "check", help="read a project and say what is wrong, or what it holds"
    )
    add_project(check)


def add_remeasure(commands: Any) -> None:
    """Add the words of ``remeasure``."""
    measure = commands.add_parser(
        "remeasure", help="read written cut sheets back and measure them against project and plan"
    )
    add_project(measure)
    measure.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the sheets are")
    add_shown(measure)


def add_plank(commands: Any) -> None:
    """Add the words of ``plank``."""
    plank = add_explained(
        commands,
        "plank",
        "find how long a new plank of some width the parts left over need",
        PLANK_PURPOSE,
        PLANK_EXAMPLES,
    )
    add_project(plank)
    plank.add_argument(
        "--width", required=True, metavar="LENGTH",
        help="of the rough plank, as 8 in or 200 mm; a bare number is in the project's unit",
    )  # fmt: skip
    add_plan_folder(plank)
    plank.add_argument(
        "--seconds", type=as_not_negative, default=10.0, metavar="S",
        help="time for each wood and thickness (default 10)",
    )  # fmt: skip
    plank.add_argument(
        "--json", action="store_true", help="print planks, crooks and what is too wide as JSON"
    )
    add_shown(plank)


def add_strength(commands: Any) -> None:
    """Add the words of ``strength``."""
    strength = commands.add_parser(
        "strength",
        help="what old holes, cross grain and drying do to the pieces of a plan",
    )
    add_project(strength)
    add_plan_folder(strength)
    strength.add_argument(
        "--moisture", type=as_moisture, metavar="PERCENT",
        help="what the wood comes to in its place (default 15, that of planking and "
        "decking when installed; boards need theirs recorded)",
    )  # fmt: skip
