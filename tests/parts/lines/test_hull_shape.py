import math

import numpy as np
import pytest
from lines_tables import (
    BREADTH,
    DRAUGHT,
    LENGTH,
    WITHY,
    box_table,
    double_ender,
    double_ender_table,
    wedge_table,
    wigley,
    wigley_normal,
    wigley_table,
)

from nesting.errors import PartError, ShapeError
from parts.boat.deck import Deck
from parts.boat.plan import DeckCrown
from parts.curves import Crown
from parts.lines import Face, hull_of, read_hull

# The Wigley form and what it comes to: mathematics. Its last twentieth is left out of angles:
# between the end and the first station nothing but the figures of those two is known.
PLACES = [(x, z) for x in np.linspace(0.05, 0.95, 13) * LENGTH for z in (20.0, 150.0, 330.0, 580.0)]


def flare(hull, x, z):
    """Return how far a section leans out from plumb, degrees."""
    _, out, up = hull.normal(x, z)
    return math.degrees(math.atan2(-up, out))


@pytest.fixture(scope="module")
def form():
    return hull_of(wigley_table())


@pytest.fixture(scope="module")
def withy():
    return read_hull(WITHY)


def test_sections_of_the_wigley_form_between_stations_and_waterlines(form):
    worst = max(abs(form.half_breadth(x, z) - wigley(x, z)) for x, z in PLACES)
    assert worst < 0.8


def test_bevels_of_the_wigley_form_within_a_quarter_degree(form):
    for x, z in PLACES:
        ahead, out, up = wigley_normal(x, z)
        bevel = math.degrees(math.atan2(ahead, math.hypot(out, up)))
        assert form.bevel(x, z) == pytest.approx(bevel, abs=0.25)


def test_flare_and_waterline_angle_of_the_wigley_form_within_half_a_degree_or_little_more(form):
    for x, z in PLACES:
        ahead, out, up = wigley_normal(x, z)
        assert flare(form, x, z) == pytest.approx(math.degrees(math.atan2(-up, out)), abs=0.6)
        angle = math.degrees(math.atan2(-ahead, out))
        assert waterline_angle(form, x, z) == pytest.approx(angle, abs=0.6)


def test_half_angle_of_entrance_of_the_wigley_form(form):
    # dy/dx at the end of the load waterline is 2 B / L.
    exact = math.degrees(math.atan(2 * BREADTH / LENGTH))
    assert waterline_angle(form, 1.0, DRAUGHT - 1) == pytest.approx(exact, abs=0.5)


def waterline_angle(hull, x, z):
    """Return the angle of a waterline with the centreline, degrees, by the hull's normal."""
    ahead, out, _ = hull.normal(x, z)
    return math.degrees(math.atan2(-ahead, out))


def test_girth_and_midship_area_of_the_wigley_form(form):
    z = np.linspace(0, DRAUGHT, 5001)
    girth = np.hypot(np.diff(wigley(LENGTH / 2, z)), np.diff(z)).sum()
    assert form.girth(LENGTH / 2) == pytest.approx(girth, rel=5e-4)
    part = z[(z >= 100) & (z <= 400)]
    exact = np.hypot(np.diff(wigley(LENGTH / 2, part)), np.diff(part)).sum()
    assert form.girth(LENGTH / 2, 100.0, 400.0) == pytest.approx(exact, rel=1e-3)
    assert form.section_area(LENGTH / 2, DRAUGHT) == pytest.approx(
        2 / 3 * BREADTH * DRAUGHT, rel=1e-3
    )


def test_fore_and_after_body_of_a_symmetrical_form_have_opposite_bevels(form):
    for z in (100.0, 400.0):
        assert form.bevel(900.0, z) == pytest.approx(-form.bevel(LENGTH - 900.0, z), abs=0.1)
    assert form.bevel(900.0, 400.0) < 0 < form.bevel(LENGTH - 900.0, 400.0)


