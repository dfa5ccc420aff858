"""Projects nested and written by the program in a process of its own: each once for all tests."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from nesting.project import Project, read_project
from nesting.stock.board import Board

ROOT = Path(__file__).parents[1]
DEMOS = ROOT / "demo_projects"
NAMES = ("first_cut", "launch_to_dinghy", "tender_to_sloop")
FULL = "tender_to_sloop"

_FOLDER = TemporaryDirectory(prefix="written-")


def command(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run the program in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "nesting", *map(str, arguments)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


@cache
def written(project: Path) -> Path:
    """Return the folder of a short search's plan: its cut sheets and summary."""
    folder = Path(_FOLDER.name) / project.parent.name
    ran = command(
        "nest", project, "--rounds", 0, "--workers", 1, "--write", "nothing", "-q", "-o", folder
    )
    assert ran.returncode in (0, 4), ran.stderr
    return folder


@cache
def project(name: str) -> Project:
    """Return a demo as it is read."""
    return read_project(DEMOS / name / "project.yaml")


def copies(name: str) -> int:
    """Return how many pieces a demo asks for."""
    return sum(need.quantity for need in project(name).needs)


def board(name: str, chalked: str) -> Board:
    """Return a board of a demo."""
    return next(board for board in project(name).stock if board.name == chalked)
