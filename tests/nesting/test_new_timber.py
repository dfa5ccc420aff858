import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.convex import convex_pieces
from nesting.engine.layout import Shape
from nesting.engine.stop import MaxRounds
from nesting.engine.strip_lanes import shortest_strip
from nesting.engine.turned import Pieces
from nesting.errors import PartError
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber import new_planks
from nesting.outline import Outline
from nesting.rules import Rules

RULES = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=2)
STRAIGHT_ON = ((0.0, False),)


def left(shape, count=1, siding=20.0, species="oak", slope=1000.0):
    need = Need("beam", "any", Outline(shape, siding, slope_of_grain=slope), (species,))
    return Unplaced(need, count, Misfit.NO_ROOM)


def planks(*unplaced, width=102.0, rounds=10):
    return new_planks(unplaced, RULES, width_mm=width, stop=lambda: MaxRounds(rounds))


def test_plank_of_one_rectangle_is_that_and_its_trim():
    (plank,) = planks(left(box(0, 0, 400, 100)))
    assert plank.length_mm == pytest.approx(402, abs=0.5)
    assert (plank.thickness_mm, plank.width_mm) == (24, 102)
    assert plank.board_feet == pytest.approx(plank.length_mm * 102 * 24 / 25.4**3 / 144)


def test_parts_in_a_row_keep_kerf_and_trim_between_them():
    (plank,) = planks(left(box(0, 0, 400, 100), count=3))
    assert plank.length_mm == pytest.approx(3 * 400 + 2 * 5 + 2, abs=1.0)
    assert plank.parts == (("beam", 3),)


def test_plank_says_what_no_plank_can_beat():
    (plank,) = planks(left(box(0, 0, 400, 100), count=3))
    assert plank.least_length_mm == pytest.approx(3 * 400 + 2 * 5 + 2, abs=0.5)
    (plank,) = planks(left(box(0, 0, 400, 30)), left(box(0, 0, 200, 30)))
    assert plank.least_length_mm == pytest.approx(402, abs=0.5)
    (plank,) = planks(left(Polygon([(0, 0), (400, 0), (0, 60)]), count=3))
    assert plank.least_length_mm < plank.length_mm


def test_search_for_a_plank_ends_when_none_can_be_shorter():
    stop = MaxRounds(10**7)
    unplaced = [left(box(0, 0, 400, 100), count=2)]
    (plank,) = new_planks(unplaced, RULES, width_mm=102.0, stop=lambda: stop)
    assert plank.length_mm == pytest.approx(plank.least_length_mm, abs=0.5)


def test_two_wedges_are_laid_head_to_tail():
    wedge = Polygon([(0, 0), (400, 0), (400, 20), (0, 90)])
    (plank,) = planks(left(wedge, count=2), width=125.0, rounds=40)
    assert plank.length_mm < 460


def test_species_and_thicknesses_are_bought_apart():
    shape = box(0, 0, 300, 50)
    bought = planks(left(shape), left(shape, siding=30), left(shape, species="teak"))
    assert [(p.species, p.thickness_mm) for p in bought] == [("oak", 24), ("oak", 34), ("teak", 24)]


def test_part_wider_than_the_plank_says_how_wide_it_must_be():
    with pytest.raises(PartError, match=r"beam is 100 mm wide; give a plank of 102 mm"):
        planks(left(box(0, 0, 400, 100)), width=90)


def test_nothing_left_over_needs_no_plank():
    assert planks() == ()


def shortest(polygons, width, rounds, ways=STRAIGHT_ON, workers=1):
    shapes = [Shape(Pieces.of(convex_pieces(p)), p.area, ways) for p in polygons]
    items = range(len(shapes))
    return shortest_strip(shapes, items, width, 0.0, MaxRounds(rounds), seed=1, workers=workers)


def lying(strip, polygons):
    return [
        affinity.translate(affinity.rotate(polygons[o], a, (0, 0), use_radians=True), x, y)
        for o, (x, y, a, _, _) in zip(strip.outlines, strip.places, strict=True)
    ]


def test_strip_layout_is_inside_and_does_not_overlap():
    rng = np.random.default_rng(5)
    polygons = [
        Polygon([(0, 0), (a, 0), (a, b), (a / 3, b / 2), (0, b)])
        for a, b in rng.uniform(5, 20, (9, 2))
    ]
    ways = tuple((math.radians(angle), False) for angle in (0, 90, 180, 270))
    strip = shortest(polygons, 30.0, 6, ways)
    placed = lying(strip, polygons)
    for i, first in enumerate(placed):
        x0, y0, x1, y1 = first.bounds
        assert min(x0, y0) >= -1e-6
        assert x1 <= strip.length + 1e-6
        assert y1 <= 30 + 1e-6
        assert all(first.intersection(other).area < 1e-4 for other in placed[:i])


def test_jigsaw_of_a_square_is_solved():
    """Our own cut of a 100 x 100 square: the optimum is known because it was cut from it."""
    polygons = [
        Polygon([(0, 0), (60, 0), (40, 50), (0, 40)]),
        Polygon([(60, 0), (100, 0), (100, 70), (40, 50)]),
        Polygon([(0, 40), (40, 50), (30, 100), (0, 100)]),
        Polygon([(40, 50), (100, 70), (100, 100), (30, 100)]),
    ]
    strip = shortest(polygons, 100.0, 200)
    assert strip.length == pytest.approx(100, rel=2e-3)


def test_same_seed_gives_the_same_strip_on_one_process_and_on_two():
    polygons = [box(0, 0, a, 7) for a in (5, 9, 12, 4)]
    first, second = (shortest(polygons, 15.0, 8, workers=workers) for workers in (1, 2))
    assert first.length == second.length
    assert (first.places == second.places).all()


def test_search_stops_at_the_length_that_nothing_can_beat():
    strip = shortest([box(0, 0, 10, 10)], 10.0, 10**9)
    assert strip.length == pytest.approx(10, abs=1e-5)
