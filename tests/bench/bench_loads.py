"""Whether ``--seconds`` is kept under heavy loads: ``python tests/bench/bench_loads.py``.

One row a load: seconds asked, seconds taken by the command and by writing, and the share of
what was asked that all but the writing took; below it, by stage. ``--only`` names loads, ``--demo``
adds the full demo, ``--write`` says what is written beside the sheets, nothing for them alone.
Every run is a process of its own, as a user starts it.
"""

import argparse
import gc
import json
import os
import subprocess
import sys
import tempfile
import time
from functools import wraps
from importlib import import_module
from pathlib import Path

if "--one" in sys.argv:  # What a user's command does not load is not loaded here.
    LOADS = {}
else:
    from loads import LOADS

DEMO = Path(__file__).parents[2] / "demo_projects" / "tender_to_sloop" / "project.yaml"
DEMO_SECONDS = 10.0


def main() -> None:
    """Run the loads asked for and print the table."""
    given = arguments()
    if given.one:
        print(json.dumps(stages(given)))
        return
    for name in given.only:
        with tempfile.TemporaryDirectory() as folder:
            load = LOADS[name]
            run(name, load.make(Path(folder)), given.seconds or load.seconds, given)
    if given.demo:
        run("tender_to_sloop", DEMO, given.seconds or DEMO_SECONDS, given)


def arguments() -> argparse.Namespace:
    """Return what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="*", choices=LOADS, default=list(LOADS))
    parser.add_argument("--seconds", type=float, help="instead of each load's own")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--demo", action="store_true", help="and the full demo")
    parser.add_argument("--write", help="beside cut sheets, as the command's own word")
    parser.add_argument("--limit", type=float, default=900.0, help="give a run up after (900 s)")
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    return parser.parse_args()


def run(name: str, project: Path, seconds: float, given: argparse.Namespace) -> None:
    """Run one project in a process of its own and print its rows."""
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable, __file__, "--one", str(project), "--seconds", str(seconds),
            "--workers", str(given.workers), "--folder", folder,
            *(["--write", given.write] if given.write else []),
        ]  # fmt: skip
        start = time.perf_counter()
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=given.limit)
        except subprocess.TimeoutExpired:
            print(f"{name:<16} asked {seconds:g} s, given up after {given.limit:g} s", flush=True)
            return
        taken = time.perf_counter() - start  # Before thousands of sheets are thrown away.
    if done.returncode:
        print(f"{name:<16} failed: {done.stderr[-600:]}", flush=True)
        return
    found = json.loads(done.stdout.splitlines()[-1])
    by_stage = found["stages"]
    searched = taken - by_stage["writing"]
    print(
        f"{name:<16} asked {seconds:g} s, taken {taken:.1f} s, without writing {searched:.1f} s "
        f"({searched / seconds:.2f} of it); {found['sheets']} sheets at "
        f"{found['sheets'] / max(by_stage['writing'], 1e-9):.1f} a second; "
        f"{found['placed']} placed, {found['left']} left over"
    )
    print("   " + ", ".join(f"{stage} {took:.2f}" for stage, took in by_stage.items()), flush=True)


STAGES = (
    ("reading", "nesting.project", "read_project"),
    ("preparing", "nesting.engine.search.lanes", "Searcher.__init__"),
    ("first plan", "nesting.engine.search.lanes", "Searcher.construct"),
    ("bounds", "nesting.engine.proof.bounds", "Bounds.ideal"),
    ("gathering", "nesting.engine.pack", "gathered_plan"),
    ("reasons", "nesting.engine.pack", "unplaced"),
    ("packing", "nesting.engine.pack", "pack"),
    ("refereeing", "nesting.referee.check", "require_sound"),
    ("accounting", "nesting.accounts.account", "account_for"),
    ("writing", "nesting.outputs", "write_outputs"),
)
"""What is timed: packing holds the five before it, and the search itself."""


def stages(given: argparse.Namespace) -> dict[str, object]:
    """Return how long each stage of one command took."""
    from nesting import cli
    from nesting.processes.garbage import look_rarely

    look_rarely()
    took = dict.fromkeys((stage for stage, *_ in STAGES), 0.0)
    start, begun = time.perf_counter(), time.monotonic() - time.process_time()
    for stage, module, name in STAGES:
        watch(took, stage, module, name)
    took["loading"] = time.perf_counter() - start
    code = cli.main(
        ["nest", str(given.one), "--seconds", str(given.seconds), "-o", str(given.folder),
         "--workers", str(given.workers), "--overwrite", "--quiet",
         *(["--write", given.write] if given.write else [])],
        begun=begun,
    )  # fmt: skip
    if code not in (0, 4):
        sys.exit(f"the command ended with {code}")
    gc.freeze()  # As the program does when it ends.
    content = json.loads((given.folder / "summary.json").read_text())
    return {
        "stages": took,
        "sheets": len(content["boards"]),
        "placed": content["parts_placed"],
        "left": content["parts_unplaced"],
    }


def watch(took: dict[str, float], stage: str, module: str, name: str) -> None:
    """Have a function add its time to that of a stage."""
    *holders, last = name.split(".")
    holder = import_module(module)
    for part in holders:
        holder = getattr(holder, part)
    function = getattr(holder, last)

    @wraps(function)
    def timed(*given, **named):
        begun = time.perf_counter()
        try:
            return function(*given, **named)
        finally:
            took[stage] += time.perf_counter() - begun

    setattr(holder, last, timed)


if __name__ == "__main__":
    main()
