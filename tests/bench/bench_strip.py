"""Shortest strips of published sets: ``python tests/bench/bench_strip.py FOLDER [SET ...]``.

FOLDER holds one JSON file a set: ``strip_width``, ``allowed_rotations_deg``, ``pieces`` with
``outline`` and ``count``, and ``best_known`` with ``length``. Prints, for each set, the best
published length over the length reached after some seconds, and the largest overlap that
shapely sees in the final layout. One seed, no tuning for a set; processes start, and compiled
code is loaded, within the time.
"""

import argparse
import json
import math
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.layout import Shape
from nesting.engine.stop import MaxSeconds
from nesting.engine.strip.strip_lanes import shortest_strip

MARKS = (5, 10, 30, 60, 300, 600)


def main() -> None:
    """Run the sets asked for and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("sets", nargs="*")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    names = given.sets or sorted(known_sets(given.folder))
    marks = [mark for mark in MARKS if mark < given.seconds] + [given.seconds]
    print("set".ljust(12), "  first", *(f"{mark:>6g} s" for mark in marks), "  overlap")
    finals = []
    for name in names:
        row, overlap = run(json.loads((given.folder / f"{name}.json").read_text()), given, marks)
        finals.append(row[-1])
        print(name.ljust(12), *(f"{value:8.4f}" for value in row), f"{overlap:9.1e}", flush=True)
    print("mean".ljust(12), f"{np.mean(finals):.4f}", "worst", f"{min(finals):.4f}")


def known_sets(folder):
    """Return the names of the sets whose best published length is known."""
    files = {path.stem: json.loads(path.read_text()) for path in folder.glob("*.json")}
    return [name for name, data in files.items() if data.get("best_known")]


def run(data, given, marks):
    """Return the fraction of the best published at first and at each mark, and the overlap left."""
    outlines = [Polygon(piece["outline"]) for piece in data["pieces"]]
    ways = tuple((math.radians(angle), False) for angle in data["allowed_rotations_deg"])
    shapes = [Shape(Pieces.of(convex_pieces(shape)), shape.area, ways) for shape in outlines]
    items = [i for i, piece in enumerate(data["pieces"]) for _ in range(piece["count"])]
    seen = []
    best = shortest_strip(
        shapes,
        items,
        float(data["strip_width"]),
        0.0,
        MaxSeconds(given.seconds),
        seed=given.seed,
        workers=given.workers,
        seen=lambda spent, length: seen.append((spent, length)),
    )
    known = data["best_known"]["length"]
    row = [known / seen[0][1]]
    row += [max((known / length for t, length in seen if t <= mark), default=0.0) for mark in marks]
    return row, largest_overlap(best, outlines)


def largest_overlap(strip, outlines) -> float:
    """Return the largest overlap of two pieces as a share of a mean piece."""
    lying = [
        affinity.translate(
            affinity.rotate(outlines[o], place[2], (0, 0), use_radians=True), *place[:2]
        )
        for o, place in zip(strip.outlines, strip.places, strict=True)
    ]
    pairs = shapely.STRtree(lying).query(lying)
    areas = [lying[i].intersection(lying[j]).area for i, j in pairs.T if i < j]
    return max(areas, default=0.0) / np.mean([shape.area for shape in lying])


if __name__ == "__main__":
    main()
