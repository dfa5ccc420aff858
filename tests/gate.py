"""The one gate: layout, style, then types and tests side by side; it stops where style fails.

Run it as ``python tests/gate.py``; with ``--quick`` without the tests that take longest, for daily
work; with ``--coverage`` the tests must also reach most lines, which takes a fifth longer.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]

LEAST_COVERAGE = "90"

# Tests of one file run on one worker: what they share is made once. Three workers keep two cores
# busy: many tests wait, for a process that is to end or for a kernel that another compiles.
TESTS = ["pytest", "-n", "3", "--dist", "loadfile", "--no-loadscope-reorder"]
OPTIONS = {
    "--quick": ["-m", "not long"],
    "--coverage": ["--cov", "--cov-report=term", f"--cov-fail-under={LEAST_COVERAGE}"],
}

STYLE = (
    ("format", ["ruff", "format", "--check", "."]),
    ("lint", ["ruff", "check", "."]),
)
TYPES = ("types", ["mypy"])

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml",
    "nesting", "parts", "tests", "demo_projects", "output",
}  # fmt: skip


def main() -> int:
    """Run every step in the interpreter this was started with."""
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    strangers = {name for name in tops if not name.startswith(".")} - TOP_LEVEL
    if strangers:
        print(f"gate: the top level holds what it may not: {', '.join(sorted(strangers))}")
        return 1
    environment = {**os.environ, "NO_COLOR": "1"}
    # Hundreds of processes are started: each would compile every library that it loads anew.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def begun(name: str, words: list[str]) -> subprocess.Popen[bytes]:
        print(f"gate: {name}", flush=True)
        return subprocess.Popen([sys.executable, "-m", *words], cwd=ROOT, env=environment)

    for name, words in STYLE:
        if code := begun(name, words).wait():
            print(f"gate: {name} failed")
            return code
    asked = [word for option in sys.argv[1:] for word in OPTIONS.get(option, [])]
    ended = {}
    with begun(*TYPES) as types:
        ended["tests"] = begun("tests", [*TESTS, *asked]).wait()
        ended["types"] = types.wait()
    failed = [name for name, code in ended.items() if code]
    for name in failed:
        print(f"gate: {name} failed")
    if failed:
        return 1
    print("gate: all steps passed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