def test_a_double_ender_between_her_stations_and_up_to_both_stems():
    hull = hull_of(double_ender_table())
    for x in (450.0, 1300.0, 2500.0, 4000.0, 5800.0, 7200.0, 7600.0):
        for share in (0.2, 0.5, 0.8):
            y, z = double_ender(x, share)
            # Ahead of the first and past the last station only stem and sheer are known.
            within = 2.5 if 600 < x < 7400 else 5.0
            assert hull.half_breadth(x, float(z)) == pytest.approx(y, abs=within)
    for end in hull.ends:
        inward = end + math.copysign(1.0, 4000.0 - end)
        assert hull.sheer(inward)[0] == pytest.approx(25.0, abs=1.5)
        assert hull.girth(inward) < 25.0


def test_half_breadth_and_height_are_each_others_reverse(withy):
    for x, z in ((900.0, 900.0), (3000.0, 600.0), (5200.0, 1000.0)):
        y = withy.half_breadth(x, z)
        assert withy.height_at(x, y) == pytest.approx(z, abs=1e-3)
        assert withy.point(x, z) == pytest.approx([x, y, z], abs=1e-4)


def test_a_wall_sided_box_has_no_bevel_and_no_flare():
    box = hull_of(box_table())
    for x in (100.0, 1750.0, 3900.0):
        for z in (10.0, 300.0, 590.0):
            assert box.bevel(x, z) == pytest.approx(0, abs=0.01)
            assert flare(box, x, z) == pytest.approx(0, abs=0.05)
            assert box.half_breadth(x, z) == pytest.approx(600, abs=0.05)
    assert box.girth(2000.0) == pytest.approx(600, abs=0.1)


def test_planking_comes_off_square_to_the_hull_not_level():
    # On a slope of 45 degrees 20 mm square are 28.28 mm level: plane geometry.
    wedge = hull_of(wedge_table(planking_mm=20.0))
    for z in (150.0, 300.0, 450.0):
        outside, inside = (
            wedge.half_breadth(2000.0, z, face) for face in (Face.OUTSIDE, Face.INSIDE)
        )
        assert outside == pytest.approx(z, abs=0.1)
        assert outside - inside == pytest.approx(20.0 * math.sqrt(2), abs=0.1)


def test_planking_goes_on_outside_a_table_to_the_inside():
    box = hull_of(box_table(planking_mm=25.0, face=Face.INSIDE))
    assert box.half_breadth(2000.0, 300.0, Face.OUTSIDE) == pytest.approx(625, abs=0.05)
    assert box.half_breadth(2000.0, 300.0, Face.INSIDE) == pytest.approx(600, abs=0.05)


def test_both_faces_are_a_plank_apart_everywhere(withy):
    thick = withy.table.planking_mm
    for x, z in ((400.0, 1200.0), (1500.0, 800.0), (4000.0, 420.0), (6800.0, 1100.0)):
        inner, normal = withy.point(x, z), withy.normal(x, z)
        outer = inner + thick * normal
        again = withy.half_breadth(outer[0], outer[2], Face.OUTSIDE)
        assert again == pytest.approx(outer[1], abs=0.05)


def test_a_section_runs_from_rabbet_to_sheer_and_may_not_be_written_to(withy):
    section = withy.section(3000.0, Face.OUTSIDE)
    assert tuple(section[0]) == pytest.approx(withy.keel(3000.0), abs=1e-9)
    assert tuple(section[-1]) == pytest.approx(withy.sheer(3000.0, Face.OUTSIDE), abs=1e-9)
    assert (np.diff(section[:, 1]) > 0).all()
    with pytest.raises(ValueError, match="read-only"):
        section[0, 0] = 0.0


def test_a_section_has_just_the_lines_that_reach_it_also_where_some_no_longer_do(withy):
    inside = withy.surface(Face.INSIDE)
    u = np.linspace(0.0, 1.0, 33)
    ends = [inside.at(np.full(33, t), u)[:, 0] for t in (-1.0, 1.0)]
    some = 0
    for end in ends:
        for x in np.linspace(end.min() - 3.0, end.max() + 3.0, 41):
            _, passes = inside.way(float(x), u)
            assert passes.tolist() == ((ends[0] <= x) & (x <= ends[1])).tolist()
            some += 0 < passes.sum() < 33
    assert some > 10


