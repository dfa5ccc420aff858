"""How hulls float whose volume, centres and areas are known in closed form, upright and heeled."""

from dataclasses import replace

import numpy as np
import pytest
from known_hulls import spheroid, table_of
from lines_tables import (
    BREADTH,
    DRAUGHT,
    LENGTH,
    WITHY,
    box_table,
    wedge_table,
    wigley_table,
)
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.errors import ShapeError
from parts.lines import Face, hull_of, read_hull
from parts.lines.afloat import afloat
from parts.lines.heeled import heeled
from parts.lines.hydrostatics import hydrostatics, simpson
from parts.lines.planked_body import Body


@pytest.fixture(scope="module")
def withy():
    return read_hull(WITHY)


@pytest.fixture(scope="module")
def boxy():
    return hull_of(box_table())


@pytest.fixture(scope="module")
def wedge():
    return hull_of(wedge_table())


def test_wigley_form_has_its_known_centre_and_metacentres():
    # Mathematics, y = B/2 (1 - xi^2)(1 - zeta^2): second moments of the waterplane 4/105 B^3 L
    # across and B L^3/30 along; centre of buoyancy 5/8 of the draught above the keel.
    found = hydrostatics(hull_of(wigley_table()), DRAUGHT)
    volume = 4 / 9 * LENGTH * BREADTH * DRAUGHT
    assert found.height_mm == pytest.approx(5 / 8 * DRAUGHT, rel=1e-3)
    across, along = 4 / 105 * BREADTH**3 * LENGTH, BREADTH * LENGTH**3 / 30
    assert found.metacentre_across_mm == pytest.approx(across / volume, rel=1e-3)
    assert found.metacentre_along_mm == pytest.approx(along / volume, rel=1e-3)
    assert found.by_sections_mm3 == pytest.approx(found.volume_mm3, rel=5e-4)


def ellipsoid(a, b, c, count=161):
    """Return a whole ellipsoid about the origin as a body, its triangles facing outward."""
    turn, rise = np.meshgrid(
        np.linspace(0, 2 * np.pi, 2 * count), np.linspace(-np.pi / 2, np.pi / 2, count)
    )
    net = np.stack(
        [a * np.cos(rise) * np.cos(turn), b * np.cos(rise) * np.sin(turn), c * np.sin(rise)], -1
    )
    p, q, r, s = net[:-1, :-1], net[:-1, 1:], net[1:, 1:], net[1:, :-1]
    both = [np.stack([p, q, r], 2), np.stack([p, r, s], 2)]
    triangles = np.concatenate([part.reshape(-1, 3, 3) for part in both])
    return Body(triangles, net[-1])


@pytest.mark.parametrize("heel", [0.0, 25.0])
def test_half_an_ellipsoid_floats_as_mathematics_has_it(heel):
    # Half axes a, b, c, cut through the middle: volume 2/3 pi a b c. Scaled to a sphere the centre
    # lies 3/8 of the radius square off the plane; the waterplane is an ellipse.
    a, b, c = 3000.0, 900.0, 700.0
    found = afloat(ellipsoid(a, b, c).turned(heel), 0.0)
    volume = 2 / 3 * np.pi * a * b * c
    assert found.volume_mm3 == pytest.approx(volume, rel=4e-4)
    sine, cosine = np.sin(np.radians(heel)), np.cos(np.radians(heel))
    # The plane's normal in the boat is (-sine, cosine); scaled it is (-b sine, c cosine).
    normal = np.array([-b * sine, c * cosine])
    y, z = -3 / 8 * normal / np.hypot(*normal) * [b, c]
    assert found.centre[1] == pytest.approx(y * cosine + z * sine, abs=0.3)
    assert found.centre[2] == pytest.approx(-y * sine + z * cosine, abs=0.3)
    half = b * c / np.hypot(c * cosine, b * sine)
    assert found.waterplane_mm2 == pytest.approx(np.pi * a * half, rel=4e-4)
    assert found.inertia_across_mm4 == pytest.approx(np.pi * a * half**3 / 4, rel=1e-3)
    assert found.inertia_along_mm4 == pytest.approx(np.pi * a**3 * half / 4, rel=1e-3)


