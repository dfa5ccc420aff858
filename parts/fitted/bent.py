"""Planks bent on inside the frames, laid flat: what ceiling strakes and clamps share.

Frame of the outline: x aft along the strake, y up, seen from inside the boat; the ends of its
middle line are level.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import PrivateAttr
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from nesting.errors import PartError
from nesting.fields import Slope
from nesting.grain import GrainPath
from nesting.outline import BearingZone, Mark, MarkKind, Outline
from nesting.units import Unit, format_length
from parts.curves import Points, as_pairs
from parts.fitted.fitted import Fit, SideFitted
from parts.fitted.two_faces import TwoFaces, square
from parts.marks import zone_along
from parts.position import Position, position
from parts.run_out import run_out
from parts.solids import lofted

if TYPE_CHECKING:
    import cadquery as cq

    from parts.boat.boat import Boat
    from parts.lines.develop import Development

BUTT_ZONE_THICKNESSES = 4.0
"""Whole wood at each end of a length, for the fastenings of the butt (practice)."""

BETWEEN_FRAMES = 4
"""Lines across a strake from one frame to the next: about every 60 mm."""

ACROSS = 3
"""Points on each of them, edge to edge."""

SEEN_MM = 0.5
"""An edge that is off by less is off by less than a pencil line is wide."""

FELT_STRAIN = 2e-3
"""Wood that is bent cold begins to take a set at about twice this (from memory); under it a plank
goes where it is pushed."""

ON_PLANE = 1e-6
"""A place this near to a frame, mm, is on it."""


@dataclass(frozen=True, eq=False)
class Laid:
    """A strake on the frames, and laid flat.

    Attributes
    ----------
    x
        (n,) places of the lines across it.
    net
        (n, m, 3) points on the inner faces of the frames.
    """

    x: Points
    net: Points
    flat: Development

    @property
    def ends(self) -> tuple[Points, Points]:
        """The middles of both ends, (3,)."""
        middle = (self.net[:, 0] + self.net[:, -1]) / 2
        return middle[0], middle[-1]

    def place(self, thickness_mm: float) -> Position:
        """Return where the flat piece stands: ends on the frames, its face inward."""
        fore, aft = self.ends
        along = (aft - fore) / np.linalg.norm(aft - fore)
        up = (self.net[:, -1] - self.net[:, 0]).mean(axis=0)
        up = up - (up @ along) * along
        up = up / np.linalg.norm(up)
        flat_fore = (self.flat.net[0, 0] + self.flat.net[0, -1]) / 2
        inward = np.cross(along, up)
        origin = fore - flat_fore[0] * along - flat_fore[1] * up + thickness_mm * inward
        return position(origin, along, up)


def grid(boat: Boat, fore_mm: float, aft_mm: float) -> Points:
    """Return places along a strake: its ends, every frame, and some between; (n,)."""
    frames = boat.plan.frames
    first = frames.first_mm - np.ceil(frames.first_mm / frames.spacing_mm) * frames.spacing_mm
    step = frames.spacing_mm / BETWEEN_FRAMES
    numbers = np.arange(np.ceil((fore_mm - first) / step), np.floor((aft_mm - first) / step) + 1)
    inner = first + numbers * step
    inner = inner[(inner > fore_mm + step / 3) & (inner < aft_mm - step / 3)]
    return np.concatenate([[fore_mm], inner, [aft_mm]])


class BentPlank(SideFitted):
    """A plank on the inner faces of the frames, of one side of the boat."""

    needs_stretch: ClassVar[bool] = True

    slope_of_grain: Slope = 12.0

    _laid: Laid = PrivateAttr()

    @abstractmethod
    def thick(self, boat: Boat) -> float:
        """Return its thickness."""

    @abstractmethod
    def edges(self, boat: Boat, x: float) -> tuple[float, float]:
        """Return the heights of its lower and of its upper edge on the frames' inner faces."""

    def lay(self, boat: Boat, fore_mm: float, aft_mm: float) -> Fit:
        """Return one length of it, between two places, laid flat."""
        x = grid(boat, fore_mm, aft_mm)
        heights = np.array([self.edges(boat, float(at)) for at in x])
        if (heights[:, 1] <= heights[:, 0]).any():
            raise PartError(
                "the strake has no width: the clamp's lower edge lies below the floor heads; "
                "lower floor_heads, or end the strake before that"
            )
        # parts.lines brings scipy with it; a boat that is here has loaded it.
        from parts.lines.develop import develop

        net = np.array(
            [
                _across(boat.on_frames.section(at), at, *ends)
                for at, ends in zip(x, heights, strict=True)
            ]
        )
        self._laid = Laid(x, net, develop(net))
        return self._fit_flat(boat, self.thick(boat))

    def _fit_flat(self, boat: Boat, thick: float) -> Fit:
        flat = self._laid.flat
        low, high = flat.lower, flat.upper
        ends = flat.net[-1], flat.net[0, ::-1]
        faces = TwoFaces(
            (
                square("lower edge", low),
                square("after end", ends[0]),
                square("upper edge", high[::-1]),
                square("fore end", ends[1]),
            ),
            thick,
        )
        middle = (low + high) / 2
        grain = GrainPath(as_pairs(middle[[0, -1]]))
        outline = Outline(
            faces.shape,
            thick,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([low, high], grain),
            bearing_zones=_zones(faces.shape, middle, thick),
            marks=self._frames(boat),
        )
        return Fit(outline, faces, self._laid.place(thick))

    def _frames(self, boat: Boat) -> tuple[Mark, ...]:
        """Return the middle of every frame that it crosses."""
        laid, marks = self._laid, []
        for number, at in boat.frames_between(laid.x[0] + 1.0, laid.x[-1] - 1.0):
            row = int(np.abs(laid.x - at).argmin())
            if abs(laid.x[row] - at) < ON_PLANE:
                line = as_pairs(laid.flat.net[row])
                marks.append(Mark(MarkKind.FRAME, line, f"frame {number}"))
        return tuple(marks)

    def development(self) -> Development:
        """Return the strake laid flat, and how far no flat piece fits."""
        return self._laid.flat

    def net(self) -> Points:
        """Return the starboard plank's points on the inner faces of the frames, (n, m, 3)."""
        return self._laid.net

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return what of it does not lie flat."""
        return (*super().remarks(unit), *not_flat(self._laid.flat, unit))

    def solid_in_place(self) -> cq.Workplane:
        """Return the length bent onto the frames, flat across, in the part's frame."""
        net, place = self._laid.net, self._fit.position
        if self.side == "port":
            net = net * [1.0, -1.0, 1.0]
        low, high = net[:, 0], net[:, -1]
        along = np.gradient((low + high) / 2, axis=0)
        inward = np.cross(along, high - low)
        inward = inward / np.linalg.norm(inward, axis=1)[:, None]
        if self.side == "port":
            inward = -inward
        deep = self._fit.outline.siding_mm * inward
        rings = np.stack([low, high, high + deep, low + deep], axis=1)
        return lofted([place.in_part(ring) for ring in rings])


