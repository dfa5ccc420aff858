"""A board and a piece as plain data, as a book keeps them; and back.

The wood of a board may have openings where pieces were sawn out of its middle: a board that is
nested has none, so there they are grooves, right through, that no part may cover.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import shapely
import shapely.affinity
from shapely.errors import ShapelyError
from shapely.geometry import LineString, Point, Polygon

from nesting.book.outlines import measured, point_of, rings_of, wood_of
from nesting.errors import BookError
from nesting.grain import GrainPath
from nesting.stock.board import Board
from nesting.stock.keep_out import OPENING, KeepOut, KeepOutKind
from nesting.summary.fields import number, rows, text

Data = dict[str, Any]

SAWN_OUT = "sawn out"
"""Note of the groove that stands for an opening in the wood."""

AT_BENCH = "bench"
"""Source of a keep-out that was found after the board was recorded."""


_WRITER = json.JSONEncoder(
    sort_keys=True, ensure_ascii=False, allow_nan=False, check_circular=False, separators=(",", ":")
)


def as_json(data: object) -> str:
    """Return data as the one text that stands for it."""
    return _WRITER.encode(data)


def board_data(board: Board, wood: Polygon | None = None) -> Data:
    """Return a board as plain data; ``wood`` is its outline with openings, if it has any."""
    shape = board.shape if wood is None else wood
    data: Data = {
        "outline": rings_of(shape),
        "thickness_mm": board.thickness_mm,
        "species": board.species,
        "grain": [list(point) for point in board.grain.points],
        "keep_outs": [keep_out_data(k) for k in board.keep_outs if not k.is_opening],
        "member": board.member,
        "came_from": board.came_from,
        "moisture_percent": board.moisture_percent,
        "heartwood": board.heartwood,
    }
    leaf = {} if board.leaf is None else {"leaf": list(board.leaf)}
    return {**data, **leaf, **({"note": board.note} if board.note else {})}


def board_of(name: str, data: Mapping[str, Any]) -> Board:
    """Return the board that data stand for, openings in its wood as grooves.

    Raises
    ------
    BookError
        If the data make no board.
    """
    try:
        wood = wood_of(data)
        heartwood = data["heartwood"]
        if not (heartwood is None or isinstance(heartwood, bool)):
            raise TypeError(f"heartwood is {heartwood!r:.40}, must be true, false or null")
        moisture = None if data["moisture_percent"] is None else number(data, "moisture_percent")
        return Board(
            name=name,
            shape=Polygon(wood.exterior) if has_openings(wood) else wood,
            thickness_mm=number(data, "thickness_mm"),
            species=text(data, "species"),
            grain=GrainPath(tuple(point_of(point) for point in data["grain"])),
            keep_outs=(*map(keep_out_of, rows(data, "keep_outs")), *_openings(wood)),
            member=text(data, "member"),
            came_from=text(data, "came_from"),
            moisture_percent=moisture,
            heartwood=heartwood,
            leaf=_leaf(data),
            note=text({"note": "", **data}, "note"),
        )
    except (KeyError, TypeError, ValueError, ShapelyError) as error:
        raise BookError(f"board {name}: what the book holds of it is no board: {error}") from error


def _leaf(data: Mapping[str, Any]) -> tuple[int, int] | None:
    """Return which leaf of a board it is; books did not always say so."""
    if "leaf" not in data:
        return None
    number, count = data["leaf"]
    if type(number) is not int or type(count) is not int:
        raise TypeError(f"leaf is {data['leaf']!r:.40}, must be two whole numbers")
    return number, count


def has_openings(wood: Polygon) -> bool:
    """Return whether something was sawn out of the middle of wood."""
    return bool(shapely.get_num_interior_rings(wood))


def _openings(wood: Polygon) -> list[KeepOut]:
    if not has_openings(wood):
        return []
    return [
        KeepOut(KeepOutKind.GROOVE, Polygon(ring), note=SAWN_OUT, source=OPENING)
        for ring in wood.interiors
    ]


def keep_out_data(keep_out: KeepOut) -> Data:
    """Return a keep-out as plain data; what is usual is left out."""
    core = keep_out.core
    data: Data = {"kind": str(keep_out.kind)}
    if isinstance(core, Polygon):
        data["outline"] = rings_of(core)
    else:
        data["line" if isinstance(core, LineString) else "at"] = shapely.get_coordinates(
            core
        ).tolist()
    if keep_out.reach_mm:
        data["reach_mm"] = keep_out.reach_mm
    for name, usual in _USUAL.items():
        if (value := getattr(keep_out, name)) != usual:
            data[name] = value
    return data


_USUAL: Mapping[str, Any] = {"depth_mm": None, "note": "", "source": "tape", "confidence": 1.0}


def keep_out_of(data: Mapping[str, Any]) -> KeepOut:
    """Return the keep-out that data stand for."""
    core: Point | LineString | Polygon
    if "outline" in data:
        core = wood_of(data)
    elif "line" in data:
        core = LineString([point_of(point) for point in data["line"]])
    else:
        (at,) = data["at"]
        core = Point(point_of(at))
    given = {**_USUAL, **data}
    depth = None if given["depth_mm"] is None else number(given, "depth_mm")
    return KeepOut(
        KeepOutKind(text(data, "kind")),
        core,
        number({"reach_mm": 0.0, **data}, "reach_mm"),
        depth,
        text(given, "note"),
        text(given, "source"),
        number(given, "confidence"),
    )


def figures_of(table: str, body: Mapping[str, Any]) -> tuple[object, ...]:
    """Return the figures that stand beside a body in a table of the book."""
    if table == "board":
        wood = body["wood"]
        area, thick = measured(wood)[1], number(wood, "thickness_mm")
        return text(wood, "species"), thick, area, area * thick
    if table == "piece":
        area, siding = measured(body)[1], number(body, "siding_mm")
        return area, area * siding
    return ()


def figures_of_text(table: str, body: str) -> tuple[object, ...]:
    """Return the figures of a body as it stands in a book."""
    return figures_of(table, json.loads(body))


def moved_board(board: Board, dx_mm: float, dy_mm: float) -> Board:
    """Return a board in another frame."""
    grain = board.grain
    if not grain.is_straight:
        grain = GrainPath(tuple((x + dx_mm, y + dy_mm) for x, y in grain.points))
    return replace(
        board,
        shape=shapely.affinity.translate(board.shape, dx_mm, dy_mm),
        grain=grain,
        keep_outs=tuple(keep_out.moved(dx_mm, dy_mm) for keep_out in board.keep_outs),
    )


def check_texts(*given: str) -> None:
    """Refuse what nobody sees in a text that goes into a book."""
    from nesting.unseen import quoted, unseen_in

    for one in given:
        if unseen := unseen_in(one):
            raise BookError(f"{quoted(one)} holds {unseen}, which nobody sees; take it out")
