"""Options of the commands for whole boats: the new one's lines, the old one's worth."""

from __future__ import annotations

from typing import Any

from nesting.arguments.shared import (
    add_consent,
    add_explained,
    add_output,
    add_paper,
    add_project,
    add_shown,
)
from nesting.arguments.values import as_path, as_whole

LOFT_PURPOSE = """Lay a table of offsets down, without any part or board: say which figures no fair
line could have and what each should probably read, and what fairing corrects; write the
faired table, the lines drawing (DXF, SVG, PDF), how each long line bends along the batten,
how she floats, and the mould loft's book of half-breadths, heights, bevels and girths."""

LOFT_EXAMPLES = '''examples:
  salvage-nest loft demo_projects/lines/withy_offsets.csv --heel "0 to 20 by 10"
  salvage-nest loft --project my-boat.yaml --draught "2 ft"'''

JUDGE_PURPOSE = """Judge an old boat for a parts list before she is taken apart: what every member
would give when its joints are parted in the best way, how many hours that takes, what to save,
what to scrap, what to save only if hours are cheap, and why; in which order; and, with
--piles, how likely the pile gives each part."""

JUDGE_EXAMPLES = """examples:
  salvage-nest judge old-boat.yaml --project my-boat.yaml
  salvage-nest judge old-boat.yaml --project my-boat.yaml --piles 50"""


def add_judge(commands: Any) -> None:
    """Add the words of ``judge``."""
    judge = add_explained(
        commands,
        "judge",
        "say what is worth pulling off an old boat, before she is taken apart",
        JUDGE_PURPOSE,
        JUDGE_EXAMPLES,
    )
    judge.add_argument(
        "old_boat", type=as_path, metavar="OLD_BOAT.yaml", help="her members and joints"
    )
    judge.add_argument(
        "--project", type=as_path, metavar="PROJECT.yaml", required=True,
        help="whose parts list she is judged for",
    )  # fmt: skip
    add_consent(judge)
    ahead = judge.add_argument_group("forecast")
    ahead.add_argument(
        "--piles", type=as_whole, default=0, metavar="N",
        help="draw so many piles of boards by lot and nest each: how likely every part is given "
        "(default 0, none; 50 take some minutes)",
    )  # fmt: skip
    ahead.add_argument(
        "--recorded", action="store_true",
        help="boards of the project that came from one of her members take the place of drawn ones",
    )  # fmt: skip
    ahead.add_argument(
        "--seed", type=as_whole, default=0, metavar="N", help="of chance (default 0)"
    )
    ahead.add_argument(
        "--workers", type=as_whole, metavar="N", help="processes that nest (default: all cores)"
    )
    add_output(judge)
    add_shown(judge)
    judge.add_argument("--json", action="store_true", help="print the judgement as JSON")


def add_loft(commands: Any) -> None:
    """Add the words of ``loft``."""
    loft = add_explained(
        commands,
        "loft",
        "lay a table of offsets down: odd figures, fair table, lines, battens, book",
        LOFT_PURPOSE,
        LOFT_EXAMPLES,
    )
    loft.add_argument(
        "table", nargs="?", type=as_path, metavar="TABLE", help="table of offsets, CSV or YAML"
    )
    loft.add_argument(
        "--project", type=as_path, metavar="PROJECT.yaml",
        help="in its place: the table and the frames of this project's boat",
    )  # fmt: skip
    add_consent(loft)
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
    add_output(loft)
    add_paper(loft)
    add_shown(loft)
    loft.add_argument("--dxf", choices=("R2010", "R12"), help="form of the DXF (default R2010)")


def add_boat(commands: Any) -> None:
    """Add the words of ``boat``."""
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