def not_flat(flat: Development, unit: Unit) -> tuple[str, ...]:
    """Return what the hand that bends a plank on has to know of how it was laid flat.

    Nothing of a plank that comes out true to a pencil line: figures that nobody can see or feel
    would only hide those that matter.
    """
    off = max(abs(error) for error in flat.edge_errors_mm)
    told = []
    if off >= SEEN_MM:
        given = format_length(off, unit, denominator=32)
        told.append(f"an edge comes out {given} longer or shorter than on the frames")
    if flat.strain >= FELT_STRAIN:
        told.append(f"the wood must stretch or crush by {100 * flat.strain:.1f} %")
    if not told:
        return ()
    return (f"does not lie quite flat: {', '.join(told)}; leave wood on and offer it up",)


def _across(section: Points, x: float, low: float, high: float) -> Points:
    """Return a line across a strake, (m, 3), spread evenly along the section's girth."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(section, axis=0).T))])
    ends = np.interp([low, high], section[:, 1], along)
    at = np.linspace(ends[0], ends[1], ACROSS)
    rows = [np.interp(at, along, section[:, axis]) for axis in (0, 1)]
    return np.column_stack([np.full(ACROSS, x), *rows])


def _zones(shape: Polygon, middle: Points, thick: float) -> tuple[BearingZone, ...]:
    line = LineString(middle)
    reach, wide = BUTT_ZONE_THICKNESSES * thick, shape.bounds[3] - shape.bounds[1]
    if 2 * reach > line.length:
        raise PartError(
            f"this length is {line.length:.0f} mm long; the fastenings of its two ends need "
            f"{2 * reach:g} mm of wood: move the butts apart"
        )
    ends = substring(line, 0.0, reach), substring(line, -reach, line.length)
    return tuple(
        zone_along(np.asarray(end.coords), wide, shape, label)
        for end, label in zip(ends, ("fore end", "after end"), strict=True)
    )