def test_spheroid_from_a_table_is_short_by_what_its_blunt_ends_lack():
    # Between its stations the hull is within 3 mm; what lies ahead of them is a hundredth of it.
    found = hydrostatics(hull_of(table_of(spheroid())), 899.9)
    assert found.volume_mm3 == pytest.approx(2 / 3 * np.pi * 3000 * 900 * 700, rel=6e-3)
    assert found.by_sections_mm3 == pytest.approx(found.volume_mm3, rel=1e-3)


def test_box_has_the_wetted_surface_and_metacentre_of_a_box(boxy):
    found = hydrostatics(boxy, 400.0)
    assert found.water.wetted_mm2 == pytest.approx(2 * 4e3 * 400 + 4e3 * 1.2e3 + 2 * 1.2e3 * 400)
    assert found.metacentre_height_mm == pytest.approx(200 + 1200**2 / (12 * 400), rel=1e-4)
    assert (found.block, found.prismatic, found.waterplane, found.midship) == pytest.approx(
        (1.0, 1.0, 1.0, 1.0), rel=1e-4
    )
    # A cubic metre of sea water is 1025 kg, of which 1 cm of this waterplane holds 49.2 kg.
    assert found.to_sink_kg(10.0) == pytest.approx(4.0 * 1.2 * 0.01 * 1025.0, rel=1e-4)
    along = found.displacement_kg() * (4000.0**2 / (12 * 400)) * 10.0 / 4000.0
    assert found.to_trim_kg_mm(10.0) == pytest.approx(along, rel=1e-4)


@pytest.mark.parametrize("heel", [0.0, 5.0, 15.0])
def test_heeled_box_has_the_arm_of_a_wall_sided_body(boxy, heel):
    # The centre of a trapezium: out by B^2 tan/(12 T), up by T/2 + B^2 tan^2/(24 T).
    tan = np.tan(np.radians(heel))
    out, up = 1200**2 * tan / 4800, 200 + 1200**2 * tan**2 / 9600
    found = heeled(boxy, hydrostatics(boxy, 400.0), heel)
    turn = np.radians(heel)
    assert found.arm_mm == pytest.approx(out * np.cos(turn) + up * np.sin(turn), abs=0.05)
    assert found.water.waterplane_mm2 == pytest.approx(4000 * 1200 / np.cos(turn), rel=1e-4)
    low = (600 - 400) * np.cos(turn) - 600 * np.sin(turn)
    assert found.freeboard_mm == pytest.approx(low, abs=0.05)


def test_heeled_wedge_is_a_triangle_of_the_same_area(wedge):
    # Sides at 45 degrees from the keel: at a heel the water's surface lies at d above the foot
    # with d^2 (tan(45 + heel) + tan(45 - heel)) / 2 the area, and the centre at a third.
    heel, draught = 20.0, 300.0
    upright = hydrostatics(wedge, draught)
    assert upright.volume_mm3 == pytest.approx(4000 * draught**2, rel=1e-3)
    assert upright.metacentre_across_mm == pytest.approx(2 / 3 * draught, rel=1e-3)
    found = heeled(wedge, upright, heel)
    wide, narrow = (np.tan(np.radians(45 + sign * heel)) for sign in (1, -1))
    level = np.sqrt(2 * draught**2 / (wide + narrow))
    assert found.arm_mm == pytest.approx(level * (wide - narrow) / 3, rel=1e-3)
    assert found.water.centre[2] == pytest.approx(2 / 3 * level, rel=1e-3)


