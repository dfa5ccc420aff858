"""Drawn outlines: parts that come as a closed outline in a DXF drawing.

Frame of the outline: the drawing's own directions, moved so that its lower-left is the origin.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

from pydantic import Field, PrivateAttr, ValidationInfo, model_validator
from shapely.affinity import translate
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from nesting.dxf_file.drawn import read_rings
from nesting.dxf_file.outlines import DrawnOutline, read_outlines, rings_read_whole
from nesting.errors import DrawingError, PartError
from nesting.fields import Size, SlopeOfGrain
from nesting.grain import straight_grain
from nesting.outline import BearingZone, Outline
from nesting.units import Unit
from parts.part import Family
from parts.run_out import run_out_of
from parts.solids import prism

if TYPE_CHECKING:
    import cadquery as cq


class DrawnOutlinePart(Family):
    """A part of any shape, from a closed outline in a DXF or SVG drawing; rings inside are
    cut-outs.

    The grain is straight, at an angle to the drawing's x. Closed outlines on a layer of their
    own may mark bearing zones, where the part must be whole wood.
    """

    family: ClassVar[str] = "drawn outline"

    file: str = Field(
        min_length=1,
        description="DXF or SVG drawing, from the folder of the project file",
        examples=["drawings/quarter_knee.dxf"],
    )
    layer: str | None = Field(None, description="layer of the outline, if there are several")
    number: int | None = Field(
        None, ge=1, description="which outline, the largest being 1, if there are several"
    )
    unit: Unit | None = Field(None, description="if the drawing's own unit is missing or wrong")
    thickness_mm: Size | None = Field(
        None, description="thickness across the sawn face, of a plank; or give siding", le=600
    )
    siding_mm: Size | None = Field(
        None, description="the same, of a frame, floor or other timber", le=600
    )
    grain_deg: Annotated[float, Field(ge=-180, le=180)] = Field(
        0.0, description="direction of the grain, degrees anticlockwise from the drawing's x"
    )
    slope_of_grain: SlopeOfGrain = 12.0
    may_turn_over: bool = Field(True, description="whether it may be sawn with the drawn face down")
    bearing_zones: str | None = Field(
        None, description="layer of closed outlines where the part must be whole wood"
    )

    _outline: Outline = PrivateAttr()

    @model_validator(mode="after")
    def _read(self, info: ValidationInfo) -> Self:
        context = info.context or {}
        path = Path(context.get("folder", ".")) / self.file
        drawn = self._drawn(path, context.get("unit", Unit.MM))
        left, bottom, _, _ = drawn.shape.bounds
        shape = translate(drawn.shape, -left, -bottom)
        zones = self._zones(path, context.get("unit", Unit.MM))
        self._outline = Outline(
            shape=shape,
            siding_mm=self._thick_mm,
            grain=straight_grain(self.grain_deg),
            slope_of_grain=self.slope_of_grain,
            run_out=run_out_of(shape, self.grain_deg),
            bearing_zones=tuple(
                BearingZone(translate(zone, -left, -bottom), f"bearing zone {i + 1}")
                for i, zone in enumerate(zones)
                if zone.intersects(drawn.shape)
            ),
            may_turn_over=self.may_turn_over,
            is_plank=self.siding_mm is None,
        )
        return self

    @property
    def _thick_mm(self) -> float:
        """Thickness or siding, whichever is given."""
        given = [mm for mm in (self.thickness_mm, self.siding_mm) if mm is not None]
        if len(given) != 1:
            what = "both thickness and siding are" if given else "no thickness is"
            raise PartError(
                f"{what} given: give the thickness of a plank, or the siding of a frame, floor or "
                "other timber"
            )
        return given[0]

    def _drawn(self, path: Path, default_unit: Unit) -> DrawnOutline:
        found = read_outlines(
            path,
            layer=self.layer,
            without_layers=[self.bearing_zones] if self.bearing_zones else [],
            unit=self.unit,
            default_unit=default_unit,
        )
        if self.number is not None and self.number <= len(found):
            return found[self.number - 1]
        if len(found) > 1 or self.number is not None:
            layers = sorted({outline.layer for outline in found})
            raise DrawingError(
                f"{path}: there are {len(found)} outlines, on layers {', '.join(layers)}; say "
                "which with layer: or number:, the largest being 1"
            )
        return found[0]

    def _zones(self, path: Path, default_unit: Unit) -> list[Polygon]:
        if self.bearing_zones is None:
            return []
        drawn = read_rings(path, unit=self.unit, default_unit=default_unit)
        on_layer = drawn.required(self.bearing_zones)
        rings = rings_read_whole(on_layer, self.bearing_zones, "bearing zone")
        return [orient(ring.polygon) for ring in rings]

    def outline(self) -> Outline:
        """Return the flat shape to be sawn."""
        return self._outline

    def solid(self) -> cq.Workplane:
        """Return the outline sawn square through its thickness."""
        return prism(self._outline.shape, self._outline.siding_mm)
