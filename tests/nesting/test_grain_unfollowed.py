"""Grown parts that no board's grain can follow: said by the check, before anything is nested."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from project_texts import project_text, written
from shapely.geometry import LineString

from nesting.grain import GrainPath, angle_between, may_follow, straight_grain
from nesting.project import read_project
from nesting.remarks import remarks

KNEE = (
    "  - {part: knee, family: knee, species: teak, shape: {kind: hanging, siding: 25, "
    "beam_arm: 200, side_arm: 220, throat: 80, tip_moulding: 30, bolt: 6, grain: grown, "
    "slope_of_grain: 1 in 6}}\n"
)
WOOD = "  - {board: C-1, species: teak, thickness: 40, length: 900, width: 800}\n"

ROUND = "[[900, 150], [400, 150], [250, 200], [180, 270], [140, 400], [140, 800]]"
"""The grain of a crook taped with points round its bend."""

COARSE = "[[900, 150], [400, 150], [140, 400], [140, 800]]"
"""The same with two: at each it turns by more than is taken for a fair sweep."""


def told(folder, *, grain: str | None) -> list[str]:
    stock = WOOD if grain is None else WOOD.replace("}", f", grain: {grain}}}")
    project = read_project(written(folder, project_text(stock=stock, parts=KNEE)))
    return [found.message for found in remarks(project) if "no board can give" in found.message]


@pytest.mark.parametrize(
    ("grain", "says"),
    [
        (None, "every board of its wood and thickness is straight-grained; give a grown crook"),
        (
            "[[0, 300], [450, 350], [900, 500]]",
            "and that of C-1, which turns the most, by 12;",
        ),
        ("[[900, 150], [150, 150], [150, 800]]", "record it with more points round the bend;"),
        (COARSE, "record it with more points round the bend;"),
    ],
    ids=["straight", "sweep", "sharp-corner", "coarse"],
)
def test_grown_part_is_named_where_no_grain_bends_as_its_own(tmp_path, grain, says):
    (found,) = told(tmp_path, grain=grain)
    assert (
        "no board's grain bends as its own does, however it is laid: its own turns by 89 " in found
    )
    assert says in found


def test_grown_part_is_not_named_where_a_crook_bends_as_it_does(tmp_path):
    assert told(tmp_path, grain=ROUND) == []


def _line(rng: np.random.Generator, segments: int) -> GrainPath:
    ways = np.radians(np.cumsum(rng.uniform(-40, 40, segments)))
    spans = rng.uniform(40, 120, segments)[:, None] * np.column_stack([np.cos(ways), np.sin(ways)])
    return GrainPath(tuple(map(tuple, np.vstack([[0, 0], np.cumsum(spans, axis=0)]).tolist())))


@pytest.mark.parametrize("seed", range(60))
def test_grain_may_follow_where_some_turning_out_of_many_suits_every_segment(seed):
    rng = np.random.default_rng(seed)
    own, wood = _line(rng, int(rng.integers(2, 6))), _line(rng, int(rng.integers(1, 6)))
    reach = float(rng.uniform(3, 20))
    line = shapely.segmentize(LineString(wood.points), 2.0)
    ways = [*wood.angles_deg, *{round(way, 2) for way in wood.angles_at(np.asarray(line.coords))}]
    for is_over in (False, True):
        sign = -1 if is_over else 1
        worst = min(
            max(
                min(angle_between(sign * along + turn, way) for way in ways)
                for along in own.angles_deg
            )
            for turn in np.arange(0, 180, 0.25)
        )
        if abs(worst - reach) > 0.25:  # Nearer than the steps tell nothing.
            assert may_follow(own, wood, reach, is_over=is_over) == (worst < reach)


@pytest.mark.parametrize(("reach", "may"), [(14.99, False), (15.0, True)])
def test_straight_wood_is_followed_to_half_of_what_a_part_turns_by(reach, may):
    turn = math.radians(30)
    bent = GrainPath(((0, 0), (100, 0), (100 + 100 * math.cos(turn), 100 * math.sin(turn))))
    assert bent.turn_deg == pytest.approx(30)
    assert may_follow(bent, straight_grain(77), reach) is may


def test_turn_is_followed_through_the_place_where_angles_begin_anew():
    assert GrainPath(((0, 0), (100, 10), (200, 0), (300, -60))).turn_deg == pytest.approx(
        36.67, abs=0.01
    )
    assert straight_grain(170).turn_deg == 0
