"""Pieces: parts as solids in the boat, each knowing the board it came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nesting.piece_names import piece_name
from nesting.work import Step, Tell, untold
from parts.model.colour import NO_BOARD, Colour, board_colours
from parts.own_code import told_of
from parts.part import Family, Part
from parts.position import Position

if TYPE_CHECKING:
    import cadquery as cq


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece in the boat.

    Attributes
    ----------
    label
        The part's name, with its side or number where several are made.
    board
        Name of the board that gave it, or of several; empty if none did, or nothing was nested
        yet.
    colour
        That of its board.
    shape
        The solid in the part's own frame, mirrored already where the piece is.
    location
        Where that frame stands in the boat's.
    """

    label: str
    board: str
    colour: Colour
    shape: cq.Shape
    location: cq.Location

    @property
    def name(self) -> str:
        """What a list or a tree calls it: the piece and its board."""
        return f"{self.label} ({self.board or 'no board'})"

    @property
    def solid(self) -> cq.Shape:
        """The solid in the boat's frame."""
        return self.shape.moved(self.location)


def pieces_in_boat(
    parts: Mapping[str, Part],
    boards: Mapping[str, str] | None = None,
    *,
    on_progress: Tell = untold,
) -> tuple[Piece, ...]:
    """Return every piece of the parts that know where they stand.

    Parameters
    ----------
    boards
        Name of the board by the label of what was sawn from it. Boards take their colours in
        the order in which they come first among the pieces.
    on_progress
        Is told which part is being made, and how many are done.
    """
    boards = boards or {}
    found = []
    for number, (part_name, part) in enumerate(parts.items()):
        places = part.positions()
        if not places:
            continue
        on_progress(Step(f"making the solid of {part_name}", number, len(parts)))
        with told_of(part, part_name):
            shape = shape_in_place(part)
        for place, sawn in zip(places, sawn_for(part_name, part), strict=True):
            found.append((sawn.label, sawn.source(boards), *_set(shape, place)))
    colours = board_colours(board for _, board, _, _ in found if board)
    return tuple(
        Piece(label, board, colours.get(board, NO_BOARD), shape, location)
        for label, board, shape, location in found
    )


@dataclass(frozen=True)
class Sawn:
    """What one piece in the boat is made of: ``cut`` are the labels of what is sawn for it.

    One label as a rule, that of the piece; several where it is glued up of lamellae.
    """

    label: str
    cut: tuple[str, ...]

    def source(self, boards: Mapping[str, str]) -> str:
        """Return the board or boards that gave it, by label; empty if none did."""
        return ", ".join(dict.fromkeys(boards[label] for label in self.cut if label in boards))


def sawn_for(name: str, part: Part) -> tuple[Sawn, ...]:
    """Return what is sawn for each place of a part in the boat, in the order of its places."""
    places = part.positions()
    each = part.pieces() if isinstance(part, Family) else 1
    hands = part.hands() if isinstance(part, Family) else ()
    mirrored = [place.is_mirrored for place in places]
    count, sawn = len(places), [is_other for is_other in mirrored for _ in range(each)]
    labels = [piece_name(name, k + 1, count * each, hands, sawn) for k in range(count * each)]
    return tuple(
        Sawn(
            piece_name(name, k + 1, count, hands, mirrored),
            tuple(labels[k * each : (k + 1) * each]),
        )
        for k in range(count)
    )


def shape_in_place(part: Part) -> cq.Shape:
    """Return a part's solid as it is in the boat, in its own frame."""
    import cadquery as cq

    # A family bends its planks on; any other part is as it was sawn.
    whole = part.solid_in_place() if isinstance(part, Family) else part.solid()
    (shape,) = whole.vals()
    assert isinstance(shape, cq.Shape), "a part is one solid"
    return shape


def _set(shape: cq.Shape, place: Position) -> tuple[cq.Shape, cq.Location]:
    """Return a solid and its location; a location cannot mirror, so the solid is, where need be."""
    import cadquery as cq

    if place.is_mirrored:
        # In its own z: with the axes x, y and x cross y, which is minus z, it stands as asked.
        shape = shape.mirror("XY")
    x, y, _ = (cq.Vector(*axis) for axis in place.axes.tolist())
    return shape, cq.Location(cq.Plane(cq.Vector(*place.origin), x, x.cross(y)))
