"""Base of the families fitted to the boat's lines.

A fitted family has the name of the plain one, where there is one. Its parameters leave out what
the lines say and name a place instead; the boat comes with the validation context, so that
``FittedFloor.model_validate({...}, context={"boat": boat})`` makes one in Python.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar, Literal, Self

import numpy as np
import shapely
from pydantic import Field, PrivateAttr, ValidationInfo, model_validator

from nesting.errors import PartError, ShapeError
from nesting.grain import GrainPath
from nesting.outline import Mark, Outline
from nesting.piece_names import PORT, STARBOARD
from nesting.units import Unit
from parts.boat.places import BoatPlace, place_in, stretch_in, written_places
from parts.curves import Points, as_pairs
from parts.fitted.two_faces import TwoFaces
from parts.part import Family
from parts.position import Position

if TYPE_CHECKING:
    import cadquery as cq

    from parts.boat.boat import Boat

Stretch = tuple[BoatPlace, BoatPlace]
Spread = Iterator[tuple[str, Mapping[str, Any]]]

MIRROR = np.array([-1.0, 1.0])


@dataclass(frozen=True)
class Fit:
    """What fitting a part gives: its outline, its two faces, and where it stands.

    A part of one side of the boat is made for starboard.
    """

    outline: Outline
    faces: TwoFaces
    position: Position

    def other_hand(self) -> Fit:
        """Return the port part, as it is seen on its own marked face."""
        x, y, z = self.position.twin().axes
        origin = self.position.twin().origin
        x_axis, y_axis, z_axis = (tuple(float(n) for n in axis) for axis in (-x, y, z))
        return Fit(
            _mirrored(self.outline),
            self.faces.mirrored(),
            Position(origin, x_axis, y_axis, z_axis),  # type: ignore[arg-type]
        )


class Fitted(Family):
    """A part that says where it stands in the boat."""

    needs_stretch: ClassVar[bool] = False
    """Whether it runs along the boat from one place to another."""

    at: Any = Field(
        description="where it stands: frame 8, station 5, or a length from forward; several as "
        "frames 2 to 14 by 3 or as a list, one part each",
        json_schema_extra={"examples": ["frame 8", "frames 2 to 14 by 3", "8 ft 3 in"]},
    )

    _fit: Fit = PrivateAttr()

    @model_validator(mode="after")
    def _is_fitted(self, info: ValidationInfo) -> Self:
        context = info.context or {}
        boat, unit = context.get("boat"), context.get("unit", Unit.MM)
        if boat is None:
            raise PartError(
                "at needs the boat's lines: name her table of offsets and her frames under boat: "
                "at the top of the project file"
            )
        try:
            self._fit = self.fitted(boat, self.located(boat, self.at, unit))
        except ShapeError as error:
            raise PartError(str(error)) from error
        return self

    @classmethod
    def located(cls, boat: Boat, at: Any, unit: Unit) -> BoatPlace | Stretch:
        """Return the place, or the stretch, that is written."""
        return stretch_in(boat, at, unit) if cls.needs_stretch else place_in(boat, at, unit)

    @abstractmethod
    def fitted(self, boat: Boat, where: Any) -> Fit:
        """Return the part fitted to the boat at a place, or along a stretch."""

    @classmethod
    def spread(cls, given: Mapping[str, Any]) -> Spread:
        """Yield one part's own name and data for every part that one entry stands for.

        The name is empty where there is only one.
        """
        places = (given["at"],) if cls.needs_stretch else written_places(given["at"])
        for place in places:
            yield (f"{place}" if len(places) > 1 else "", {**given, "at": place})

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, to the larger face."""
        return self._fit.outline

    def solid(self) -> cq.Workplane:
        """Return the finished solid: the marked face on z = 0, the wood below it."""
        return self._fit.faces.solid()

    def faces(self) -> TwoFaces:
        """Return both faces of the piece."""
        return self._fit.faces

    def positions(self) -> tuple[Position, ...]:
        """Return where each copy stands in the boat."""
        return (self._fit.position,)


class SideFitted(Fitted):
    """A part of one side of the boat; its twin on the other side is its mirror image."""

    side: Literal["both", "starboard", "port"] = Field(
        "both", description="which side of the boat; both makes two, one the other's mirror image"
    )

    @model_validator(mode="after")
    def _has_its_hand(self) -> Self:
        if self.side == "port":
            self._fit = self._fit.other_hand()
        if self.side == "both" and not self._fit.outline.may_turn_over:
            # Its mirror is wanted too: the twin is the same blank, marked on the other face.
            self._fit = replace(self._fit, outline=replace(self._fit.outline, may_turn_over=True))
        return self

    def positions(self) -> tuple[Position, ...]:
        """Return where each copy stands in the boat, starboard before port."""
        position = self._fit.position
        return (position, position.twin()) if self.side == "both" else (position,)

    def hands(self) -> tuple[str, ...]:
        """Return the side of the boat of each copy of a pair."""
        return (STARBOARD, PORT) if self.side == "both" else ()

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return how the two of a pair differ."""
        if self.side != "both" or not self._fit.outline.bevels:
            return super().remarks(unit)
        pair = "a pair: starboard as marked, port marked on the other face of the same blank"
        return (*super().remarks(unit), pair)


def _mirrored(outline: Outline) -> Outline:
    """Return an outline as seen on the other face."""
    return replace(
        outline,
        shape=shapely.transform(outline.shape, _flip),
        both_faces=None
        if outline.both_faces is None
        else shapely.transform(outline.both_faces, _flip),
        grain=GrainPath(as_pairs(_flip(np.array(outline.grain.points)))),
        bearing_zones=tuple(
            replace(zone, region=shapely.transform(zone.region, _flip))
            for zone in outline.bearing_zones
        ),
        marks=tuple(
            Mark(mark.kind, as_pairs(_flip(np.array(mark.points))), mark.label, mark.diameter_mm)
            for mark in outline.marks
        ),
    )


def _flip(points: Points) -> Points:
    return np.asarray(points * MIRROR)