def test_heeled_sections_of_the_demo_boat_come_to_the_same(withy):
    """Each section cut by the heeled surface as a polygon, summed up by Simpson's rule."""
    # Below the transom's foot, so that no section is cut by it.
    found = heeled(withy, hydrostatics(withy, 600.0), 12.0)
    level = _level_of(withy, found)
    low, high = found.water.ends
    x = np.linspace(low + 0.01, high - 0.01, 121)
    pieces = [_cut(withy, float(at), 12.0, level) for at in x]
    areas = np.array([piece.area for piece in pieces])
    out = np.array([piece.centroid.x if piece.area else 0.0 for piece in pieces])
    volume = simpson(areas, x[1] - x[0])
    assert volume == pytest.approx(found.water.volume_mm3, rel=2e-3)
    assert simpson(areas * out, x[1] - x[0]) / volume == pytest.approx(found.arm_mm, abs=1.0)
    assert simpson(areas * x, x[1] - x[0]) / volume == pytest.approx(found.water.centre[0], abs=3.0)


def _level_of(hull, found):
    """Return the water's surface in the frame of a heeled hull, from its freeboard."""
    from parts.lines.hydrostatics import planked

    sheer = planked(hull).turned(found.heel_deg).sheer[:, 2]
    return float(sheer.min()) - found.freeboard_mm


def _cut(hull, x, heel, level):
    half = hull.section(x, Face.OUTSIDE)
    whole = Polygon([*half, *(half[::-1] * [-1, 1])])
    heeled_over = affinity.rotate(whole, -heel, origin=(0, 0))
    return heeled_over.intersection(box(-9e3, -9e3, 9e3, level))


def test_raked_transom_closes_the_body_where_it_stands():
    # A box 1200 mm broad whose after end rakes from 3500 mm at the base to 4000 mm at 600 mm.
    table = replace(box_table(), transom=((3500.0, 0.0), (4000.0, 600.0)))
    found = hydrostatics(hull_of(table), 400.0)
    side = 3500 * 400 + 400 * (500 / 600 * 400) / 2
    assert found.volume_mm3 == pytest.approx(side * 1200, rel=1e-4)
    ends = 1200 * 400 + 1200 * np.hypot(400, 500 / 600 * 400)
    assert found.water.wetted_mm2 == pytest.approx(2 * side + 3500 * 1200 + ends, rel=1e-3)
    assert found.by_sections_mm3 == pytest.approx(found.volume_mm3, rel=5e-3)
    assert found.water.ends[1] == pytest.approx(3500 + 500 / 600 * 400, abs=0.1)


def test_transom_that_leans_forward_closes_the_body_where_it_stands():
    # From 4000 mm at the base to 3500 mm at 600 mm; and one that stands plumb.
    table = replace(box_table(), transom=((3950.0, 0.0), (3450.0, 600.0)))
    found = hydrostatics(hull_of(table), 400.0)
    side = 3950 * 400 - 400 * (500 / 600 * 400) / 2
    assert found.volume_mm3 == pytest.approx(side * 1200, rel=1e-4)
    assert found.by_sections_mm3 == pytest.approx(found.volume_mm3, rel=5e-3)
    plumb = replace(box_table(), transom=((3700.0, 0.0), (3700.0, 600.0)))
    found = hydrostatics(hull_of(plumb), 400.0)
    assert found.volume_mm3 == pytest.approx(3700 * 400 * 1200, rel=1e-4)
    assert found.water.ends[1] == pytest.approx(3700.0, abs=0.1)


def test_what_cannot_float_is_refused_in_words(boxy):
    upright = hydrostatics(boxy, 400.0)
    with pytest.raises(ShapeError, match=r"650 mm lies above the sheer, which is 600.0 mm high"):
        hydrostatics(boxy, 650.0)
    with pytest.raises(ShapeError, match="heel of 75 degrees is out of range: 0 to 60 degrees"):
        heeled(boxy, upright, 75.0)


def test_sheer_under_water_shows_as_no_freeboard(boxy):
    assert heeled(boxy, hydrostatics(boxy, 400.0), 30.0).freeboard_mm < 0
