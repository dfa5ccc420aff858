"""Boards as a stock file in mm, which says all that there is to say of them."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from shapely.geometry import LinearRing, LineString, Point

from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut
from nesting.units import LEAST_SIZE_MM

Row = dict[str, Any]

HEAD = ("version: 1", "unit: mm")

NOTHING = 1e-30
"""What is less is written as 0: a file takes a length of 60 characters at most."""


def boards_text(boards: Sequence[Board]) -> str:
    """Return a stock file, one board a line."""
    lines = [f"  - {_flow(board_entry(board))}" for board in boards]
    return "\n".join([*HEAD, "boards:", *lines] if lines else [*HEAD, "boards: []"]) + "\n"


_JSON = json.JSONEncoder(ensure_ascii=False, check_circular=False, allow_nan=False)

_TINY = re.compile(r"\de")
"""Stands in every text with a figure that JSON writes by a power of ten."""


def _flow(value: Any) -> str:
    """Return a value in JSON, which is YAML too, but for figures: a file takes no ``1e-05``."""
    found = _JSON.encode(value)
    return found if _TINY.search(found) is None else _slowly(value)


def _slowly(value: Any) -> str:
    """Return the same, figure by figure."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_slowly(key)}: {_slowly(value[key])}" for key in value) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_slowly, value)) + "]"
    if isinstance(value, float):
        return np.format_float_positional(value if abs(value) >= NOTHING else 0.0, trim="0")
    return _JSON.encode(value)


def board_entry(board: Board) -> Row:
    """Return a board as a stock file has it."""
    entry: Row = {
        "board": board.name,
        "species": board.species,
        "thickness": board.thickness_mm,
        "outline": _corners(board.shape.exterior),
        "grain": [list(point) for point in board.grain.points],
        "member": board.member,
        "came_from": board.came_from,
        "moisture": board.moisture_percent,
        "heartwood": board.heartwood,
        "leaf": None if board.leaf is None else "{} of {}".format(*board.leaf),
        "note": board.note,
        "keep_outs": [_keep_out_entry(keep_out) for keep_out in board.keep_outs],
    }
    return {key: value for key, value in entry.items() if value not in ("", None, [])}


def _keep_out_entry(keep_out: KeepOut) -> Row:
    return {"kind": str(keep_out.kind), **_place(keep_out), **dict(_told(keep_out))}


def _place(keep_out: KeepOut) -> Row:
    core, across = keep_out.core, 2 * keep_out.reach_mm
    if isinstance(core, Point):
        return {"at": [core.x, core.y], "diameter": max(across, LEAST_SIZE_MM)}
    if isinstance(core, LineString):
        start, *by, end = ([x, y] for x, y in core.coords)
        bent = {"by": by} if by else {}
        return {"from": start, **bent, "to": end, "width": max(across, LEAST_SIZE_MM)}
    openings = [_corners(ring) for ring in core.interiors]
    more: Mapping[str, Any] = {"openings": openings, "width": across}
    return {"outline": _corners(core.exterior), **{key: more[key] for key in more if more[key]}}


def _told(keep_out: KeepOut) -> Iterator[tuple[str, Any]]:
    """Yield what else is said of a keep-out; what is usual is left out.

    Too small a depth, as a saw may leave of one, counts as the least that a file may say.
    """
    if keep_out.depth_mm is not None:
        yield "depth", max(keep_out.depth_mm, LEAST_SIZE_MM)
    # What stands for an opening has no source: no file can say so, and there it is a groove.
    for name in ("note", "source", "confidence"):
        value = getattr(keep_out, name)
        if value != getattr(KeepOut, name) and value != "":
            yield name, value


def _corners(ring: LinearRing) -> list[list[float]]:
    return [[x, y] for x, y in ring.coords[:-1]]
