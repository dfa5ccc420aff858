"""Lines that run through lettering, and lettering over lettering, on any drawing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.read_back.drawing import HANGING
from nesting.sheets.drawing import Area, Circle, Drawing, Entity, Polyline, Role, Text, arrow_lines
from nesting.sheets.written import read_written

LETTER_RISE = 1.0
"""A caption is held clear of lines from its base line to the height of its capitals."""

RUBBED_MM = 0.15
"""So near on paper a line still counts as beside a caption."""

LEAST_LETTER_MM = 2.2
"""Height of the smallest lettering of a sheet on paper."""


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


def in_file(path: Path) -> list[str]:
    """Return what is wrong with the lettering of a written sheet: crossed by a line, or by other.

    In each view that a shop reads: full size and enlarged lie apart on the sheet.
    """
    texts, lines = list[Text](), list[tuple[BaseGeometry, str]]()
    for drawn in read_written(path).drawn:
        figures = drawn.numbers
        if drawn.kind == "text":
            x, y, *_, height, _wide = figures
            anchor = {code: anchor for anchor, code in HANGING.items()}[int(drawn.words[1][0])]
            shown = drawn.words[0].replace("%%c", "Ø").replace("% %", "%%").replace("^ ", "^")
            texts.append(Text(shown, (x, y), height, Role.NOTE, anchor))
        elif drawn.kind == "circle":
            lines.append((shapely.Point(figures[:2]).buffer(figures[2]).boundary, drawn.layer))
        elif drawn.kind == "line":
            lines.append((shapely.LineString([figures[:2], figures[2:]]), drawn.layer))
        elif drawn.kind == "polyline":
            points = [*zip(figures[::3], figures[1::3], strict=True)]
            points += points[:1] if drawn.words[0] == "closed" else []
            lines.append((shapely.LineString(points), drawn.layer))
    paper = min(text.height_mm for text in texts) / LEAST_LETTER_MM
    boxes = np.array([box_of(text, paper) for text in texts])
    at, by = shapely.STRtree([line for line, _ in lines]).query(boxes, predicate="intersects")
    found = [f"{texts[i].text!r} and {lines[j][1]}" for i, j in zip(at, by, strict=True)]
    at, by = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    pairs = [(texts[i].text, texts[j].text) for i, j in zip(at, by, strict=True) if i < j]
    return found + [f"{one!r} and {other!r}" for one, other in pairs]
