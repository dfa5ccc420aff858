"""How hulls float trimmed whose volume and centres are known in closed form."""

import math

import numpy as np
import pytest
from lines_tables import WITHY, box_table, wedge_table
from test_floating import ellipsoid

from nesting.errors import ShapeError
from parts.lines import Face, hull_of, read_hull
from parts.lines.afloat import afloat
from parts.lines.hydrostatics import hydrostatics, simpson
from parts.lines.trimmed import trimmed


@pytest.fixture(scope="module")
def boxy():
    return hull_of(box_table())


@pytest.mark.parametrize("trim", [0.0, 100.0, -300.0])
def test_trimmed_box_floats_as_a_trapezium(boxy, trim):
    # L long, T deep: the centre moves aft by L^2 tan/(12 T), up by L^2 tan^2/(24 T).
    found, tan = trimmed(boxy, hydrostatics(boxy, 400.0), trim), trim / 4000
    assert found.centre_mm == pytest.approx(2000 + 4000**2 * tan / 4800, abs=0.05)
    assert found.height_mm == pytest.approx(200 + 4000**2 * tan**2 / 9600, abs=0.05)
    assert (found.fore_mm, found.aft_mm) == pytest.approx((400 - trim / 2, 400 + trim / 2), abs=0.1)
    slope = math.hypot(1.0, tan)
    assert found.water.waterplane_mm2 == pytest.approx(4000 * 1200 * slope, rel=1e-4)
    # Bottom and both ends are under water as before, and each side as much.
    wetted = 2 * 4e3 * 400 + 4e3 * 1.2e3 + 2 * 1.2e3 * 400
    assert found.water.wetted_mm2 == pytest.approx(wetted, rel=1e-4)
    assert found.freeboard_mm == pytest.approx((200 - abs(trim) / 2) / slope, abs=0.1)


@pytest.mark.parametrize("trim", [200.0, -200.0])
def test_trimmed_wedge_displaces_by_the_square_of_its_draught(trim):
    # Sections are triangles of the draught d squared: d = d0 + k (x - L/2), so that the volume is
    # L d0^2 + k^2 L^3/12, and the first moment about the middle d0 k L^3/6.
    wedge, draught = hull_of(wedge_table()), 300.0
    found, k = trimmed(wedge, hydrostatics(wedge, draught), trim), trim / 4000
    middle = math.sqrt(draught**2 - k**2 * 4000**2 / 12)
    assert (found.fore_mm + found.aft_mm) / 2 == pytest.approx(middle, abs=0.2)
    assert found.aft_mm - found.fore_mm == pytest.approx(trim, abs=1e-6)
    away = middle * k * 4000**2 / (6 * draught**2)
    assert found.centre_mm == pytest.approx(2000 + away, abs=0.5)


@pytest.mark.parametrize("degrees", [8.0, -8.0])
def test_half_an_ellipsoid_trims_as_mathematics_has_it(degrees):
    a, b, c = 3000.0, 900.0, 700.0
    turn = math.radians(degrees)
    found = afloat(ellipsoid(a, b, c).trimmed(turn), 0.0)
    assert found.volume_mm3 == pytest.approx(2 / 3 * np.pi * a * b * c, rel=4e-4)
    # Up of the water in the boat is (-sine, cosine); scaled to a sphere it is (-a sine, c cosine),
    # and the centre lies 3/8 of the radius below.
    sine, cosine = math.sin(turn), math.cos(turn)
    normal = np.array([-a * sine, c * cosine])
    x, z = -3 / 8 * normal / np.hypot(*normal) * [a, c]
    assert found.centre[0] == pytest.approx(x * cosine + z * sine, abs=0.5)
    assert found.centre[2] == pytest.approx(-x * sine + z * cosine, abs=0.5)
    half = a * c / math.hypot(c * cosine, a * sine)
    assert found.waterplane_mm2 == pytest.approx(np.pi * b * half, rel=4e-4)


def test_sections_of_the_demo_boat_up_to_sloping_water_come_to_the_same():
    """By Simpson's rule over areas, each up to where the trimmed water stands at it."""
    withy = read_hull(WITHY)
    upright = hydrostatics(withy, 600.0)
    found = trimmed(withy, upright, 80.0)
    fore, aft = upright.water.ends
    slope = 80.0 / (aft - fore)

    def water(x):
        return upright.level_mm - upright.draught_mm + found.fore_mm + (x - fore) * slope

    low, high = found.water.ends
    x = np.linspace(low + 30.0, high - 30.0, 161)
    areas = np.array([_area(withy, float(at), water(at)) for at in x])
    volume = simpson(areas, x[1] - x[0])
    assert volume == pytest.approx(upright.volume_mm3, rel=3e-3)
    assert simpson(areas * x, x[1] - x[0]) / volume == pytest.approx(found.centre_mm, abs=5.0)
    # For a small trim the centre goes aft by the lengthwise metacentre's height times the slope.
    moved = found.centre_mm - upright.centre_mm
    assert moved == pytest.approx(upright.metacentre_along_mm * slope, rel=0.03)


