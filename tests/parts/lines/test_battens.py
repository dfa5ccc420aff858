"""How long lines bend, against lines whose curvature is known."""

import numpy as np
import pytest
from lines_tables import BREADTH, DRAUGHT, LENGTH, WITHY, wigley_table

from parts.lines import hull_of, read_hull
from parts.lines.battens import battens
from parts.lines.faired_figures import faired_figures


def test_waterlines_of_the_wigley_form_bend_as_parabolas_do():
    hull = hull_of(wigley_table())
    found = {one.title: one for one in battens(hull, faired_figures(hull))}
    for z in (200.0, 400.0):
        half = BREADTH / 2 * (1 - ((z - DRAUGHT) / DRAUGHT) ** 2)
        batten = found[f"waterline {z:g}"]
        along = 2 * batten.x / LENGTH - 1
        slope, second = -4 * half * along / LENGTH, -8 * half / LENGTH**2
        true = second / (1 + slope**2) ** 1.5
        inner = np.abs(along) < 0.9
        assert batten.bend[inner] == pytest.approx(true[inner], rel=0.04)
        assert batten.turns == ()


def test_hollow_waterlines_of_the_demo_boat_turn_at_the_forefoot():
    hull = read_hull(WITHY)
    found = {one.title: one for one in battens(hull, faired_figures(hull))}
    assert {"sheer in profile", "sheer in plan", "rabbet in profile", "diagonal A"} <= set(found)
    # Her lower waterlines are hollow forward and nowhere else; her sheer never turns.
    assert len(found["waterline 1-0-0"].turns) == 1
    assert found["sheer in profile"].turns == found["sheer in plan"].turns == ()
    assert "rabbet in plan" not in found  # it is straight
    x, radius = found["rabbet in profile"].least_radius
    assert x < 600 and radius < 1500  # the forefoot
    assert len(found["diagonal A"].figures) == 14
