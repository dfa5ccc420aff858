"""Where parts may lie on grown wood: no true place is dropped, no bare point is called covered."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from crooks import crook, knee
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.engine.proof.common_points import points_on, shares_of_points
from nesting.engine.wood.berths import GrownWood
from nesting.engine.wood.berths_numba import weighed
from nesting.grain import GrainPath, angle_between, straight_grain
from nesting.outline import Outline
from nesting.units import slope_angle

seeds = st.integers(0, 10**6)


def lies(outline, board, place, *, is_over=False):
    """Return a part's polygon where it lies, if it lies in the board and true to its grain."""
    x, y, turn = place
    centre = shapely.minimum_bounding_circle(outline.shape).centroid

    def to_board(points):
        seen = (points - (centre.x, centre.y)) * (1, -1 if is_over else 1)
        cosine, sine = math.cos(turn), math.sin(turn)
        return seen @ np.array([[cosine, sine], [-sine, cosine]]) + (x, y)

    polygon = shapely.transform(outline.shape, to_board)
    if not board.shape.covers(polygon):
        return None
    limit = slope_angle(outline.slope_of_grain)
    for point in np.asarray(shapely.segmentize(LineString(outline.grain.points), 1.0).coords):
        own = outline.grain.angle_at(*point) * (-1 if is_over else 1) + math.degrees(turn)
        if angle_between(own, board.grain.angle_at(*to_board(point[None])[0])) > limit:
            return None
    return polygon


def true_places(rng, outline, board, *, is_over):
    """Return places found by chance, and near those found some more."""
    low_x, low_y, high_x, high_y = board.shape.bounds
    found = []
    for _ in range(2000):
        if found and rng.random() < 0.5:
            place = found[int(rng.integers(len(found)))][0] + rng.normal(0, (8, 8, 0.1))
        else:
            place = rng.uniform((low_x, low_y, 0), (high_x, high_y, 2 * math.pi))
        polygon = lies(outline, board, place, is_over=is_over)
        if polygon is not None:
            found.append((place, polygon))
    return found


@given(seed=seeds)
@settings(max_examples=3)
def test_every_true_place_lies_in_a_berth_and_covers_its_points(seed):
    rng = np.random.default_rng(seed)
    board, outline = crook(rng, "K"), knee(rng, "P").outline
    berths = GrownWood(board.shape, board.grain).berths(outline, board.shape, 4.0)
    points = points_on(board.shape)
    for is_over, face in zip((False, True), berths, strict=False):
        for halving in range(2):
            covers = face.covered(points)
            for (x, y, turn), polygon in true_places(rng, outline, board, is_over=is_over)[:60]:
                off = np.abs((face.boxes[:, 2] - turn + math.pi) % (2 * math.pi) - math.pi)
                holds = (np.abs(face.boxes[:, 0] - x) <= face.boxes[:, 3] + 1e-9) & (
                    np.abs(face.boxes[:, 1] - y) <= face.boxes[:, 3] + 1e-9
                )
                inside = np.flatnonzero(holds & (off <= face.boxes[:, 4] + 1e-9))
                assert len(inside)
                grown = polygon.buffer(2.0 + 1e-6)
                for berth in inside:
                    covered = points[covers[berth] > 0]
                    assert shapely.contains_xy(grown, covered[:, 0], covered[:, 1]).all()
            if halving == 0:
                face = face.halved(np.ones(len(face.boxes), np.bool_))


def test_plank_across_the_grain_has_no_berth():
    board = box(0, 0, 600, 300)
    bend = GrainPath(((0.0, 150.0), (300.0, 150.0), (600.0, 160.0)))
    along = Outline(box(0, 0, 250, 40), 20, slope_of_grain=12.0)
    across = Outline(box(0, 0, 250, 40), 20, slope_of_grain=12.0, grain=straight_grain(90.0))
    high = Outline(box(0, 0, 40, 400), 20, slope_of_grain=12.0)
    wood = GrownWood(board, bend)
    assert sum(len(face.boxes) for face in wood.berths(along, board, 0.0)) > 0
    lying = [face.boxes[:, 2] for face in wood.berths(across, board, 0.0)]
    assert all((np.abs(np.sin(turns)) > 0.9).all() for turns in lying)
    assert sum(len(face.boxes) for face in wood.berths(high, board, 0.0)) == 0


def test_no_wood_has_no_berths():
    rng = np.random.default_rng(1)
    board, outline = crook(rng, "K"), knee(rng, "P").outline
    wood = GrownWood(board.shape, board.grain)
    berths = wood.berths(outline, board.shape.intersection(Point(1e6, 0)), 0.0)
    assert shares_of_points([berths], points_on(board.shape)).tolist() == [2.0]


def test_knees_as_wide_as_their_crook_lie_there_once():
    rng = np.random.default_rng(3)
    board, outline = crook(rng, "K"), knee(rng, "P").outline
    low_x, _, high_x, _ = outline.shape.bounds
    scale = 0.9 * (board.shape.bounds[2] - board.shape.bounds[0]) / (high_x - low_x)

    def larger(geometry):
        return affinity.scale(geometry, scale, scale, origin=(0, 0))

    grain = GrainPath(tuple((x * scale, y * scale) for x, y in outline.grain.points))
    large = Outline(larger(outline.shape), 35.0, grain=grain, slope_of_grain=3.0)
    wood = GrownWood(board.shape, board.grain)
    points = points_on(board.shape)
    assert shares_of_points([wood.berths(large, board.shape, 2.0)], points)[0] > 0.5


