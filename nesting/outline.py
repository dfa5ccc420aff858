"""The flat shape to be cut, in its own frame: what a part family hands to the nest.

x runs roughly along the part's length; the face shown is the *marked face*, the one that
bevels are measured from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.errors import ShapeError
from nesting.flat_geometry.overlay import polygons_of, why_invalid
from nesting.flat_geometry.without_heights import without_heights
from nesting.given import finite, made, number, points, remark, several, text, word, yes_or_no
from nesting.grain import GrainPath, straight_grain
from nesting.run_out import best_run, followed, leans, weighed
from nesting.units import slope_angle
from nesting.words import counted

STRAIGHT = math.inf
"""Run of a part whose edges nowhere leave the grain."""


STEEPEST_BEVEL = 89.0
"""Degrees off square: past this the saw would run along the face."""

SAME_DEG = 1e-6
"""Angles are the same to this: rounding. The referee allows ten times as much."""


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

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", word(self.kind, MarkKind, "kind of mark"))
        object.__setattr__(self, "points", points(self.points, f"{self.kind} mark"))
        remark(self.label, f"{self.kind} mark: its label")
        if self.diameter_mm is not None:
            finite(self.diameter_mm, f"{self.kind} mark: its diameter", over=0.0)


@dataclass(frozen=True)
class BearingZone:
    """A region of an outline that must be whole wood: a beam end, a bolt line, a throat."""

    region: Polygon
    label: str
    is_seat: bool = False
    """Whether the piece is borne here by what is under it, as a beam is at its ends."""

    def __post_init__(self) -> None:
        name = "the bearing zone's region"
        made(self.region, Polygon, name, "shapely's Polygon makes one")
        object.__setattr__(self, "region", without_heights(self.region, name))
        remark(self.label, "the bearing zone's label")
        yes_or_no(self.is_seat, "is_seat")


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

    def __post_init__(self) -> None:
        text(self.edge, "the bevel's edge")
        finite(self.angle_deg, "the bevel's angle_deg", least=-STEEPEST_BEVEL, most=STEEPEST_BEVEL)
        finite(self.allowance_mm, "the bevel's allowance_mm", least=0.0)
        if self.along_mm is not None:
            finite(self.along_mm, "the bevel's along_mm")
        remark(self.along_from, "the bevel's along_from")


@dataclass(frozen=True, repr=False)
class Outline:
    """One flat shape to be sawn.

    Attributes
    ----------
    shape
        Polygon, mm; inner rings are cut-outs.
    siding_mm
        Finished thickness across the sawn face; :attr:`thickness_word` is what people call it.
    grain
        The line that the wood's grain has to follow.
    slope_of_grain
        Allowed slope, 1 in this many, between the grain path and the board's grain: all along
        a grown sweep, and everywhere in a part of straight grain.
    run_out
        Worst slope, 1 in this many, between the part's long edges and its grain path:
        what the part has by its own curve even when laid perfectly. ``inf`` if straight.
    run_out_limit
        Allowed slope, 1 in this many, of the board's grain to the part's long edges, its own
        curve and its lie together; along the sweep of a grown part. None for no limit.
    may_turn_over
        Whether the part may be sawn with the marked face down.
    may_lie_across
        Whether of sheet goods it may be sawn square to the face grain too: plies cross.
    is_plank
        Whether it is a plank, and not a timber that is sided and moulded.
    both_faces
        What both faces of the finished piece have, where bevels are cut. If not given, what is
        left of the shape when its deepest bevel is taken off all round.
    """

    shape: Polygon
    siding_mm: float
    grain: GrainPath = field(default_factory=straight_grain)
    slope_of_grain: float = 12.0
    run_out: float = STRAIGHT
    run_out_limit: float | None = None
    bearing_zones: tuple[BearingZone, ...] = ()
    marks: tuple[Mark, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    may_turn_over: bool = True
    may_lie_across: bool = False
    is_plank: bool = False
    both_faces: Polygon | None = None

    def __post_init__(self) -> None:
        hint = "part_from_outline() makes a part of its points"
        made(self.shape, Polygon, "the outline's shape", hint)
        object.__setattr__(self, "shape", without_heights(self.shape, "the outline's shape"))
        made(self.grain, GrainPath, "the grain", "straight_grain() makes one of degrees")
        if self.both_faces is not None:
            made(self.both_faces, Polygon, "what both faces have", hint)
            both = without_heights(self.both_faces, "what both faces have")
            object.__setattr__(self, "both_faces", both)
        for name, kind in (("bearing_zones", BearingZone), ("marks", Mark), ("bevels", Bevel)):
            object.__setattr__(self, name, several(getattr(self, name), kind, name))
        if self.shape.is_empty or not self.shape.is_valid:
            raise ShapeError(f"the outline is not usable: {why_invalid(self.shape)}")
        siding = number(self.siding_mm, f"the {self.thickness_word}")
        object.__setattr__(self, "siding_mm", siding)
        if not self.siding_mm > 0 or not math.isfinite(self.siding_mm):
            raise ShapeError(f"the {self.thickness_word} is {self.siding_mm:g} mm, must be over 0")
        for name in ("may_turn_over", "may_lie_across", "is_plank"):
            object.__setattr__(self, name, yes_or_no(getattr(self, name), name))
        if not number(self.slope_of_grain, "slope_of_grain") >= 1:
            raise ShapeError(f"slope of grain 1 in {self.slope_of_grain:g}: 1 in 1 is the steepest")
        if not number(self.run_out, "run_out") > 0:
            raise ShapeError(f"a run_out of 1 in {self.run_out:g}: must be over 0, inf if straight")
        if self.run_out_limit is not None and not number(self.run_out_limit, "run_out") >= 1:
            raise ShapeError(f"run-out of 1 in {self.run_out_limit:g}: 1 in 1 is the steepest")

    @cached_property
    def bung_room(self) -> Polygon:
        """Where its bungs must lie, clear of the edge: wood that no bevel takes off."""
        if self.both_faces is not None:
            return self.both_faces
        steepest = max((abs(bevel.angle_deg) for bevel in self.bevels), default=0.0)
        if not steepest:
            return self.shape
        left = self.shape.buffer(-self.siding_mm * math.tan(math.radians(steepest)))
        return max(polygons_of(left), key=lambda piece: piece.area, default=Polygon())

    def __repr__(self) -> str:
        size = f"{self.length_mm:g} x {self.width_mm:g} mm, {self.siding_mm:g} mm thick"
        inside = f", {counted(len(self.shape.interiors), 'cut-out')}"
        return f"Outline({size}{inside if self.shape.interiors else ''})"

    def _repr_svg_(self) -> str:
        """Return a small picture, which notebooks show."""
        from nesting.thumbnail import Drawn, Look, picture

        zones = [Drawn(zone.region, Look.ZONE, zone.label) for zone in self.bearing_zones]
        marks = [
            Drawn(LineString(mark.points), Look.MARK, mark.label or str(mark.kind))
            for mark in self.marks
            if len(mark.points) > 1
        ]
        grain = Drawn(self._grain_line(), Look.LINE, "grain")
        size = f"{self.length_mm:.1f} x {self.width_mm:.1f} mm, {self.siding_mm:.1f} mm thick"
        shapes = [Drawn(self.shape, Look.PART), *zones, *marks, grain, Drawn(self.shape, Look.EDGE)]
        return picture(shapes, size)

    def _grain_line(self) -> LineString:
        """Return a line along the grain: across its middle where it is straight."""
        if not self.grain.is_straight:
            return LineString(self.grain.points)
        middle, reach = self.shape.representative_point(), self.length_mm + self.width_mm
        turn = math.radians(self.middle_grain_deg)
        dx, dy = reach * math.cos(turn), reach * math.sin(turn)
        whole = LineString([(middle.x - dx, middle.y - dy), (middle.x + dx, middle.y + dy)])
        inside = shapely.get_parts(whole.intersection(self.shape))
        return LineString(max(inside, key=lambda line: float(line.length)))

    @property
    def quarter_turns_deg(self) -> tuple[float, ...]:
        """How far off the face grain of sheet goods its own may lie, but for its limits."""
        return (0.0, 90.0) if self.may_lie_across else (0.0,)

    @property
    def steepest_deg(self) -> float:
        """How far its long edges may be off the board's grain, degrees; 90 without a limit."""
        return 90.0 if self.run_out_limit is None else slope_angle(self.run_out_limit)

    @property
    def middle_grain_deg(self) -> float:
        """Direction of the grain path at its middle, degrees."""
        return self.grain.angles_deg[len(self.grain.angles_deg) // 2]

    @cached_property
    def weighed(self) -> NDArray[np.float64]:
        """The stretches along which the grain is weighed, (n, 7): see :mod:`nesting.run_out`."""
        return weighed(self.shape, self.grain, self.run_out)

    @cached_property
    def followed(self) -> NDArray[np.float64]:
        """The stretches at which its grain must lie true to its board's, (n, 7), as those."""
        return followed(self.shape, self.grain)

    @property
    def leans_deg(self) -> tuple[float, float]:
        """From where to where it may turn off straight grain; low over high if it cannot lie.

        Not yet turned over: then the other way.
        """
        turn = slope_angle(self.slope_of_grain)
        if self.run_out_limit is None:
            return -turn, turn
        pieces, middle = self.weighed, self.middle_grain_deg
        return leans(pieces, middle, turn_deg=turn, steepest_deg=self.steepest_deg)

    @property
    def best_run(self) -> float:
        """Run of its steepest grain, laid as well as ``slope_of_grain`` lets it on straight grain.

        What no placement on straight-grained wood can better.
        """
        turn = slope_angle(self.slope_of_grain)
        return best_run(self.weighed, self.middle_grain_deg, turn_deg=turn)

    @property
    def thickness_word(self) -> str:
        """What its thickness is called: frames and floors have a siding, planks a thickness."""
        return "thickness" if self.is_plank else "siding"

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