def test_bevel_is_the_slope_of_neighbouring_sections(withy):
    """By sections alone: how far the hull moves square to the section, over the spacing."""
    x, z, step = 6000.0, 900.0, 1.0
    y = withy.half_breadth(x, z)
    lean = math.radians(flare(withy, x, z))
    drawn_in = withy.half_breadth(x - step, z) - withy.half_breadth(x + step, z)
    slope = drawn_in / (2 * step) * math.cos(lean)
    assert withy.bevel(x, z) == pytest.approx(math.degrees(math.atan(slope)), abs=0.05)
    assert y > 0


def test_sheer_and_rabbet_are_those_of_the_table(withy):
    # Station 6 of the table: sheer 4-4-7 high and 3-9-4 out, rabbet 0-9-1 high.
    x = 12 * 304.8
    assert withy.sheer(x, Face.OUTSIDE) == pytest.approx((45.5 * 25.4, 52.875 * 25.4), abs=0.8)
    assert withy.keel(x) == pytest.approx((1.5 * 25.4, 9.125 * 25.4), abs=0.8)


def test_deck_rises_from_the_sheer_by_the_beam_mould(withy):
    x, crown = 3600.0, withy.table.crown
    deck, (half, height) = Deck(withy, crown, 20.0, DeckCrown.ONE_MOULD), withy.sheer(x)
    assert deck.edge(x) == (half, height - 20.0)
    drop = crown.height(np.array([half]))[0]
    expected = [height - 20.0, height - 20.0 + crown.rise_mm - drop]
    assert deck.height(x, np.array([half, 0.0])) == pytest.approx(expected)


def test_transom_stands_on_the_rabbet_and_reaches_the_sheer(withy):
    (foot_x, foot_z), (head_x, head_z) = withy.table.transom
    outline = withy.transom()
    assert outline[0] == pytest.approx([38.1, 0.0], abs=3.0)
    assert outline[-1, 1] == pytest.approx(math.hypot(head_x - foot_x, head_z - foot_z), rel=0.01)
    assert outline[-1, 0] == pytest.approx(withy.sheer(head_x, Face.OUTSIDE)[0], abs=3.0)
    # Its middle point lies on the hull.
    half, up = outline[len(outline) // 2]
    share = up / math.hypot(head_x - foot_x, head_z - foot_z)
    x, z = foot_x + share * (head_x - foot_x), foot_z + share * (head_z - foot_z)
    assert withy.half_breadth(x, z, Face.OUTSIDE) == pytest.approx(half, abs=0.5)


def test_the_bow_closes_at_the_stem_head(withy):
    first = withy.ends[0]
    half, height = withy.sheer(first + 0.5, Face.OUTSIDE)
    assert half == pytest.approx(38.1, abs=1.0)
    assert height == pytest.approx(withy.table.stem[0][1], abs=1.0)
    assert withy.girth(first + 5.0, face=Face.OUTSIDE) < withy.girth(
        first + 100.0, face=Face.OUTSIDE
    )


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda hull: hull.section(-100.0), "there is no hull at -100 mm: it runs from 0 to"),
        (lambda hull: hull.half_breadth(3000.0, 50.0), "has nothing at 50 mm"),
        (lambda hull: hull.height_at(3000.0, 2000.0), "does not cross a half-breadth of 2000 mm"),
        (lambda hull: hull.section(0.5), "that close to the end is only planking"),
        (lambda hull: hull.strip(np.zeros((2, 2)), np.zeros((3, 2))), "as many places"),
    ],
    ids=["past-end", "below-rabbet", "too-wide", "in-the-planking", "strip"],
)
def test_a_question_without_an_answer_says_why(withy, ask, message):
    with pytest.raises(ShapeError, match=message):
        ask(withy)


def test_what_the_table_does_not_give_is_asked_for(form):
    with pytest.raises(ShapeError, match="gives no transom"):
        form.transom()
    narrow = Deck(form, Crown(1000.0, 40.0), 20.0, DeckCrown.ONE_MOULD)
    with pytest.raises(PartError, match="the beam mould only 1000 mm"):
        narrow.crown_at(3000.0)
