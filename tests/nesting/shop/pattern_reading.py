"""Patterns as printed, read back by a second library and joined by their crosses."""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass, field

import numpy as np
import pdfplumber
import shapely
from shapely.geometry import LineString, MultiLineString

MM = 25.4 / 72.0

EDGE, CROSS, RULER = 0.35, 0.25, 0.18
"""Widths of the pens, mm, by which lines are told apart in a PDF."""


@dataclass
class PrintedPage:
    """What stands on a page, mm from its lower left corner."""

    size: tuple[float, float]
    text: str
    edges: list[LineString] = field(default_factory=list)
    crosses: dict[str, tuple[float, float]] = field(default_factory=dict)
    ruler: list[LineString] = field(default_factory=list)

    @property
    def name(self) -> tuple[str, str]:
        """Sheet and page."""
        found = re.search(r"Sheet (\d+), page ([A-Z]+\d+)", self.text)
        return (found[1], found[2]) if found else ("", "")


def printed(content: bytes) -> list[PrintedPage]:
    """Return all pages of a PDF."""
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        return [_page(page) for page in pdf.pages]


def _page(page) -> PrintedPage:
    high = float(page.height)
    found = PrintedPage((float(page.width) * MM, high * MM), page.extract_text() or "")
    strokes = list[LineString]()
    for thing in (*page.lines, *page.curves, *page.rects):
        points = [(x * MM, (high - y) * MM) for x, y in thing["pts"]]
        width = float(thing["linewidth"]) * MM
        if thing in page.rects or (thing.get("path") or [("",)])[-1][0] == "h":
            points.append(points[0])
        line = LineString(points)
        if math.isclose(width, EDGE, abs_tol=0.01):
            found.edges.append(line)
        elif math.isclose(width, CROSS, abs_tol=0.005):
            strokes.append(line)
        elif math.isclose(width, RULER, abs_tol=0.005):
            found.ruler.append(line)
    numbers = [word for word in page.extract_words() if word["text"].isdigit()]
    for level in strokes:
        (x0, y0), (x1, y1) = level.coords[0], level.coords[-1]
        if len(level.coords) != 2 or abs(y1 - y0) > 0.01 or not 11.9 < abs(x1 - x0) < 12.1:
            continue
        for upright in strokes:
            if len(upright.coords) == 2 and upright.crosses(level):
                at = upright.intersection(level)
                corner = np.array([at.x + 2.8, at.y + 2.4])
                places = [
                    np.array([word["x0"] * MM, (high - word["bottom"]) * MM]) for word in numbers
                ]
                near = int(np.argmin([np.hypot(*(place - corner)) for place in places]))
                found.crosses[numbers[near]["text"]] = (at.x, at.y)
    return found


def joined(pages: list[PrintedPage]) -> tuple[MultiLineString, float]:
    """Return the edges of pages laid on each other cross on cross, and how far crosses are off."""
    placed = {0: np.zeros(2)}
    worst = 0.0
    while len(placed) < len(pages):
        before = len(placed)
        for number, page in enumerate(pages):
            for other, shift in list(placed.items()):
                shared = page.crosses.keys() & pages[other].crosses.keys()
                if number in placed or not shared:
                    continue
                steps = np.array(
                    [np.subtract(pages[other].crosses[k], page.crosses[k]) for k in shared]
                )
                worst = max(worst, float(np.ptp(steps, axis=0).max()))
                placed[number] = shift + steps.mean(axis=0)
        assert len(placed) > before, "a page shares no cross with the others"
    lines = [
        shapely.transform(edge, lambda xy, move=placed[number]: xy + move)
        for number, page in enumerate(pages)
        for edge in page.edges
    ]
    return MultiLineString([line for line in lines if line.length > 0]), worst


def apart(drawn: shapely.Geometry, wanted: shapely.Geometry) -> float:
    """Return how far lines are from each other, either way round, when laid on their middles."""
    low, high = np.reshape(drawn.bounds, (2, 2)), np.reshape(wanted.bounds, (2, 2))
    moved = shapely.transform(drawn, lambda xy: xy + (high - low).mean(axis=0))
    return max(
        float(shapely.distance(one, shapely.points(shapely.get_coordinates(other))).max())
        for one, other in (
            (moved, shapely.segmentize(wanted, 5.0)),
            (wanted, shapely.segmentize(moved, 5.0)),
        )
    )
