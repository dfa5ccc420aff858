"""Where marked points stand, which way the wood lies from them, and which marks are told."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon

from nesting.marking.marking_out import marking_out
from nesting.marking.tape import Tape
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Mark, MarkKind, Outline
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.units import Unit

MM = Tape.of(Unit.MM)
TURNS = np.linspace(0, 2 * math.pi, 90, endpoint=False)
PLATE = shapely.box(0, 0, 400, 160)
NOTCHED = PLATE - shapely.box(250, 60, 400, 110)
WINDOW = shapely.box(60, 40, 140, 110)
BORED = Polygon(np.column_stack([320 + 20 * np.cos(TURNS), 30 + 20 * np.sin(TURNS)]))

LEANING = board_outline([(0, 0), (900, 60), (890, 560), (0, 500)])


def marked(shape, *, marks=(), angle=0.0, edge=LEANING):
    """Return a part as it is marked out on a board whose lower edge leans."""
    need = Need("plate", "any", Outline(shape, 20, marks=tuple(marks)), ("oak",))
    nest = Nest(Board("b", edge, 40, "oak"), (Placement(need, 300, 180, angle),))
    out = marking_out(nest, MM)
    (part,) = out.parts
    return part, nest.placements[0].polygon, out


def way(angle_deg):
    return np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])


@pytest.mark.parametrize("angle", [0.0, 31.0, 180.0])
@pytest.mark.parametrize("shape", [NOTCHED, PLATE - WINDOW, PLATE - BORED])
def test_way_inward_goes_into_the_wood_and_halves_the_corner(shape, angle):
    part, polygon, _ = marked(shape, angle=angle)
    points = [point for ring in part.rings for point in ring.points]
    assert len(points) >= 5
    for point in points:
        steps = [
            np.array(point.at) + (point.clear_mm + on) * way(point.inward_deg) for on in (3, -3)
        ]
        assert polygon.contains(Point(steps[0]))
        assert not polygon.contains(Point(steps[1]))
        # As far from the edge as a corner of a half or three quarters of a turn lets it be.
        assert polygon.boundary.distance(Point(steps[0])) > 3 * 0.6


@pytest.mark.parametrize("angle", [0.0, 31.0])
def test_points_lie_where_their_figures_say_and_on_the_corners(angle):
    part, polygon, out = marked(NOTCHED, angle=angle)
    corners = shapely.MultiPoint(polygon.exterior.coords)
    turn = math.atan2(60, 900)
    along, across = way(math.degrees(turn)), way(math.degrees(turn) + 90)
    for point in part.rings[0].points:
        at = point.along_mm * along + point.across_mm * across
        assert at == pytest.approx(point.at, abs=1e-6)
        assert corners.distance(Point(at)) < 0.5
        assert out.told(*point.at) == pytest.approx((point.along_mm, point.across_mm), abs=1e-6)


def test_bored_hole_is_clear_by_half_its_diameter():
    part, _, _ = marked(PLATE - BORED)
    outer, inner = part.rings
    (middle,) = inner.points
    assert inner.diameter_mm == pytest.approx(40, abs=0.1)
    assert middle.clear_mm == pytest.approx(20, abs=0.05)
    assert (outer.is_inner, inner.is_inner) == (False, True)
    assert [point.clear_mm for point in outer.points] == [0.0] * 4


@pytest.mark.parametrize(
    ("kind", "points", "is_told"),
    [
        (MarkKind.REFERENCE, [(200, 0), (200, 160)], True),  # a joint right across
        (MarkKind.REFERENCE, [(200, 0.4), (200, 159.6)], True),
        (MarkKind.REFERENCE, [(200, 1), (200, 160)], False),  # ends in the wood
        (MarkKind.REFERENCE, [(0, 7), (400, 7)], False),  # the edge of a bevelled face
        (MarkKind.REFERENCE, [(0, 9), (400, 9)], True),
        (MarkKind.REFERENCE, [(200, 0), (210, 80), (200, 160)], False),
        (MarkKind.CENTRELINE, [(200, 20), (200, 60)], True),
        (MarkKind.CENTRELINE, [(0, 7), (400, 7)], True),
    ],
)
def test_lines_right_across_a_part_are_told_and_those_along_its_edge_are_not(kind, points, is_told):
    part, _, _ = marked(PLATE, marks=[Mark(kind, tuple(points), "J")])
    assert bool(part.lines) is is_told
    assert all(line.name == "J" for line in part.lines)


def test_line_of_several_stretches_is_told_by_the_ends_of_each():
    bent = Mark(MarkKind.CENTRELINE, ((0.0, 50.0), (100.0, 50.0), (200.0, 50.1), (300.0, 90.0)))
    part, polygon, _ = marked(
        PLATE, marks=[bent], edge=board_outline([(0, 0), (900, 0), (900, 560), (0, 560)])
    )
    assert [line.ends for line in part.lines] == [
        ((300.0, 230.0), (500.0, 230.0)), ((500.0, 230.0), (600.0, 270.0)),
    ]  # fmt: skip
    assert polygon.bounds[:2] == (300, 180)
