"""Deck beams and half beams: crowned above, bearing on a shelf or clamp at their ends.

Frame of the outline: x athwartships from the centreline, y up from the line that joins the
ends of the crown at the full span.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Self

import numpy as np
from pydantic import Field, model_validator
from shapely.geometry import Polygon

from nesting.errors import PartError
from nesting.fields import Distance, Size, SlopeOfGrain
from nesting.outline import Mark, Outline
from parts.curves import Crown, CrownShape, Points, arc_rise, without_repeats
from parts.families import beam_wood as wood
from parts.part import Family
from parts.run_out import run_out
from parts.solids import prism

if TYPE_CHECKING:
    import cadquery as cq

STEEPEST_CROWN = 0.25
"""Rise over span; a deck is nowhere near it, a beam that needs more is a frame."""


def mould_rise(span_mm: float, mould_span_mm: float, mould: Crown) -> float:
    """Return the rise of a beam that takes the middle of one mould shared by all beams."""
    if span_mm > mould_span_mm:
        raise PartError(
            f"the beam is {span_mm:g} mm long, the beam mould only {mould_span_mm:g} mm: "
            "give the mould of the longest beam"
        )
    ends = mould.height(np.array([0.0, span_mm / 2]))
    return float(ends[0] - ends[1])


def radius_rise(span_mm: float, radius_mm: float) -> float:
    """Return the rise of a beam whose crown is an arc of a radius."""
    if span_mm > 2 * radius_mm:
        raise PartError(
            f"an arc of {radius_mm:g} mm radius spans {2 * radius_mm:g} mm at most, the beam is "
            f"{span_mm:g} mm long: give a larger radius"
        )
    return arc_rise(span_mm, radius_mm)


def beam_edges(
    crown: Crown, middle_mm: float, end_mm: float, inner_mm: float
) -> tuple[Points, Points]:
    """Return the upper and the lower edge of a beam, each along x.

    Mouldings are depths measured plumb. The lower edge is a curve of the crown's kind, so the
    depth runs fair from the middle to the ends.

    Parameters
    ----------
    inner_mm
        Where the inner end of a half beam stands, from the centreline; minus half the span
        for a whole beam.
    """
    under = Crown(crown.span_mm, crown.rise_mm - middle_mm + end_mm, crown.shape)
    half = crown.span_mm / 2
    return crown.points(inner_mm, half), under.points(inner_mm, half) - [0.0, end_mm]


class DeckBeam(Family):
    """A beam under the deck, or half of one ending square at a carlin.

    The crown is an arc or a parabola. Its rise is given for this beam's own span (camber), or
    the beam takes the middle part of one mould made for the longest beam (mould span and mould
    camber, or mould radius), so that a shorter beam rises less.

    Ends are plumb. The moulding is measured plumb and may taper to the ends. Grain is straight
    from end to end, or follows the crown of a grown sweep.
    """

    family: ClassVar[str] = "deck beam"

    span_mm: Size = Field(
        description="length of the whole beam, end to end, level; twice the distance from the "
        "centreline to the outer end for a half beam",
        le=20000,
    )
    siding_mm: Size = Field(description="thickness fore and aft", le=600)
    moulding_mm: Size = Field(description="depth at the centreline, plumb", le=1000)
    end_moulding_mm: Size | None = Field(
        None, description="depth at the ends, plumb; by default as at the centreline", le=1000
    )
    camber_mm: Distance | None = Field(
        None, description="rise of the upper edge at the centreline, over this span", le=5000
    )
    mould_span_mm: Size | None = Field(
        None, description="span of the beam mould that all beams are marked from", le=20000
    )
    mould_camber_mm: Distance | None = Field(
        None, description="rise of the beam mould over its span", le=5000
    )
    mould_radius_mm: Size | None = Field(
        None, description="radius of the beam mould, if it is an arc"
    )
    curve: CrownShape = Field(CrownShape.ARC, description="the curve of the crown")
    half_from_mm: Size | None = Field(
        None,
        description="half beam: distance from the centreline to its inner end at the carlin",
        le=10000,
    )
    bearing_mm: Size = Field(
        description="length of each end on the shelf or clamp, and on the carlin", le=1000
    )
    grain: wood.BeamGrain = "straight"
    slope_of_grain: SlopeOfGrain = 12.0

    @model_validator(mode="after")
    def _can_be_made(self) -> Self:
        self._one_crown()
        self._crown_is_a_deck()
        self._ends_fit()
        self.outline()
        return self

    def _one_crown(self) -> None:
        mould = (self.mould_span_mm is not None, self.mould_camber_mm is not None)
        if mould[0] != mould[1]:
            raise PartError("a beam mould needs both its span and its camber: give the other too")
        ways = [self.camber_mm is not None, mould[0], self.mould_radius_mm is not None]
        if sum(ways) != 1:
            raise PartError(
                f"{sum(ways)} of the three ways to crown a beam are given, must be one: camber, "
                "or mould_span and mould_camber, or mould_radius"
            )
        if self.mould_radius_mm is not None and self.curve is not CrownShape.ARC:
            raise PartError("a parabola has no radius: give mould_span and mould_camber")

    def _crown_is_a_deck(self) -> None:
        if self.mould_span_mm is not None:
            assert self.mould_camber_mm is not None
            _check_rise("the beam mould rises", self.mould_camber_mm, self.mould_span_mm)
        _check_rise("the beam rises", self.rise_mm, self.span_mm)
        under = abs(self.rise_mm - self.moulding_mm + self.end_mm)
        _check_rise("with this taper the lower edge bends", under, self.span_mm)

    def _ends_fit(self) -> None:
        length = self.span_mm / 2 - self.inner_mm
        if self.half_from_mm is not None and self.half_from_mm >= self.span_mm / 2:
            raise PartError(
                f"the half beam begins {self.half_from_mm:g} mm from the centreline, at or past "
                f"its outer end at {self.span_mm / 2:g} mm: move the carlin inboard"
            )
        wood.check_bearings(self.bearing_mm, length)
        wood.check_taper(self.end_mm, self.moulding_mm)

    @property
    def end_mm(self) -> float:
        """Depth at the ends."""
        return self.moulding_mm if self.end_moulding_mm is None else self.end_moulding_mm

    @property
    def inner_mm(self) -> float:
        """Where the beam's inner end stands: the carlin of a half beam, or the far end."""
        return -self.span_mm / 2 if self.half_from_mm is None else self.half_from_mm

    @property
    def rise_mm(self) -> float:
        """Rise of the crown at the centreline over the whole span."""
        if self.camber_mm is not None:
            return self.camber_mm
        if self.mould_radius_mm is not None:
            return radius_rise(self.span_mm, self.mould_radius_mm)
        assert self.mould_span_mm is not None and self.mould_camber_mm is not None
        mould = Crown(self.mould_span_mm, self.mould_camber_mm, self.curve)
        return mould_rise(self.span_mm, self.mould_span_mm, mould)

    def edges(self) -> tuple[Points, Points]:
        """Return the upper and the lower edge, each along x."""
        crown = Crown(self.span_mm, self.rise_mm, self.curve)
        return beam_edges(crown, self.moulding_mm, self.end_mm, self.inner_mm)

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, crown above."""
        upper, lower = self.edges()
        shape = Polygon(without_repeats(np.vstack([lower, upper[::-1]])))
        grain = wood.beam_grain(self.grain, upper, lower, upper[:, 0])
        return Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([upper, lower], grain),
            bearing_zones=tuple(
                wood.beam_seat(shape, bearer, start, end) for start, end, bearer in self._bearings
            ),
            marks=self._marks(shape),
        )

    @property
    def _bearings(self) -> list[tuple[float, float, str]]:
        """The beam's ends: where each begins and ends along x, and what bears it."""
        half, inner = self.span_mm / 2, self.inner_mm
        bearer = "shelf" if self.half_from_mm is None else "carlin"
        return [
            (inner, inner + self.bearing_mm, bearer),
            (half - self.bearing_mm, half, "shelf"),
        ]

    def _marks(self, shape: Polygon) -> tuple[Mark, ...]:
        (_, inner, bearer), (outer, _, _) = self._bearings
        ends = wood.bearer_mark(shape, bearer, inner), wood.bearer_mark(shape, "shelf", outer)
        return (wood.centreline_mark(shape), *ends) if self.half_from_mm is None else ends

    def solid(self) -> cq.Workplane:
        """Return the finished beam, without its dovetails or tenons."""
        return prism(self.outline().shape, self.siding_mm)


def _check_rise(what: str, rise_mm: float, span_mm: float) -> None:
    if rise_mm > STEEPEST_CROWN * span_mm:
        raise PartError(
            f"{what} {rise_mm:.1f} mm over {span_mm:g} mm, must be at most a quarter of the span, "
            f"{STEEPEST_CROWN * span_mm:.1f} mm: was it meant per foot, or in another unit?"
        )
