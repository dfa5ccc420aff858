"""Planks bent on inside the frames, laid flat: what ceiling strakes and clamps share.

Frame of the outline: x aft along the strake, y up, seen from inside the boat; the ends of its
middle line are level.
"""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import PrivateAttr
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from nesting.errors import PartError
from nesting.fields import SlopeOfGrain
from nesting.grain import GrainPath
from nesting.outline import BearingZone, Mark, MarkKind, Outline
from nesting.units import Unit
from nesting.written_measures import format_length
from parts.curves import Points, as_pairs
from parts.fitted.fitted import Fit, SideFitted
from parts.fitted.laid import Laid, grid, on_frames
from parts.fitted.two_faces import TwoFaces, square
from parts.marks import zone_along
from parts.position import TO_PORT
from parts.run_out import run_out
from parts.solids import lofted

if TYPE_CHECKING:
    import cadquery as cq

    from parts.boat.boat import Boat
    from parts.lines.develop import Development

BUTT_ZONE_THICKNESSES = 4.0
"""Whole wood at each end of a length, for the fastenings of the butt (common practice, no
source)."""

SEEN_MM = 0.5
"""An edge that is off by less is off by less than a pencil line is wide."""

SEEN_DEG = 1.0
"""A bevel that opens a seam by less than a pencil line in a plank an inch thick."""

FELT_STRAIN = 2e-3
"""Wood that is bent cold begins to take a set at about twice this (from memory); under it a plank
goes where it is pushed."""

ON_PLANE = 1e-6
"""A place this near to a frame, mm, is on it."""


class BentPlank(SideFitted):
    """A plank on the inner faces of the frames, of one side of the boat."""

    needs_stretch: ClassVar[bool] = True
    is_plank: ClassVar[bool] = True

    has_neighbours: ClassVar[bool] = False
    """Whether its edges are planed to close on the planks beside it."""

    slope_of_grain: SlopeOfGrain = 12.0

    _laid: Laid = PrivateAttr()

    @abstractmethod
    def thick(self, boat: Boat) -> float:
        """Return its thickness."""

    @abstractmethod
    def edges(self, boat: Boat, x: float) -> tuple[float, float]:
        """Return the heights of its lower and of its upper edge on the frames' inner faces."""

    def beside_others(self, boat: Boat, laid: Laid) -> Laid:
        """Return it as it closes on the planks beside it: by itself, halfway as they do."""
        return laid

    def lay(self, boat: Boat, fore_mm: float, aft_mm: float) -> Fit:
        """Return one length of it, between two places, laid flat."""
        x = grid(boat, fore_mm, aft_mm)
        heights = np.array([self.edges(boat, float(at)) for at in x])
        if (heights[:, 1] <= heights[:, 0]).any():
            raise PartError(
                "the strake has no width: the clamp's lower edge lies below the floor heads; "
                "lower floor_heads, or end the strake before that"
            )
        self._laid = self.beside_others(boat, on_frames(boat, x, heights))
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
            is_plank=True,
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

    def bevels(self) -> Points:
        """Return the bevels of both edges if they are planed to close, (n, 2) degrees."""
        return self._laid.edge_bevels()

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return what of it does not lie flat, and what is planed off its edges."""
        planed = closing(self.bevels()) if self.has_neighbours else ()
        return (*super().remarks(unit), *not_flat(self.development(), unit), *planed)

    def solid_in_place(self) -> cq.Workplane:
        """Return the length bent onto the frames, flat across, in the part's frame."""
        return lofted(self.rings())

    def rings(self) -> list[Points]:
        """Return its four corners at every line across it, bent on: (4, 3) mm, its own frame."""
        thick, place = self._fit.outline.siding_mm, self._fit.position
        (low, high), (low_in, high_in) = (
            np.moveaxis(edges, 1, 0)
            for edges in (
                self._laid.net[:, [0, -1]],
                self._laid.inner_edges(thick, are_closed=self.has_neighbours),
            )
        )
        rings = np.stack([low, high, high_in, low_in], axis=1)
        if self.side == "port":
            rings = rings * TO_PORT
        return [place.in_part(ring) for ring in rings]


def closing(bevels_deg: Points) -> tuple[str, ...]:
    """Return the bevel to which a strake's edges are planed, where an eye would see the gap."""
    most = float(bevels_deg.flat[np.abs(bevels_deg).argmax()])
    if abs(most) < SEEN_DEG:
        return ()
    sense = "standing" if most > 0 else "under"
    return (f"plane the edges to close on the planks beside it, up to {abs(most):.0f}° {sense}",)


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
