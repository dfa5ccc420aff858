"""Options that several commands have."""

from __future__ import annotations

import argparse
from typing import Any

from nesting.arguments.values import as_path
from nesting.shop.kinds import Paper


def add_explained(
    commands: Any, name: str, told: str, purpose: str, examples: str
) -> argparse.ArgumentParser:
    """Add a command whose help says at length what it is for, with examples below."""
    parser: argparse.ArgumentParser = commands.add_parser(
        name, help=told, description=purpose, epilog=examples,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    return parser


def add_project(parser: argparse.ArgumentParser) -> None:
    """Add the project file, and consent to its code."""
    parser.add_argument("project", type=as_path, metavar="PROJECT.yaml", help="the project file")
    add_consent(parser)


def add_own_project(parser: argparse.ArgumentParser) -> None:
    """Add a project whose own families count too."""
    parser.add_argument(
        "--project", type=as_path, metavar="PROJECT.yaml", help="with the families of this project"
    )
    add_consent(parser)


def add_consent(parser: argparse.ArgumentParser) -> None:
    """Add consent to code of a project."""
    parser.add_argument(
        "--allow-code", action="store_true",
        help="let the project's own part families (its families: files) run, and remember that "
        "for as long as they do not change; on a terminal you are asked",
    )  # fmt: skip


def add_output(parser: argparse.ArgumentParser) -> None:
    """Add where files go, and whether earlier ones may be replaced."""
    group = parser.add_argument_group("output")
    group.add_argument(
        "-o", "--output", type=as_path, metavar="DIR",
        help="folder to write into (default: the project's own, or output/ and its name)",
    )  # fmt: skip
    group.add_argument(
        "--overwrite", action="store_true", help="replace files of an earlier run in that folder"
    )


def add_plan_folder(parser: argparse.ArgumentParser) -> None:
    """Add where a plan is that was written before."""
    parser.add_argument("-o", "--output", type=as_path, metavar="DIR", help="where the plan is")


def add_shown(parser: argparse.ArgumentParser) -> None:
    """Add what the terminal is told."""
    group = parser.add_argument_group("shown")
    group.add_argument("-q", "--quiet", action="store_true", help="no notes, no progress")
    group.add_argument("--no-progress", action="store_true", help="do not say how far it is")


def add_paper(group: Any) -> None:
    """Add the paper that is printed on."""
    group.add_argument(
        "--paper", choices=[paper.value for paper in Paper],
        help="paper that is printed on, if not the project's (A4 if it names none)",
    )  # fmt: skip


def add_roll(group: Any) -> None:
    """Add the width of the paper roll."""
    group.add_argument(
        "--roll", metavar="LENGTH",
        help="width of the paper roll for patterns, if not the project's (usual 36 in, common "
        "practice, no source)",
    )  # fmt: skip
