"""How truly tables of offsets are faired: ``python tests/bench/bench_lines.py [--cells N]``.

Hulls of known shape (``tests/parts/lines/known_hulls.py``) are made into tables, rounded to the
millimetre and to sixteenths; some get one wrong figure, some noise in all. Printed are the figures
named though they are right, those found of the wrong ones, how far the faired hull lies from the
true one, and the same of the best of many smoothing splines through the same figures.
"""

from __future__ import annotations

import argparse
import sys
import time
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "parts" / "lines"))

from hull_measures import at_chine, best_spline_errors, errors
from hulls_apart import APART, BENT, fading_knuckle, tunnel
from kinds_of_hull import KINDS, SHARP
from known_hulls import BROKEN, ROUND, SIX, changed, noisy, table_of, transposed

from nesting.errors import ShapeError
from nesting.project import read_project
from nesting.units import Unit, parse_length
from parts.lines import hull_of, read_table

DEMO = Path(__file__).parents[2] / "demo_projects" / "lines"

ALL = ("speed", "exact", "clean", "noise", "chines", "apart", "cells")

COUNTS = (9, 11, 13)
"""Stations of the tables without an error."""


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cells", type=int, default=20, help="wrong figures a hull, of each kind")
    parser.add_argument("--seeds", type=int, default=3, help="tables with noise a hull")
    parser.add_argument("--only", nargs="*", default=list(ALL))
    given = parser.parse_args()
    start = time.process_time()
    rows = {
        "speed": speed,
        "exact": exact,
        "clean": clean,
        "noise": lambda: noise(given.seeds),
        "chines": chines,
        "apart": apart,
        "cells": lambda: cells(given.cells),
    }
    for name in given.only:
        rows[name]()
        print(
            f"  ({name}: {time.process_time() - start:.0f} s of processor time so far)", flush=True
        )


def speed() -> None:
    """Processor time of the demo boat: her table faired alone, and all of her project read."""
    table = read_table(DEMO / "withy_offsets.csv")
    hull_of(table)  # what is loaded late is loaded now
    start = time.process_time()
    hull_of(table)
    faired = time.process_time() - start
    start = time.process_time()
    project = read_project(DEMO.parent / "tender_to_sloop" / "project.yaml")
    whole = time.process_time() - start
    print(
        f"the demo boat: fairing {faired:.2f} s; reading, fairing, {len(project.needs)} outlines "
        f"{whole:.2f} s of processor time",
        flush=True,
    )


def exact() -> None:
    """Tables without an error: how many name a figure."""
    alarms = tables = figures = 0
    for make in (*ROUND, *KINDS):
        for k, unit in enumerate((Unit.MM, Unit.FOOT)):
            for count in COUNTS[k:] if unit is Unit.MM else COUNTS[:2]:
                hull = hull_of(table_of(make(), stations=count, unit=unit))
                tables += 1
                alarms += bool(hull.odd)
                figures += len(hull.odd)
                for odd in hull.odd:
                    print(f"  {make.__name__}, {count} stations, {unit}: {odd}", flush=True)
    print(f"{tables} exact tables: {alarms} name {figures} right figures")


def clean() -> None:
    """Eleven stations, to the millimetre: errors of place and bevel."""
    for make in (*ROUND, *KINDS):
        known = make()
        found = errors(hull_of(table_of(known)), known)
        star = "*" if make in SIX else " "
        print(
            f"{star}{known.name:16s} off mean {found.mean:.2f}, worst {found.worst:.1f} mm; "
            f"bevel mean {found.bevel_mean:.2f}, worst {found.bevel_worst:.1f} degrees",
            flush=True,
        )


def noise(seeds: int) -> None:
    """3 mm of random error in every figure, against the best smoothing spline."""
    for make in SIX:
        known = make()
        rows = []
        for seed in range(seeds):
            table = noisy(table_of(known), np.random.default_rng(seed), 3.0)
            hull = hull_of(table)
            found = errors(hull, known)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                spline = best_spline_errors(table, known, 3.0)
            rows.append((found.mean, found.worst, spline.mean, spline.worst, len(hull.odd)))
        mean = np.mean(rows, axis=0)
        print(
            f" {known.name:16s} noise 3 mm: mean {mean[0]:.2f}, worst {mean[1]:.1f} mm; best "
            f"spline {mean[2]:.2f}, {mean[3]:.1f} mm; figures named {sum(row[4] for row in rows)}",
            flush=True,
        )


