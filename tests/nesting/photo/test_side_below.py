"""The side below a face, taken off where it is seen: on bands made up of figures."""

import numpy as np
from shapely.geometry import Polygon
from test_edge_lines import FINE, OFFSETS, STEP, band, ring

from nesting.photo.edge_lines import steps_along
from nesting.photo.rings import normals_of
from nesting.photo.side_below import side_widths, sides_taken, unlike_stretches

WIDE = 6.0
FOOT = ((-24, 100), (-WIDE, 70), (0, 40))
"""Face, side and ground: the edge that was found is the foot of the side."""

UNSEEN = ((-24, 100), (0, 40))


def taken(*stretches, known=()):
    """Return what is taken off each of some stretches: shades of its band, and how far out its
    edge was found; ``known``: those past which the side is seen.
    """
    light = np.concatenate([band(*shades)[:100] for shades, _ in stretches])
    out = np.repeat([float(out) for _, out in stretches], 100)
    path = np.round((out - OFFSETS[0]) / FINE).astype(int)
    places = np.column_stack([STEP * np.arange(len(path)), -out])
    wide = np.full(len(path), WIDE)
    wide[-1] = 0.0
    steps = steps_along(light, FINE, STEP, 1.5)
    is_face = np.repeat([number in known for number in range(len(stretches))], 100)
    side, alone = sides_taken(light, steps, path, wide, places, is_face)
    return [np.median(part) for part in np.split(side, len(stretches))], (wide, alone)


def test_a_stretch_goes_by_those_that_its_edge_runs_on_with():
    found, (wide, alone) = taken((FOOT, 0), (FOOT, 0), (UNSEEN, 0), (FOOT, 0))
    assert np.allclose(found, WIDE, atol=1.0)
    (told,) = unlike_stretches(wide, alone)
    assert abs(told[0] - 200) < 3 and abs(told[-1] - 299) < 3


def test_where_the_edge_steps_in_by_the_sides_width_it_is_the_faces_own():
    found, _ = taken((FOOT, 0), (FOOT, 0), (FOOT, -WIDE), (FOOT, 0))
    assert np.allclose(found, (WIDE, WIDE, 0, WIDE), atol=1.0)


def test_where_some_of_a_side_is_known_to_be_the_faces_edge_the_rest_is_held_against_it():
    found, _ = taken((FOOT, -WIDE), (UNSEEN, 0), (UNSEEN, -2), (FOOT, -WIDE), known=(0, 3))
    assert np.allclose(found, (0, WIDE, 0, 0), atol=0.5)


def test_one_stretch_of_many_says_nothing_of_the_others():
    found, _ = taken((UNSEEN, 0), (UNSEEN, 0), (FOOT, 0), (UNSEEN, 0))
    assert np.allclose(found, (0, 0, WIDE, 0), atol=1.0)


def test_a_side_is_seen_as_wide_up_to_its_corner():
    soft = Polygon([(0, 0), (1200, 0), (1200, 150), (0, 150)]).buffer(-30).buffer(30)
    places = ring(*soft.exterior.normalize().coords[-2::-1])
    eye = np.array([[300.0, -900.0, 2000.0]])
    wide = side_widths(places, normals_of(places), eye, 30.0, 0.0)
    lower = places[:, 1] < 1
    middle, near = (lower & (abs(places[:, 0] - x) < 6) for x in (600, 1175))
    assert np.allclose(wide[middle], 900 * 30 / 2030, atol=0.1)
    assert np.allclose(wide[near], wide[middle].mean(), atol=0.5)
