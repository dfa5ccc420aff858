"""Two lines as far apart as thickness and eye say: the edge is the face's, not the side's foot."""

import numpy as np
import pytest
from test_edge_lines import FINE, OFFSETS, STEP, band

from nesting.photo.band import best_round, pairs_of, score_of
from nesting.photo.edge_lines import steps_along, told_by_lines

WIDE = 8.0


def edge(light, wide, gain):
    """Return where the edge is found in a band, mm out, before it is made finer, by its lines and
    what looks tell (n, m).
    """
    width = np.full(len(light), wide)
    hidden = np.zeros(light.shape[:2], bool)
    lines = told_by_lines(steps_along(light, FINE, STEP), hidden, STEP)
    scores = score_of(gain, lines, width, pairs_of(light, lines, width))
    return float(np.median(OFFSETS[best_round(*scores, width)[0]]))


def looks(end):
    """Return what looks tell where wood seems to end at some place, mm out."""
    return np.tile(np.where(end > OFFSETS, 1.2, -1.2), (200, 1))


@pytest.mark.parametrize("shade", [88, 112], ids=["darker", "lighter"])
@pytest.mark.parametrize("end", [0.0, -WIDE], ids=["side like wood", "side like ground"])
def test_a_side_hardly_unlike_its_face_is_no_part_of_it(shade, end):
    light = band((-24, 100), (-WIDE, shade), (0, 40))
    assert edge(light, WIDE, looks(end)) == pytest.approx(-WIDE, abs=1.0)


def test_where_no_foot_is_seen_the_one_line_is_the_faces():
    assert edge(band((-24, 100), (0, 40)), WIDE, looks(0.0)) == pytest.approx(0.0, abs=2.5)


def test_a_line_in_the_grain_makes_no_side():
    grain = band((-24, 100), (-WIDE - 1, 85), (-WIDE + 1, 100), (0, 40))
    assert edge(grain, WIDE, looks(0.0)) == pytest.approx(0.0, abs=2.5)
