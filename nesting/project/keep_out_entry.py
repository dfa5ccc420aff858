"""Keep-outs as a stock file records them: one by one, or as a pattern of fastenings.

The form is told by its keys: ``at`` or ``places`` (round), ``from`` and ``to`` (even width along
a line), ``outline``, ``stretch``, ``row``, ``edge_row``, ``crossings``.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import replace
from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag, model_validator
from shapely.geometry import LineString, Polygon

from nesting.errors import ShapeError
from nesting.fields import Distance, FileModel, Length, Place, Size
from nesting.project.file_types import Text
from nesting.project.odd_entry import PlacesSpec, StretchSpec
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, slot
from nesting.stock.patterns import HAIR, Edge, crossings, edge_row, row, stations

Stagger = Annotated[Distance, Field(description="distance between the two ranks of a zigzag")]
Spacing = Annotated[Size, Field(description="from one to the next")]
Diameter = Annotated[Size, Field(description="diameter of each")]


class KeepOutEntry(FileModel, ABC):
    """What every keep-out may say."""

    kind: KeepOutKind = Field(description="why the wood is not free here")
    depth_mm: Size | None = Field(
        None, description="how deep it goes from the recorded face; right through if not given"
    )
    note: Text = ""
    source: Text = Field("tape", description="tape, drawing, photograph or expected")
    confidence: float = Field(1.0, ge=0, le=1, description="how sure the recording is, 0 to 1")

    def keep_outs(self, shape: Polygon) -> tuple[KeepOut, ...]:
        """Return the keep-outs of this entry on a board's outline."""
        said = {
            name: value
            for name in ("depth_mm", "note", "source", "confidence")
            if (value := getattr(self, name)) != getattr(KeepOut, name)
        }
        found = tuple(self._shapes(shape))
        return tuple(replace(keep_out, **said) for keep_out in found) if said else found

    @abstractmethod
    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]: ...


class CircleEntry(KeepOutEntry):
    """One round keep-out."""

    at: Place = Field(description="its middle, [x, y]")
    diameter_mm: Diameter

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        return [circle(self.kind, *self.at, self.diameter_mm)]


class CirclesEntry(KeepOutEntry):
    """Round keep-outs of one size, each at its measured place."""

    places: tuple[Place, ...] = Field(min_length=1, description="their middles, [[x, y], ...]")
    diameter_mm: Diameter

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        return [circle(self.kind, *place, self.diameter_mm) for place in self.places]


class SlotEntry(KeepOutEntry):
    """A keep-out of even width along a line: a groove, a split, a worn edge."""

    start: Place = Field(alias="from", description="one end of its middle line, [x, y]")
    end: Place = Field(alias="to", description="the other end, [x, y]")
    by: tuple[Place, ...] = Field((), description="points between, if the line is bent")
    width_mm: Size = Field(description="width over all")

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        if not self.by:
            return [slot(self.kind, self.start, self.end, self.width_mm)]
        line = LineString([self.start, *self.by, self.end])
        return [KeepOut(self.kind, line, self.width_mm / 2)]


class RegionEntry(KeepOutEntry):
    """A keep-out with an outline of its own: rot, stain."""

    outline: tuple[Place, ...] = Field(min_length=3, description="corners in order, [[x, y], ...]")
    openings: tuple[tuple[Place, ...], ...] = Field(
        (), description="sound wood within it, each by its corners"
    )
    width_mm: Distance = Field(
        0.0, description="of the line that the outline is drawn in: half of it lies outside"
    )

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        # A board's outline takes the same slips: either direction, closed or open, points twice.
        outer, *inner = (board_outline(ring).exterior for ring in (self.outline, *self.openings))
        return [KeepOut(self.kind, Polygon(outer, inner), self.width_mm / 2)]


class StretchEntry(KeepOutEntry):
    """A keep-out along a stretch of the board, taped from its butt end and its edges."""

    stretch: StretchSpec

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        return [self.stretch.keep_out(self.kind, shape)]


class RowSpec(PlacesSpec):
    """A line with round keep-outs along it."""

    start: Place = Field(alias="from", description="middle of the first, [x, y]")
    end: Place = Field(alias="to", description="end of the line, [x, y]")
    spacing_mm: Spacing | None = None
    count: int | None = Field(None, ge=1, description="how many, spread from end to end")
    stagger_mm: Stagger = 0.0


class RowEntry(KeepOutEntry):
    """Round keep-outs along a line."""

    row: RowSpec
    diameter_mm: Diameter

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        spec = self.row
        return row(
            self.kind,
            spec.start,
            spec.end,
            diameter_mm=self.diameter_mm,
            spacing_mm=spec.spacing_mm,
            count=spec.count,
            stagger_mm=spec.stagger_mm,
            odd=spec.odd,
        )


