"""Parts of no family: an outline as it is given, or any solid laid flat.

Both follow the Part protocol and know no place in the boat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shapely.geometry import LinearRing, Polygon

from nesting.errors import ShapeError
from nesting.flat_geometry.without_heights import without_heights
from nesting.given import each_of, number, several
from nesting.given import points as given_points
from nesting.grain import straight_grain
from nesting.outline import BearingZone, Mark, Outline
from nesting.units import Unit, parse_length
from parts.laid_flat import laid_flat, long_side_deg
from parts.part import Butted
from parts.position import Position
from parts.run_out import run_out_of
from parts.solids import prism

if TYPE_CHECKING:
    import cadquery as cq


@dataclass(frozen=True, repr=False)
class ShapedPart:
    """One piece of any shape: its outline, and its solid if it is not just that sawn square."""

    flat: Outline
    body: cq.Workplane | None = None

    def __repr__(self) -> str:
        return f"ShapedPart({self.flat!r})"

    def _repr_svg_(self) -> str:
        """Return a small picture, which notebooks show."""
        return self.flat._repr_svg_()

    def outline(self) -> Outline:
        """Return the flat shape to be sawn."""
        return self.flat

    def solid(self) -> cq.Workplane:
        """Return the finished piece, on z = 0."""
        return prism(self.flat.shape, self.flat.siding_mm) if self.body is None else self.body

    def positions(self) -> tuple[Position, ...]:
        """Return nothing: it knows no place in the boat."""
        return ()

    def butted(self) -> Butted | None:
        """Return None: it is no length of a strake."""
        return None


def part_from_outline(
    points: Polygon | Sequence[tuple[float, float]],
    thickness: float | str,
    *,
    cut_outs: Sequence[Sequence[tuple[float, float]]] = (),
    grain_deg: float = 0.0,
    slope_of_grain: float = 12.0,
    bearing_zones: Sequence[BearingZone] = (),
    marks: Sequence[Mark] = (),
    may_turn_over: bool = True,
) -> ShapedPart:
    """Return a part of any outline, sawn square.

    Parameters
    ----------
    points
        (n, 2) corners in mm, three or more, in order either way round, closed or not; or a
        shapely Polygon, its inner rings cut-outs.
    thickness
        Finished, mm, or a text with a unit.
    cut_outs
        Rings inside, (n, 2) mm each.
    grain_deg
        Direction of the grain, degrees anticlockwise from x.
    slope_of_grain
        How far its grain may lean from the board's: 1 in so many, 1 or more.
    may_turn_over
        Whether it may be sawn with the face shown down.

    Raises
    ------
    ShapeError
        If the outline crosses itself, encloses nothing or is narrower than 1 mm.
    LengthError
        If the thickness cannot be read.

    Examples
    --------
    >>> part_from_outline([(0, 0), (400, 0), (400, 90), (30, 120)], "3/4 in")
    ShapedPart(Outline(400 x 120 mm, 19.05 mm thick))
    """
    if isinstance(points, Polygon):
        shape = without_heights(points, "the outline's shape")
    else:
        shape = Polygon(_ring(points))
    rings = [LinearRing(_ring(ring)) for ring in each_of(cut_outs, "cut_outs", "rings of points")]
    if rings:
        shape = Polygon(shape.exterior, [*shape.interiors, *rings])
    thick = thickness if isinstance(thickness, str) else number(thickness, "the thickness")
    grain = number(grain_deg, "grain_deg")
    outline = Outline(
        shape,
        parse_length(thick, Unit.MM),
        grain=straight_grain(grain),
        slope_of_grain=slope_of_grain,
        bearing_zones=several(bearing_zones, BearingZone, "bearing_zones"),
        marks=several(marks, Mark, "marks"),
        may_turn_over=may_turn_over,
        is_plank=True,
    )
    return ShapedPart(_with_run_out(outline, grain))


def _ring(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    return list(given_points(points, "an outline", fewest=3))


def part_from_solid(
    solid: cq.Workplane | cq.Shape,
    *,
    square_to: tuple[float, float, float] | None = None,
    grain_deg: float | None = None,
    slope_of_grain: float = 12.0,
    bearing_zones: Sequence[BearingZone] = (),
    marks: Sequence[Mark] = (),
    may_turn_over: bool | None = None,
) -> ShapedPart:
    """Return the part that a solid is: it is laid flat, and its outline is all that it covers.

    What is sawn is the outline, square; hollows, chamfers and bevels within it are worked
    afterwards, so that the outline is that of the larger face. Curves become chords within 0.05 mm.

    Parameters
    ----------
    solid
        A cadquery Workplane that holds one solid, or the solid; mm.
    square_to
        The direction (x, y, z) that its thickness is measured in; square to its largest flat
        face if not given. A solid that lies flat already keeps its x and y; any other is laid
        with its longest side along x. Either way it is moved to the corner of both axes.
    grain_deg
        Direction of the grain, degrees anticlockwise from x as it lies then; along its longest
        side if not given.
    may_turn_over
        Whether it may be sawn with the face shown down; if not given, only one that is its outline
        sawn square throughout may be.

    Raises
    ------
    ShapeError
        If there is no solid or there are several, it has no flat face and no direction is given,
        or its outline is in several pieces or narrower than 1 mm.

    Examples
    --------
    >>> import cadquery as cq
    >>> part_from_solid(cq.Workplane().box(300, 60, 25).edges("|Z").fillet(20))
    ShapedPart(Outline(300 x 60 mm, 25 mm thick))
    """
    flat = laid_flat(solid, square_to)
    grain = long_side_deg(flat.shape) if grain_deg is None else number(grain_deg, "grain_deg")
    outline = Outline(
        flat.shape,
        flat.thickness_mm,
        grain=straight_grain(grain),
        slope_of_grain=slope_of_grain,
        bearing_zones=several(bearing_zones, BearingZone, "bearing_zones"),
        marks=several(marks, Mark, "marks"),
        may_turn_over=flat.is_square if may_turn_over is None else may_turn_over,
        both_faces=flat.both_faces,
        is_plank=True,
    )
    return ShapedPart(_with_run_out(outline, grain), flat.body)


LEAST_MM = 1.0
"""No saw cuts out a part that is narrower (common practice, no source)."""


def _with_run_out(outline: Outline, grain_deg: float) -> Outline:
    """Return an outline that a saw can cut out, with what its own curve costs."""
    if min(outline.length_mm, outline.width_mm) < LEAST_MM:
        raise ShapeError(
            f"the outline is {outline.length_mm:g} x {outline.width_mm:g} mm; a part is at least "
            f"{LEAST_MM:g} mm each way: is the unit right?"
        )
    return replace(outline, run_out=run_out_of(outline.shape, grain_deg))
