"""Options of the commands about part families, and parts as solids."""

from __future__ import annotations

from typing import Any

from nesting.arguments.shared import add_output, add_own_project, add_project, add_shown
from nesting.arguments.values import as_path


def add_families(commands: Any) -> None:
    """Add the words of ``families``."""
    families = commands.add_parser("families", help="list the part families and their parameters")
    families.add_argument("family", nargs="?", help="only this one, in full")
    add_own_project(families)


def add_schema(commands: Any) -> None:
    """Add the words of ``schema``."""
    schema = commands.add_parser("schema", help="print the JSON Schema of project files")
    schema.add_argument(
        "-o", "--output", type=as_path, metavar="FILE", help="write it here instead"
    )
    schema.add_argument("--overwrite", action="store_true", help="replace FILE if it is there")
    add_own_project(schema)


def add_solids(commands: Any) -> None:
    """Add the words of ``solids``."""
    solids = commands.add_parser("solids", help="write each part as a solid, in STEP files")
    add_project(solids)
    add_output(solids)
    add_shown(solids)
