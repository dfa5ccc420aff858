"""Plain planks: thwarts, cleats, bottom boards, strips of deck; anything with two long edges.

Frame of the outline: x along the plank from the left end of its straight line, on which y is 0:
the middle line, or the lower edge.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, Self

import numpy as np
import shapely
from pydantic import Field, model_validator
from shapely.geometry import Polygon

from nesting.errors import PartError
from nesting.fields import Distance, Size, Slope
from nesting.grain import straight_grain
from nesting.outline import BearingZone, Bevel, Mark, MarkKind, Outline
from parts.both_faces import both_faces
from parts.curves import Points
from parts.marks import LEAST_LINE_MM, scribed
from parts.part import Family
from parts.run_out import run_out
from parts.solids import bevelled, prism
from parts.widths import require_one_width, width_curve

if TYPE_CHECKING:
    import cadquery as cq

STEEPEST_CUT = 60.0
"""Degrees off square: an end that leans more is no end but a scarf."""

SPARE = 1.5
"""The edges are carried on past an end by so many times what its cut would take of even width."""

NARROWEST = 0.1
"""Share of an end's width that a taper carried on past it must leave, where its cut runs out."""

ROUNDING_MM = 1e-6
"""Corners nearer to each other are one: the cut ran through a corner, but for rounding."""

EndAngle = Annotated[float, Field(ge=-STEEPEST_CUT, le=STEEPEST_CUT)]


