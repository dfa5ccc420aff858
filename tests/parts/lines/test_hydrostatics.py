from functools import cache

import numpy as np
import pytest
from known_hulls import bowed_chine, dory, double_chine, single_chine, table_of
from lines_tables import (
    BREADTH,
    DRAUGHT,
    LENGTH,
    SHIP_BREADTH,
    SHIP_DRAUGHT,
    SHIP_LENGTH,
    WITHY,
    series_60,
    wigley_table,
)

from nesting.errors import ShapeError
from parts.lines import hull_of, read_hull
from parts.lines.hydrostatics import hydrostatics, simpson


def test_published_waterplane_by_simpsons_rule():
    # Ship Stability for Masters and Mates, ch. 10 example: length 120 m, seven half-ordinates,
    # area printed 1207 square metres.
    half = [0.0, 3.7, 5.9, 7.6, 7.5, 4.6, 0.1]
    assert 2 * simpson(half, 20.0) == pytest.approx(1206.67, abs=0.01)


def test_waterplane_bounded_by_parabolas_by_simpsons_rule():
    # Mathematics: a parabola of height b over a length L encloses 2/3 L b, and Simpson's rule is
    # exact for it. Wigley's waterplane, 80 m long and 10.4 m broad.
    half = [5.2 * (1 - x * x) for x in (-1.0, -2 / 3, -1 / 3, 0.0, 1 / 3, 2 / 3, 1.0)]
    assert 2 * simpson(half, 80 / 6) == pytest.approx(2 / 3 * 80 * 10.4)


def test_published_volume_sum():
    # Ship Stability for Masters and Mates, p. 79: products' sum 7918 with interval 1 m is
    # 2639.33 cubic metres. Any ordinates with that sum will do.
    assert simpson([7918.0, 0.0, 0.0], 1.0) == pytest.approx(2639.33, abs=0.01)


def test_simpsons_rule_is_exact_for_a_cubic():
    # Mathematics: the integral of x^3 from 0 to 4 is 64.
    assert simpson([n**3 for n in range(5)], 1.0) == pytest.approx(64)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_simpsons_rule_wants_an_odd_number_of_ordinates(count):
    with pytest.raises(ShapeError, match=f"3, 5, 7 ... ordinates, not {count}"):
        simpson([1.0] * count, 1.0)


def test_wigley_form_comes_to_its_known_volume_and_areas():
    # Mathematics: volume 4/9 L B T, waterplane 2/3 L B, midship section 2/3 B T.
    found = hydrostatics(hull_of(wigley_table()), DRAUGHT)
    assert found.volume_mm3 == pytest.approx(4 / 9 * LENGTH * BREADTH * DRAUGHT, rel=1e-3)
    assert found.waterplane_mm2 == pytest.approx(2 / 3 * LENGTH * BREADTH, rel=1e-3)
    assert found.midship_mm2 == pytest.approx(2 / 3 * BREADTH * DRAUGHT, rel=1e-3)
    assert found.centre_mm == pytest.approx(LENGTH / 2, abs=1.0)
    assert found.flotation_mm == pytest.approx(LENGTH / 2, abs=1.0)
    assert found.block == pytest.approx(4 / 9, rel=2e-3)
    assert found.prismatic == pytest.approx(2 / 3, rel=2e-3)


@cache
def series_60_hull():
    return hull_of(series_60())


def test_series_60_parent_comes_to_its_published_coefficients():
    # Todd 1963, David Taylor Model Basin report 1712, table 3: CB 0.60, CP 0.614, LCB 1.50 % of
    # the length aft of amidships; waterplane 0.7059 to 0.7074 computed from the same table.
    found = hydrostatics(series_60_hull(), SHIP_DRAUGHT, (0.0, SHIP_LENGTH))
    box = SHIP_LENGTH * SHIP_BREADTH * SHIP_DRAUGHT
    assert found.volume_mm3 / box == pytest.approx(0.60, rel=0.01)
    assert found.prismatic == pytest.approx(0.614, rel=0.003)
    assert found.centre_mm / SHIP_LENGTH - 0.5 == pytest.approx(0.015, abs=0.001)
    assert found.waterplane_mm2 / (SHIP_LENGTH * SHIP_BREADTH) == pytest.approx(0.7066, rel=0.003)


def test_sections_of_series_60_have_the_published_areas():
    # Same source, column of areas over that of amidships; the header of the table says that
    # areas by other rules differ from it by up to 0.005.
    hull = series_60_hull()
    midship = hull.section_area(SHIP_LENGTH / 2, SHIP_DRAUGHT)
    for station, share in (
        (2, 0.192),
        (4, 0.475),
        (6, 0.771),
        (14, 0.863),
        (16, 0.609),
        (18, 0.268),
    ):
        area = hull.section_area(station * SHIP_LENGTH / 20, SHIP_DRAUGHT)
        assert area / midship == pytest.approx(share, abs=0.007)


def test_the_demo_boat_floats_where_a_sloop_of_her_size_would():
    found = hydrostatics(read_hull(WITHY), 800.0)
    assert 2500 < found.displacement_kg() < 3300
    assert 0.30 < found.block < 0.40
    assert found.length_mm < 24.67 * 304.8
    assert found.displacement_kg(1000.0) == pytest.approx(found.displacement_kg() / 1.025)


def test_a_waterline_below_the_keel_is_refused():
    with pytest.raises(ShapeError, match="no waterline at -50 mm"):
        hydrostatics(hull_of(wigley_table()), -50.0)


@pytest.mark.parametrize("make", [single_chine, double_chine, bowed_chine, dory])
def test_wetted_surface_of_a_chined_boat_is_that_of_her_formula(make):
    """A chine that runs out on the stem ends there: no panel below it goes on up the stem."""
    known = make()
    hull = hull_of(table_of(known))
    for level in (300.0, 500.0):
        wetted = hydrostatics(hull, level).water.wetted_mm2
        assert wetted == pytest.approx(wetted_by_formula(known, level), rel=1e-3)


def wetted_by_formula(known, level):
    """Return the wetted outside with both ends and between the rabbets, summed on a fine net."""
    x, share = np.linspace(0.0, known.length, 3001)[:, None], np.linspace(0.0, 1.0, 1201)
    net = np.stack(np.broadcast_arrays(x, *known.at(x, share)), axis=-1)
    square = np.cross(net[1:, :-1] - net[:-1, :-1], net[:-1, 1:] - net[:-1, :-1])
    is_wet = (net[1:, 1:, 2] + net[:-1, :-1, 2]) / 2 <= level
    whole = 2 * np.linalg.norm(square, axis=-1)[is_wet].sum()
    for end in (net[0], net[-1]):
        whole += 2 * np.trapezoid(end[:, 1], np.minimum(end[:, 2], level))
    keel = net[:, 0]
    middle = (keel[1:] + keel[:-1]) / 2
    steps = 2 * middle[:, 1] * np.hypot(*np.diff(keel[:, [0, 2]], axis=0).T)
    return whole + steps[middle[:, 2] <= level].sum()