def chines() -> None:
    """Hard chines, given as lines: errors at and beside them, and of bevels."""
    for make in (*BROKEN, *SHARP):
        known = make()
        hull = hull_of(table_of(known))
        found, beside = errors(hull, known), at_chine(hull, known)
        print(
            f" {known.name:16s} at the chine mean {beside.mean():.2f}, worst {beside.max():.2f} "
            f"mm; off {found.mean:.2f}, {found.worst:.1f} mm; bevel {found.bevel_mean:.2f}, "
            f"{found.bevel_worst:.1f} degrees; {len(hull.odd)} named",
            flush=True,
        )


def apart() -> None:
    """Hulls that nothing was tuned on, to the millimetre and to sixteenths."""
    for make in (*APART, fading_knuckle, *BENT, tunnel):
        known = make()
        try:
            hulls = [hull_of(table_of(known, unit=unit)) for unit in (Unit.MM, Unit.FOOT)]
        except ShapeError as error:
            print(f" {known.name:16s} refused: {error}", flush=True)
            continue
        named, found = sum(len(hull.odd) for hull in hulls), errors(hulls[0], known)
        chine = f"; at the chine {at_chine(hulls[0], known).max():.2f} mm" if known.chines else ""
        print(
            f" {known.name:16s} {known.length / 1000:.1f} m: off mean {found.mean:.2f}, worst "
            f"{found.worst:.1f} mm; bevel mean {found.bevel_mean:.2f}, worst "
            f"{found.bevel_worst:.1f} degrees{chine}; {named} right figures named",
            flush=True,
        )


@dataclass
class _Count:
    tried: int = 0
    named: int = 0
    near: int = 0
    others: int = 0


def cells(count: int) -> None:
    """One wrong figure: 25 mm, or two digits turned about. Any cell, ends included."""
    whole = _Count()
    for make in SIX:
        table, found = table_of(make()), _Count()
        rng = np.random.default_rng(7)
        places = [
            (n, k)
            for n, line in enumerate(table.lines)
            for k, offset in enumerate(line.offsets)
            if offset is not None and offset.mm > 0
        ]
        for pick in rng.choice(len(places), min(count, len(places)), replace=False):
            cell = places[pick]
            true = table.lines[cell[0]].offsets[cell[1]].mm
            wrong = [25.0 * rng.choice([-1, 1]) if true > 30 else 25.0]
            turned = [mm - true for mm in transposed(true, table.unit) if abs(mm - true) > 8]
            wrong += turned[:1]
            for error in wrong:
                _try(changed(table, {cell: error}), cell, true, found)
        print(
            f" {make.__name__:16s} {found.named} of {found.tried} named, {found.near} within 3 mm; "
            f"{found.others} right figures named",
            flush=True,
        )
        for name in ("tried", "named", "near", "others"):
            setattr(whole, name, getattr(whole, name) + getattr(found, name))
    share = 100.0 * whole.named / max(whole.tried, 1)
    near = 100.0 * whole.near / max(whole.named, 1)
    print(f"wrong figures named {share:.1f} %, of those within 3 mm {near:.1f} %")
    print(f"right figures named beside them: {whole.others}")


def _try(table, cell, true: float, count: _Count) -> None:
    line, station = table.lines[cell[0]], table.stations[cell[1]]
    odd = hull_of(table).odd
    mine = [one for one in odd if (one.line, one.station) == (line.title, station.name)]
    count.tried += 1
    count.others += len(odd) - len(mine)
    count.named += bool(mine)
    if mine and mine[0].fair_mm is not None:
        off = parse_length(mine[0].should_read, table.unit) - true
        count.near += abs(off) <= 3.0
        if abs(off) > 3.0:
            print(
                f"  suggested {off:+.0f} mm off: {table.name}, {line.title}, station "
                f"{station.name}, {line.offsets[cell[1]].mm - true:+.0f} mm",
                flush=True,
            )
    if not mine:
        print(
            f"  missed: {table.name}, {line.title}, station {station.name}, "
            f"{line.offsets[cell[1]].mm - true:+.0f} mm; named {[str(one) for one in odd]}",
            flush=True,
        )


if __name__ == "__main__":
    main()
