"""Small scenes for tests of the jostling: random items, their fields, and plain measures."""

import math
from itertools import pairwise

import numpy as np
from puzzles import star
from shapely import affinity
from shapely.geometry import MultiPoint, box

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.blocks import fit_scratch, turn_into
from nesting.engine.jostle.chart import chart_of, no_chart, with_room
from nesting.engine.jostle.field import Scene, open_field
from nesting.engine.jostle.layout import (
    Shape,
    bare_wood,
    field_for,
    figures_of,
    layout_of,
    no_rings,
    packed_pieces,
    scratch_block,
    ways_of,
)
from nesting.engine.jostle.sum_table import no_table, table_of


def shape_of(polygon, angles=(0.0, math.pi / 2), lean=0.0):
    ways = tuple((angle, is_over) for angle in angles for is_over in (False, True))
    return Shape(Pieces.of(convex_pieces(polygon)), polygon.area, ways, lean)


def random_polygons(rng, count):
    return [star(rng, float(rng.uniform(10, 25)), int(rng.integers(3, 9))) for _ in range(count)]


def scene_of(polygons, places, *, size=100.0, gap=0.0, is_tabled=False, obstacles=()):
    """Return a scene of one item for each polygon; ``obstacles`` are rings with their gaps."""
    shapes = [shape_of(polygon) for polygon in polygons]
    figures = figures_of(shapes)
    blocks = np.ones((len(shapes), len(obstacles)), np.bool_)
    ways = ways_of(shapes, blocks, None)
    wood = bare_wood((0.0, 0.0, size, size), gap)
    if obstacles:
        packed = packed_pieces([ring for ring, _ in obstacles])
        boxes = [(*ring.min(axis=0), *ring.max(axis=0), gap) for ring, gap in obstacles]
        wood = wood._replace(corners=packed.corners, first=packed.first, boxes=np.array(boxes))
    table = table_of(figures, ways, wood) if is_tabled else no_table()
    layout = layout_of(shapes, figures, range(len(shapes)), places)
    chart = with_room(chart_of(table, 25.0), size, size) if is_tabled else no_chart()
    return Scene(layout, wood, ways, figures, no_rings(len(shapes)), table, chart)


def random_places(rng, scene_size, count):
    """Return places of items in any of the four ways of :func:`shape_of`."""
    way = rng.integers(4, size=count)
    angles = np.where(way < 2, 0.0, math.pi / 2)
    first = 4 * np.arange(count)
    xy = rng.uniform(0.2 * scene_size, 0.8 * scene_size, (count, 2))
    return np.column_stack([xy, angles, (way % 2).astype(float), first + way])


def opened(scene, i):
    """Return the field of item i as it lies, and the block that holds it."""
    field = field_for(scene.layout, scene.wood, scene.figures, scene.table)
    scratch = scratch_block(scene.figures)
    _, _, angle, face, way = scene.layout.place[i]
    fit_scratch(scratch, scene.figures, i)
    turn_into(scene.figures, i, angle, face > 0.5, scratch, 0)
    open_field(field, scratch, 0, i, int(way), angle, face > 0.5, scene)
    return field, scratch


def lying(polygon, place):
    """Return a polygon turned over or not, turned and moved as an item's place says."""
    x, y, angle, face, _ = place
    flat = affinity.scale(polygon, 1, -1, origin=(0, 0)) if face > 0.5 else polygon
    turned = affinity.rotate(flat, angle, (0, 0), use_radians=True)
    return affinity.translate(turned, x, y)


def plain_depth(a, b, gap=0.0, *, is_tabled=False):
    """Return the summed depth of two shapely polygons by separating axes of their convex pieces.

    Pieces whose boxes keep the gap do, though edges that meet in a sharp corner may not show it.
    A table leaves out pairs of pieces that keep apart whenever another pair does.
    """
    total = 0.0
    pairs = [(p, q) for q in convex_pieces(b) for p in convex_pieces(a)]
    for p, q in _needed(pairs) if is_tabled else pairs:
        if max((p.min(axis=0) - q.max(axis=0)).max(), (q.min(axis=0) - p.max(axis=0)).max()) < gap:
            total += max(0.0, gap - max(_apart(p, q), _apart(q, p)))
    return total


def _needed(pairs):
    """Return the pairs of convex pieces whose sum does not lie inside that of another."""
    sums = [MultiPoint([y - x for x in p for y in q]).convex_hull for p, q in pairs]
    kept = list(range(len(pairs)))
    for s, own in enumerate(sums):
        if any(other != s and sums[other].buffer(1e-9).contains(own) for other in kept):
            kept.remove(s)
    return [pairs[s] for s in kept]


def _apart(p, q):
    """Return the largest distance at which an edge of p keeps q off."""
    best = -math.inf
    for start, end in pairwise([*p, p[0]]):
        ux, uy = end - start
        normal = np.array([uy, -ux]) / math.hypot(ux, uy)
        best = max(best, float((q @ normal).min() - normal @ start))
    return best


SQUARE = box(0, 0, 20, 20)
