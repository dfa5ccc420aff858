"""What both kinds of floor timber are asked for alike, and what comes of it: limbers, bolts, grain.

:mod:`parts.families.floors` takes the lower edge from numbers, :mod:`parts.fitted.floors` from
the lines. Their fields are shared one by one, not by a base class, so that each kind lists them
in its own order.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, Literal

import numpy as np
from pydantic import Field
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Length, Size
from nesting.grain import GrainPath, straight_grain
from nesting.outline import BearingZone, Mark
from nesting.sources import BOLT_SOURCE, LIMBER_SOURCE
from parts.curves import as_pairs, at_distances, fair_curve
from parts.families import floor_shape as draw
from parts.marks import (
    EDGE_DIAMETERS,
    LOADED_END_DIAMETERS,
    REACH_MM,
    SPACING_DIAMETERS,
    ZONE_DIAMETERS,
    check_edge_bolt,
    edge_bolt,
    in_a_row,
    square_bolt,
    zone_along,
)

INNER_DIAMETERS = 2.0
"""Innermost frame bolt to the inner end of the lap, where the wood runs on (common practice, no
source)."""

USUAL_KEEL_BOLT_MM = 12.0
"""Keel bolt if none is given: builders' accounts of small craft have 1/2 to 3/4 in; the thinner
fits a floor 36 mm thick."""

GOES_WITH: GoesWith = {
    "limber_height_mm": ("limber_width_mm", (0.0,)),
    "limber_offset_mm": ("limber_width_mm", (0.0,)),
    "frame_bolt_mm": ("frame_bolts", (0,)),
}
"""Of a limber hole, and of bolts, that there is none of."""

# ---- fields ---------------------------------------------------------------------------------

Siding = Annotated[Size, Field(description="thickness fore and aft", le=600)]
Moulding = Annotated[Size, Field(description="depth at the centreline, from the keel up", le=1500)]
Landing = Annotated[
    Distance, Field(description="half the width of a level landing on the upper edge", le=2000)
]
LimberWidth = Annotated[
    Distance,
    Field(description="width of the limber hole on each side of the keel; 0 for none", le=500),
]
LimberHeight = Annotated[
    Size | None,
    Field(
        description=f"height of the limber holes; by default half their width ({LIMBER_SOURCE})",
        le=500,
    ),
]
KeelBolt = Annotated[
    Size | None, Field(description=f"diameter of the keel bolts ({BOLT_SOURCE})", le=80)
]
KeelBoltOffsets = Annotated[
    tuple[Length, ...],
    Field(description="keel bolts' distances from the centreline, + to one side", max_length=6),
]
FrameBolts = Annotated[
    int, Field(description=f"frame bolts in each arm ({BOLT_SOURCE})", ge=0, le=20)
]
FrameBolt = Annotated[
    Size, Field(description=f"diameter of the frame bolts ({BOLT_SOURCE})", le=50)
]
FloorGrain = Annotated[
    Literal["straight", "grown"],
    Field(description="straight athwartships, or along the arms of a grown crook"),
]

# ---- what comes of them -----------------------------------------------------------------------


def limber(
    width_mm: float, height_mm: float | None, offset_mm: float | None, *, beside_mm: float
) -> draw.Limber | None:
    """Return the limber holes, by default just outside a place beside the keel; None if none."""
    if not width_mm:
        return None
    return draw.Limber(
        offset_mm=offset_mm or beside_mm + width_mm / 2,
        width_mm=width_mm,
        height_mm=height_mm or width_mm / 2,
    )


def check_keel_bolt(bolt_mm: float | None, siding_mm: float) -> None:
    """Raise a PartError if a bolt through the keel comes too near to the floor's faces."""
    if bolt_mm:
        check_edge_bolt(bolt_mm, siding_mm, "keel bolt")