def _area(hull, x, z):
    try:
        return hull.section_area(x, z, Face.OUTSIDE)
    except ShapeError:
        return 0.0


def test_trim_beyond_reason_is_refused_in_words(boxy):
    upright = hydrostatics(boxy, 400.0)
    with pytest.raises(ShapeError, match=r"trim of 900 mm is out of range: at most 800"):
        trimmed(boxy, upright, 900.0)
    assert trimmed(boxy, upright, 600.0).freeboard_mm < 0


@pytest.mark.parametrize(("degrees", "heel"), [(8.0, 25.0), (-6.0, 40.0)])
def test_half_an_ellipsoid_heels_at_a_trim_as_mathematics_has_it(degrees, heel):
    a, b, c = 3000.0, 900.0, 700.0
    turn, lean = math.radians(degrees), math.radians(heel)
    found = afloat(ellipsoid(a, b, c).trimmed(turn).turned(heel), 0.0)
    assert found.volume_mm3 == pytest.approx(2 / 3 * np.pi * a * b * c, rel=4e-4)
    # Up of the water in the boat: a level across her shows the heel, one along her keel's plane
    # the trim.
    up = np.array(
        [-math.sin(turn) * math.cos(lean), -math.sin(lean), math.cos(turn) * math.cos(lean)]
    )
    assert -up[0] / up[2] == pytest.approx(math.tan(turn))
    normal = up * [a, b, c]
    centre = -3 / 8 * normal / np.linalg.norm(normal) * [a, b, c]
    assert found.centre[2] == pytest.approx(centre @ up, abs=0.5)
    # A plane through the centre cuts an ellipse of the area pi abc over the normal's length.
    area = np.pi * a * b * c / np.linalg.norm(normal)
    assert found.waterplane_mm2 == pytest.approx(area, rel=6e-4)


def box_below(trim, heel, draught=400.0, size=(4000.0, 1200.0, 600.0)):
    """Return the box below sloping water by summing thin columns: volume and centre.

    The water stands at draught + trim (x/L - 1/2) + tangent y: so by thin columns of the box.
    """
    length, breadth, depth = size
    x, y = np.meshgrid(
        (np.arange(400) + 0.5) * length / 400, (np.arange(241) + 0.5) * breadth / 241 - breadth / 2
    )
    # Plane through the middle: a x + b y + c z = c draught, the boat's own up leaning.
    turn, lean = math.atan(trim / length), math.radians(heel)
    up = (-math.sin(turn) * math.cos(lean), -math.sin(lean), math.cos(turn) * math.cos(lean))
    water = draught - (up[0] * (x - length / 2) + up[1] * y) / up[2]
    assert (water > 0).all()
    assert (water < depth).all()
    share = water / water.sum()
    return [float((share * part).sum()) for part in (x, y, water / 2)], up


@pytest.mark.parametrize(("trim", "heel"), [(200.0, 8.0), (-150.0, 10.0), (0.0, 12.0)])
def test_box_heeled_at_a_trim_has_draughts_centre_and_arm_of_its_columns(boxy, trim, heel):
    found = trimmed(boxy, hydrostatics(boxy, 400.0), trim, heel)
    (x, y, z), up = box_below(trim, heel)
    # Wall-sided: about the middle of the waterplane it keeps its volume.
    assert (found.fore_mm, found.aft_mm) == pytest.approx((400 - trim / 2, 400 + trim / 2), abs=0.1)
    # The boat's frame: x and z, of the centre.
    assert found.centre_mm == pytest.approx(x, abs=0.2)
    assert found.height_mm == pytest.approx(z, abs=0.2)
    # The righting arm of a weight plumb below or above it, two ways: level distance of the lines
    # that weight and buoyancy act along, and by the arm as it is told.
    high = 350.0
    ahead = np.array([math.cos(math.atan(trim / 4000)), 0.0, math.sin(math.atan(trim / 4000))])
    across = np.cross(up, ahead)
    weight_x = ((np.array([x, y, z]) @ ahead) - high * ahead[2]) / ahead[0]
    apart = (np.array([x, y, z]) - [weight_x, 0.0, high]) @ across
    lean, slope = math.radians(heel), math.cos(math.atan(trim / 4000))
    assert found.arm_mm - high * math.sin(lean) / slope == pytest.approx(abs(apart), abs=0.2)
    corners = np.array([[at, side, 600.0] for at in (0.0, 4000.0) for side in (-600.0, 600.0)])
    surface = np.array([2000.0, 0.0, 400.0]) @ up
    assert found.freeboard_mm == pytest.approx(float((corners @ up).min() - surface), abs=0.2)
