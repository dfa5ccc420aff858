"""Where a section is told to be open between two figures, held against the formula it is from."""

import re

import numpy as np
import pytest
from hulls_apart import launch, norse, pram
from known_hulls import Known, double_ender, single_chine, table_of, v_bow, wineglass
from shapely import LineString, distance, points

from nesting.units import Unit, parse_length
from parts.lines import hull_of, open_sections

SAID = re.compile(
    r"stations? (\w+)(?: to (\w+))?: no figure says how the section runs(?: at station (\w+))? "
    r"between (.+) and (.+), which is known to about (.+) alone: give a waterline"
)


def flat_floors(length=8000.0, half=1300.0):
    """Return sections that leave the rabbet level and turn up at once, plumb ends, keel with drag.

    Half-breadths rise with the root of the height over the rabbet: nine tenths of the turning is
    done below the first waterline.
    """

    def low(x):
        return 500.0 - 350.0 * np.asarray(x) / length

    def high(x):
        part = np.asarray(x) / length
        return 2000.0 - 600.0 * part + 500.0 * part**2

    def at(x, share):
        part = np.asarray(x) / length
        up = share**2
        full = 4.0 * part * (1.0 - part)
        plan = full * (1.0 - (0.45 - 0.42 * up) * (1.0 - full))
        out = share * (1.28 - 0.28 * up)
        return 60.0 + half * out * plan, low(x) + (high(x) - low(x)) * up

    return Known("flat floors", at, length)


def told(hull):
    """Return what is told of open sections: first, last and worst station, between what, mm."""
    found = [SAID.search(str(note)) for note in hull.notes]
    return [
        (one[1], one[2] or one[1], one[3] or one[1], one[4], one[5], one[6]) for one in found if one
    ]


def off_mm(hull, known, station, heights):
    """Return how far the hull is off the formula at a station, between two heights, at most."""
    x = float(hull.table.x[[one.name for one in hull.table.stations].index(station)])
    surface = hull.fairing.surface
    drawn, _ = surface.section(x, surface.across(401))
    drawn = drawn[(drawn[:, 1] > heights[0]) & (drawn[:, 1] < heights[1])]
    return float(distance(LineString(known.section(x)), points(drawn)).max())


@pytest.mark.parametrize(("unit", "waterlines"), [(Unit.MM, 4), (Unit.FOOT, 4), (Unit.MM, 5)])
def test_garboards_that_no_figure_crosses_are_told_of(unit, waterlines):
    """They were 5 to 10 mm off, in silence."""
    known = flat_floors()
    hull = hull_of(table_of(known, unit=unit, waterlines=waterlines))
    [(_, last, worst, _, above, mm)] = [
        one for one in told(hull) if one[3] == "rabbet" and one[1] == "9"
    ]
    off = off_mm(hull, known, worst, (0.0, float(above.split()[1])))
    assert last == worst == "9"
    assert off > 5.0
    assert off / 2 < parse_length(mm, Unit.MM) < 3 * off
    assert re.fullmatch(r"\d+ mm" if unit is Unit.MM else r"(\d+ )?\d/\d+ in", mm)


def test_where_waterlines_cross_the_garboards_nothing_is_told():
    assert told(hull_of(table_of(flat_floors(), waterlines=16, buttocks=6))) == []


@pytest.mark.parametrize(
    "make", [launch, norse, pram, double_ender, v_bow, wineglass], ids=lambda make: make.__name__
)
def test_hulls_that_are_true_between_their_figures_are_told_nothing_of(make):
    assert told(hull_of(table_of(make()))) == []


def test_gaps_beside_a_chine_are_told_by_its_name(monkeypatch):
    monkeypatch.setattr(open_sections, "OPEN_MM", 0.0)
    monkeypatch.setattr(open_sections, "OF_NOISE", 0.0)
    hull = hull_of(table_of(single_chine()))
    beside = {(below, above) for *_, below, above, _ in told(hull)}
    assert {"rabbet", "chine"} == {below for below, _ in beside if below in ("rabbet", "chine")}
    assert {"chine", "sheer"} == {above for _, above in beside if above in ("chine", "sheer")}
