"""Projects nested and written by the program in a process of its own: each once for all tests."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[1]
DEMOS = ROOT / "demo_projects"

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
        "nest", project, "--rounds", 1, "--workers", 1, "--write", "nothing", "-q", "-o", folder
    )
    assert ran.returncode in (0, 4), ran.stderr
    return folder
