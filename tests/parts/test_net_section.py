"""Net sections against elementary bending: I = b h^3 / 12, Z = I / c."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PartError
from parts.net_section import Gap, Section, deeper_by_mm, section_modulus

DEPTH, SIDING = 100.0, 40.0


def holed(*gaps):
    return Section(DEPTH, SIDING, gaps)


def test_whole_section_keeps_everything():
    assert holed().left_on_edge == pytest.approx(1)
    assert holed().left_on_flat == pytest.approx(1)
    assert holed().whole_mm3 == pytest.approx(40 * 100**2 / 6)


def test_hole_in_the_middle_of_the_depth_costs_its_cube():
    # I = b (h^3 - d^3) / 12 about the same axis, to the same edge.
    assert holed(Gap(40, 60)).left_on_edge == pytest.approx(1 - 0.2**3)


def test_hole_at_the_edge_costs_the_depth_it_takes():
    assert holed(Gap(0, 20)).left_on_edge == pytest.approx(0.8**2)


def test_hole_between_is_as_reckoned_by_the_parallel_axis_theorem():
    # 20 mm hole 10 mm from the edge: areas, centroid and inertia by hand.
    low, high = 40 * 10, 40 * 70
    axis = (low * 5 + high * 65) / (low + high)
    inertia = 40 * 10**3 / 12 + low * (axis - 5) ** 2 + 40 * 70**3 / 12 + high * (axis - 65) ** 2
    expected = inertia / axis / (40 * 100**2 / 6)
    assert holed(Gap(10, 30)).left_on_edge == pytest.approx(expected)


@given(st.floats(10, 45), st.floats(0, 1), st.floats(0, 1))
def test_hole_nearer_the_edge_always_costs_more(size, one, other):
    room = 50 - size / 2
    near, far = (size / 2 + room * share for share in sorted((one, other)))
    left = [holed(Gap(at - size / 2, at + size / 2)).left_on_edge for at in (near, far)]
    is_lip_gone = near - size / 2 < 1e-6
    assert is_lip_gone or left[0] <= left[1] + 1e-9


def test_section_is_the_same_from_either_edge():
    assert holed(Gap(5, 20)).left_on_edge == pytest.approx(holed(Gap(80, 95)).left_on_edge)


def test_hole_on_the_flat_costs_its_width_wherever_it_lies():
    for low in (0, 17, 80):
        assert holed(Gap(low, low + 20)).left_on_flat == pytest.approx(0.8)


def test_holes_over_each_other_count_once():
    assert holed(Gap(20, 40), Gap(30, 50)).left_on_flat == pytest.approx(0.7)
    assert holed(Gap(20, 40), Gap(20, 40)).left_on_edge == pytest.approx(
        holed(Gap(20, 40)).left_on_edge
    )


def test_blind_hole_costs_less_than_one_right_through():
    blind, through = holed(Gap(10, 30, 15)), holed(Gap(10, 30))
    assert through.left_on_edge < blind.left_on_edge < 1
    assert through.left_on_flat < blind.left_on_flat < 1
    assert holed(Gap(10, 30, SIDING)).left_on_edge == pytest.approx(through.left_on_edge)


def test_section_that_is_all_hole_keeps_nothing():
    assert holed(Gap(-5, 105)).left_on_edge == 0
    assert deeper_by_mm(holed(Gap(-5, 105))) == np.inf
    assert section_modulus(np.array([0.0, 10.0]), np.array([0.0])) == 0


def test_depth_that_makes_up_for_a_hole_brings_the_modulus_back():
    section = holed(Gap(10, 30))
    deeper = DEPTH + deeper_by_mm(section)
    assert section.left_on_edge * deeper**2 == pytest.approx(DEPTH**2)


def test_section_without_size_is_refused():
    with pytest.raises(PartError, match="0 x 40 mm"):
        Section(0, 40)
