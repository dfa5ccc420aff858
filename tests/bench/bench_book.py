"""How long every word of the ``book`` command takes in a yard of 5,000 boards and 10,000 pieces.

``python tests/bench/bench_book.py [--boards N] [--pieces N] [--folder DIR]``: makes a yard, cuts
all day, and runs each word as a program of its own; clock and processor seconds. A third of the
boards are cut, an offcut of each is back in stock. Modules are compiled before, as pip leaves them,
whatever the environment says; ``--uncompiled`` has each run compile its own where nothing is kept.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import shapely
from shapely.geometry import box

from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import Planned, reserve
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.sheet import Drawn, Sheet
from nesting.project import read_project

ROOT = Path(__file__).parents[2]
SLAT, WIDE = 300.0, 60.0


def yard(folder: Path, boards: int, pieces: int) -> Path:
    """Write a project of so many boards and pieces and return its file."""
    rows = [f"B-{n:04d},teak,25,{1500 + n % 700},{120 + n % 90},none" for n in range(boards)]
    head = "unit, mm\nboard, species, thickness, length, width, metal\n"
    (folder / "boards.csv").write_text(head + "\n".join(rows) + "\n")
    lines, each = max(1, pieces // 5), 5
    parts = [
        f"  - {{part: slat {n}, family: plank, species: teak, quantity: {each}, shape: {{length: "
        f"{SLAT:g}, width: {WIDE:g}, thickness: 20}}}}"
        for n in range(lines)
    ]
    (folder / "parts.txt").write_text("")
    path = folder / "project.yaml"
    path.write_text(
        "version: 1\nname: Yard\nunit: mm\nbook: stock.book\nstock: [{file: boards.csv}]\n"
        "outputs: {folder: plan}\nparts:\n" + "\n".join(parts) + "\n"
    )
    return path


def sheet(board, number: int, count: int, lines: int) -> Sheet:
    """Return a sheet with so many slats in a row."""
    pieces = []
    for k in range(count):
        index = number * count + k
        part, copy = index // 5 % lines, index % 5 + 1
        at = 5 + k * (SLAT + 10)
        shape = box(at, 5, at + SLAT, 5 + WIDE)
        pieces.append(Drawn(f"slat {part}, {copy} of 5", f"slat {part}", copy, 20.0, shape))
    high = shapely.bounds(board.shape)
    keep = box(5, 70, high[2] - 5, high[3] - 5)
    return Sheet(board.name, "Yard", board.shape, board.thickness_mm, (), tuple(pieces), (keep,))


ABOUT = {**os.environ, "PYTHONPATH": str(ROOT)}
"""What programs find about them."""

LOADED = """
import pkgutil, importlib, nesting.book, nesting.cli, nesting.console, nesting.project
for module in pkgutil.iter_modules(nesting.book.__path__):
    importlib.import_module(f"nesting.book.{module.name}")
"""
"""Loads what the words of the book load."""


def compile_once(folder: Path) -> None:
    """Have every program that is timed find its modules compiled, in a folder of their own."""
    ABOUT.pop("PYTHONDONTWRITEBYTECODE", None)
    ABOUT["PYTHONPYCACHEPREFIX"] = str(folder)
    subprocess.run([sys.executable, "-c", LOADED], env=ABOUT, check=True)


def spent(*arguments: str) -> tuple[float, float, int]:
    """Run a command and return clock and processor seconds, and its exit code."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "nesting", "book", *arguments], cwd=ROOT, capture_output=True,
        text=True, check=False, env=ABOUT,
    )  # fmt: skip
    clock, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    if done.returncode:
        print(done.stderr.strip()[:300])
    return clock, used, done.returncode


