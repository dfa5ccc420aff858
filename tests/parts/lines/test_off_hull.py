"""Figures that the lines cannot use are named or told, never counted in silence."""

import dataclasses

import pytest
from known_hulls import (
    changed,
    double_ender,
    full_round,
    offset,
    plumb_ends,
    quartic,
    single_chine,
    table_of,
    tumblehome,
    wineglass,
)

from nesting.errors import ShapeError
from nesting.units import Unit
from parts.lines import hull_of
from parts.lines.faired_figures import faired_figures
from parts.lines.table import LineKind, measured, waterline


def numbered_line(table, start):
    """Return the number of the first line whose name begins so."""
    return next(n for n, line in enumerate(table.lines) if line.name.startswith(start))


def with_line(table, line):
    return dataclasses.replace(table, lines=(*table.lines, line))


def without(line, station):
    """Return a line without its figure at a station."""
    offsets = (one if n != station else None for n, one in enumerate(line.offsets))
    return dataclasses.replace(line, offsets=tuple(offsets))


def figures(values):
    """Return millimetres as the figures of a line; None where there is none."""
    return tuple(
        None if mm is None else offset(mm, Unit.MM, (40, k + 2)) for k, mm in enumerate(values)
    )


@pytest.mark.parametrize("make", [double_ender, wineglass, tumblehome])
def test_a_buttock_typed_above_the_sheer_is_named_with_what_it_should_read(make):
    table = table_of(make())
    number = numbered_line(table, "buttock")
    true = table.lines[number].offsets[5].mm
    [odd] = hull_of(changed(table, {(number, 5): 3000.0})).odd
    assert (odd.line, odd.station) == (table.lines[number].title, "5")
    assert float(odd.should_read) == pytest.approx(true, abs=3.0)


def test_a_waterline_figure_above_the_sheer_is_named():
    table = table_of(double_ender())
    line = waterline("waterline 2000", 2000.0, figures([*[None] * 5, 700.0, *[None] * 5]))
    [odd] = hull_of(with_line(table, line)).odd
    assert (odd.line, odd.station, odd.should_read) == ("waterline 2000", "5", "-")


def test_a_sheer_typed_below_the_waterlines_is_named_itself():
    """They lie above it as it is given, and not above what its own line says."""
    table = table_of(double_ender())
    number = numbered_line(table, "sheer")
    [odd] = hull_of(changed(table, {(number, 6): -700.0})).odd
    assert (odd.line, odd.station) == ("sheer height", "6")


def test_a_buttock_below_the_rabbet_is_refused_also_where_it_is_below_the_base():
    table = table_of(quartic())
    number = numbered_line(table, "buttock")
    wrong = {(number, n): -50.0 - table.lines[number].offsets[n].mm for n in range(3, 8)}
    with pytest.raises(
        ShapeError, match=r"lower than the rabbet: at station 3 by 150 mm \(buttock"
    ):
        hull_of(changed(table, wrong))


def test_noughts_below_the_rabbet_are_told_and_not_counted():
    table = table_of(double_ender())
    number = numbered_line(table, "waterline")
    noughts = [n for n, one in enumerate(table.lines[number].offsets) if one is None]
    assert noughts
    line = table.lines[number]
    filled = figures([0.0 if one is None else one.mm for one in line.offsets])
    lines = list(table.lines)
    lines[number] = dataclasses.replace(line, offsets=filled)
    hull, before = hull_of(dataclasses.replace(table, lines=tuple(lines))), hull_of(table)
    assert not hull.odd
    [note] = [str(note) for note in hull.notes if "not used" in str(note)]
    names = ", ".join(table.stations[n].name for n in noughts)
    assert f"{line.title}: not used at stations {names} (0): off the planking" in note
    assert len(faired_figures(hull)) == len(faired_figures(before))


def test_a_chine_s_figure_without_the_other_at_its_station_is_held_against_the_hull():
    table = table_of(single_chine())
    number = next(n for n, line in enumerate(table.lines) if line.kind is LineKind.CHINE)
    true = table.lines[number + 1].offsets[4].mm
    table = changed(table, {(number + 1, 4): 60.0})
    lines = list(table.lines)
    lines[number] = without(lines[number], 4)
    [odd] = hull_of(dataclasses.replace(table, lines=tuple(lines))).odd
    assert (odd.line, odd.station) == (lines[number + 1].title, "4")
    assert float(odd.should_read) == pytest.approx(true, abs=3.0)


def test_few_stations_are_told_and_five_are_not():
    said = [hull_of(table_of(quartic(), stations=count)).notes for count in (3, 5)]
    assert "3 stations: with fewer than 5 no figure of sheer or rabbet" in str(said[0][0])
    assert not any("with fewer than" in str(note) for note in said[1])


def test_a_figure_at_a_plumb_stem_is_held_against_it():
    """The section there has no breadth, and the surface does not go by it."""
    table = table_of(plumb_ends())
    number = numbered_line(table, "waterline")
    [odd] = hull_of(changed(table, {(number, 0): 40.0})).odd
    assert (odd.line, odd.station) == (table.lines[number].title, "0")
    assert float(odd.should_read) == table.lines[number].offsets[0].mm


def test_a_figure_along_a_flat_bottom_is_odd_by_what_it_is_off_square_to_it():
    """15 mm along a bottom that rises 1 in 8 there is less than an eighth of an inch."""
    known = full_round()
    table = table_of(known)
    x = float(table.x[5])
    z = float(known.point(x, 0)[2]) + 4.0
    true = measured(known.section(x), waterline("low", z, ()))
    named = []
    for off in (15.0, 60.0):
        line = waterline("waterline low", z, figures([*[None] * 5, true + off, *[None] * 5]))
        named.append([odd.station for odd in hull_of(with_line(table, line)).odd])
    assert named == [[], ["5"]]
