"""Options of the command that writes patterns."""

from __future__ import annotations

import argparse
from typing import Any

from nesting.arguments.shared import add_output, add_project, add_roll, add_shown
from nesting.shop.kinds import Paper

PATTERN_PURPOSE = """Write the pattern of a part, or of all parts, at full size: pages that are
joined by crosses (PDF), and one long roll (PDF, SVG, DXF). Measure the check square before you
trust one."""

PATTERN_EXAMPLES = """examples:
  salvage-nest pattern my-boat.yaml "floor 3"
  salvage-nest pattern my-boat.yaml --paper A3 --roll "24 in\""""


def add_pattern(commands: Any) -> None:
    """Add the words of ``pattern``."""
    pattern = commands.add_parser(
        "pattern",
        help="write patterns at full size, of one part or of all; no plan is needed",
        description=PATTERN_PURPOSE,
        epilog=PATTERN_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_project(pattern)
    pattern.add_argument(
        "part", nargs="?", metavar="PART", help="name in the parts list (default: all parts)"
    )
    pattern.add_argument(
        "--paper",
        choices=[paper.value for paper in Paper],
        help="paper that is printed on, if not the project's",
    )
    add_roll(pattern)
    pattern.add_argument(
        "--dxf", choices=("R2010", "R12"), help="form of the DXF, if not the project's"
    )
    add_output(pattern)
    add_shown(pattern)
