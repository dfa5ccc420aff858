"""The mould loft's book against shapes that are known, and lengths by another library."""

import numpy as np
import pytest
from hull_measures import bevel
from known_hulls import dory, single_chine, table_of
from lines_tables import LENGTH, WITHY, wedge_table, wigley_normal, wigley_table
from shapely.geometry import LineString

from parts.lines import Face, hull_of, read_hull
from parts.lines.mould_book import BEVELS, GIRTHS, HALF_BREADTHS, HEIGHTS, Upright, book_of


def figures(book, heading):
    return {row.name: row.figures for row in book.rows if row.heading == heading}


def test_frames_of_a_wedge_lie_a_plank_within_it_and_girths_are_slant_heights():
    # Sides at 45 degrees: a plank square to them takes sqrt 2 of its thickness level.
    hull = hull_of(wedge_table(planking_mm=20.0))
    places = [Upright("frame 1", 1500.0), Upright("frame 2", 2500.0)]
    inside = book_of(hull, "frame", places, Face.INSIDE)
    outside = book_of(hull, "station", places, Face.OUTSIDE)
    half = figures(inside, HALF_BREADTHS)
    assert half["waterline 300"] == pytest.approx([300 - 20 * 2**0.5] * 2, abs=0.1)
    assert figures(outside, GIRTHS)["to waterline 300"] == pytest.approx(
        [300 * 2**0.5] * 2, abs=0.1
    )
    assert figures(outside, BEVELS)["at waterline 300"] == pytest.approx([0.0, 0.0], abs=0.02)


def test_bevels_of_the_wigley_form_are_those_of_its_normals():
    x = [LENGTH / 5, LENGTH / 2, 0.7 * LENGTH]
    hull = hull_of(wigley_table())
    book = book_of(hull, "station", [Upright(str(at), at) for at in x], Face.OUTSIDE)
    true = [bevel(wigley_normal(at, 300.0)) for at in x]
    assert figures(book, BEVELS)["at waterline 300"] == pytest.approx(true, abs=0.1)
    assert true[0] < 0 < true[2]


def test_girths_are_the_lengths_of_the_sections():
    hull = read_hull(WITHY)
    x = np.linspace(*hull.ends, 7)[1:-1]
    book = book_of(hull, "station", [Upright(str(at), at) for at in x], Face.OUTSIDE)
    lengths = [LineString(hull.section(float(at), Face.OUTSIDE)).length for at in x]
    assert figures(book, GIRTHS)["to sheer"] == pytest.approx(lengths, abs=0.2)
    # Up to a height, by the section cut off there.
    for at, girth in zip(x, figures(book, GIRTHS)["to waterline 3-0-0"], strict=True):
        section = hull.section(float(at), Face.OUTSIDE)
        below = section[section[:, 1] < 914.4]
        top = [np.interp(914.4, section[:, 1], section[:, 0]), 914.4]
        assert girth == pytest.approx(LineString([*below, top]).length, abs=0.2)


def test_chine_has_a_bevel_on_both_sides_of_it():
    known = dory()
    hull = hull_of(table_of(known))
    x = [1200.0, 3600.0]
    book = book_of(hull, "station", [Upright(str(at), at) for at in x], Face.OUTSIDE)
    found = figures(book, BEVELS)
    (chine,) = known.chines
    for word, side in (("above", 0.01), ("below", -0.01)):
        true = [bevel(known.normal(at, chine + side)) for at in x]
        (name,) = [name for name in found if name.startswith(f"{word} ")]
        assert found[name] == pytest.approx(true, abs=0.4)


def test_frame_that_only_touches_planking_has_no_figures_and_is_kept():
    hull = read_hull(WITHY)
    book = book_of(
        hull, "frame", [Upright("frame 1", 0.5), Upright("frame 2", 3000.0)], Face.INSIDE
    )
    for row in book.rows:
        assert row.figures[0] is None
        assert len(row.figures) == 2


def test_ahead_of_where_a_chine_meets_the_stem_the_rabbet_is_there_and_the_chine_is_not():
    """The panel above a chine begins there at the rabbet, which had been told as the chine's."""
    known = single_chine()
    hull = hull_of(table_of(known))
    meets = hull.edges.chines[0].profile.ends[0]
    x = (hull.ends[0] + meets) / 2
    book = book_of(hull, "frame", [Upright("ahead", x), Upright("aft", 3000.0)], Face.OUTSIDE)
    section = hull.section(x, Face.OUTSIDE)
    for heading, column in ((HEIGHTS, 1), (HALF_BREADTHS, 0)):
        found = figures(book, heading)
        assert found["rabbet"][0] == pytest.approx(section[0, column])
        assert found["chine"][0] is None
        assert found["chine"][1] is not None
    bevels = figures(book, BEVELS)
    assert bevels["at rabbet"][0] == pytest.approx(
        hull.bevel(x, section[0, 1] + 0.5, Face.OUTSIDE), abs=0.5
    )
    assert (bevels["above chine"][0], bevels["below chine"][0]) == (None, None)
    assert figures(book, GIRTHS)["to chine"][0] is None