def check_frame_bolt(bolt_mm: float, tip_mm: float, under_mm: float) -> None:
    """Raise a PartError if a bolt through the frame comes too near to the edges of the arm's tip.

    Which leaves it a third of the tip at most, of what an under bevel leaves on the far face.
    """
    if 2 * EDGE_DIAMETERS * bolt_mm > tip_mm - under_mm + REACH_MM:
        taken = f", of which the bevel takes {under_mm:.1f} mm" if under_mm else ""
        raise PartError(
            f"a frame bolt of {bolt_mm:g} mm takes more than a third of the tip moulding of "
            f"{tip_mm:g} mm{taken}: give a thinner bolt or a deeper tip"
        )


def keel_bolts(
    bolt_mm: float | None, offsets_mm: Sequence[float], shape: Polygon, seat: tuple[str, float]
) -> list[LineString]:
    """Return the lines of the bolts through the keel.

    Parameters
    ----------
    seat
        What they have to stand on, and how far it reaches to each side.
    """
    if not bolt_mm:
        return []
    name, half = seat
    most = half - EDGE_DIAMETERS * bolt_mm
    for offset in offsets_mm:
        if abs(offset) > most + REACH_MM:
            cure = f"move it in to {most:g} mm" if most >= 0 else "give a thinner bolt"
            raise PartError(
                f"a keel bolt of {bolt_mm:g} mm at {offset:g} mm from the centreline stands nearer "
                f"than {EDGE_DIAMETERS:g} diameters to the edge of the {name}, {half:g} mm to each "
                f"side: {cure}"
            )
    _check_apart(bolt_mm, offsets_mm)
    starts = np.array([(offset, 0.0) for offset in offsets_mm])
    return [edge_bolt(start, draw.UP, shape, bolt_mm) for start in starts]


def _check_apart(bolt_mm: float, offsets_mm: Sequence[float]) -> None:
    """Raise a PartError if two keel bolts stand too near each other along the floor's grain."""
    least = SPACING_DIAMETERS * bolt_mm
    for one, other in pairwise(sorted(offsets_mm)):
        if other - one < least - REACH_MM:
            raise PartError(
                f"two keel bolts of {bolt_mm:g} mm stand {other - one:g} mm apart; along the "
                f"floor's grain they keep {SPACING_DIAMETERS:g} diameters, {least:g} mm: move them "
                "apart, or give thinner bolts"
            )


def is_symmetrical(offsets_mm: Sequence[float]) -> bool:
    """Return whether the keel bolts stand alike on both sides."""
    return sorted(offsets_mm) == sorted(-offset for offset in offsets_mm)


def lap_zones(
    drawing: draw.FloorDrawing, shape: Polygon, lap_mm: float, bolts: int, bolt_mm: float
) -> list[BearingZone]:
    """Return the whole wood of both arms where they lie against the frame."""
    lap = np.asarray(substring(LineString(drawing.bolt_line()), 0.0, lap_mm).coords)
    half = ZONE_DIAMETERS * bolt_mm if bolts else drawing.tip_moulding_mm / 2
    return [zone_along(side, half, shape, "frame lap") for side in (lap, lap * draw.MIRROR)]


def frame_bolts(
    drawing: draw.FloorDrawing, lap_mm: float, bolts: int, bolt_mm: float
) -> list[Mark]:
    """Return the marks of the bolts through both frames."""
    if not bolts:
        return []
    low, high = LOADED_END_DIAMETERS * bolt_mm, lap_mm - INNER_DIAMETERS * bolt_mm
    places = at_distances(drawing.bolt_line(), in_a_row(low, high, bolts, bolt_mm))
    return [
        square_bolt(place, bolt_mm, "frame bolt")
        for place in np.vstack([places, places * draw.MIRROR])
    ]


def floor_grain(drawing: draw.FloorDrawing, grain: str) -> GrainPath:
    """Return the grain: straight athwartships, or along the arms of a grown crook."""
    if grain == "straight":
        return straight_grain()
    starboard = drawing.middle_line()
    return GrainPath(as_pairs(fair_curve(np.vstack([starboard[:0:-1] * draw.MIRROR, starboard]))))
