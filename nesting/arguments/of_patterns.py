"""Options of the command that writes patterns."""

from __future__ import annotations

from typing import Any

from nesting.arguments.shared import (
    add_explained,
    add_output,
    add_paper,
    add_project,
    add_roll,
    add_shown,
)

PATTERN_PURPOSE = """Write the pattern of a part, or of all parts, at full size: pages that are
joined by crosses (PDF), and one long roll (PDF, SVG, DXF). Measure the check square before you
trust one."""

PATTERN_EXAMPLES = """examples:
  salvage-nest pattern my-boat.yaml "floor 3"
  salvage-nest pattern my-boat.yaml --paper A3 --roll "24 in\""""


def add_pattern(commands: Any) -> None:
    """Add the words of ``pattern``."""
    pattern = add_explained(
        commands,
        "pattern",
        "write patterns at full size, of one part or of all; no plan is needed",
        PATTERN_PURPOSE,
        PATTERN_EXAMPLES,
    )
    add_project(pattern)
    pattern.add_argument(
        "part", nargs="?", metavar="PART", help="name in the parts list (default: all parts)"
    )
    add_paper(pattern)
    add_roll(pattern)
    pattern.add_argument(
        "--dxf", choices=("R2010", "R12"), help="form of the DXF, if not the project's"
    )
    add_output(pattern)
    add_shown(pattern)
