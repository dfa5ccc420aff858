"""Wrong figures of the edges and at the ends of hulls by formulas: named alone, and put right."""

import numpy as np
import pytest
from known_hulls import (
    CHINE_STEM,
    Known,
    _both,
    _chined,
    _raised,
    _round,
    along,
    changed,
    dory,
    plumb_ends,
    punt,
    single_chine,
    table_of,
)

from nesting.units import parse_length
from parts.lines import hull_of
from parts.lines.faired_edges import edges_of
from parts.lines.panels import panels_of

NEAR_MM = 3.0


def flat_skiff(length=4600.0, half=480.0):
    """Return a skiff of a flat bottom that closes in to a raked stem, her rabbet 12 all along."""

    def bottom(x):
        part = np.asarray(x) / length
        return 70.0 + 110.0 * (part - 0.45) ** 2 + 480.0 * np.exp(-np.asarray(x) / 130.0)

    def chine(x):
        out = half * np.sin(2.5 * np.maximum(np.asarray(x) - 300.0, 0) / length)
        return 12.0 + out, bottom(x)

    def sheer(x):
        part = np.asarray(x) / length
        out = 1.25 * half * np.sin(2.4 * part) + 20.0 * part
        return 12.0 + out, 550.0 + 140.0 * (part - 0.6) ** 2 - 140.0 * 0.36

    return _chined(
        "flat skiff",
        (lambda x: (12.0 + 0 * np.asarray(x), bottom(x)), chine, sheer),
        length,
        CHINE_STEM[:4],
        breaks=1,
        first=0.12,
    )


def barge(length=9000.0):
    """Return full sides between square ends, upright but for a small bilge."""

    def low(x):
        return 180.0 + 330.0 * along(x, length) ** 4

    at = _round(
        low,
        lambda x: 1250.0 + 180.0 * along(x, length) ** 2,
        lambda x: 1700.0 - 450.0 * along(x, length) ** 4,
        6.0,
        50.0,
    )
    return Known("barge", at, length)


def high_ended(length=6500.0):
    """Return a boat that sweeps up high at both ends, with many points up stem and sternpost."""
    at = _raised(
        lambda x: 95.0 + 1135.0 * np.abs(along(x, length)) ** 7,
        lambda x: 430.0 + 800.0 * along(x, length) ** 2,
        lambda x: 20.0 + 760.0 * np.cos(np.pi / 2 * along(x, length)),
        lambda h, x: 1 - (1 - h) ** 1.8,
        20.0,
    )
    ends = (0.0, 50.0, 110.0, 180.0, 260.0, 340.0, 420.0, 500.0)
    return Known("high ended", at, length, **_both(length, ends), first=0.1, last=0.9)


def cell_of(table, title, station):
    number = next(n for n, line in enumerate(table.lines) if line.title == title)
    return number, station


def assert_named_and_put_right(table, title, station, error_mm):
    cell = cell_of(table, title, station)
    true = table.lines[cell[0]].offsets[station].mm
    (odd,) = hull_of(changed(table, {cell: error_mm})).odd
    assert (odd.line, odd.station) == (title, table.stations[station].name)
    assert abs(parse_length(odd.should_read, table.unit) - true) <= NEAR_MM


@pytest.mark.parametrize(
    ("title", "station", "error_mm"),
    [
        ("rabbet half-breadth", 5, 25.0),
        ("rabbet half-breadth", 10, 100.0),
        ("rabbet height", 4, 25.0),
        ("rabbet height", 10, 25.0),
    ],
)
def test_a_flat_bottoms_rabbet_follows_its_own_row(title, station, error_mm):
    """The side above the chine was asked where the bottom ends, and said hundreds of mm."""
    assert_named_and_put_right(table_of(flat_skiff()), title, station, error_mm)


@pytest.mark.parametrize(("station", "error_mm"), [(5, 25.0), (6, -25.0), (5, 1000.0)])
def test_a_v_bottoms_rabbet_is_held_against_its_keel_beyond_the_stem(station, error_mm):
    """The rabbet was believed, since it turns up a stem, and the one waterline below was not."""
    table = table_of(single_chine(), waterlines=4)
    assert_named_and_put_right(table, "rabbet height", station, error_mm)


def test_a_rabbet_that_one_figure_makes_turn_back_has_that_figure_named():
    """It was refused, with a sentence on the points of the stem, which were right."""
    assert_named_and_put_right(table_of(single_chine()), "rabbet height", 10, 1350.0)


def test_the_depth_of_a_hull_is_not_told_by_the_points_of_its_stems():
    """More of them than of stations: of no depth, the surface said nothing of a wrong rabbet."""
    table = table_of(high_ended())
    (panel,) = panels_of(edges_of(table))
    assert 400.0 < panel.units[2] < 600.0
    assert_named_and_put_right(table, "rabbet height", 4, 25.0)


@pytest.mark.parametrize(
    ("make", "title", "station", "error_mm"),
    [
        (barge, "rabbet height", 0, 25.0),
        (barge, "sheer half-breadth", 0, 100.0),
        (punt, "rabbet height", 10, 25.0),
        (dory, "sheer half-breadth", 10, -100.0),
    ],
    ids=lambda value: getattr(value, "__name__", str(value)),
)
def test_an_edges_figure_at_a_square_end_is_held_against_what_stands_beside_it(
    make, title, station, error_mm
):
    assert_named_and_put_right(table_of(make()), title, station, error_mm)


@pytest.mark.parametrize("error_mm", [-20.0, 25.0, 100.0])
def test_a_figure_on_a_plumb_stem_is_held_against_the_stem(error_mm):
    """A section without breadth has no shape, and its figures were passed over."""
    assert_named_and_put_right(table_of(plumb_ends()), "waterline 450", 0, error_mm)


def test_a_strange_figure_at_an_end_that_nothing_decides_about_is_told():
    """The sheer at a plumb stem's head: no other figure stands beside it."""
    table = table_of(plumb_ends())
    hull = hull_of(changed(table, {cell_of(table, "sheer height", 0): 25.0}))
    (said,) = [note.message for note in hull.notes if "measure it again" in note.message]
    assert said.startswith("station 0, sheer height: 1045 is 26 more than the line runs on to")
    assert hull.odd == ()
    assert not any("measure it again" in note.message for note in hull_of(table).notes)
