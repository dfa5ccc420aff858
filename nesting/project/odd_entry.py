"""How a file writes the odd places of a row, and stretches along a board."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from nesting.errors import ShapeError
from nesting.fields import Distance, FileModel, Size
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.stock.odd_places import Edge, Missing, OddPlaces
from nesting.stock.stretches import edge_stretch, line_stretch
from nesting.unseen import quoted

_PLACE = re.compile(r"(?:(\d{1,4})(?:st|nd|rd|th)?|(last))(?:\s+(lower|upper))?")

PLACES = "count places from the left end, as 4, or last; next one edge, 4 lower or 4 upper"


def _listed(given: Any) -> list[Any]:
    return list(given) if isinstance(given, list | tuple) else [given]


def _missing(given: Any) -> tuple[Missing, ...]:
    return tuple(one if isinstance(one, Missing) else _one_missing(one) for one in _listed(given))


def _one_missing(given: Any) -> Missing:
    match = _PLACE.fullmatch(str(given).strip().casefold())
    if isinstance(given, bool) or not match or match[1] == "0":
        raise ShapeError(f"{quoted(given)} is no place of a row; {PLACES}")
    return Missing(int(match[1]) if match[1] else -1, Edge(match[3]) if match[3] else None)


def _doubled(given: Any) -> tuple[int, ...]:
    if isinstance(given, str) and given.strip().casefold() == "butts":
        return (1, -1)
    found = []
    for one in _listed(given):
        place = one if isinstance(one, Missing) else _one_missing(one)
        if place.edge:
            raise ShapeError(f"{quoted(one)}: a place is doubled whole; {PLACES}")
        found.append(place.place)
    return tuple(found)


_PLACES_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"type": ["integer", "string"]},
        {"type": "array", "items": {"type": ["integer", "string"]}},
    ],
    "examples": [[4], [4, "7 upper", "last"]],
}

MissingPlaces = Annotated[
    tuple[Missing, ...],
    BeforeValidator(_missing),
    WithJsonSchema({"description": "places with nothing, counted from 1", **_PLACES_SCHEMA}),
]
"""Places of a row where nothing is."""

DoubledPlaces = Annotated[
    tuple[int, ...],
    BeforeValidator(_doubled),
    WithJsonSchema(
        {"description": "places with two; butts for the first and the last", **_PLACES_SCHEMA}
    ),
]
"""Places of a row that have two."""


class PlacesSpec(FileModel):
    """What any row may say of places that are not as the others."""

    missing: MissingPlaces = ()
    doubled: DoubledPlaces = ()
    apart_mm: Size | None = Field(
        None, description="from one of a doubled place to the other, toward the row's middle"
    )

    @model_validator(mode="after")
    def _says_how_far(self) -> PlacesSpec:
        if bool(self.doubled) != (self.apart_mm is not None):
            raise ShapeError(
                "doubled: and apart: go together: say how far the second stands from the first"
            )
        return self

    @property
    def odd(self) -> OddPlaces:
        """The places that are not as the others."""
        return OddPlaces(self.missing, self.doubled, self.apart_mm or 0.0)


Ups = Annotated[tuple[Distance, Distance], Field(description="at either end")]


class StretchSpec(FileModel):
    """A stretch along a board: along an edge, between two heights, a line, or right across."""

    start_mm: Distance | None = Field(None, alias="from", description="where it begins")
    end_mm: Distance | None = Field(
        None, alias="to", description="where it ends; at the board's end if not given"
    )
    last_mm: Size | None = Field(None, description="so much at the board's end, in place of from")
    edge: Edge | None = Field(None, description="the edge that it lies along, lower or upper")
    deep_mm: Size | None = Field(None, description="how far in it goes from that edge")
    between: Ups | None = Field(None, description="its two sides, up from the lower edge")
    ups: Ups | None = Field(
        None, description="a line: heights of its middle over the lower edge, at either end"
    )
    width_mm: Size | None = Field(None, description="width over all of such a line")

    @model_validator(mode="after")
    def _is_whole(self) -> StretchSpec:
        if (self.start_mm is None) == (self.last_mm is None):
            raise ShapeError("give a stretch from: where it begins, or last: so much of the board")
        if self.last_mm is not None and self.end_mm is not None:
            raise ShapeError("last: goes to the board's end; leave to: out")
        if (self.edge is None) != (self.deep_mm is None):
            raise ShapeError("edge: and deep: go together: the edge, and how far in from it")
        if (self.ups is None) != (self.width_mm is None):
            raise ShapeError("ups: and width: go together: how high the line lies, and how wide")
        if sum(given is not None for given in (self.edge, self.between, self.ups)) > 1:
            raise ShapeError("give one of edge:, between: and ups:, or none for right across")
        return self

    def keep_out(self, kind: KeepOutKind, shape: Any) -> KeepOut:
        """Return the keep-out on a board."""
        ends = self._ends(shape.bounds[2])
        if self.ups is not None and self.width_mm is not None:
            return line_stretch(kind, shape, ends, ups_mm=self.ups, width_mm=self.width_mm)
        return edge_stretch(
            kind, shape, ends, edge=self.edge, deep_mm=self.deep_mm or 0.0, between_mm=self.between
        )

    def _ends(self, board_end_mm: float) -> tuple[float, float]:
        end = board_end_mm if self.end_mm is None else self.end_mm
        if self.last_mm is not None:
            return board_end_mm - self.last_mm, end
        return self.start_mm or 0.0, end