class EdgeRowSpec(PlacesSpec):
    """A row along a long edge of the board, however that edge curves."""

    edge: Edge = Field(description="lower or upper, seen from the recorded face")
    inset_mm: Distance = Field(description="from the edge, square to it")
    start_mm: Distance = Field(alias="from", description="first one, taped along the edge")
    stop_mm: Distance | None = Field(
        None, alias="to", description="last place on the tape; as far from the far end as `from`"
    )
    spacing_mm: Spacing
    stagger_mm: Stagger = 0.0


class EdgeRowEntry(KeepOutEntry):
    """Round keep-outs along a long edge of the board."""

    edge_row: EdgeRowSpec
    diameter_mm: Diameter

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        spec = self.edge_row
        return edge_row(
            self.kind,
            shape,
            spec.edge,
            inset_mm=spec.inset_mm,
            diameter_mm=self.diameter_mm,
            start_mm=spec.start_mm,
            spacing_mm=spec.spacing_mm,
            stop_mm=spec.stop_mm,
            stagger_mm=spec.stagger_mm,
            odd=spec.odd,
        )


class CrossingsSpec(PlacesSpec):
    """Where old beams or frames crossed the board, and how each was fastened."""

    at: tuple[Length, ...] = Field((), description="middles of the beams, along the board")
    first_mm: Length | None = Field(None, description="middle of the first beam, instead of at")
    spacing_mm: Spacing | None = None
    count: int | None = Field(None, ge=1, description="how many beams; to the board's end if not")
    stop_mm: Length | None = Field(
        None, alias="to", description="last place that a beam may be at, instead of count"
    )
    offsets: tuple[Distance, ...] = Field((), description="distances from the lower edge")
    insets: tuple[Distance, ...] = Field((), description="distances from both edges")
    upper_offsets: tuple[Distance, ...] = Field((), description="distances from the upper edge")
    middle: bool = Field(False, description="whether one stands halfway between the edges")
    stagger_mm: Stagger = 0.0

    @model_validator(mode="after")
    def _is_whole(self) -> CrossingsSpec:
        if bool(self.at) == (self.first_mm is not None):
            raise ShapeError("give the beams either as at: [...], or as first: and spacing:")
        if (self.first_mm is None) != (self.spacing_mm is None):
            raise ShapeError("first: and spacing: go together")
        if self.stop_mm is not None and (self.count is not None or self.spacing_mm is None):
            raise ShapeError("to: goes with first: and spacing:, in place of count:")
        if not (self.offsets or self.insets or self.upper_offsets or self.middle):
            raise ShapeError("give offsets: from the lower edge, or insets: from both edges")
        return self

    def stations_mm(self, shape: Polygon) -> tuple[float, ...]:
        """Return the beams' middles on a board."""
        if self.first_mm is None or self.spacing_mm is None:
            return self.at
        count = self.count
        if self.stop_mm is not None:
            count = max(0, math.floor((self.stop_mm - self.first_mm) / self.spacing_mm + HAIR) + 1)
            if not count:
                raise ShapeError(
                    f"the first is at {self.first_mm:g} mm, past the last place {self.stop_mm:g} mm"
                )
        return stations(shape, self.first_mm, self.spacing_mm, count)


class CrossingsEntry(KeepOutEntry):
    """Round keep-outs where old beams or frames crossed the board."""

    crossings: CrossingsSpec
    diameter_mm: Diameter

    def _shapes(self, shape: Polygon) -> Iterable[KeepOut]:
        spec = self.crossings
        return crossings(
            self.kind,
            shape,
            spec.stations_mm(shape),
            diameter_mm=self.diameter_mm,
            offsets_mm=spec.offsets,
            insets_mm=spec.insets,
            uppers_mm=spec.upper_offsets,
            in_middle=spec.middle,
            stagger_mm=spec.stagger_mm,
            odd=spec.odd,
        )


FORMS = {
    "row": "<row>",
    "edge_row": "<edge row>",
    "crossings": "<crossings>",
    "outline": "<region>",
    "stretch": "<stretch>",
    "places": "<circles>",
    "from": "<slot>",
    "to": "<slot>",
}
"""Key that tells a keep-out's form; any other is a circle."""


def _form(given: Any) -> str:
    keys = given if isinstance(given, dict) else ()
    return next((form for key, form in FORMS.items() if key in keys), "<circle>")


AnyKeepOut = Annotated[
    Annotated[CircleEntry, Tag("<circle>")]
    | Annotated[CirclesEntry, Tag("<circles>")]
    | Annotated[SlotEntry, Tag("<slot>")]
    | Annotated[RegionEntry, Tag("<region>")]
    | Annotated[StretchEntry, Tag("<stretch>")]
    | Annotated[RowEntry, Tag("<row>")]
    | Annotated[EdgeRowEntry, Tag("<edge row>")]
    | Annotated[CrossingsEntry, Tag("<crossings>")],
    Discriminator(_form),
]
"""A keep-out in whichever of its forms."""


class NotedKeepOut(FileModel):
    """A keep-out that was told in a tape note."""

    keep_out: AnyKeepOut