def main() -> None:
    """Make the yard, cut, and time every word."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boards", type=int, default=5000)
    parser.add_argument("--pieces", type=int, default=10000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--uncompiled", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = given.folder or Path(made)
        folder.mkdir(parents=True, exist_ok=True)
        path = yard(folder, given.boards, given.pieces)
        book = folder / "stock.book"
        if not given.uncompiled:
            compile_once(Path(made) / "compiled")
        fill(path, book, given.boards, given.pieces)
        report(path, book, folder)


def fill(path: Path, book: Path, boards: int, pieces: int) -> None:
    """Record all and saw half of the pieces."""
    start = time.process_time()
    project = read_project(path)
    print(f"project read {time.process_time() - start:.2f} s (processor)")
    with opened(book, create=True) as found:
        start = time.process_time()
        record(found, project)
        print(f"recorded {time.process_time() - start:.2f} s (processor)")
        names = tuple(board.name for board in project.stock[: boards // 2])
        reserve(found, Planned("Yard", names, {"pieces": [], "boards": list(names)}))
        start, count = time.process_time(), boards // 3
        for number, board in enumerate(project.stock[:count]):
            what = Cut(kept=Kept.OFFCUTS)
            cut(found, sheet(board, number, 3, max(1, pieces // 5)), what)
        each = 1000 * (time.process_time() - start) / count
        print(f"{count} boards cut, {each:.1f} ms each (processor)")


def report(path: Path, book: Path, folder: Path) -> None:
    """Print a line for every word."""
    last = "B-4999" if (folder / "boards.csv").stat().st_size > 100_000 else "B-0099"
    print(f"{'word':10s} {'clock':>7s} {'cpu':>7s}")
    for target, name in ((path, "project"), (book, "book")):
        words = [
            ["status"], ["history"], ["history", "B-0001"],
            ["found", last, "--metal", "5 at 90, 50 up"],
            ["checked", last], ["taped", last, "--length", "1200"], ["reserve", last],
            ["release", last], ["gone", last], ["undo"], ["spoiled", "slat 0, 1 of 5", "--keep"],
            ["sound"], ["backup", str(folder / f"{name}.copy")],
            ["export", str(folder / f"{name}-plain")],
        ]  # fmt: skip
        writes = {"found", "checked", "taped", "reserve", "release", "gone", "undo", "spoiled"}
        for word, *more in words:
            if target is book and word in writes:
                continue
            clock, used, code = spent(word, str(target), *more)
            print(
                f"{word:10s} {clock:7.2f} {used:7.2f}  by the {name}"
                + (f"  ended {code}" if code else "")
            )
    told("record", spent("record", str(path)), "nothing new, 5,000 lines of a table read")
    beside(folder)
    last_words(path, folder)


def told(word: str, found: tuple[float, float, int], more: str) -> None:
    """Print a line."""
    clock, used, code = found
    print(f"{word:10s} {clock:7.2f} {used:7.2f}  {more}" + (f"  ended {code}" if code else ""))


def beside(folder: Path) -> None:
    """Time what goes by a plan: that of a small project which names the same full book."""
    rows = [f"S-{n},teak,25,{1200 + 10 * n},150,none" for n in range(6)]
    head = "unit, mm\nboard, species, thickness, length, width, metal\n"
    (folder / "side.csv").write_text(head + "\n".join(rows) + "\n")
    path = folder / "side.yaml"
    path.write_text(
        "version: 1\nname: Side\nunit: mm\nbook: stock.book\nstock: [{file: side.csv}]\n"
        "outputs: {folder: side, write: []}\nparts:\n  - {part: rung, family: plank, species: teak,"
        " quantity: 9, shape: {length: 300, width: 60, thickness: 20}}\n"
    )
    told("record", spent("record", str(path)), "6 boards of another project")
    nest = [sys.executable, "-m", "nesting", "nest", str(path), "--rounds", "0", "--workers", "1"]
    subprocess.run(nest, cwd=ROOT, env=ABOUT, check=True, capture_output=True)
    boards = json.loads((folder / "side/summary.json").read_text())["boards"]
    board, sheet = boards[0]["board"], folder / "side" / boards[0]["file"]
    first = boards[0]["parts"][0]["label"]
    told("reserve", spent("reserve", str(path)), "a plan")
    told("read", spent("read", str(path), str(sheet)), "a sheet")
    told("cut", spent("cut", str(path), board, "--pieces", first), "one piece")
    told("cut", spent("cut", str(path), board), "all of a board")
    told("spoiled", spent("spoiled", str(path), first), "a piece")
    told("undo", spent("undo", str(path)), "that")
    told("release", spent("release", str(path)), "all that it holds")
    path.write_text(path.read_text().replace("name: Side", "name: Other side"))
    told("record", spent("record", str(path), "--was", "Side"), "under a new name")


def last_words(path: Path, folder: Path) -> None:
    """Time what makes a book anew."""
    fresh = path.with_name("fresh.yaml")
    fresh.write_text(path.read_text().replace("stock.book", "fresh.book"))
    told("record", spent("record", str(fresh)), "all, for the first time")
    again = ("rebuild", str(folder / "project-plain"), str(folder / "again.book"))
    told("rebuild", spent(*again), "of an export")
    copy = ("restore", str(path), str(folder / "project.copy"), "--overwrite")
    told("restore", spent(*copy), "a backup")


if __name__ == "__main__":
    main()
