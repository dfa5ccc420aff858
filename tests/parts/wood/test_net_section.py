"""Net sections against elementary bending: I = b h^3 / 12, Z = I / c."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PartError
from parts.wood.net_section import (
    Gap,
    Section,
    deeper_by_mm,
    section_modulus,
    thicker_by_mm,
)

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
    # Cut away with its edge, a hole spoils nothing beyond its own depth.
    cut = (1 - (near + size / 2) / 100) ** 2
    assert left[0] <= max(left[1], cut) + 1e-9


@given(st.floats(2, 45), st.floats(0, 1))
def test_hole_never_counts_for_more_than_cutting_away_the_edge_with_it(size, share):
    low = (100 - size) * share
    left = holed(Gap(low, low + size)).left_on_edge
    cut = max(low, 100 - low - size) / 100
    assert left >= cut**2 - 1e-12


def test_hole_two_millimetres_from_the_edge_counts_as_the_edge_cut_away():
    # 20 mm hole under a lip of 2 mm: 78 of 100 mm of depth are left without the lip.
    assert holed(Gap(2, 22)).left_on_edge == pytest.approx(0.78**2)
    # With the lip: I about the axis of both strips, over the distance to the lip's edge.
    low, high = 40 * 2, 40 * 78
    axis = (low * 1 + high * 61) / (low + high)
    inertia = 40 * 2**3 / 12 + low * (axis - 1) ** 2 + 40 * 78**3 / 12 + high * (axis - 61) ** 2
    assert inertia / axis / (40 * 100**2 / 6) < 0.78**2


def test_deep_blind_hole_on_the_flat_never_counts_for_more_than_planing_it_off():
    # 98 of 100 mm wide and 10 of 40 mm deep: 30 mm of siding are left when planed off.
    assert holed(Gap(1, 99, 10)).left_on_flat >= (30 / 40) ** 2 - 1e-12


def test_published_section_moduli_of_dressed_timber():
    # Inches and cubic inches: NDS Supplement, table 1B (from memory): 2x4, 2x10, 4x12.
    for wide, deep, modulus in ((1.5, 3.5, 3.063), (1.5, 9.25, 21.39), (3.5, 11.25, 73.83)):
        assert Section(deep, wide).whole_mm3 == pytest.approx(modulus, abs=6e-3)


def test_hole_in_the_middle_agrees_with_the_handbook_s_hollow_rectangle():
    # Z = (B H^3 - b h^3) / 6 H: Machinery's Handbook, "moments of inertia, section moduli"
    # (formula from memory). Worked by hand for 2 x 6 in with a hole 1.5 in through the middle:
    # (2 * 216 - 2 * 3.375) / 36 = 11.8125 of 12 in3.
    holed = Section(6.0, 2.0, (Gap(2.25, 3.75),))
    assert holed.left_on_edge * holed.whole_mm3 == pytest.approx(11.8125)
    # Blind, 1 in deep of 2: (2 * 216 - 1 * 3.375) / 36 = 11.90625.
    blind = Section(6.0, 2.0, (Gap(2.25, 3.75, 1.0),))
    assert blind.left_on_edge * blind.whole_mm3 == pytest.approx(11.90625)


def test_where_a_hole_lies_counts_for_as_much_as_its_size_as_joists_tested_show():
    # Joists with holes of 25 or 44 mm, 25 mm from the tension edge or in the middle of the depth
    # (Falk and others, Forest Products Journal 53(5), 2003, 55-60, abstract).
    depth, low = 184.15, 25.0
    small, large, middle = (
        Section(depth, 88.9, (Gap(at, at + size),)).left_on_edge
        for at, size in ((low, 25.4), (low, 44.0), ((depth - 44.0) / 2, 44.0))
    )
    assert middle - small > small - large > 0


@pytest.mark.parametrize("size", [25.0, 45.0])
def test_loss_by_one_hole_in_tested_joists_lies_between_hole_at_mid_depth_and_near_an_edge(size):
    # 0.90 with one hole of 25 to 45 mm in the middle third of the length of nominal 4 x 8 in
    # joists (ASCE Journal of Structural Engineering 127(4), 2001, p. 412, abstract).
    depth = 184.15
    middle, edge = (
        Section(depth, 88.9, (Gap(at, at + size),)).left_on_edge
        for at in ((depth - size) / 2, 25.0)
    )
    assert edge < 0.90 < middle


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


def test_thickness_that_makes_up_for_holes_brings_both_moduli_back():
    for gaps in ((Gap(40, 60),), (Gap(2, 22),), (Gap(10, 30), Gap(60, 80))):
        section = holed(*gaps)
        thicker = Section(DEPTH, SIDING + thicker_by_mm(section), gaps)
        flat = thicker.left_on_flat * thicker.siding_mm**2 / SIDING**2
        edge = thicker.left_on_edge * thicker.siding_mm / SIDING
        assert min(flat, edge) == pytest.approx(1)
    assert thicker_by_mm(holed(Gap(-5, 105))) == np.inf


def summed(widths):
    """Return the section modulus of strips a hundredth of a millimetre high, from their sums."""
    heights = (np.arange(len(widths)) + 0.5) / 100
    area = widths / 100
    axis = (area @ heights) / area.sum()
    wood = np.flatnonzero(widths > 0)
    outer = max(axis - wood[0] / 100, (wood[-1] + 1) / 100 - axis)
    return (area @ (heights - axis) ** 2) / outer


def test_blind_holes_of_several_depths_on_the_flat_are_as_summed_strip_by_strip():
    # 40 mm thick, 100 wide: 10 mm of width 12 deep, 20 mm 25 deep, and 6 mm right through.
    section = holed(Gap(10, 20, 12), Gap(50, 70, 25), Gap(80, 86))
    at = (np.arange(4000) + 0.5) / 100
    widths = 100.0 - 6 - 10 * (at < 12) - 20 * (at < 25)
    assert section.left_on_flat == pytest.approx(summed(widths) / (100 * 40**2 / 6), rel=1e-4)


def test_blind_holes_of_several_depths_on_edge_are_as_summed_strip_by_strip():
    section = holed(Gap(20, 35, 12), Gap(30, 45, 25))
    at = (np.arange(10000) + 0.5) / 100
    deepest = np.where((at > 30) & (at < 45), 25.0, np.where((at > 20) & (at < 30), 12.0, 0.0))
    expected = summed(40 - deepest) / (40 * 100**2 / 6)
    assert section.left_on_edge == pytest.approx(expected, rel=1e-4)


def test_edges_with_no_wood_in_them_are_no_outer_fibres():
    # 10 mm of nothing on either side of 30 mm of wood 6 mm wide: 6 * 30^2 / 6.
    levels, widths = np.array([0.0, 10.0, 40.0, 50.0]), np.array([0.0, 6.0, 0.0])
    assert section_modulus(levels, widths) == pytest.approx(900)


@pytest.mark.parametrize("size", [(100, 0), (0, 40), (100, -1), (-1, 40), (float("nan"), 40)])
def test_section_of_no_depth_or_siding_is_refused(size):
    with pytest.raises(PartError, match=r"a section of \S+ x \S+ mm; both must be over 0"):
        Section(*size)


def test_a_section_may_be_less_than_a_millimetre():
    assert Section(0.5, 0.4).whole_mm3 == pytest.approx(0.4 * 0.25 / 6)
