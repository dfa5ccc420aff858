"""What a cut sheet's tags say of its board and keep-outs beside their lines, and that read back.

With it a sheet alone makes the board again: wood, grain, leaf, where it came from.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nesting.grain import GrainPath
from nesting.sheets.drawing import Tag
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut

FROM_SHEET = "cut sheet"
"""Source of a keep-out that is read off a sheet which does not say how it was recorded."""

HEART = {"yes": True, "no": False}


def board_tag(board: Board) -> Tag:
    """Return what goes with the line of a board's edge."""
    return Tag("board", tuple((name, text) for name, text in _of_board(board) if text))


def _of_board(board: Board) -> Iterator[tuple[str, str]]:
    moisture = board.moisture_percent
    heart = {made: word for word, made in HEART.items()}
    yield "name", board.name
    yield "thickness_mm", repr(float(board.thickness_mm))
    yield "species", board.species
    yield "grain", " ".join(f"{float(x)!r},{float(y)!r}" for x, y in board.grain.points)
    yield "member", board.member
    yield "came_from", board.came_from
    yield "moisture_percent", "" if moisture is None else repr(float(moisture))
    yield "heartwood", "" if board.heartwood is None else heart[board.heartwood]
    yield "leaf", "" if board.leaf is None else f"{board.leaf[0]} {board.leaf[1]}"
    yield "note", board.note


def board_told(tag: Tag) -> dict[str, Any]:
    """Return what a tag says of a board beside its name and thickness.

    Raises
    ------
    ValueError
        If something cannot be read.
    """
    told: dict[str, Any] = {
        name: text for name in ("species", "member", "came_from", "note") if (text := tag.get(name))
    }
    if grain := tag.get("grain"):
        told["grain"] = GrainPath(tuple(map(_point, grain.split(" "))))
    if moisture := tag.get("moisture_percent"):
        told["moisture_percent"] = float(moisture)
    if heart := tag.get("heartwood"):
        told["heartwood"] = HEART[heart]
    if leaf := tag.get("leaf"):
        number, count = map(int, leaf.split(" "))
        told["leaf"] = (number, count)
    return told


def _point(text: str) -> tuple[float, float]:
    x, y = map(float, text.split(","))
    return x, y


def keep_out_tag(keep_out: KeepOut, index: int) -> Tag:
    """Return what goes with the line of a keep-out's edge."""
    depth = keep_out.depth_mm
    fields = [
        ("kind", keep_out.kind.value),
        ("index", str(index)),
        ("depth_mm", "" if depth is None else repr(float(depth))),
    ]
    if keep_out.source:
        fields.append(("source", keep_out.source))
    if keep_out.confidence != KeepOut.confidence:
        fields.append(("confidence", repr(float(keep_out.confidence))))
    if keep_out.note:
        fields.append(("note", keep_out.note))
    return Tag("keep-out", tuple(fields))


def keep_out_told(tag: Tag) -> dict[str, Any]:
    """Return what a tag says of a keep-out beside its kind."""
    depth, sure = tag.get("depth_mm"), tag.get("confidence")
    return {
        "depth_mm": float(depth) if depth else None,
        "source": tag.get("source") or FROM_SHEET,
        "confidence": float(sure) if sure else KeepOut.confidence,
        "note": tag.get("note"),
    }
