"""Projects that weigh heavily on one thing each: corners, keep-outs, nails, boards and parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf import units


@dataclass(frozen=True)
class Load:
    """A project to be made in a folder, and how long its search is asked to take."""

    seconds: float
    make: Callable[[Path], Path]


HEAD = """version: 1
name: {name}
unit: mm
rules: {{kerf: 2, trim: 1, blade_clearance: 6, plugs: [10, 13, 16]}}
stock:
"""


def many_corners(folder: Path, corners: int = 20_000) -> Path:
    """A round part and a wavy one, each drawn with very many corners, beside a plain one."""
    t = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    disc = np.column_stack([120 * np.cos(t), 120 * np.sin(t)])
    wave = np.column_stack([(250 + 6 * np.sin(40 * t)) * np.cos(t), 70 * np.sin(t)])
    document = ezdxf.new("R2010", units=units.MM)
    for name, points in (("DISC", disc), ("WAVE", wave)):
        document.layers.add(name)
        document.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": name})
    document.saveas(folder / "drawn.dxf")
    boards = [f"  - {{board: B{i}, species: white oak, thickness: 30, length: 1600, width: 320, "
              f"keep_outs: [{{kind: metal, diameter: 6, at: [{300 + 40 * i}, 60]}}, "
              f"{{kind: hole, diameter: 6, at: [700, 200]}}]}}" for i in range(4)]  # fmt: skip
    parts = [
        f"  - {{part: {name.lower()}, family: drawn outline, quantity: 4, species: white oak, "
        f"holes: plugged, shape: {{file: drawn.dxf, layer: {name}, thickness: 25}}}}"
        for name in ("DISC", "WAVE")
    ]
    parts.append(_plank("strip", 900, 60, 4))
    return _written(folder, "Many corners", boards, parts)


def many_drawn(folder: Path, count: int, corners: int = 2_000) -> Path:
    """Drawn parts with very many corners, each of its own shape."""
    rng = np.random.default_rng([5, count, corners])
    t = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    document = ezdxf.new("R2010", units=units.MM)
    for number in range(count):
        lobes, depth, turn = rng.integers(2, 7), rng.uniform(0.02, 0.15), rng.uniform(0, 6)
        far = 1 + depth * np.sin(lobes * t + turn)
        half = rng.uniform(40, 150), rng.uniform(25, 60)
        points = np.column_stack([half[0] * far * np.cos(t), half[1] * far * np.sin(t)])
        document.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": f"P{number}"})
    document.saveas(folder / "drawn.dxf")
    boards = [f"  - {{board: B{i}, species: white oak, thickness: 30, length: 3000, width: 300, "
              f"keep_outs: [{{kind: hole, diameter: 6, at: [{500 + i * 13}, 150]}}]}}"
              for i in range(2 + count // 12)]  # fmt: skip
    parts = [
        f"  - {{part: p{number}, family: drawn outline, species: white oak, holes: plugged, "
        f"shape: {{file: drawn.dxf, layer: P{number}, thickness: 25}}}}"
        for number in range(count)
    ]
    return _written(folder, f"{count} drawn parts", boards, parts)


def many_keep_outs(folder: Path, count: int) -> Path:
    """One wide board with holes, metal and knots all over, and a few parts."""
    rng = np.random.default_rng([1, count])
    length, width = 8000.0, 1000.0
    kinds = rng.choice(["hole", "metal", "knot", "rot"], count, p=[0.6, 0.2, 0.15, 0.05])
    xs, ys = rng.uniform(10, length - 10, count), rng.uniform(10, width - 10, count)
    rows = [
        f"      - {_keep_out(str(kind), x, y, rng)}"
        for kind, x, y in zip(kinds, xs, ys, strict=True)
    ]
    board = (
        f"  - board: B\n    species: white oak\n    thickness: 30\n    length: {length}\n"
        f"    width: {width}\n    keep_outs:\n" + "\n".join(rows)
    )
    parts = [_plank("strip", 400, 60, 6), _plank("cleat", 150, 40, 10), _plank("chock", 90, 60, 8)]
    parts += [_plank("clear", 200, 50, 4, "clear")]
    return _written(folder, f"{count} keep-outs", [board], parts)


def many_nails(folder: Path, count: int = 400) -> Path:
    """A board of 6 m with two rows of nails, and parts that must lie between them."""
    rng = np.random.default_rng(2)
    xs = np.linspace(20, 5980, count // 2)
    rows = [
        f"      - {{kind: metal, diameter: 3, at: [{x + rng.normal(0, 3):.2f}, "
        f"{y + rng.normal(0, 2):.2f}]}}"
        for x in xs
        for y in (40.0, 160.0)
    ]
    board = (
        "  - board: B\n    species: white oak\n    thickness: 30\n    length: 6000\n"
        "    width: 200\n    keep_outs:\n" + "\n".join(rows)
    )
    parts = [_plank("strip", 1500, 60, 4), _plank("slat", 700, 45, 8), _plank("short", 300, 80, 8)]
    return _written(folder, f"{count} nails", [board], parts)


def many_boards(folder: Path, boards: int, parts: int, kinds: int = 250) -> Path:
    """Old planks with a hole at every frame, and a long list of parts of some kinds."""
    rng = np.random.default_rng([3, boards, parts])
    rows = []
    for number in range(boards):
        length, width = rng.uniform(900, 3000), rng.choice([110, 140, 180, 230])
        nails = f"{{kind: metal, diameter: 5, at: [{rng.uniform(60, length - 60):.1f}, 15]}}"
        y = f"{width * 0.3:.1f}"
        holes = (
            f"{{kind: hole, diameter: 6, row: {{from: [{rng.uniform(40, 200):.1f}, {y}], "
            f"to: [{length - 50:.1f}, {y}], spacing: 400}}}}"
        )
        rows.append(
            f"  - {{board: B{number}, species: {rng.choice(['white oak', 'teak'])}, "
            f"thickness: {rng.choice([25, 32, 45])}, length: {length:.1f}, width: {width}, "
            f"keep_outs: [{holes}, {nails}]}}"
        )
    left = parts
    lines = []
    for number in range(kinds):
        count = left // (kinds - number)
        left -= count
        tolerance = str(rng.choice(["plugged", "clear"], p=[0.7, 0.3]))
        size = round(rng.uniform(200, 1600), 1), round(rng.uniform(40, 100), 1)
        end = round(size[1] * rng.uniform(0.6, 1.0), 1)
        lines.append(_plank(f"P{number}", *size, count, tolerance, end))
    return _written(folder, f"{boards} boards, {parts} parts", rows, lines)


def many_wishes(folder: Path, boards: int, parts: int, wishes: int = 300) -> Path:
    """As :func:`many_boards`, and wishes of every sort, with and without a price."""
    path = many_boards(folder, boards, parts)
    rng = np.random.default_rng([4, boards, parts, wishes])
    lines, used = list[str](), rng.choice(boards, wishes, replace=False)
    for number in range(wishes):
        part = f"P{rng.integers(250)}"
        some = ", ".join(f"B{chosen}" for chosen in rng.choice(boards, 40, replace=False))
        price = rng.choice(["", ", price: 0.05 m2"])
        lines.append(
            (
                f"  - {{part: {part}, from: [{some}]{price}}}",
                f"  - {{part: {part}, not_from: [{some}]{price}}}",
                f"  - {{board: B{used[number]}, use: {rng.choice(['first', 'kept whole'])}}}",
                f"  - {{match: {part}, how: one board, price: 0.05 m2}}",
            )[number % 4]
        )
    with path.open("a", encoding="utf-8") as file:
        file.write("wishes:\n" + "\n".join(dict.fromkeys(lines)) + "\n")
    return path


def _keep_out(kind: str, x: float, y: float, rng: np.random.Generator) -> str:
    if kind == "rot":
        corners = ((0, 0), (8, 1), (7, 6), (2, 7))
        ring = [[round(float(x) + a, 2), round(float(y) + b, 2)] for a, b in corners]
        return f"{{kind: rot, outline: {ring}}}"
    return f"{{kind: {kind}, diameter: {rng.choice([3, 5, 6])}, at: [{x:.2f}, {y:.2f}]}}"


def _plank(
    name: str,
    length: float,
    width: float,
    count: int,
    holes: str = "plugged",
    end: float | None = None,
) -> str:
    shape = f"{{length: {length}, width: {width}, end_width: {end or width}, thickness: 22}}"
    return (
        f"  - {{part: {name}, family: plank, quantity: {count}, species: [white oak, teak], "
        f"holes: {holes}, shape: {shape}}}"
    )


def _written(folder: Path, name: str, boards: list[str], parts: list[str]) -> Path:
    path = folder / "project.yaml"
    text = HEAD.format(name=name) + "\n".join(boards) + "\nparts:\n" + "\n".join(parts) + "\n"
    path.write_text(text, encoding="utf-8")
    return path


LOADS = {
    "corners": Load(3, many_corners),
    "drawn100": Load(4, lambda folder: many_drawn(folder, 100)),
    "drawn500": Load(10, lambda folder: many_drawn(folder, 500)),
    "keepouts2000": Load(3, lambda folder: many_keep_outs(folder, 2_000)),
    "keepouts20000": Load(3, lambda folder: many_keep_outs(folder, 20_000)),
    "nails": Load(2, many_nails),
    "boards300": Load(20, lambda folder: many_boards(folder, 300, 500)),
    "boards3000": Load(60, lambda folder: many_boards(folder, 3_000, 5_000)),
    "wishes3000": Load(20, lambda folder: many_wishes(folder, 3_000, 5_000)),
}
"""By name: each with the time that its search is given."""
