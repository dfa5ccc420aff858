"""Seconds to make a boat's parts: ``python tests/bench/bench_parts.py [PROJECT.yaml]``.

Reads the project (the full demo if none is given), makes every outline, then every solid, and
prints how long each took in this process, and that no solid modeller was loaded before.
"""

import sys
import time
from pathlib import Path

from nesting.project import read_project

DEMO = Path(__file__).parents[2] / "demo_projects" / "tender_to_sloop" / "project.yaml"


def main() -> None:
    """Time outlines, then solids."""
    start = time.perf_counter()
    project = read_project(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO)
    outlines = [part.outline() for part in project.parts.values()]
    spent = time.perf_counter() - start
    loaded = "loaded" if "cadquery" in sys.modules else "not loaded"
    print(f"{len(outlines)} parts read and outlined: {spent:.2f} s, cadquery {loaded}")
    start = time.perf_counter()
    import cadquery

    spent = time.perf_counter() - start
    print(f"cadquery {cadquery.__version__} loaded: {spent:.2f} s")
    start = time.perf_counter()
    volumes = [part.solid().val().Volume() for part in project.parts.values()]
    spent = time.perf_counter() - start
    print(f"{len(volumes)} solids of {sum(volumes) / 1e9:.3f} m3: {spent:.2f} s")


if __name__ == "__main__":
    main()
