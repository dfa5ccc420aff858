"""Small pictures and tables for notebooks: shapes and words in, SVG and HTML out.

They are to be looked at, not measured. Nothing here knows boards or parts: those say of themselves
what is to be drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from xml.sax.saxutils import escape

import shapely
from shapely.geometry import LineString, Polygon

from nesting.unseen import shown

LONGEST_PX, HIGHEST_PX = 860.0, 320.0
"""A picture is no longer and no higher: the width of a notebook's page."""

LARGEST_SCALE = 2.0
"""Pixels to a mm at most: a small part need not fill the page."""

EDGE_PX = 6.0
"""Left white around."""

LETTER_PX, CAPTION_PX = 11.0, 12.0
"""Size of lettering."""

LETTER_WIDTH = 0.62
"""Width of a letter, of its size: about that of the widest common sans serif (from memory)."""

LEAST_PX = 1.5
"""No filled spot has a smaller radius: a nail is seen on any board."""


class Look(Enum):
    """How a shape is drawn: fill, line, and width of the line in pixels."""

    BOARD = 'fill="#f1e4cc" stroke="#5b4a2f" stroke-width="1.2"'
    PART = 'fill="#ffffff" stroke="#000000" stroke-width="1.2"'
    METAL = 'fill="#000000" stroke="#000000" stroke-width="0.5"'
    HOLE = 'fill="#ffffff" stroke="#000000" stroke-width="0.8"'
    FLAW = 'fill="#8a8a8a" fill-opacity="0.55" stroke="#444444" stroke-width="0.8"'
    EDGE = 'fill="none" stroke="#000000" stroke-width="1.2"'
    ZONE = 'fill="#cfe0f3" stroke="none"'
    LINE = 'fill="none" stroke="#8a6d3b" stroke-width="1"'
    MARK = 'fill="none" stroke="#555555" stroke-width="0.7" stroke-dasharray="4 2"'


@dataclass(frozen=True)
class Drawn:
    """One shape, mm, how it looks, and what it is called; a name is written in it if it fits."""

    shape: Polygon | LineString
    look: Look
    name: str = ""
    is_written: bool = False


def picture(shapes: Sequence[Drawn], caption: str) -> str:
    """Return an SVG of shapes, the first the largest and lowest, with a line of words below.

    Examples
    --------
    >>> picture([Drawn(Polygon([(0, 0), (300, 0), (300, 60)]), Look.PART)], "a < b")[:60]
    '<svg xmlns="http://www.w3.org/2000/svg" width="612" height="'
    """
    low_x, low_y, high_x, high_y = shapely.total_bounds([drawn.shape for drawn in shapes])
    wide, high = max(high_x - low_x, 1e-6), max(high_y - low_y, 1e-6)
    scale = min(LONGEST_PX / wide, HIGHEST_PX / high, LARGEST_SCALE)
    least = len(caption) * LETTER_WIDTH * CAPTION_PX
    width = math.ceil(max(wide * scale, least) + 2 * EDGE_PX)
    height = math.ceil(high * scale + 3 * EDGE_PX + CAPTION_PX)
    frame = _Frame(scale, EDGE_PX - low_x * scale, EDGE_PX + high_y * scale)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img">',
        f"<title>{_safe(caption)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        *(frame.drawn(each) for each in shapes),
        *(frame.written(each) for each in shapes if each.is_written and frame.has_room(each)),
        f'<text x="{EDGE_PX:g}" y="{height - EDGE_PX:g}" {_face(CAPTION_PX)}>{_safe(caption)}'
        "</text>",
        "</svg>",
    ]
    return "\n".join(lines)


@dataclass(frozen=True)
class _Frame:
    """Where mm lie in pixels; y runs down there."""

    scale: float
    x: float
    y: float

    def at(self, point: Sequence[float]) -> tuple[float, float]:
        return self.x + point[0] * self.scale, self.y - point[1] * self.scale

    def drawn(self, each: Drawn) -> str:
        """Return a shape as a path; a spot too small to be seen as a dot."""
        name = f"<title>{_safe(each.name)}</title>" if each.name else ""
        shape = each.shape
        if isinstance(shape, LineString):
            return f'<path d="{self._way(shape.coords)}" {each.look.value}>{name}</path>'
        radius = math.sqrt(shape.area / math.pi) * self.scale
        if radius < LEAST_PX:
            x, y = self.at((shape.centroid.x, shape.centroid.y))
            spot = f'cx="{x:.2f}" cy="{y:.2f}" r="{LEAST_PX}"'
            return f"<circle {spot} {each.look.value}>{name}</circle>"
        rings = (shape.exterior, *shape.interiors)
        way = " ".join(f"{self._way(ring.coords[:-1])} Z" for ring in rings)
        return f'<path d="{way}" fill-rule="evenodd" {each.look.value}>{name}</path>'

    def _way(self, points: Iterable[Sequence[float]]) -> str:
        return "M " + " L ".join("{:.2f},{:.2f}".format(*self.at(point)) for point in points)

    def has_room(self, each: Drawn) -> bool:
        """Return whether a name fits into its shape, where the shape has most room."""
        wide = len(each.name) * LETTER_WIDTH * LETTER_PX / self.scale
        high = 1.2 * LETTER_PX / self.scale
        x, y = self._middle(each)
        box = shapely.box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
        return bool(box.within(each.shape))

    def written(self, each: Drawn) -> str:
        x, y = self.at(self._middle(each))
        return (
            f'<text x="{x:.2f}" y="{y + 0.36 * LETTER_PX:.2f}" text-anchor="middle" '
            f"{_face(LETTER_PX)}>{_safe(each.name)}</text>"
        )

    def _middle(self, each: Drawn) -> tuple[float, float]:
        """Return the centre of a shape, or where it is broadest if the centre is not in it."""
        centre = each.shape.centroid
        if isinstance(each.shape, Polygon) and not each.shape.contains(centre):
            circle = shapely.maximum_inscribed_circle(each.shape, tolerance=1.0)
            x, y = circle.coords[0]
            return float(x), float(y)
        return float(centre.x), float(centre.y)


def table(caption: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return an HTML table of words; numbers stand to the right.

    Examples
    --------
    >>> print(table("left over", ["part", "count"], [["a & b", "2"]]))
    <table>
    <caption>left over</caption>
    <tr><th>part</th><th>count</th></tr>
    <tr><td>a &amp; b</td><td style="text-align:right">2</td></tr>
    </table>
    """
    head = "".join(f"<th>{_safe(heading)}</th>" for heading in headings)
    body = [f"<tr>{''.join(map(_cell, row))}</tr>" for row in rows]
    return "\n".join(
        ["<table>", f"<caption>{_safe(caption)}</caption>", f"<tr>{head}</tr>", *body, "</table>"]
    )


def _cell(words: str) -> str:
    is_figure = words[:1].isdigit() and words[-1:] in "0123456789%"
    style = ' style="text-align:right"' if is_figure else ""
    return f"<td{style}>{_safe(words)}</td>"


def _face(size: float) -> str:
    return f'font-family="Verdana, Arial, sans-serif" font-size="{size:g}" fill="#000000"'


def _safe(text: str) -> str:
    return escape(shown(text))
