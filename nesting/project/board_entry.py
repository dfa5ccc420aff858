"""Boards as a stock file records them: a rectangle, an outline, widths, a string, a drawing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field, model_validator
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.fields import FileModel, Length, Place, Size
from nesting.project.file_types import (
    BoardName,
    Grain,
    LayerOrNumber,
    LeafOf,
    Percent,
    Text,
)
from nesting.project.hollow_edges import string_outline
from nesting.project.keep_out_entry import AnyKeepOut
from nesting.project.tape_notes import TapeNotes
from nesting.stock.board_outline import board_outline
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import PLURALS, KeepOutKind
from nesting.units import Unit


class BoardEntry(FileModel):
    """What every board says."""

    board: BoardName = Field(description="name, as chalked on the wood; unique in a project")
    species: Text = Field(description="the wood")
    thickness_mm: Size = Field(description="as it lies, before cleaning up")
    grain: Grain | None = None
    member: Text = Field("", description="what it was on the old boat")
    came_from: Text = Field("", description="where exactly on the old boat")
    moisture_percent: Percent | None = Field(None, alias="moisture", description="in percent")
    heartwood: bool | None = Field(None, description="whether it is all heartwood")
    note: Text = Field("", description="what else is to be remembered of it")
    keep_outs: tuple[AnyKeepOut, ...] = ()
    metal: TapeNotes = ()
    holes: TapeNotes = ()
    recesses: TapeNotes = ()
    grooves: TapeNotes = ()
    rot: TapeNotes = ()
    splits: TapeNotes = ()
    knots: TapeNotes = ()
    stains: TapeNotes = ()
    worn_edges: TapeNotes = Field((), alias="worn edges")
    count: int = Field(1, ge=1, le=500, description="how many such boards, named NAME-01 and on")
    resaw: int = Field(
        1, ge=1, le=12, description="leaves of equal thickness to saw it into before nesting"
    )
    leaf: LeafOf | None = Field(
        None, description="of a board resawn already: which leaf, from the recorded face"
    )

    @model_validator(mode="after")
    def _is_sawn_once(self) -> BoardEntry:
        if self.leaf is not None and self.resaw > 1:
            raise ShapeError(
                "resaw: it is a leaf already; to saw it again, leave out leaf: its face up is the "
                "recorded one then"
            )
        return self

    def tape_notes(self) -> Iterator[tuple[KeepOutKind, str, str]]:
        """Yield each tape note: its kind, the key that it stands under, its words."""
        for kind, key in PLURALS.items():
            for text in getattr(self, key.replace(" ", "_")):
                yield kind, key, text


class RectangleEntry(BoardEntry):
    """A board with straight, parallel edges and square ends."""

    length_mm: Size = Field(description="along the grain")
    width_mm: Size = Field(description="across")

    def outline_shape(self) -> Polygon:
        """Return the board's outline."""
        # Nothing is to be mended in one, as there may be in points that somebody wrote down.
        x, y = float(self.length_mm), float(self.width_mm)
        return Polygon(((0.0, 0.0), (x, 0.0), (x, y), (0.0, y)))


class OutlinedEntry(BoardEntry):
    """A board recorded by the corners of its outline."""

    outline: tuple[Place, ...] = Field(min_length=3, description="corners in order, [[x, y], ...]")

    def outline_shape(self) -> Polygon:
        """Return the board's outline."""
        return board_outline(self.outline)


class Widths(FileModel):
    """Widths taped at stations along a board."""

    at: tuple[Length, ...] = Field(min_length=2, description="stations from the left end, rising")
    width: tuple[Size, ...] = Field(min_length=2, description="width at each station")
    lower: tuple[Length, ...] | None = Field(
        None, description="height of the lower edge at each station; 0 if not given"
    )

    def outline(self) -> Polygon:
        """Return the outline of a board with these widths."""
        return widths_outline(self.at, self.width, self.lower)


class MeasuredEntry(BoardEntry):
    """A board recorded by its width at stations."""

    widths: Widths

    def outline_shape(self) -> Polygon:
        """Return the board's outline."""
        return self.widths.outline()


class StringSpec(FileModel):
    """Both edges taped from a string stretched along a board."""

    at: tuple[Length, ...] = Field(min_length=2, description="stations from the left end, rising")
    lower: tuple[Length, ...] = Field(
        min_length=2,
        description="lower edge at each station, up from the string; below it negative",
    )
    upper: tuple[Length, ...] = Field(
        min_length=2, description="upper edge at each station, up from the string"
    )

    @model_validator(mode="after")
    def _has_both(self) -> StringSpec:
        if not len(self.at) == len(self.lower) == len(self.upper):
            raise ShapeError(
                f"{len(self.at)} stations, {len(self.lower)} of the lower edge and "
                f"{len(self.upper)} of the upper; give the same number of each"
            )
        return self

    def outline(self) -> Polygon:
        """Return the outline between both edges, y counted from the string.

        An edge runs straight from station to station, and where it is hollow as a batten does.
        """
        widths = [high - low for low, high in zip(self.lower, self.upper, strict=True)]
        measured = widths_outline(self.at, widths, self.lower)
        found = Polygon(string_outline(self.at, self.lower, self.upper))
        # Too hollow for a batten: the points say more than a curve through them.
        return found if found.is_valid else measured


class StringEntry(BoardEntry):
    """A curved board recorded by offsets of both edges from a stretched string."""

    string: StringSpec

    def outline_shape(self) -> Polygon:
        """Return the board's outline."""
        return self.string.outline()


class DrawingSpec(FileModel):
    """A drawing that holds a board's outline, and its keep-outs on layers of their own."""

    file: Text = Field(description="DXF or SVG file, from the folder of this file")
    outline: LayerOrNumber | None = Field(
        None,
        description="layer of the outline, or its number, largest first; not needed if there "
        "is only one",
    )
    keep_outs: dict[str, KeepOutKind] = Field(
        default_factory=dict, description="what the closed outlines of a layer are: {layer: kind}"
    )
    unit: Unit | None = Field(None, description="if the drawing's own unit is wrong")


class DrawnEntry(BoardEntry):
    """A board recorded in a drawing."""

    drawing: DrawingSpec


FORMS: dict[str, type[BoardEntry]] = {
    "outline": OutlinedEntry,
    "widths": MeasuredEntry,
    "string": StringEntry,
    "drawing": DrawnEntry,
}
"""Key that tells a board's form; any other board is a rectangle."""

RECTANGLE = ("length", "width")


def entry_model(data: Any) -> type[BoardEntry]:
    """Return the model that a board's keys ask for."""
    keys = data if isinstance(data, dict) else ()
    return next((model for key, model in FORMS.items() if key in keys), RectangleEntry)


def forms_given(data: Any) -> list[str]:
    """Return the forms that a board's keys name; more than one is a contradiction."""
    if not isinstance(data, dict):
        return []
    given = [key for key in FORMS if key in data]
    return [*given, *(["length and width"] if any(key in data for key in RECTANGLE) else [])]
