"""What every outline of a family must satisfy, and building one from parameters that may not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import numpy as np
from pydantic import ValidationError
from shapely.geometry import LineString, Point

from nesting.errors import PartError
from nesting.outline import MarkKind, Outline
from parts.part import Family

ROUNDING_MM = 1e-3
F = TypeVar("F", bound=Family)


def built(family: type[F], parameters: Mapping[str, Any]) -> F | None:
    """Return the part, or None if the family refused it with a PartError."""
    try:
        return family(**parameters)
    except ValidationError as refused:
        causes = [error["ctx"]["error"] for error in refused.errors()]
        assert all(isinstance(cause, PartError) for cause in causes), causes
        return None


def refusal(family: type[Family], parameters: Mapping[str, Any]) -> str:
    """Return what the family says when it refuses these parameters."""
    try:
        family(**parameters)
    except ValidationError as refused:
        return str(refused.errors()[0]["msg"])
    raise AssertionError(f"{family.family} accepted {dict(parameters)}")


def assert_sound(outline: Outline) -> None:
    """Check the shape, and that marks, zones, grain and bevels belong to it."""
    assert outline.shape.is_valid
    assert outline.area_mm2 > 0
    assert np.isfinite(np.asarray(outline.shape.exterior.coords)).all()
    assert outline.run_out > 0
    wood = outline.shape.buffer(ROUNDING_MM)
    for mark in outline.marks:
        line = LineString(mark.points) if len(mark.points) > 1 else Point(mark.points[0])
        if mark.kind is MarkKind.BOLT and len(mark.points) == 1:
            line = line.buffer((mark.diameter_mm or 0) / 2)
        assert wood.covers(line), mark
    for zone in outline.bearing_zones:
        assert zone.region.is_valid
        assert zone.region.area > 0
        assert wood.covers(zone.region), zone.label
    assert all(bevel.allowance_mm >= 0 for bevel in outline.bevels)
    steps = np.diff(np.asarray(outline.shape.exterior.coords), axis=0)
    assert (np.hypot(*steps.T) > 1e-9).all()
