"""A cut sheet as written, and as somebody left it in CAD: nails, rot, the whole of it moved."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from random import Random

import ezdxf
import shapely
from book_shop import RULES
from ezdxf.math import Matrix44

from nesting.accounts.account import account_board
from nesting.nest import Nest
from nesting.sheets import write_dxf
from nesting.sheets.cut_sheet import cut_sheet

ACROSS = 8.0
"""Diameter of a nail that is drawn, mm."""


@dataclass(frozen=True)
class Changed:
    """A sheet as it was left: where in the board's frame things lie, mm; how it was moved."""

    path: Path
    nails: tuple[tuple[float, float], ...]
    rot: tuple[tuple[float, float], ...]
    moved: tuple[float, float]


def changed_in_cad(nest: Nest, folder: Path, project: str, rng: Random, *, wood) -> Changed:
    """Write a nest's sheet, draw on it in CAD, and save it; ``wood`` is where things may lie."""
    account = account_board(nest, RULES)
    path = write_dxf(cut_sheet(nest, account, RULES, project_name=project), folder / "sheet.dxf")
    drawing = ezdxf.readfile(path)
    space = drawing.modelspace()
    nails = tuple(_within(wood, rng) for _ in range(rng.randint(0, 2)))
    for x, y in nails:
        space.add_circle((x, y), ACROSS / 2, dxfattribs={"layer": "METAL"})
    rot = tuple(_within(wood, rng) for _ in range(rng.randint(0, 1)))
    for x, y in rot:
        corners = [(x - 6, y - 4), (x + 6, y - 4), (x, y + 8)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "ROT"})
    moved = rng.choice([(0.0, 0.0), (0.0, 0.0), (rng.uniform(-900, 900), rng.uniform(-900, 900))])
    for entity in space:
        entity.transform(Matrix44.translate(*moved, 0))
    drawing.saveas(folder / "changed.dxf")
    return Changed(folder / "changed.dxf", nails, rot, moved)


def _within(wood, rng: Random) -> tuple[float, float]:
    """Return a point of the wood, to a tenth of a millimetre as somebody draws it."""
    inside = wood.buffer(-12.0)
    inside = wood if inside.is_empty else inside
    low_x, low_y, high_x, high_y = inside.bounds
    for _ in range(50):
        x, y = round(rng.uniform(low_x, high_x), 1), round(rng.uniform(low_y, high_y), 1)
        if inside.covers(shapely.Point(x, y)):
            return x, y
    middle = inside.representative_point()
    return middle.x, middle.y