@given(seed=seeds)
def test_points_are_weighed(seed):
    rng = np.random.default_rng(seed)
    covers = rng.integers(0, 2, (6, 9)).astype(np.uint8)
    some, weights = np.array([1, 4, 7]), rng.uniform(0, 1, 3)
    assert weighed(covers, some, weights) == pytest.approx(covers[:, some] @ weights)


STRAIGHT = GrainPath(((-50.0, 0.0), (2000.0, 0.0)))


def bar(length, width, **more):
    return Outline(box(0, 0, length, width), 20, slope_of_grain=12.0, **more)


def holds(berths, x, y, turn):
    """Return whether a place of the part's middle lies in one of the boxes."""
    boxes = berths.boxes
    off = np.abs((boxes[:, 2] - turn + math.pi) % (2 * math.pi) - math.pi)
    near = np.abs(boxes[:, :2] - (x, y)).max(axis=1) <= boxes[:, 3] + 1e-9
    return bool((near & (off <= boxes[:, 4] + 1e-9)).any())


def finer(berths, times):
    for _ in range(times):
        berths = berths.halved(np.ones(len(berths.boxes), np.bool_))
    return berths


def test_points_are_covered_where_the_part_is_and_nowhere_beside_it():
    """One box without extent: what is covered is the part itself, but for the cells' rounding."""
    (face, _) = GrownWood(box(0, 0, 300, 200), STRAIGHT).berths(bar(100, 40), box(0, 0, 300, 200))
    face = replace(face, boxes=np.array([[150.0, 100.0, 0.0, 0.0, 0.0]]))
    xs, ys = np.meshgrid(np.arange(90.1, 210, 0.4), np.arange(75.1, 125, 0.4))
    points = np.column_stack([xs.ravel(), ys.ravel()])
    covers = face.covered(points)[0] > 0
    inward = np.minimum(50 - np.abs(points[:, 0] - 150), 20 - np.abs(points[:, 1] - 100))
    assert not covers[inward < -1e-9].any()
    assert covers[inward > 2.2].all()


@pytest.mark.parametrize("angle_deg", [0.0, 358.0, 180.0, 182.0])
def test_places_at_an_angle_are_those_of_the_outlines_own_origin(angle_deg):
    board = box(0, 0, 300, 200)
    (face, _) = GrownWood(board, STRAIGHT).berths(bar(100, 40), board)
    found = face.box_of_places(angle_deg)
    turned = affinity.rotate(box(0, 0, 100, 40), angle_deg, origin=(0, 0))
    low_x, low_y, high_x, high_y = turned.bounds
    true = (-low_x, -low_y, 300 - high_x, 200 - high_y)
    assert found[0] <= true[0] and found[1] <= true[1]
    assert found[2] >= true[2] and found[3] >= true[3]
    # Boxes are 6 mm either way, and cells tell distances to some 3 mm.
    assert np.abs(np.subtract(found, true)).max() < 12 + 3 + 4
    assert face.box_of_places(angle_deg - 360.0) == pytest.approx(found)
    assert face.box_of_places(90.0) is None and face.box_of_places(angle_deg + 20.0) is None


def test_small_part_has_a_berth_in_every_corner_of_the_wood():
    board = box(0, 0, 330, 170)
    (face, *_) = GrownWood(board, STRAIGHT).berths(bar(12, 8), board)
    for x in (6.0, 324.0):
        for y in (4.0, 166.0):
            assert holds(face, x, y, 0.0)


def test_part_lies_along_every_stretch_of_the_grain():
    """The grain goes along, then up, then along again: a part is true on each stretch of it."""
    board = box(0, 0, 1200, 900)
    line = GrainPath(((0.0, 100.0), (500.0, 100.0), (700.0, 800.0), (1200.0, 800.0)))
    up = math.atan2(700.0, 200.0)
    (face, *_) = GrownWood(board, line).berths(bar(100, 20), board)
    assert holds(face, 250.0, 100.0, 0.0)
    assert holds(face, 600.0, 450.0, up)
    assert holds(face, 950.0, 800.0, 0.0)
    assert not holds(face, 600.0, 450.0, 0.0)
    assert not holds(face, 250.0, 100.0, up)


def test_part_as_large_as_the_wood_keeps_its_one_berth_however_small_the_boxes():
    room = box(40, 30, 140, 70)
    (face, _) = GrownWood(box(0, 0, 200, 120), STRAIGHT).berths(bar(100, 40), room)
    fine = finer(face, 4)
    assert holds(fine, 90.0, 50.0, 0.0)
    assert np.abs(fine.boxes[:, :2] - (90.0, 50.0)).max() < 5.0
    (larger, _) = GrownWood(box(0, 0, 200, 120), STRAIGHT).berths(bar(100, 50), room)
    assert len(finer(larger, 4).boxes) == 0


def test_part_turned_over_lies_as_its_mirror_image():
    """An angle of two arms: in wood of the mirror's shape only the turned face has a berth."""
    ring = [(0, 0), (200, 0), (200, 40), (40, 40), (40, 120), (0, 120)]
    angle = Outline(Polygon(ring), 20, slope_of_grain=12.0)
    mirror = Polygon([(x, 120 - y) for x, y in ring])
    sides = [len(f.boxes) for f in GrownWood(mirror, STRAIGHT).berths(angle, mirror)]
    assert sides[0] == 0 and sides[1] > 0
    sides = [len(f.boxes) for f in GrownWood(mirror, STRAIGHT).berths(angle, angle.shape)]
    assert sides[0] > 0 and sides[1] == 0