class Plank(Family):
    """A plain plank: thwart, bottom board, cleat, strip of deck or any board with two long edges.

    It is as wide throughout, tapers straight from its left end to its right, or runs as a fair
    batten through widths at stations. Either its middle line is straight or its lower edge is.
    Ends are square, or cut at an angle across the face, or bevelled through the thickness, or
    both. It has no frames, and no bearing zones but those that are asked for.
    """

    family: ClassVar[str] = "plank"

    length_mm: Size = Field(
        description="from end to end of its straight line, on the marked face", le=30000
    )
    thickness_mm: Size = Field(description="finished thickness", le=300)
    width_mm: Size | None = Field(
        None, description="one width throughout, or at the left end of a taper", le=2000
    )
    end_width_mm: Size | None = Field(
        None, description="width at the right end, if it tapers straight to that", le=2000
    )
    widths: tuple[tuple[Distance, Size], ...] | None = Field(
        None,
        description="[distance from the left end, width there], from end to end, in place of width",
        min_length=2,
        max_length=100,
    )
    straight: Literal["middle line", "lower edge"] = Field(
        "middle line", description="which line of it is straight, as the marked face is seen"
    )
    left_cut_deg: EndAngle = Field(
        0.0,
        description="angle of the left end off square, on the face; + leaves the upper edge longer",
    )
    right_cut_deg: EndAngle = Field(0.0, description="angle of the right end off square, likewise")
    left_bevel_deg: EndAngle = Field(
        0.0, description="bevel of the left end through the thickness, off square; + is standing"
    )
    right_bevel_deg: EndAngle = Field(0.0, description="bevel of the right end, likewise")
    bearing_mm: Distance = Field(
        0.0, description="length of each end that must be whole wood, where it rests", le=3000
    )
    slope_of_grain: Slope = Field(12.0, description="steepest grain allowed")

    @model_validator(mode="after")
    def _can_be_made(self) -> Self:
        require_one_width(
            self.width_mm, self.widths, self.length_mm, piece="plank", start="left to right"
        )
        if self.end_width_mm is not None and self.width_mm is None:
            raise PartError("end_width goes with width; with widths give the last one instead")
        if 2 * self.bearing_mm > self.length_mm:
            raise PartError(
                f"two bearings of {self.bearing_mm:g} mm do not lie in {self.length_mm:g} mm: "
                "shorten them"
            )
        self.outline()
        for ends in {(0.0, 0.0), self._spreads} - {self._outs}:
            self.shape(*ends)
        return self

    @property
    def _curve(self) -> Points:
        """Width over distance from the left end, (n, 2), from end to end."""
        if self.widths is None:
            assert self.width_mm is not None
            end = self.width_mm if self.end_width_mm is None else self.end_width_mm
            return np.array([(0.0, self.width_mm), (self.length_mm, end)])
        curve = width_curve(self.widths)
        inside = curve[(curve[:, 0] > 0) & (curve[:, 0] < self.length_mm)]
        ends = [(x, float(np.interp(x, *curve.T))) for x in (0.0, self.length_mm)]
        return np.vstack([ends[:1], inside, ends[1:]])

    def spread_mm(self, bevel_deg: float) -> float:
        """Return how far the far face stands out beyond the marked face at an end, square to it."""
        return self.thickness_mm * math.tan(math.radians(bevel_deg))

    def _carried_on(self) -> Points:
        """Return the width curve carried on straight past both ends, for slant ends to cut."""
        curve = self._curve
        carried = curve.copy()
        for end, neighbour, cut, bevel in (
            (0, 1, self.left_cut_deg, self.left_bevel_deg),
            (-1, -2, self.right_cut_deg, self.right_bevel_deg),
        ):
            (x, width), (near_x, near_width) = curve[end], curve[neighbour]
            half = width if self.straight == "lower edge" else width / 2
            slant = half * abs(math.tan(math.radians(cut)))
            way = SPARE * (slant + abs(_along_x(self.spread_mm(bevel), cut)))
            past = width + (width - near_width) / abs(x - near_x) * way
            if past < NARROWEST * width:
                raise PartError(
                    f"the plank runs out to a point at its {'left' if end == 0 else 'right'} end: "
                    "cut or bevel it less, or taper it less"
                )
            carried[end] = x + math.copysign(way, x - near_x), past
        return carried

    def _edges(self, curve: Points) -> tuple[Points, Points]:
        """Return the upper and the lower edge of a width curve."""
        x, width = curve.T
        if self.straight == "lower edge":
            return curve, np.column_stack([x, np.zeros(len(x))])
        return np.column_stack([x, width / 2]), np.column_stack([x, -width / 2])

    def end_line(self, side: int, out_mm: float, reach_mm: float) -> Points:
        """Return an end from below to above, y from minus a reach to a reach, (2, 2).

        ``side`` is -1 for the left end, 1 for the right; moved outward, square to itself.
        """
        cut = self.left_cut_deg if side < 0 else self.right_cut_deg
        at = 0.0 if side < 0 else self.length_mm
        y = np.array([-reach_mm, reach_mm])
        lean = y * math.tan(math.radians(cut))
        return np.column_stack([at + side * (_along_x(out_mm, cut) + lean), y])

    def shape(self, left_mm: float = 0.0, right_mm: float = 0.0) -> Polygon:
        """Return the closed shape with its ends moved outward."""
        upper, lower = self._edges(self._carried_on())
        strip = Polygon(np.vstack([lower, upper[::-1]]))
        reach = float(np.abs(upper[:, 1]).max()) + 1.0
        left, right = (
            self.end_line(side, out, reach) for side, out in ((-1, left_mm), (1, right_mm))
        )
        if (left[:, 0] >= right[:, 0]).any():
            raise PartError(
                "the cuts or bevels of its two ends meet: lengthen the plank, or cut them less"
            )
        cut = strip.intersection(Polygon(np.vstack([left[:1], right, left[1:]])))
        assert isinstance(cut, Polygon), "a strip between two lines that do not meet is one piece"
        ends = zip(cut.bounds[::2], strip.bounds[::2], (0.0, self.length_mm), strict=True)
        if any(mine == carried != square for mine, carried, square in ends):
            raise PartError("the plank widens too fast for so slant an end: cut it less")
        return shapely.remove_repeated_points(cut, ROUNDING_MM)

    @property
    def _bevels(self) -> tuple[tuple[str, int, float], ...]:
        ends = (("left end", -1, self.left_bevel_deg), ("right end", 1, self.right_bevel_deg))
        return tuple(end for end in ends if end[2])

    @property
    def _spreads(self) -> tuple[float, float]:
        """How far the far face stands out at the left and at the right end."""
        return self.spread_mm(self.left_bevel_deg), self.spread_mm(self.right_bevel_deg)

    @property
    def _outs(self) -> tuple[float, float]:
        """How far the larger face stands out at either end."""
        left, right = self._spreads
        return max(0.0, left), max(0.0, right)

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, to the larger face at each bevelled end."""
        return _outline_of(self)

    def sawn(self) -> Outline:
        """Make that shape, which is asked for again as soon as it is known that it can be made."""
        shape = self.shape(*self._outs)
        is_symmetrical = self.straight == "middle line" and not (
            self.left_cut_deg or self.right_cut_deg
        )
        return Outline(
            shape,
            self.thickness_mm,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out(self._edges(self._curve), straight_grain()),
            bearing_zones=self._zones(shape),
            marks=self._marks(shape),
            bevels=tuple(
                Bevel(name, angle, max(0.0, self.spread_mm(angle)))
                for name, _, angle in self._bevels
            ),
            may_turn_over=is_symmetrical or not self._bevels,
            both_faces=both_faces(self.shape(), self.shape(*self._spreads))
            if self._bevels
            else None,
            is_plank=True,
        )

    def _zones(self, shape: Polygon) -> tuple[BearingZone, ...]:
        """Return the ends that must be whole wood."""
        if not self.bearing_mm:
            return ()
        reach = max(abs(shape.bounds[1]), abs(shape.bounds[3])) + 1.0
        zones = []
        for name, side in (("left end", -1), ("right end", 1)):
            inner = self.end_line(side, 0.0, reach) - np.array([side * self.bearing_mm, 0.0])
            outer = inner + np.array([side * (self.bearing_mm + self.length_mm), 0.0])
            band = shape.intersection(Polygon(np.vstack([inner, outer[::-1]])))
            assert isinstance(band, Polygon), "two lines across a plank bound one piece of it"
            zones.append(BearingZone(band, name))
        return tuple(zones)

    def _marks(self, shape: Polygon) -> tuple[Mark, ...]:
        """Return the marked face of a bevelled plank, and its ends there if they lie within."""
        if not self._bevels:
            return ()
        middle = shape.representative_point()
        marks = [Mark(MarkKind.FACE, ((middle.x, middle.y),), "marked face")]
        reach = max(abs(shape.bounds[1]), abs(shape.bounds[3]))
        for _, side, angle in self._bevels:
            if self.spread_mm(angle) > LEAST_LINE_MM:  # Nearer, it is the sawn end itself.
                marks += scribed(self.end_line(side, 0.0, reach), shape, "end on this face")
        return tuple(marks)

    def solid(self) -> cq.Workplane:
        """Return the finished plank, its ends bevelled from the marked face."""
        shape = self.outline().shape
        body = prism(shape, self.thickness_mm)
        low_x, low_y, high_x, high_y = shape.bounds
        far_off = 2 * (high_x - low_x + high_y - low_y + self.thickness_mm)
        for _, side, angle in self._bevels:
            beyond = np.array([side * far_off, 0.0])
            near, far = (
                np.vstack([line, (line + beyond)[::-1]])
                for line in (
                    self.end_line(side, out, far_off) for out in (0.0, self.spread_mm(angle))
                )
            )
            body = bevelled(body, near, far, self.thickness_mm)
        return body


@lru_cache(maxsize=8)
def _outline_of(plank: Plank) -> Outline:
    """Return a plank's outline; it is asked for twice in a row wherever one is read."""
    return plank.sawn()


def _along_x(out_mm: float, cut_deg: float) -> float:
    """Return how far along x an end moves that moves so far square to itself."""
    return out_mm / math.cos(math.radians(cut_deg))
