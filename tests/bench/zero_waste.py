"""Published bins that can be filled without waste: how many bins are opened for the optimum."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon, box

from nesting.engine.pack import pack
from nesting.engine.stop import MaxSeconds
from nesting.need import Need
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)

MORE_BINS = 3
"""Bins beside the optimum: enough for a poor plan, few enough to show a failure."""


@dataclass(frozen=True)
class Filled:
    """One instance: bins opened, the optimum, pieces left over."""

    name: str
    opened: int
    optimum: int
    left_over: int

    @property
    def ratio(self) -> float:
        """Bins used over the optimum; what found no bin counts as one more."""
        return (self.opened + (1 if self.left_over else 0)) / self.optimum


def instances(folder: Path, count: int) -> Iterator[dict[str, Any]]:
    """Yield so many instances with a known optimum, spread over the files of a folder.

    A file may hold ``instances``, each with ``name``, ``bin``, ``optimal_bins`` and ``pieces``.
    """
    files = sorted(folder.glob("*.json"))
    known = [
        [i for i in json.loads(file.read_text()).get("instances", []) if i.get("optimal_bins")]
        for file in files
    ]
    known = [kept for kept in known if kept]
    for turn in range(count):
        kept = known[(turn * len(known)) // count if count <= len(known) else turn % len(known)]
        yield kept[turn % len(kept)]


def fill(instance: dict[str, Any], seconds: float, workers: int) -> Filled:
    """Return how many bins an instance takes; pieces lie as given, turned end for end, or over."""
    needs = [
        Need(f"p{i}", "piece", Outline(Polygon(ring), 10, slope_of_grain=1e6), ("wood",))
        for i, ring in enumerate(instance["pieces"])
    ]
    optimum = int(instance["optimal_bins"])
    shape = box(0, 0, *instance["bin"])
    bins = [Board(f"b{i}", shape, 10, "wood") for i in range(optimum + MORE_BINS)]
    plan = pack(needs, bins, NO_SAW, stop=MaxSeconds(seconds), workers=workers)
    faults = check_plan(plan, needs, NO_SAW)
    assert not faults, faults
    left = sum(unplaced.count for unplaced in plan.unplaced)
    return Filled(instance["name"], len(plan.nests), optimum, left)
