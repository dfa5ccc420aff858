"""Floor plates fitted to the lines: the pattern of a bronze floor, cast or welded.

Frame of the outline: that of the floor timber. The outline is that of the pattern, larger by
the metal's shrinkage; the solid is the finished web, without its flange. Whoever asks for one is
warned of the metal's fume, and of what old bronze may hold.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
import shapely
from pydantic import Field

from nesting.cautions import METAL_FUME
from nesting.fields import Size
from nesting.grain import GrainPath
from nesting.outline import Bevel, Mark, Outline
from nesting.sources import NO_SOURCE
from parts.boat.places import BoatPlace
from parts.curves import Points, as_pairs, offset_left, without_repeats
from parts.fitted.fitted import Fit
from parts.fitted.floor_faces import LOWER_EDGE
from parts.fitted.floors import FittedFloor
from parts.marks import scribed

if TYPE_CHECKING:
    from parts.boat.boat import Boat

BRONZE_SHRINK = 1.3
"""Percent that bronze shrinks in the mould: patternmakers allow an eighth to three sixteenths of
an inch to the foot, 1.0 to 1.6 (common practice, no source)."""


class FloorPlate(FittedFloor):
    """A floor of bronze plate at a frame: its pattern for casting, or its web for welding.

    The web is the floor timber's shape with the siding for its thickness. A flange stands on
    keel and planking; its inner side is marked, and the marks of the bevels give the angle that
    it makes with the web along the arms. Bolts go through the flange and are not marked.
    """

    family: ClassVar[str] = "floor plate"
    caution: ClassVar[str] = f"{METAL_FUME.about}: {METAL_FUME.full}"

    shrink_percent: Annotated[float, Field(ge=0, le=3)] = Field(
        BRONZE_SHRINK,
        alias="shrink",
        description="allowance for shrinking in the mould, in percent; 0 for welding "
        f"({NO_SOURCE})",
    )
    flange_mm: Size = Field(description="thickness of the flange on keel and planking", le=60)
    keel_bolt_mm: Size | None = Field(None, description="diameter of the keel bolts", le=80)
    frame_bolts: int = Field(0, description="bolts through the web into each frame", ge=0, le=20)

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the plate fitted at a frame, its outline that of the pattern."""
        fit = super().fitted(boat, where)
        outline = replace(fit.outline, marks=(*fit.outline.marks, *self._flange(fit)))
        return replace(fit, outline=_grown(outline, 1 + self.shrink_percent / 100))

    def _flange(self, fit: Fit) -> list[Mark]:
        """Return the flange's inner side where it meets the web."""
        edges = fit.faces.edges
        names = tuple(LOWER_EDGE.format(side) for side in ("left", "right"))
        arms = [[edge.near for edge in edges if edge.name.startswith(name)] for name in names]
        seat = next(edge.near for edge in edges if edge.name == "seat")
        line = without_repeats(np.vstack([*arms[0], seat, *arms[1]]))
        return scribed(offset_left(line, self.flange_mm), fit.outline.shape, "flange")


def _grown(outline: Outline, times: float) -> Outline:
    """Return an outline larger all ways, its thickness too."""

    def grow(points: Points) -> Points:
        return np.asarray(points * times)

    return replace(
        outline,
        shape=shapely.transform(outline.shape, grow),
        siding_mm=outline.siding_mm * times,
        grain=GrainPath(as_pairs(grow(np.array(outline.grain.points)))),
        bearing_zones=tuple(
            replace(zone, region=shapely.transform(zone.region, grow))
            for zone in outline.bearing_zones
        ),
        marks=tuple(
            replace(mark, points=as_pairs(grow(np.array(mark.points)))) for mark in outline.marks
        ),
        bevels=tuple(_grown_bevel(bevel, times) for bevel in outline.bevels),
    )


def _grown_bevel(bevel: Bevel, times: float) -> Bevel:
    along = None if bevel.along_mm is None else bevel.along_mm * times
    return replace(bevel, allowance_mm=bevel.allowance_mm * times, along_mm=along)
