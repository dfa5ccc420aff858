"""Boards read from tables, parts broken down: ``python tests/bench/bench_tables.py``.

Prints the processor time that a load and a quarter of it take, and how many times as long the
whole takes: near four where time grows with the load and no faster.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import shapely
from shapely.geometry import box

import nesting.project.own_families

TESTS = Path(__file__).parents[1] / "nesting"


def main() -> None:
    """Print one row a load."""
    sys.path[:0] = [str(TESTS), str(TESTS / "break_down")]
    from project_texts import only_blocks
    from test_board_table import as_csv, as_workbook, many, stock_of

    nesting.project.own_families.known_families = only_blocks
    for kind, write, count in (("csv", as_csv, 200), ("xlsx", as_workbook, 500)):
        with TemporaryDirectory() as folder:

            def read(share: int, folder=folder, kind=kind, write=write) -> None:
                write(Path(folder), many(share))
                stock_of(Path(folder), f"boards.{kind}")

            row(f"boards from a table ({kind})", read, count)
    row("parts broken down", parted, 60)
    row("nails beside the cuts of six parts", nailed, 2000)


def row(what: str, work: Callable[[int], None], count: int) -> None:
    """Print what a load and a quarter of it take."""
    work(count // 4)  # what is loaded at the first time
    quarter, whole = (spent(work, share) for share in (count // 4, count))
    print(f"{count:5d} {what}: {whole:.2f} s, {whole / quarter:.1f} times a quarter of them")


def spent(work: Callable[[int], None], count: int) -> float:
    """Return the processor time of a piece of work in seconds."""
    began = time.process_time()
    work(count)
    return time.process_time() - began


def parted(count: int) -> None:
    """Break down a board with so many turned parts."""
    from test_break_down import RULES, broken_down, nest_of

    rng = np.random.default_rng(2)
    parts = [
        shapely.affinity.translate(
            shapely.affinity.rotate(box(0, 0, 90, 40), rng.uniform(-20, 20)),
            70 + 120 * (n % 12), 60 + 100 * (n // 12),
        )
        for n in range(count)
    ]  # fmt: skip
    broken_down(nest_of(parts, 1600, 600), (), RULES)


def nailed(count: int) -> None:
    """Break down a board with six parts in a row and so many nails."""
    from test_break_down import RULES, broken_down, circle, nest_of, row_of

    along = np.linspace(700, 3900, count // 10)
    nails = [circle("metal", x, y, 2) for x in along for y in range(20, 390, 40)]
    broken_down(nest_of(row_of(6), 4000, 400, nails), (), RULES)


if __name__ == "__main__":
    main()
