"""The flat shape to be cut, in its own frame: what a part family hands to the nest.

x runs roughly along the part's length; the face shown is the *marked face*, the one that
bevels are measured from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.grain import GrainPath, straight_grain
from nesting.overlay import why_invalid

STRAIGHT = math.inf
"""Run of a part whose edges nowhere leave the grain."""


class MarkKind(StrEnum):
    """What a mark drawn on a part tells the hand that fits it."""

    CENTRELINE = "centreline"
    FRAME = "frame"
    BOLT = "bolt"
    FACE = "face"
    REFERENCE = "reference"


@dataclass(frozen=True)
class Mark:
    """A line (two points or more) or a point to be scribed on a part; never a cut.

    A ``bolt`` through the face is one point with the diameter of its hole, bored after fitting;
    one that runs in the plane of the face, as a keel bolt does, is its centre line, two points.
    """

    kind: MarkKind
    points: tuple[tuple[float, float], ...]
    label: str = ""
    diameter_mm: float | None = None


@dataclass(frozen=True)
class BearingZone:
    """A region of an outline that must be whole wood: a beam end, a bolt line, a throat."""

    region: Polygon
    label: str


@dataclass(frozen=True)
class Bevel:
    """A bevel to be cut on an edge after sawing square; the outline already allows for it.

    ``angle_deg`` is measured from square; positive is *standing* (the far face is larger),
    negative *under*. ``allowance_mm`` is what the outline holds beyond the marked face.

    One that varies along its edge is told at several places: ``along_mm`` from the corner with
    the edge named ``along_from``. A corner is the same from either face, a turn round is not.
    """

    edge: str
    angle_deg: float
    allowance_mm: float
    along_mm: float | None = None
    along_from: str = ""


@dataclass(frozen=True)
class Outline:
    """One flat shape to be sawn.

    Attributes
    ----------
    shape
        Polygon, mm; inner rings are cut-outs.
    siding_mm
        Finished thickness across the sawn face.
    grain
        The line that the wood's grain has to follow.
    slope_of_grain
        Allowed slope, 1 in this many.
    run_out
        Worst slope, 1 in this many, between the part's long edges and its grain path:
        what the part has by its own curve even when laid perfectly. ``inf`` if straight.
    may_turn_over
        Whether the part may be sawn with the marked face down.
    """

    shape: Polygon
    siding_mm: float
    grain: GrainPath = field(default_factory=straight_grain)
    slope_of_grain: float = 12.0
    run_out: float = STRAIGHT
    bearing_zones: tuple[BearingZone, ...] = ()
    marks: tuple[Mark, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    may_turn_over: bool = True

    def __post_init__(self) -> None:
        if self.shape.is_empty or not self.shape.is_valid:
            raise ShapeError(f"the outline is not usable: {why_invalid(self.shape)}")
        if not self.siding_mm > 0 or not math.isfinite(self.siding_mm):
            raise ShapeError(f"the siding is {self.siding_mm:g} mm, must be over 0")
        if not self.slope_of_grain >= 1:
            raise ShapeError(f"slope of grain 1 in {self.slope_of_grain:g}: 1 in 1 is the steepest")

    @property
    def length_mm(self) -> float:
        """Extent along x."""
        low, _, high, _ = self.shape.bounds
        return float(high - low)

    @property
    def width_mm(self) -> float:
        """Extent along y."""
        _, low, _, high = self.shape.bounds
        return float(high - low)

    @property
    def area_mm2(self) -> float:
        """Area of the sawn face."""
        return float(self.shape.area)
