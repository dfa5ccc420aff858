"""Published strip sets: a short search comes near the best published length.

Sets of the ESICUP data repository (CC0 1.0), as named in ``tests/data/strips.json``. Best lengths
are recalled, not verified, but for dighe2: its pieces fill a square, so its area proves the best.
"""

import json
import math
import os
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.layout import Shape
from nesting.engine.stop import MaxRounds
from nesting.engine.strip.strip_lanes import shortest_strip

SETS = {
    data["name"]: data
    for data in json.loads((Path(__file__).parents[3] / "data" / "strips.json").read_text())
}

ROUNDS = {"dighe2": 60, "fu": 20, "blaz": 20}
"""Attempts of each of two lanes: a few seconds."""

SLOWEST, ALL_SETS = "blaz", "ALL_STRIPS" in os.environ
"""It takes as long as the two others, and is left out of the gate."""

FLOORS = {"dighe2": 0.90, "fu": 0.92, "blaz": 0.90}
"""Best published length over the length reached. Seeds 1 to 3 reach 1.00, .964 to .989 and .946 to
.962, first layouts .68, .85 and .84: far enough below the one that chance decides nothing, and
above the others."""


def lying(strip, outlines):
    """Return the true outlines where a strip's items lie."""
    turned = [
        affinity.rotate(outlines[number], place[2], origin=(0, 0), use_radians=True)
        for number, place in zip(strip.outlines, strip.places, strict=True)
    ]
    return [
        affinity.translate(shape, *place[:2])
        for shape, place in zip(turned, strip.places, strict=True)
    ]


@pytest.mark.parametrize("name", [name for name in SETS if name != SLOWEST or ALL_SETS])
def test_short_search_comes_near_the_best_published_length(name):
    data = SETS[name]
    outlines = [Polygon(piece["outline"]) for piece in data["pieces"]]
    items = [n for n, piece in enumerate(data["pieces"]) for _ in range(piece["count"])]
    ways = tuple((math.radians(angle), False) for angle in data["rotations_deg"])
    width = float(data["strip_width"])
    strip = shortest_strip(
        [Shape(Pieces.of(convex_pieces(shape)), shape.area, ways) for shape in outlines],
        items, width, 0.0, MaxRounds(ROUNDS[name]), seed=1,
    )  # fmt: skip
    assert sorted(strip.outlines) == items
    assert data["best_length"] / strip.length >= FLOORS[name]
    assert strip.length >= sum(outlines[n].area for n in items) / width * (1 - 1e-9)
    placed = lying(strip, outlines)
    low_x, low_y, _, _ = shapely.union_all(placed).bounds
    frame = box(low_x, low_y, low_x + strip.length, low_y + width).buffer(1e-6)
    assert all(shapely.contains(frame, placed))
    overlaps = [a.intersection(b).area for i, a in enumerate(placed) for b in placed[:i]]
    assert max(overlaps) <= 1e-6 * np.mean([shape.area for shape in placed])
    allowed = {round(math.degrees(angle) % 360, 6) for angle, _ in ways}
    assert {round(math.degrees(place[2]) % 360, 6) for place in strip.places} <= allowed
