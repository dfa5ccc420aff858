"""Sharp lines along an edge, and corners: on bands and rings made up of figures."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from nesting.photo.board_corners import corners_of
from nesting.photo.edge_lines import inner_line, steps_along, told_by_lines

FINE, STEP = 0.5, 3.0
OFFSETS = np.arange(-24.0, 24.0 + 1e-9, FINE)
PLACES = 200


def band(*shades, soft=0.0, noise=2.0):
    """Return a band (n, m, 3): shades from so many mm outward on; the last step soft if told."""
    row = np.full(len(OFFSETS), float(shades[0][1]))
    for start, shade in shades[1:]:
        row = np.where(start <= OFFSETS, float(shade), row)
    if soft:
        start, shade = shades[-1]
        share = np.clip((OFFSETS - start) / soft + 0.5, 0, 1)
        row = np.where(start - soft / 2 < OFFSETS, shades[-2][1] * (1 - share) + shade * share, row)
    made = np.repeat(np.repeat(row[None, :, None], PLACES, 0), 3, 2)
    made[..., 1:] = 128
    return made + np.random.default_rng(1).normal(0, noise, made.shape)


def told(light):
    hidden = np.zeros(light.shape[:2], bool)
    return told_by_lines(steps_along(light, FINE, STEP), hidden, STEP)


def test_a_soft_shadow_is_no_line_and_a_sawn_edge_is_one():
    # Wood as dark as its own shadow: the looks end where the shadow does.
    lines = told(band((-24, 30), (-10, 70), (6, 120), soft=20.0))
    at = OFFSETS[np.argmax(lines, axis=1)]
    assert np.median(np.abs(at + 10)) <= FINE
    assert np.median(lines[:, np.abs(OFFSETS - 6) < 9].max(axis=1)) < 0.5 * np.median(
        lines.max(axis=1)
    )


def test_nothing_is_told_where_all_is_alike():
    assert np.mean(told(band((-24, 90))) > 0) < 0.02


@pytest.mark.parametrize("wide", [4.0, 8.0, 14.0])
@pytest.mark.parametrize("shade", [70, 118], ids=["dark side", "light side"])
def test_the_face_ends_at_the_inner_of_two_lines(wide, shade):
    assert shift(band((-24, 100), (-wide, shade), (0, 40)), wide) == pytest.approx(wide, abs=1.0)
    assert shift(band((-24, 100), (0, shade), (wide, 40)), wide) == 0.0


@pytest.mark.parametrize("dark", [80, 92])
def test_a_line_in_the_grain_does_not_end_the_face(dark):
    # The side is in the dark of its own shadow: nothing shows where its foot is.
    grain = band((-24, 100), (-7, dark), (-5, 100), (0, 45), (6, 44))
    assert not shift(grain, 6.0)


def shift(light, wide):
    """Return how far an edge that was found in the middle of a band is moved inward."""
    path = np.full(PLACES, int(np.argmin(np.abs(OFFSETS))))
    steps = steps_along(light, FINE, STEP, 1.5)
    return inner_line(light, steps, path, np.arange(PLACES), wide, FINE)


def ring(*points):
    """Return a closed ring through points, a place each step."""
    found = []
    for one, other in zip(points, (*points[1:], points[0]), strict=True):
        one, other = np.array(one, float), np.array(other, float)
        count = max(1, round(float(np.linalg.norm(other - one)) / STEP))
        found.append(one + np.linspace(0, 1, count, endpoint=False)[:, None] * (other - one))
    return np.concatenate(found)


TOP = {
    "plain": [],
    "a bay like the ground": [(900, 150), (880, 110), (700, 105), (680, 150)],
    "two bays": [(900, 150), (880, 120), (830, 150), (600, 150), (570, 115), (500, 150)],
    "a stone against it": [(900, 150), (870, 165), (835, 150)],
}


@pytest.mark.parametrize("what", TOP)
def test_only_the_ends_of_a_side_are_corners(what):
    corners = [(0, 0), (1200, 0), (1180, 150), (15, 150)]
    found = corners_of(ring(*corners[:3], *TOP[what], corners[3]), STEP)
    whole = ring(*corners[:3], *TOP[what], corners[3])
    at = [whole[place] for place, _ in found]
    assert len(at) == 4
    for corner in corners:
        assert min(np.linalg.norm(np.subtract(one, corner)) for one in at) < 25


def test_a_long_step_in_a_board_keeps_its_corners():
    stepped = ring((0, 0), (1200, 0), (1200, 150), (600, 150), (600, 90), (0, 90))
    assert len(corners_of(stepped, STEP)) >= 5


@pytest.mark.parametrize(
    ("corners", "count"),
    [
        ([(0, 0), (1200, 0), (1200, 104), (0, 104)], 4),
        ([(0, 0), (1200, 0), (1200, 150), (60, 150), (0, 90)], 4),
    ],
    ids=["both of a narrow end", "one that is cut off"],
)
def test_two_turns_near_each_other_are_one_corner_if_it_is_cut_off(corners, count):
    soft = Polygon(corners).buffer(-30).buffer(30)
    assert len(corners_of(ring(*soft.exterior.normalize().coords[-2::-1]), STEP)) == count
