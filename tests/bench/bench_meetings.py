"""Which pieces of a whole boat run into each other: ``bench_meetings.py [PROJECT.yaml]``.

Makes every solid of the project (the full demo if none is given), looks for pairs that run into
each other, and names them all; prints the seconds and the processor time of each step. With
``--solids`` the pairs whose boxes meet are cut by one another as solids too, some minutes, and the
volumes held against each other.
"""

import sys
import time
from itertools import combinations
from pathlib import Path

from nesting.boat_meetings import meeting_lines, meetings_of
from nesting.boat_outputs import boat_pieces
from nesting.project import read_project

DEMO = Path(__file__).parents[2] / "demo_projects" / "tender_to_sloop" / "project.yaml"


def told(what: str, begun: tuple[float, float]) -> None:
    """Print how long a step took: by the clock, and of this process."""
    wall, spent = time.perf_counter() - begun[0], time.process_time() - begun[1]
    print(f"{what}: {wall:.1f} s, processor time here {spent:.1f} s")


def now() -> tuple[float, float]:
    """Return the clock and this process's time."""
    return time.perf_counter(), time.process_time()


def cut_by_solids(pieces) -> dict[tuple[str, str], float]:
    """Return the volumes over 0.1 cm3 that solids share, mm3, by the labels of their pieces."""
    boxes = [(piece.label, piece.solid, piece.solid.BoundingBox()) for piece in pieces]
    found = {}
    for (one, first, a), (other, second, b) in combinations(boxes, 2):
        apart = any(
            min(getattr(a, f"{k}max"), getattr(b, f"{k}max"))
            <= max(getattr(a, f"{k}min"), getattr(b, f"{k}min"))
            for k in "xyz"
        )
        volume = 0.0 if apart else first.intersect(second).Volume()
        if volume > 100.0:
            found[one, other] = volume
    return found


def main() -> None:
    """Look at one boat."""
    given = [argument for argument in sys.argv[1:] if not argument.startswith("--")]
    begun = now()
    project = read_project(Path(given[0]) if given else DEMO)
    pieces = boat_pieces(project, {})
    told(f"{len(pieces)} pieces read and made", begun)
    begun = now()
    met = meetings_of(pieces)
    told("looked at", begun)
    assert project.boat is not None
    print(*meeting_lines(met, project.boat, project.unit, are_all=True), sep="\n")
    if "--solids" in sys.argv:
        begun = now()
        solids = cut_by_solids(pieces)
        told("cut as solids", begun)
        mine = {(pair.first, pair.second): pair.volume_mm3 for pair in met.pairs}
        for pair in sorted(solids.keys() | mine.keys()):
            print(
                *pair, f"{mine.get(pair, 0.0):.0f} mm3, as solids {solids.get(pair, 0.0):.0f} mm3"
            )


if __name__ == "__main__":
    main()
