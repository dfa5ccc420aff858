import math
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.accounts.new_timber import new_planks, sorted_out
from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.layout import Shape
from nesting.engine.stop import MaxRounds
from nesting.engine.strip.strip_lanes import shortest_strip
from nesting.grain import GrainPath, straight_grain
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import NewTimberRules
from nesting.outline import Outline
from nesting.rules import Rules
from parts.wood.sold_as import Form

RULES = Rules(
    kerf_mm=3, trim_mm=1, cleaning_loss_mm=2,
    new_timber=NewTimberRules((24, 34, 40), planing_mm=2, edge_mm=0, end_mm=0),
)  # fmt: skip
STRAIGHT_ON = ((0.0, False),)


def left(shape, count=1, siding=20.0, species="white oak", slope=1000.0, part="beam", **more):
    woods = (species,) if isinstance(species, str) else species
    need = Need(part, "any", Outline(shape, siding, slope_of_grain=slope, **more), woods, count)
    return Unplaced(need, count, Misfit.NO_ROOM)


def planks(*unplaced, width=102.0, rounds=10, rules=RULES):
    groups = sorted_out(unplaced, rules, width_mm=width).groups
    return new_planks(groups, rules, width_mm=width, stop=lambda: MaxRounds(rounds))


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
    groups = sorted_out(unplaced, RULES, width_mm=102.0).groups
    (plank,) = new_planks(groups, RULES, width_mm=102.0, stop=lambda: stop)
    assert plank.length_mm == pytest.approx(plank.least_length_mm, abs=0.5)


def test_two_wedges_are_laid_head_to_tail():
    wedge = Polygon([(0, 0), (400, 0), (400, 20), (0, 90)])
    (plank,) = planks(left(wedge, count=2), width=125.0, rounds=40)
    assert plank.length_mm < 460


def test_species_and_thicknesses_are_bought_apart():
    shape = box(0, 0, 300, 50)
    bought = planks(left(shape), left(shape, siding=30), left(shape, species="teak"))
    assert [(p.species, p.thickness_mm) for p in bought] == [
        ("teak", 24), ("white oak", 24), ("white oak", 34),
    ]  # fmt: skip


def test_thicknesses_out_of_one_as_sold_lie_on_one_plank():
    (plank,) = planks(left(box(0, 0, 300, 100)), left(box(0, 0, 200, 100), siding=18, part="pad"))
    assert plank.thickness_mm == 24
    assert plank.parts == (("beam", 1), ("pad", 1))
    assert plank.net_mm3 == pytest.approx(300 * 100 * 20 + 200 * 100 * 18)
    assert plank.waste_percent == pytest.approx(
        100 * (1 - plank.net_mm3 / (plank.length_mm * 102 * 24))
    )


def test_new_timber_s_own_allowances_count_and_not_the_salvage_s():
    rules = replace(RULES, new_timber=NewTimberRules((32,), planing_mm=3, edge_mm=4, end_mm=30))
    (plank,) = planks(left(box(0, 0, 400, 100)), width=110.0, rules=rules)
    assert plank.length_mm == pytest.approx(400 + 2 * (1 + 30), abs=0.5)
    assert plank.thickness_mm == 32


def test_part_wider_than_the_plank_is_named_and_the_others_go_on():
    wide, slim = left(box(0, 0, 400, 100), part="blade"), left(box(0, 0, 300, 50), species="teak")
    found = sorted_out([wide, slim], RULES, width_mm=90)
    assert [(row.part, row.least_width_mm) for row in found.too_wide] == [("blade", 102)]
    (plank,) = planks(wide, slim, width=90)
    assert (plank.species, plank.parts) == ("teak", (("beam", 1),))


def test_width_of_a_part_is_taken_across_its_own_grain():
    """Drawn upright, its grain upright too: 100 mm wide, not 686."""
    blade = left(box(0, 0, 100, 686), grain=straight_grain(90))
    assert sorted_out([blade], RULES, width_mm=102).too_wide == ()
    (plank,) = planks(blade)
    assert plank.length_mm == pytest.approx(688, abs=0.5)


def test_a_curve_the_search_draws_a_little_larger_still_finds_a_plank():
    """As wide as the plank by its true outline, wider by the one that is searched with."""
    bow = Point(0, 0).buffer(50.0, quad_segs=64)
    (least,) = (row.least_width_mm for row in sorted_out([left(bow)], RULES, width_mm=90).too_wide)
    assert 102 <= least <= 103
    (plank,) = planks(left(bow), width=least)
    assert plank.length_mm < 110


def test_grown_part_is_no_plank():
    knee = left(
        Polygon([(0, 0), (300, 0), (300, 60), (60, 60), (60, 300), (0, 300)]),
        grain=GrainPath(((300, 30), (60, 40), (40, 60), (30, 300))),
        part="knee",
    )
    found = sorted_out([knee, left(box(0, 0, 300, 50))], RULES, width_mm=400)
    assert [left.need.part for group in found.groups.values() for left in group] == ["beam"]
    (line,) = found.not_planks
    assert (line.form, line.pieces[0].part) == (Form.CROOK, "knee")


def test_wood_that_nobody_sells_sawn_gives_way_to_the_next_accepted():
    (plank,) = planks(left(box(0, 0, 300, 50), species=("apple", "white oak")))
    assert plank.species == "white oak"


def test_thin_parts_are_resawn_out_of_one_plank():
    thin = left(box(0, 0, 400, 100), count=5, siding=6.0)
    (plank,) = planks(thin)
    # 24 mm less 2 a face gives two of 6 with 3 + 2 x 1 between: three layers of 400.
    assert plank.length_mm == pytest.approx(3 * 400 + 2 * 5 + 2, abs=1.0)
    assert plank.parts == (("beam", 5),)


def test_progress_names_each_plank_and_its_length_so_far():
    told = []

    def tell(*step):
        told.append(step)

    groups = sorted_out([left(box(0, 0, 400, 100))], RULES, width_mm=102).groups
    new_planks(groups, RULES, width_mm=102, stop=lambda: MaxRounds(1), on_progress=tell)
    assert told[0] == (("white oak", 24), None)
    assert told[-1] == (("white oak", 24), pytest.approx(402, abs=0.5))


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


class Lost(Executor):
    """Processes that are all lost at once."""

    def __init__(self, count):
        pass

    def submit(self, work, /, *args, **named):
        raise RuntimeError("no process is left")


def test_same_seed_gives_the_same_strip_when_all_processes_are_lost(monkeypatch):
    polygons = [box(0, 0, a, 7) for a in (5, 9, 12, 4)]
    first = shortest(polygons, 15.0, 8)
    monkeypatch.setattr("nesting.engine.strip.strip_lanes.Workers", Lost)
    second = shortest(polygons, 15.0, 8, workers=2)
    assert (first.places == second.places).all()


def test_search_stops_at_the_length_that_nothing_can_beat():
    strip = shortest([box(0, 0, 10, 10)], 10.0, 10**9)
    assert strip.length == pytest.approx(10, abs=1e-5)


def test_plank_says_what_its_parts_ask_of_the_wood_and_which_are_resawn():
    """24 less 2 a face is 20: two leaves of 6 with 3 + 2 x 1 between them, three with 16."""
    thin, plain = left(box(0, 0, 300, 50), siding=5.0, part="slat", count=3), left(box(0, 0, 9, 50))
    dry = replace(thin, need=replace(thin.need, heartwood_only=True, moisture_percent=(8, 12)))
    (plank,) = planks(dry, plain)
    assert plank.wants == ("slat: heartwood only, at 8 to 12 % moisture, each place resawn into 2",)
