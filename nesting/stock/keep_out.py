"""A region of a board with a reason: where a cut, or a part, may not go.

Each keep-out is a *core* (a point, a line or a polygon) and a *reach* around it, so that a
screw hole is an exact circle and a routed groove an exact slot; distances are measured from
the core, never from a many-sided stand-in.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from nesting.errors import ShapeError
from nesting.flat_geometry.overlay import why_invalid
from nesting.flat_geometry.without_heights import without_heights
from nesting.given import finite, made, number, point, points, remark, word
from nesting.units import LONGEST_MM


class KeepOutKind(StrEnum):
    """Why the wood is not free here."""

    METAL = "metal"
    HOLE = "hole"
    RECESS = "recess"
    GROOVE = "groove"
    ROT = "rot"
    SPLIT = "split"
    KNOT = "knot"
    STAIN = "stain"
    WORN_EDGE = "worn edge"


EVERYDAY_WORDS: Mapping[KeepOutKind, str] = {
    KeepOutKind.METAL: "nail screw bolt spike tack staple rivet rove brad pin fastening fastener "
    "drift lag iron steel copper bronze brass",
    KeepOutKind.HOLE: "bore treenail trenail trunnel dowel",
    KeepOutKind.RECESS: "counterbore countersink bung plug",
    KeepOutKind.GROOVE: "dado rabbet rebate slot notch mortise mortice score",
    KeepOutKind.ROT: "decay dote punk worm wormhole shipworm gribble",
    KeepOutKind.SPLIT: "check crack shake rent",
    KeepOutKind.KNOT: "knothole burl",
    KeepOutKind.STAIN: "paint oil rust discolouration discoloration",
    KeepOutKind.WORN_EDGE: "wane chafe wear",
}
"""What people call a keep-out, by the kind it is recorded as. A knothole is recorded as a knot: the
grain round it runs as wild, and no bung mends that (common practice, no source)."""

PLURALS: Mapping[KeepOutKind, str] = {
    KeepOutKind.METAL: "metal",
    KeepOutKind.HOLE: "holes",
    KeepOutKind.RECESS: "recesses",
    KeepOutKind.GROOVE: "grooves",
    KeepOutKind.ROT: "rot",
    KeepOutKind.SPLIT: "splits",
    KeepOutKind.KNOT: "knots",
    KeepOutKind.STAIN: "stains",
    KeepOutKind.WORN_EDGE: "worn edges",
}
"""What several of a kind are called: the key of a board, and the column of a table, that has the
tape notes of them."""

PLUGGABLE = frozenset({KeepOutKind.HOLE, KeepOutKind.RECESS})
"""Kinds with the metal out, which a bung can close."""

STEPS_PER_QUARTER = 8
"""Sides used per quarter circle where a round keep-out must be a polygon."""


def kind_meant(word: str) -> KeepOutKind | None:
    """Return the kind of keep-out that an everyday word stands for: nails are metal.

    Of several words the last says what it is: a nail hole is a hole. A knot hole is one word.
    """
    given = re.split(r"[\s_-]+", word.casefold().strip())
    for last in ("".join(given), " ".join(given), *reversed(given)):
        for kind, words in EVERYDAY_WORDS.items():
            if {last, last.removesuffix("s"), last.removesuffix("es")} & {*words.split(), kind}:
                return kind
    return None


OPENING = ""
"""Source of a groove that stands for an opening sawn out of a board: no file can say an empty one,
whatever it notes."""

SMALLEST_MM = 0.1
"""Nothing in wood that keeps a blade off is smaller: what is was given in another unit."""


@dataclass(frozen=True, repr=False)
class KeepOut:
    """One keep-out of a board, in the board's frame, mm.

    Attributes
    ----------
    kind
        The reason: a :class:`KeepOutKind`, or its word.
    core
        Point, LineString or Polygon.
    reach_mm
        How far the keep-out reaches beyond its core: a circle's radius, half a slot's width.
    depth_mm
        How deep it goes from the recorded face; None is right through.
    source
        How it was recorded: ``tape``, ``drawing``, ``photograph`` or ``expected``; an opening that
        was sawn out of the board has an empty one.
    confidence
        0 to 1: how sure the recording is.
    """

    kind: KeepOutKind
    core: Point | LineString | Polygon
    reach_mm: float = 0.0
    depth_mm: float | None = None
    note: str = ""
    source: str = "tape"
    confidence: float = 1.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", word(self.kind, KeepOutKind, "kind of keep-out"))
        hint = "circle(), slot() and region() make keep-outs of figures"
        made(self.core, (Point, LineString, Polygon), f"{self.kind}: the core", hint)
        object.__setattr__(self, "core", without_heights(self.core, f"{self.kind}: the core"))
        if self.core.is_empty or not self.core.is_valid:
            raise ShapeError(f"{self.kind}: {why_invalid(self.core)}")
        object.__setattr__(self, "reach_mm", number(self.reach_mm, f"{self.kind}: its radius"))
        if not math.isfinite(self.reach_mm) or self.reach_mm < 0:
            raise ShapeError(f"{self.kind}: its radius is {self.reach_mm} mm, must be 0 or more")
        if 2 * self.reach_mm > LONGEST_MM:
            raise ShapeError(
                f"{self.kind}: it is {2 * self.reach_mm:g} mm across, must be {LONGEST_MM:g} mm at "
                "the most: is the unit right?"
            )
        if self.reach_mm == 0 and not isinstance(self.core, Polygon):
            raise ShapeError(f"{self.kind}: a keep-out must have a size, this one has none")
        if 2 * self.reach_mm < SMALLEST_MM:
            self._require_size()
        if self.depth_mm is not None:
            depth = number(self.depth_mm, f"{self.kind}: its depth")
            object.__setattr__(self, "depth_mm", depth)
            if not self.depth_mm > 0:
                raise ShapeError(f"{self.kind}: its depth is {self.depth_mm} mm, must be over 0")
        remark(self.note, f"{self.kind}: its note")
        remark(self.source, f"{self.kind}: its source")
        if not 0 <= number(self.confidence, f"{self.kind}: its confidence") <= 1:
            told = f"{self.confidence:g}, must be 0 to 1"
            raise ShapeError(f"{self.kind}: its confidence is {told}")

    def _require_size(self) -> None:
        low_x, low_y, high_x, high_y = self.core.bounds
        across = max(high_x - low_x, high_y - low_y) + 2 * self.reach_mm
        if across < SMALLEST_MM:
            raise ShapeError(
                f"{self.kind}: it is {across:.3g} mm across, at least {SMALLEST_MM:g} mm is read: "
                "is the unit right?"
            )

    def __repr__(self) -> str:
        x, y, radius = (round(figure, 3) + 0.0 for figure in self.bounding_circle)
        return f"KeepOut({self.kind}, {2 * radius:g} mm across, at ({x:g}, {y:g}) mm)"

    @cached_property
    def polygon(self) -> Polygon:
        """The keep-out as a polygon; a round one has its corners on the circle."""
        if self.reach_mm == 0:
            assert isinstance(self.core, Polygon)
            return self.core
        return self.core.buffer(self.reach_mm, quad_segs=STEPS_PER_QUARTER)

    @property
    def is_circle(self) -> bool:
        """Whether it is drawn as a circle: a screw hole, a bung recess, a knot."""
        return isinstance(self.core, Point)

    @property
    def is_opening(self) -> bool:
        """Whether it stands for an opening that was sawn out of its board."""
        return self.kind is KeepOutKind.GROOVE and self.source == OPENING

    @cached_property
    def bounding_circle(self) -> tuple[float, float, float]:
        """Centre x, centre y and radius, mm, of the least circle around the keep-out."""
        if isinstance(self.core, Point):
            return self.core.x, self.core.y, self.reach_mm
        circle = shapely.minimum_bounding_circle(self.core)
        radius = float(shapely.minimum_bounding_radius(self.core))
        return circle.centroid.x, circle.centroid.y, radius + self.reach_mm

    def moved(self, dx_mm: float, dy_mm: float) -> KeepOut:
        """Return the same keep-out at another place."""
        core = shapely.transform(self.core, lambda points: points + np.array([dx_mm, dy_mm]))
        return replace(self, core=core)


def circle(kind: KeepOutKind | str, x_mm: float, y_mm: float, diameter_mm: float) -> KeepOut:
    """Return a round keep-out: a fastener hole, a bung recess, a knot.

    Parameters
    ----------
    kind
        A :class:`KeepOutKind`, or its word: ``"metal"``, ``"hole"``, ``"knot"``.
    x_mm, y_mm
        Its centre in the board's frame.
    diameter_mm
        Over 0.

    Raises
    ------
    ShapeError
        If the kind is not known, or it has no size.

    Examples
    --------
    >>> circle("metal", 900, 90, 8)
    KeepOut(metal, 8 mm across, at (900, 90) mm)
    """
    centre = shapely.points((finite(x_mm, "x"), finite(y_mm, "y")))
    return KeepOut(_kind(kind), centre, number(diameter_mm, "diameter") / 2)


def slot(
    kind: KeepOutKind | str, start: tuple[float, float], end: tuple[float, float], width_mm: float
) -> KeepOut:
    """Return a keep-out of even width along a line: a groove, a split, a worn edge.

    Parameters
    ----------
    start, end
        Points (x, y) in the board's frame, mm; its ends are round and reach half a width further.
    width_mm
        Over 0.

    Raises
    ------
    ShapeError
        If the kind is not known, both ends are one point, or it has no width.

    Examples
    --------
    >>> slot("split", (0, 40), (250, 44), 2)
    KeepOut(split, 252.032 mm across, at (125, 42) mm)
    """
    ends = point(start, "start"), point(end, "end")
    if ends[0] == ends[1]:
        raise ShapeError(f"{kind}: a slot must have two ends, both are at {start}")
    return KeepOut(_kind(kind), LineString(ends), number(width_mm, "width") / 2)


def region(kind: KeepOutKind | str, ring: Sequence[tuple[float, float]]) -> KeepOut:
    """Return a keep-out with an outline of its own: rot, stain.

    Parameters
    ----------
    ring
        (n, 2) points in the board's frame, mm, three or more, in order; closed or not.

    Raises
    ------
    ShapeError
        If the kind is not known, or the outline crosses itself.

    Examples
    --------
    >>> region("rot", [(0, 0), (300, 0), (300, 60)]).polygon.area
    9000.0
    """
    return KeepOut(_kind(kind), Polygon(points(ring, "ring", fewest=3)))


def _kind(given: KeepOutKind | str) -> KeepOutKind:
    return word(given, KeepOutKind, "kind of keep-out")
