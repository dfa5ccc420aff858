"""Options of the commands that make a plan, or say how two differ."""

from __future__ import annotations

import argparse
from typing import Any

from nesting.arguments.shared import add_output, add_project, add_roll, add_shown
from nesting.arguments.values import as_drawing, as_not_negative, as_outputs, as_path, as_whole
from nesting.shop.kinds import NOTHING, Output, Paper

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
    written.add_argument(
        "--paper",
        choices=[paper.value for paper in Paper],
        help="paper that is printed on, if not the project's",
    )
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
        help="wood that moving a piece must save, as 0.1 m2 or 1 sq ft (default 0.05 m2; common "
        "practice, no source)",
    )  # fmt: skip


def add_changes(commands: Any) -> None:
    """Add the words of ``changes``."""
    changes = commands.add_parser(
        "changes",
        help="say what differs between an earlier plan and the one in the project's folder",
        description=CHANGES_PURPOSE,
        epilog=CHANGES_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_project(changes)
    changes.add_argument("earlier", type=as_path, metavar="DIR", help="where the earlier plan is")
    changes.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the plan is")
    changes.add_argument(
        "--drawing", type=as_drawing, metavar="FILE", help="draw it too, as .svg or .pdf"
    )
    changes.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    add_shown(changes)
