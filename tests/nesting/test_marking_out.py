"""Points to mark out by: a batten of another make through the figures as they are printed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from shapely.geometry import LineString

from nesting.marking_out import marking_out
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.project import read_project
from nesting.sheets.marking_tables import points_table
from nesting.stock.board import Board, board_outline
from nesting.tape import Tape
from nesting.units import Unit, parse_length

DEMOS = Path(__file__).parents[2] / "demo_projects"
PROJECTS = ("first_cut", "launch_to_dinghy", "tender_to_sloop")
WITHIN = {Unit.MM: 0.5, Unit.CM: 0.5, Unit.INCH: 25.4 / 64, Unit.FOOT: 25.4 / 64}
"""What the sheets state."""

Told = list[tuple[str, float, float]]
Points = NDArray[np.float64]


def printed(nest: Nest, unit: Unit) -> dict[int, Told]:
    """Return name, along and across of the points of each part, read from the table's texts."""
    found: dict[int, Told] = {}
    number = 0
    for first, *cells in points_table(marking_out(nest, Tape.of(unit)), unit).rows:
        number = int(first) if first else number
        for at in range(0, len(cells), 3):
            name, along, across = cells[at : at + 3]
            if name:
                place = parse_length(along, unit), parse_length(across, unit)
                found.setdefault(number, []).append((name, *place))
    return found


def battens(told: Told) -> Iterator[Points]:
    """Yield what is drawn from letter to letter: straight, or round a natural cubic spline."""
    letters = [k for k, (name, *_) in enumerate(told) if name[0].isalpha()]
    closed = np.array([place for _, *place in [*told, told[0]]])
    for start, end in zip(letters, [*letters[1:], len(told)], strict=True):
        points = closed[start : end + 1]
        chords = np.hypot(*np.diff(points, axis=0).T)
        if len(points) == 2 or not chords.all():
            yield points
            continue
        at = np.concatenate([[0.0], np.cumsum(chords)])
        spline = CubicSpline(at, points, bc_type="natural")
        yield spline(np.unique(np.concatenate([at, np.linspace(0, at[-1], 60 * len(points))])))


def on_board(points: Points, base: object) -> Points:
    """Return measures from the base line on the board, by its own formula."""
    turn = math.radians(base.angle_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    across = np.array([-math.sin(turn), math.cos(turn)])
    return np.asarray(base.origin) + points[:, :1] * along + points[:, 1:] * across


def apart(nest: Nest, unit: Unit) -> list[float]:
    """Return how far what is marked lies from the true outer line of each part, both ways."""
    base = marking_out(nest, Tape.of(unit)).base
    found = []
    told = printed(nest, unit)
    for number, placement in enumerate(nest.placements, start=1):
        outer = placement.polygon.exterior
        inner = [shapely.get_num_interior_rings(placement.polygon)]
        assert inner == [0], "rings are told one after another"
        drawn = LineString(on_board(np.vstack(list(battens(told[number]))), base))
        ways = (drawn, outer), (outer, drawn)
        found.append(max(_farthest(one, other) for one, other in ways))
    return found


def _farthest(line: LineString, other: LineString) -> float:
    points = shapely.points(shapely.get_coordinates(line))
    return float(np.max(shapely.distance(points, other)))


@cache
def needs(name: str) -> tuple[Need, ...]:
    return tuple(read_project(DEMOS / name / "project.yaml").needs)


def alone(need: Need, angle_deg: float) -> Nest:
    """Return a part by itself on a board, turned, its lower left corner somewhere odd."""
    turned = Placement(need, 0.0, 0.0, angle_deg).polygon
    low_x, low_y, high_x, high_y = turned.bounds
    place = Placement(need, 7.31 - low_x, 9.77 - low_y, angle_deg)
    size = high_x - low_x + 20, high_y - low_y + 20
    edge = board_outline([(0, 0), (size[0], 0), (size[0], size[1]), (0, size[1])])
    return Nest(Board("b", edge, 200, need.species[0]), (place,))


@pytest.mark.parametrize("name", PROJECTS)
@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
def test_a_batten_through_the_printed_points_is_true_for_every_part_of_the_demos(
    name: str, unit: Unit
) -> None:
    off = {
        need.part: apart(alone(need, angle), unit)[0]
        for number, need in enumerate(needs(name))
        for angle in ((0.0, 1.7, 173.2, 61.0)[number % 4],)
        if not need.outline.shape.interiors
    }
    assert off
    worst = max(off, key=lambda part: off[part])
    assert off[worst] <= WITHIN[unit] + 1e-6, worst
