"""Which pieces of a reserved plan its boards still give, whatever happened to them since."""

from __future__ import annotations

import hashlib
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import shapely
import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.effects import Row
from nesting.book.outlines import make_known, wood_of
from nesting.book.rows import IN_STOCK, RETURNED, in_root
from nesting.book.sheet_place import SAME_MM, frame_of
from nesting.book.store import Book
from nesting.book.wood import AT_BENCH, as_json, keep_out_of
from nesting.flat_geometry.overlay import without
from nesting.stock.keep_out import KeepOut, KeepOutKind

LINE_MM = 0.02
"""A cut line read from a sheet may lie so far outside the wood all along."""

_Circle = Sequence[Any]
"""Kind of a keep-out, and its circle in the frame of the board that was once recorded."""


def board_stamp(row: Row) -> dict[str, Any]:
    """Return what a plan keeps of a board, by which is known later what happened to it."""
    return {"wood": _digest(row["body"]["wood"]), **frame_of(row["body"]), "found": _found(row)}


def part_stamp(want: Mapping[str, Any]) -> str:
    """Return what a plan keeps of a line of the parts list: another outline is another part."""
    return _digest([want.get("outline"), want["siding_mm"], want["species"]])


def _digest(data: object) -> str:
    return hashlib.sha256(as_json(data).encode()).hexdigest()[:16]


def _found(row: Row) -> list[_Circle]:
    """Return what was found in a board at the bench."""
    keep_outs = _in_root(row, (k for k in row["body"]["wood"]["keep_outs"] if _is_found(k)))
    return [[str(k.kind), *k.bounding_circle] for k in keep_outs]


def _is_found(data: Mapping[str, Any]) -> bool:
    return data.get("source") == AT_BENCH


def _in_root(row: Row, keep_outs: Iterable[Mapping[str, Any]]) -> Iterator[KeepOut]:
    x, y = row["body"]["at"]
    return (keep_out_of(data).moved(x, y) for data in keep_outs)


def still_given(book: Book, project: str, plan: Row, wants: Mapping[str, Row]) -> set[str]:
    """Return the labels of a plan's pieces that can be sawn by its sheets as things are.

    Those that were sawn are among them or not. Where a plan was reserved before books kept where
    its pieces lie, they all are. ``wants`` is the parts list.
    """
    if "lies" not in plan:
        return set(plan.get("pieces", []))
    boards, of_root = _boards(book, project, plan)
    lying = defaultdict[str, list[Row]](list)
    for one in plan["lies"]:
        part = one["part"]
        if part in wants and plan["parts"].get(part) == part_stamp(wants[part]):
            lying[one["board"]].append(one)
    given = set[str]()
    for name, pieces in lying.items():
        row, stamp = boards.get(name), plan["stamps"].get(name)
        if row is None or stamp is None:
            continue
        if _is_free(row, project) and _digest(row["body"]["wood"]) == stamp["wood"]:
            given |= {one["label"] for one in pieces}
        elif _has_frame(row, stamp):
            rests = [r for r in of_root[row["body"]["root"]] if _is_cut_of(r, name, boards)]
            given |= set(_given_by(rests, pieces, wants, stamp))
    return given


def _boards(book: Book, project: str, plan: Row) -> tuple[dict[str, Row], dict[str, list[Row]]]:
    """Return all boards of the roots of a plan's by name, and what a project may have of each."""
    rows = book.rows(
        "board",
        "json_extract(body, '$.root') IN (SELECT json_extract(body, '$.root') FROM board WHERE "
        "name IN (SELECT value FROM json_each(?)))", as_json(plan["boards"]),
    )  # fmt: skip
    make_known(row["body"]["wood"] for row in rows)
    of_root = defaultdict[str, list[Row]](list)
    for row in rows:
        if _is_free(row, project):
            of_root[row["body"]["root"]].append(row)
    return {row["name"]: row for row in rows}, of_root


def _is_free(row: Row, project: str) -> bool:
    return row["state"] == IN_STOCK and row["held_by"] in (None, project)


def _is_cut_of(row: Row, name: str, boards: Mapping[str, Row]) -> bool:
    """Return whether a board is one of a plan, or was cut of it.

    What came back of a spoiled piece was: but the plan's sheets saw nothing from it any more.
    """
    at: Row | None = row
    while at is not None and at["name"] != name:
        if at["body"]["came"] == RETURNED:
            return False
        at = boards.get(at["parent"])
    return at is not None


def _has_frame(row: Row, stamp: Row) -> bool:
    """Return whether a sheet drawn in some frame still tells where its pieces lie."""
    frames = [frame_of(row["body"]), *row["body"]["frames"]]
    return any(
        all(frame[key] == stamp[key] for key in ("at", "box", "area_mm2")) for frame in frames
    )


def _given_by(
    rests: Sequence[Row], pieces: Sequence[Row], wants: Mapping[str, Row], stamp: Row
) -> Iterator[str]:
    """Yield the pieces of a board that one of its rests gives."""
    woods = [(row, in_root(row), _in_the_way(row, stamp["found"])) for row in rests]
    for one in pieces:
        want = wants[one["part"]]
        polygon = shapely.affinity.translate(_placed(want, one), *stamp["at"])
        for row, wood, in_the_way in woods:
            is_thick = row["body"]["wood"]["thickness_mm"] >= want["siding_mm"] - LINE_MM
            if is_thick and _gives(wood, in_the_way, polygon):
                yield one["label"]
                break


def _gives(wood: Polygon, in_the_way: Sequence[Polygon], piece: Polygon) -> bool:
    if without(piece, wood).area > LINE_MM * piece.length:
        return False
    return not any(shapely.intersects(keep_out, piece) for keep_out in in_the_way)


def _in_the_way(row: Row, found: Sequence[_Circle]) -> list[Polygon]:
    """Return metal of a board, and whatever was found in it since a plan was reserved."""
    chosen = list[Polygon]()
    for data in row["body"]["wood"]["keep_outs"]:
        if data["kind"] != KeepOutKind.METAL and not _is_found(data):
            continue
        (keep_out,) = _in_root(row, [data])
        is_known = any(_is_same(keep_out, circle) for circle in found)
        if keep_out.kind is KeepOutKind.METAL or not is_known:
            chosen.append(keep_out.polygon)
    return chosen


def _is_same(keep_out: KeepOut, circle: _Circle) -> bool:
    kind, *figures = circle
    pairs = zip(keep_out.bounding_circle, figures, strict=True)
    return kind == keep_out.kind and all(abs(a - b) < SAME_MM for a, b in pairs)


def _placed(want: Row, one: Row) -> Polygon:
    """Return the outline of a part where a plan lays it, in the frame that its board had."""
    turn, side = math.radians(one["angle_deg"]), -1.0 if one["turned_over"] else 1.0
    cosine, sine = math.cos(turn), math.sin(turn)
    matrix = [cosine, -side * sine, sine, side * cosine, one["x_mm"], one["y_mm"]]
    return shapely.affinity.affine_transform(wood_of(want), matrix)
