"""Lines that run through lettering, and lettering over lettering, on any drawing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.sheets.drawing import Area, Circle, Drawing, Entity, Polyline, Role, Text, arrow_lines

LETTER_RISE = 1.0
"""A caption is held clear of lines from its base line to the height of its capitals."""

RUBBED_MM = 0.15
"""So near on paper a line still counts as beside a caption."""

HATCHED = {Role.METAL, Role.GROOVE, Role.ROT, Role.SPLIT, Role.KNOT, Role.STAIN, Role.WORN_EDGE}
"""Signs whose strokes fill an area."""


class Crossed(NamedTuple):
    """A text that a line runs through, and what the line is for."""

    text: Text
    by: Role


def box_of(text: Text, paper_mm: float) -> BaseGeometry:
    """Return the room of a text's capitals."""
    low_x, _, high_x, _ = text.box
    y, off = text.at[1], RUBBED_MM * paper_mm
    high_y = y + LETTER_RISE * text.height_mm
    return shapely.box(low_x + off, y + off, high_x - off, high_y - off)


def _line_of(entity: Entity) -> Iterator[BaseGeometry]:
    if isinstance(entity, Circle):
        yield shapely.Point(entity.centre).buffer(entity.radius_mm).boundary
    elif isinstance(entity, Polyline):
        ends = (*entity.points, entity.points[0]) if entity.is_closed else entity.points
        yield shapely.LineString(ends)
    elif not isinstance(entity, Text | Area):
        for line in arrow_lines(entity):
            yield shapely.LineString(line.points)


def crossed(drawing: Drawing) -> list[Crossed]:
    """Return every text that a line runs through."""
    texts = [entity for entity in drawing.entities if isinstance(entity, Text)]
    lines = [(line, e.role) for e in drawing.entities for line in _line_of(e)]
    if not texts or not lines:
        return []
    boxes = np.array([box_of(text, drawing.scale) for text in texts])
    tree = shapely.STRtree([line for line, _ in lines])
    at, by = tree.query(boxes, predicate="intersects")
    return [Crossed(texts[i], lines[j][1]) for i, j in zip(at, by, strict=True)]
